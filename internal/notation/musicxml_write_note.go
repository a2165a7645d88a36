package notation

import (
	"strconv"
	"strings"

	"antiphon/internal/music"
)

// note writes a note with its children in the order that the schema asks for.
func (w *barWriter) note(n *music.Note, chord bool) {
	o := w.o
	hidden := ""
	if n.Hidden {
		hidden = "no"
	}
	o.begin("note", "print-object", hidden)
	ties := func() {
		if n.TieStop {
			o.empty("tie", "type", "stop")
		}
		if n.TieStart {
			o.empty("tie", "type", "start")
		}
	}
	switch {
	case n.Grace || n.Duration.IsZero():
		o.empty("grace", "slash", yes(n.Slash))
		if n.Cue {
			o.empty("cue")
		}
		w.fullNote(n, chord)
		if !n.Cue {
			ties()
		}
	case n.Cue:
		o.empty("cue")
		w.fullNote(n, chord)
		o.leaf("duration", w.count(n.Duration))
	default:
		w.fullNote(n, chord)
		o.leaf("duration", w.count(n.Duration))
		ties()
	}
	o.some("voice", n.Voice)
	if noteType(n.Type) != "" {
		o.leaf("type", n.Type)
		for range n.Dots {
			o.empty("dot")
		}
	}
	if accidentals[n.Accidental.Name] {
		a := n.Accidental
		o.leaf("accidental", a.Name, "cautionary", yes(a.Cautionary), "editorial", yes(a.Editorial), "parentheses", yes(a.Parens))
	}
	if r := n.Ratio; r.Actual > 0 && r.Normal > 0 {
		o.begin("time-modification")
		o.number("actual-notes", r.Actual)
		o.number("normal-notes", r.Normal)
		if noteType(r.Type) != "" {
			o.leaf("normal-type", r.Type)
			for range r.Dots {
				o.empty("normal-dot")
			}
		}
		o.end()
	}
	o.some("stem", oneOf(n.Stem, "up", "down", "none", "double"))
	if noteheads[n.Notehead] {
		o.leaf("notehead", n.Notehead)
	}
	if w.s.Parts[w.part].Staves > 1 || n.Staff > 1 {
		o.number("staff", max(n.Staff, 1))
	}
	for i, b := range n.Beams {
		if i < 8 {
			o.leaf("beam", b.Value, "number", strconv.Itoa(b.Number))
		}
	}
	w.notations(n)
	for _, l := range n.Lyrics {
		w.lyric(l)
	}
	o.end()
}

func (w *barWriter) fullNote(n *music.Note, chord bool) {
	o := w.o
	if chord {
		o.empty("chord")
	}
	display := func(name string, attrs ...string) {
		if n.Pitch.Step == 0 {
			o.empty(name, attrs...)
			return
		}
		o.begin(name, attrs...)
		o.leaf("display-step", string(n.Pitch.Step))
		o.number("display-octave", min(max(n.Pitch.Octave, 0), 9))
		o.end()
	}
	switch {
	case n.Rest:
		display("rest", "measure", yes(n.WholeBar))
	case n.Unpitched, n.Pitch.Step == 0:
		display("unpitched")
	default:
		o.begin("pitch")
		o.leaf("step", string(n.Pitch.Step))
		if n.Pitch.Alter != 0 {
			o.number("alter", n.Pitch.Alter)
		}
		o.number("octave", min(max(n.Pitch.Octave, 0), 9))
		o.end()
	}
}

func (w *barWriter) notations(n *music.Note) {
	o := w.o
	technical, artic, orn := sortMarks(n)
	tied := n.TieStart || n.TieStop || n.LetRing
	if !tied && len(n.Spans)+len(n.Tuplets)+len(n.Dynamics)+len(n.Marks) == 0 && !technical && n.Arpeggio.Kind == "" && n.Tremolo.Kind == "" {
		return
	}
	o.begin("notations")
	if n.TieStop {
		o.empty("tied", "type", "stop")
	}
	if n.TieStart {
		o.empty("tied", "type", "start")
	}
	if n.LetRing {
		o.empty("tied", "type", "let-ring")
	}
	for _, s := range n.Spans {
		switch s.Kind {
		case "slur":
			o.empty("slur", "type", s.Role, "number", positive(s.Number), "line-type", s.Line, "placement", s.Placed)
		case "slide", "glissando":
			if s.Role != "continue" {
				o.leaf(s.Kind, s.Text, "type", s.Role, "number", positive(s.Number), "line-type", s.Line)
			}
		}
	}
	for _, t := range n.Tuplets {
		role := "stop"
		if t.Start {
			role = "start"
		}
		o.empty("tuplet", "type", role, "number", positive(t.Number), "bracket", t.Bracket, "show-number", t.ShowNumber, "placement", t.Placed)
	}
	if orn {
		w.ornaments(n)
	}
	if technical {
		w.technical(n)
	}
	if artic {
		o.begin("articulations")
		for _, m := range n.Marks {
			if articulations[m.Kind] {
				text, typ := markText(m)
				o.leaf(m.Kind, text, "type", typ, "placement", m.Placed)
			}
		}
		o.end()
	}
	if len(n.Dynamics) > 0 {
		o.begin("dynamics")
		for _, d := range n.Dynamics {
			w.dynamic(d)
		}
		o.end()
	}
	for _, m := range n.Marks {
		if m.Kind == "fermata" {
			o.empty("fermata", "type", oneOf(m.Text, "upright", "inverted"))
		}
	}
	switch a := n.Arpeggio; a.Kind {
	case "arpeggiate":
		o.empty("arpeggiate", "number", positive(a.Number), "direction", oneOf(a.Form, "up", "down"))
	case "non-arpeggiate":
		o.empty("non-arpeggiate", "type", or(oneOf(a.Form, "top", "bottom"), "top"), "number", positive(a.Number))
	}
	o.end()
}

// sortMarks tells which groups of signs a note has.
func sortMarks(n *music.Note) (technical, artic, orn bool) {
	technical = n.String > 0 || n.HasFret || len(n.Fingers) > 0 || len(n.Plucks) > 0 || n.Harmonic.Present
	orn = n.Tremolo.Kind != ""
	for _, m := range n.Marks {
		technical = technical || technicals[m.Kind] || m.Kind == "bend"
		artic = artic || articulations[m.Kind]
		orn = orn || ornaments[m.Kind]
	}
	for _, s := range n.Spans {
		technical = technical || s.Kind == "hammer-on" || s.Kind == "pull-off"
		orn = orn || s.Kind == "wavy-line"
	}
	return technical, artic, orn
}

func (w *barWriter) ornaments(n *music.Note) {
	o := w.o
	o.begin("ornaments")
	for _, m := range n.Marks {
		if ornaments[m.Kind] {
			text, _ := markText(m)
			o.leaf(m.Kind, text, "placement", m.Placed)
		}
	}
	for _, s := range n.Spans {
		if s.Kind == "wavy-line" {
			o.empty("wavy-line", "type", s.Role, "number", positive(s.Number), "placement", s.Placed)
		}
	}
	if t := n.Tremolo; t.Kind != "" {
		o.leaf("tremolo", strconv.Itoa(min(max(t.Beams, 0), 8)), "type", or(oneOf(t.Kind, "single", "start", "stop", "unmeasured"), "single"))
	}
	o.end()
}

func (w *barWriter) technical(n *music.Note) {
	o := w.o
	o.begin("technical")
	for _, f := range n.Fingers {
		o.leaf("fingering", f.Text, "substitution", yes(f.Substitution), "alternate", yes(f.Alternate), "placement", f.Placed)
	}
	for _, p := range n.Plucks {
		o.leaf("pluck", p)
	}
	if n.HasFret {
		o.number("fret", max(n.Fret, 0))
	}
	if n.String > 0 {
		o.number("string", n.String)
	}
	if h := n.Harmonic; h.Present {
		o.begin("harmonic")
		switch {
		case h.Natural:
			o.empty("natural")
		case h.Artificial:
			o.empty("artificial")
		}
		if p := oneOf(string(h.Pitch), "base", "touching", "sounding"); p != "" {
			o.empty(p + "-pitch")
		}
		o.end()
	}
	for _, s := range n.Spans {
		if (s.Kind == "hammer-on" || s.Kind == "pull-off") && s.Role != "continue" {
			o.leaf(s.Kind, s.Text, "type", s.Role, "number", positive(s.Number), "placement", s.Placed)
		}
	}
	for _, m := range n.Marks {
		switch {
		case m.Kind == "bend":
			w.bend(m)
		case technicals[m.Kind]:
			text, _ := markText(m)
			o.leaf(m.Kind, text, "placement", m.Placed)
		}
	}
	o.end()
}

// bend is kept as "2", "2 pre-bend" or "-2 release".
func (w *barWriter) bend(m music.Mark) {
	alter, kind, _ := strings.Cut(m.Text, " ")
	if _, _, ok := decimal(alter); !ok {
		alter = "0"
	}
	w.o.begin("bend")
	w.o.leaf("bend-alter", alter)
	if k := oneOf(kind, "pre-bend", "release"); k != "" {
		w.o.empty(k)
	}
	w.o.end()
}

// markText is the text that a sign may hold by the schema, and its type attribute.
func markText(m music.Mark) (text, typ string) {
	switch m.Kind {
	case "tap", "other-technical", "other-articulation", "other-ornament":
		return m.Text, ""
	case "breath-mark":
		return oneOf(m.Text, "comma", "tick", "upbow", "salzedo"), ""
	case "caesura":
		return oneOf(m.Text, "normal", "thick", "short", "curved", "single"), ""
	case "strong-accent":
		return "", oneOf(m.Text, "up", "down")
	}
	return "", ""
}

func (w *barWriter) dynamic(d string) {
	if dynamicMarks[d] {
		w.o.empty(d)
		return
	}
	w.o.leaf("other-dynamics", d)
}

func (w *barWriter) lyric(l music.Lyric) {
	number := ""
	if _, ok := whole(l.Number, 1000); ok || isXMLID(l.Number) {
		number = l.Number
	}
	w.o.begin("lyric", "number", number)
	if l.Text != "" || !l.Extend {
		w.o.some("syllabic", oneOf(l.Syllabic, "single", "begin", "end", "middle"))
		w.o.leaf("text", l.Text)
	}
	if l.Extend {
		w.o.empty("extend")
	}
	w.o.end()
}
