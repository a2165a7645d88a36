package notation

import (
	"strconv"
	"strings"

	"antiphon/internal/music"
)

// chordKinds are MusicXML's kinds of chord and what is commonly printed for them.
var chordKinds = [...]struct{ kind, text string }{
	{"major", ""}, {"minor", "m"}, {"augmented", "+"}, {"diminished", "dim"}, {"dominant", "7"}, {"major-seventh", "maj7"},
	{"minor-seventh", "m7"}, {"diminished-seventh", "dim7"}, {"augmented-seventh", "+7"}, {"half-diminished", "m7b5"},
	{"major-minor", "m(maj7)"}, {"major-sixth", "6"}, {"minor-sixth", "m6"}, {"dominant-ninth", "9"}, {"major-ninth", "maj9"},
	{"minor-ninth", "m9"}, {"dominant-11th", "11"}, {"major-11th", "maj11"}, {"minor-11th", "m11"}, {"dominant-13th", "13"},
	{"major-13th", "maj13"}, {"minor-13th", "m13"}, {"suspended-second", "sus2"}, {"suspended-fourth", "sus4"}, {"power", "5"},
	{"none", "N.C."},
}

// chordSymbol is the text of a <harmony>: "Am7/G".
func chordSymbol(n *node) string {
	root := rootText(n.kid("root"), "root-step", "root-alter")
	kind := n.at("kind")
	suffix := ""
	if k := n.kid("kind"); k != nil {
		suffix = clip(k.get("text"), maxVoiceName)
	}
	for _, c := range chordKinds {
		if c.kind == kind && suffix == "" {
			suffix = c.text
		}
	}
	if kind == "none" {
		return "N.C."
	}
	if root == "" {
		return ""
	}
	text := root + suffix
	for _, d := range n.kids {
		if d.name == "degree" {
			text += degreeText(d)
		}
	}
	if bass := rootText(n.kid("bass"), "bass-step", "bass-alter"); bass != "" {
		text += "/" + bass
	}
	return clip(text, maxVoiceName)
}

func rootText(n *node, step, alter string) string {
	if n == nil {
		return ""
	}
	s := strings.ToUpper(n.at(step))
	if len(s) != 1 || s[0] < 'A' || s[0] > 'G' {
		return ""
	}
	a := min(max(wholeOr(n.at(alter), 2, 0), -2), 2)
	return s + strings.Repeat("#", max(a, 0)) + strings.Repeat("b", max(-a, 0))
}

func degreeText(d *node) string {
	v, ok := whole(d.at("degree-value"), 20)
	if !ok {
		return ""
	}
	a := min(max(wholeOr(d.at("degree-alter"), 2, 0), -2), 2)
	alter := strings.Repeat("#", max(a, 0)) + strings.Repeat("b", max(-a, 0))
	switch d.at("degree-type") {
	case "add":
		return "add" + alter + strconv.Itoa(v)
	case "subtract":
		return "no" + strconv.Itoa(v)
	}
	return alter + strconv.Itoa(v)
}

// splitChord takes a chord symbol apart; ok is false where it does not begin with a note.
func splitChord(text string) (root, suffix, bass string, ok bool) {
	root, rest := cutRoot(text)
	if root == "" {
		return "", "", "", false
	}
	suffix, after, slash := strings.Cut(rest, "/")
	if slash {
		var left string
		if bass, left = cutRoot(after); bass == "" || left != "" {
			return root, rest, "", true // a 6/9 chord, or something of the like
		}
	}
	return root, suffix, bass, true
}

func cutRoot(s string) (root, rest string) {
	if s == "" || s[0] < 'A' || s[0] > 'G' {
		return "", s
	}
	n := 1
	for n < len(s) && n < 3 && (s[n] == '#' || s[n] == 'b') && (n == 1 || s[n] == s[1]) {
		n++
	}
	return s[:n], s[n:]
}

func (w *barWriter) harmony(d *music.Direction) {
	o := w.o
	root, suffix, bass, ok := splitChord(d.Text)
	kind := "other"
	for _, c := range chordKinds {
		if c.text == suffix && c.kind != "none" {
			kind = c.kind
		}
	}
	if d.Text == "N.C." {
		root, kind, suffix, ok = "C", "none", "N.C.", true
	}
	if !ok { // no chord: plain words
		words := *d
		words.Kind = music.Words
		w.direction(&words)
		return
	}
	o.begin("harmony", "placement", oneOf(d.Placed, "above", "below"))
	w.root("root", root)
	o.leaf("kind", kind, "text", suffix)
	if bass != "" {
		w.root("bass", bass)
	}
	if d.Frame != nil {
		w.frame(d.Frame)
	}
	w.offset(d.At)
	o.some("staff", positive(d.Staff))
	o.end()
}

// frameOf reads a chord diagram; nil where there is none or it has no size.
func frameOf(n *node) *music.Frame {
	strings, ok := whole(n.at("frame-strings"), 40)
	frets, okFrets := whole(n.at("frame-frets"), 40)
	if !ok || !okFrets || strings < 1 || frets < 1 {
		return nil
	}
	f := &music.Frame{Strings: strings, Frets: frets, First: max(wholeOr(n.at("first-fret"), 40, 0), 0)}
	for _, k := range n.kids {
		s, ok := whole(k.at("string"), 40)
		fret, okFret := whole(k.at("fret"), 40)
		if k.name != "frame-note" || !ok || !okFret || s < 1 || fret < 0 || len(f.Notes) >= maxMarks {
			continue
		}
		f.Notes = append(f.Notes, music.FrameNote{String: s, Fret: fret, Finger: clip(k.at("fingering"), maxVoiceName), Barre: barreOf(k.kid("barre"))})
	}
	if len(f.Notes) == 0 {
		return nil
	}
	return f
}

func barreOf(n *node) string {
	if n == nil {
		return ""
	}
	return oneOf(n.get("type"), "start", "stop")
}

func (w *barWriter) frame(f *music.Frame) {
	o := w.o
	o.begin("frame")
	o.number("frame-strings", f.Strings)
	o.number("frame-frets", f.Frets)
	if f.First > 0 {
		o.number("first-fret", f.First)
	}
	for _, n := range f.Notes {
		o.begin("frame-note")
		o.number("string", n.String)
		o.number("fret", n.Fret)
		o.some("fingering", n.Finger)
		if n.Barre != "" {
			o.empty("barre", "type", n.Barre)
		}
		o.end()
	}
	if len(f.Notes) == 0 { // the schema asks for one at least
		o.begin("frame-note")
		o.number("string", 1)
		o.number("fret", 0)
		o.end()
	}
	o.end()
}

func (w *barWriter) root(name, text string) {
	w.o.begin(name)
	w.o.leaf(name+"-step", text[:1])
	if a := strings.Count(text, "#") - strings.Count(text[1:], "b"); a != 0 {
		w.o.number(name+"-alter", a)
	}
	w.o.end()
}
