package engrave

import (
	"fmt"
	"regexp"
	"slices"
	"strconv"
	"strings"

	"antiphon/internal/music"
	"antiphon/internal/notation"
)

// hand is what both hands are told about one sounding note.
type hand struct {
	note   string // its id
	onset  music.Beats
	bar    int
	staff  int // of its part
	part   int
	midi   int
	above  bool // its marks go above the staff
	finger string
	side   string // where the file wants the finger: "above", "below", ""
	pluck  string
	str    int
	stroke music.Stroke
	name   music.Pitch // as written
	grace  bool
	voice  string
	words  string // a technical sign that has no sign of its own
}

// handsOf collects the marks of all notes, in order of time and pitch.
func handsOf(s *music.Score) []hand {
	written := s.Written()
	voices := voicesOf(s)
	partIndex := map[string]int{}
	for i := range s.Parts {
		partIndex[s.Parts[i].ID] = i
	}
	var out []hand
	for i, d := range s.Sounding() {
		ref := written[i][0]
		n := &s.Parts[ref.Part].Notes[ref.Note]
		h := hand{note: d.ID, onset: d.Onset, bar: d.BarIndex, part: ref.Part, staff: n.Staff, midi: n.Pitch.Midi(), str: n.String,
			voice: n.Voice, words: technicalWords(n), stroke: n.Stroke(), name: n.Pitch, grace: d.Grace, pluck: d.Pluck}
		here := voices[voiceKey{ref.Part, n.Staff, d.BarIndex}]
		h.above = len(here) < 2 || here[0] == n.Voice
		h.finger, h.side = fingerOf(n)
		if h.finger == "" {
			h.finger = d.Finger // from a tablature that repeats the note
		}
		out = append(out, h)
	}
	return out
}

// fingerOf is what the file says of the left hand: "2", "1-3" for a finger that takes over, "2 (1)" for
// another way.
func fingerOf(n *music.Note) (text, side string) {
	for _, f := range n.Fingers {
		if strings.Trim(f.Text, "01234T") != "" || f.Text == "" {
			continue
		}
		switch {
		case text == "":
			text, side = f.Text, f.Placed
		case f.Alternate:
			text += " (" + f.Text + ")"
		default:
			text += "-" + f.Text
		}
	}
	return text, side
}

// technicalWords are the signs that are printed as a word.
func technicalWords(n *music.Note) string {
	var words []string
	for _, m := range n.Marks {
		switch {
		case m.Kind == "golpe":
			words = append(words, "golpe")
		case m.Kind == "other-technical" && m.Text != "" && m.Text != string(music.RestStroke) && m.Text != string(music.FreeStroke):
			words = append(words, m.Text)
		}
	}
	return strings.Join(words, ", ")
}

// legato is a slur that the left hand plays, with the letter over it.
type legato struct{ from, to, text string }

// legatosOf pairs hammer-ons, pull-offs and slides that the file writes a letter over.
func legatosOf(s *music.Score) (out []legato) {
	ids := notation.NoteIDs(s)
	type key struct {
		part   int
		kind   string
		number int
	}
	open := map[key]legato{}
	for i := range s.Parts {
		for j := range s.Parts[i].Notes {
			id := ids[music.NoteRef{Part: i, Note: j}]
			for _, role := range []string{"stop", "start"} {
				for _, sp := range s.Parts[i].Notes[j].Spans {
					if sp.Role != role || (sp.Kind != "hammer-on" && sp.Kind != "pull-off" && sp.Kind != "slide") {
						continue
					}
					k := key{i, sp.Kind, sp.Number}
					if role == "start" {
						open[k] = legato{from: id, text: sp.Text}
						continue
					}
					if l, ok := open[k]; ok && l.text != "" {
						l.to = id
						out = append(out, l)
					}
					delete(open, k)
				}
			}
		}
	}
	return out
}

type voiceKey struct{ part, staff, bar int }

// voicesOf lists the voices of each bar of each staff, the upper one first.
func voicesOf(s *music.Score) map[voiceKey][]string {
	out := map[voiceKey][]string{}
	for i := range s.Parts {
		for j := range s.Parts[i].Notes {
			n := &s.Parts[i].Notes[j]
			k := voiceKey{i, n.Staff, n.Bar}
			if !slices.Contains(out[k], n.Voice) && !n.Hidden {
				out[k] = append(out[k], n.Voice)
			}
		}
	}
	for _, v := range out {
		slices.SortStableFunc(v, func(a, b string) int {
			x, errX := strconv.Atoi(a)
			y, errY := strconv.Atoi(b)
			if errX == nil && errY == nil {
				return x - y
			}
			return strings.Compare(a, b)
		})
	}
	return out
}

// crowded is the share of notes with a string number from which on the numbers are taken for a worked
// out fingering, of which the page shows only what a player needs. Our choice; no source.
const crowded = 0.5

// thinStrings takes away the string numbers that a player does not need where nearly every note has
// one: those of the string on which the note lies nearest the nut.
//
// Of those that stay, only the first of a run on one string is printed in each system: thin says so.
func thinStrings(s *music.Score, all []hand, how Strings) (thin bool) {
	given := 0
	for _, h := range all {
		if h.str > 0 {
			given++
		}
	}
	if how == StringsAll || (how == StringsAuto && float64(given) < crowded*float64(len(all))) {
		return false
	}
	tunings := make([][]int, len(s.Parts))
	for i := range s.Parts {
		tunings[i] = tuningOf(&s.Parts[i])
	}
	for i := range all {
		h := &all[i]
		if how == StringsNone || h.str > 0 && h.str == nearestNut(tunings[h.part], h.midi) {
			h.str = 0
		}
	}
	return true
}

// tuningOf are the open strings, the first string first.
func tuningOf(p *music.Part) []int {
	for _, a := range p.Attributes {
		if len(a.Tuning) > 0 {
			var out []int
			for _, t := range slices.Backward(a.Tuning) {
				out = append(out, t.Midi())
			}
			return out
		}
	}
	return []int{64, 59, 55, 50, 45, 40}
}

func nearestNut(tuning []int, midi int) int {
	best, at := 0, 0
	for i, open := range tuning {
		if fret := midi - open; fret >= 0 && (best == 0 || fret < at) {
			best, at = i+1, fret
		}
	}
	return best
}

// sign is something printed at a time rather than on a note.
type sign struct {
	kind   signKind
	text   string
	bar    int
	at     music.Beats
	end    *music.Beats // of a line; nil none
	endBar int
	part   int
	staff  int
	above  bool
	tempo  *music.TempoMark
}

func (g *sign) place() [2]int64 {
	num, den := g.at.Fraction()
	return [2]int64{num, den}
}

type signKind string

const (
	wordsSign     signKind = "words"
	positionSign  signKind = "position"
	barreSign     signKind = "barre"
	tempoSign     signKind = "tempo"
	harmonySign   signKind = "harmony"
	rehearsalSign signKind = "rehearsal"
	tuningSign    signKind = "tuning" // what the player does to the instrument before the first note
	jumpSign      signKind = "jump"
	lineSign      signKind = "line" // dashes or a bracket after words that are no barre
)

// barreText: "C.V", "CV", "C V", "BII", "½CII", "1/2 C II", "C2/3 V", "CIII4". Common practice, no source.
var (
	barreText    = regexp.MustCompile(`^\(?(½|1/2|m|h)?\s*[CcBbⱭ](½|1/2|[2-6])?\s*[./]?\s*((?:X{0,2}(?:IX|IV|V?I{1,3}|V|X))(?:\s*[_/]?\s*[2-6])?)\)?$`)
	positionText = regexp.MustCompile(`^(X{0,2}(?:IX|IV|V?I{1,3}|V)|X{1,2})(\.|\s?(?:pos\.?|a))?$`)
)

// signsOf collects what stands at a time: words, positions, barres, tempo marks, jumps.
func signsOf(s *music.Score) (out []sign) {
	for i := range s.Parts {
		p := &s.Parts[i]
		taken := linesOf(p) // lines that belong to a text
		for j := range p.Directions {
			d := &p.Directions[j]
			if d.Bar < 0 || d.Bar >= len(s.Bars) {
				continue
			}
			g := sign{text: strings.TrimSpace(d.Text), bar: d.Bar, at: d.At, part: i, staff: d.Staff, above: d.Placed != "below"}
			switch d.Kind {
			case music.Words, music.OtherSign:
				g.kind = wordsSign
				if m := barreText.FindStringSubmatch(g.text); m != nil {
					g.kind, g.above = barreSign, true
				} else if positionText.MatchString(g.text) {
					g.kind, g.above = positionSign, true
				}
				if line, ok := taken[j]; ok {
					if e := notation.StopOf(p, line); e != nil {
						g.end, g.endBar = &e.At, e.Bar
					}
				}
			case music.Harmony:
				g.kind = harmonySign
			case music.Rehearsal:
				g.kind, g.above = rehearsalSign, true
			default:
				continue
			}
			if g.text != "" {
				out = append(out, g)
			}
		}
		owned := map[int]bool{}
		for _, line := range taken {
			owned[line] = true
		}
		for j := range p.Directions {
			d := &p.Directions[j]
			if (d.Kind == music.Bracket || d.Kind == music.Dashes) && d.Text == "start" && !owned[j] && d.Bar >= 0 && d.Bar < len(s.Bars) {
				if e := notation.StopOf(p, j); e != nil {
					out = append(out, sign{kind: lineSign, bar: d.Bar, at: d.At, part: i, staff: d.Staff, above: d.Placed != "below", end: &e.At, endBar: e.Bar})
				}
			}
		}
	}
	for i := range s.Tempos {
		t := &s.Tempos[i]
		if bar := s.BarAt(t.At); !t.Silent && bar >= 0 {
			out = append(out, sign{kind: tempoSign, bar: bar, at: t.At, above: true, tempo: t})
		}
	}
	for i := range s.Parts {
		if text := setUp(&s.Parts[i]); text != "" {
			out = append(out, sign{kind: tuningSign, text: text, part: i, above: true})
		}
	}
	return append(out, jumpsOf(s, out)...)
}

// setUp is what a part asks of the instrument that is not as usual: "6 = D" for a string that is tuned
// anew, with its number to be put in a circle, and the fret of a capo.
func setUp(p *music.Part) string {
	var text []string
	usual := []int{64, 59, 55, 50, 45, 40}
	for _, a := range p.Attributes {
		if len(a.Tuning) == len(usual) {
			for i, t := range slices.Backward(a.Tuning) {
				if str := len(usual) - i; t.Midi() != usual[str-1] {
					text = append(text, fmt.Sprintf("%d = %s", str, strings.TrimRight(nameOf(t, Letters), "0123456789")))
				}
			}
			break
		}
	}
	for _, a := range p.Attributes {
		if a.Capo > 0 {
			text = append(text, "Capo "+roman(a.Capo))
			break
		}
	}
	return strings.Join(text, "\n")
}

// roman numerals up to 39.
func roman(n int) string {
	var out strings.Builder
	for _, r := range []struct {
		value int
		text  string
	}{{10, "X"}, {9, "IX"}, {5, "V"}, {4, "IV"}, {1, "I"}} {
		for n >= r.value {
			out.WriteString(r.text)
			n -= r.value
		}
	}
	return out.String()
}

// linesOf gives each text the bracket or the dashes that start at its place. Where several texts stand
// there, a barre has the line before other words have it; a heading and a position have none.
func linesOf(p *music.Part) map[int]int {
	type place struct{ num, den int64 }
	lines := map[place][]int{}
	for j := range p.Directions {
		if d := &p.Directions[j]; (d.Kind == music.Bracket || d.Kind == music.Dashes) && d.Text == "start" {
			num, den := d.At.Fraction()
			lines[place{num, den}] = append(lines[place{num, den}], j)
		}
	}
	out := map[int]int{}
	for _, barre := range []bool{true, false} {
		for j := range p.Directions {
			d := &p.Directions[j]
			text := strings.TrimSpace(d.Text)
			if d.Kind != music.Words || barreText.MatchString(text) != barre || positionText.MatchString(text) {
				continue
			}
			num, den := d.At.Fraction()
			k := place{num, den}
			i := slices.IndexFunc(lines[k], func(l int) bool {
				e := &p.Directions[l]
				return e.Staff == d.Staff || e.Staff == 0 || d.Staff == 0
			})
			if i >= 0 {
				out[j] = lines[k][i]
				lines[k] = slices.Delete(lines[k], i, i+1)
			}
		}
	}
	return out
}

// jumpsOf are the words of jumps that no direction prints.
func jumpsOf(s *music.Score, printed []sign) (out []sign) {
	says := func(bar int, words ...string) bool {
		for _, g := range printed {
			if g.bar == bar && g.kind == wordsSign {
				for _, w := range words {
					if strings.Contains(strings.ToLower(strings.ReplaceAll(g.text, " ", "")), w) {
						return true
					}
				}
			}
		}
		return false
	}
	al := ""
	for _, b := range s.Bars {
		if b.ToCoda != "" {
			al = " al Coda"
		} else if b.Fine && al == "" {
			al = " al Fine"
		}
	}
	for i, b := range s.Bars {
		add := func(text string, words ...string) {
			if !says(i, words...) {
				out = append(out, sign{kind: jumpSign, text: text, bar: i, at: b.End(), above: true})
			}
		}
		if b.DaCapo {
			add("D.C."+al, "d.c", "dacapo")
		}
		if b.DalSegno != "" {
			add("D.S."+al, "d.s", "dalsegno")
		}
		if b.ToCoda != "" {
			add("To Coda", "coda")
		}
		if b.Fine {
			add("Fine", "fine")
		}
	}
	return out
}

// timesOf gives the place in time of everything that has an id on the page.
func timesOf(s *music.Score) map[string]music.Beats {
	out := map[string]music.Beats{}
	for ref, id := range notation.NoteIDs(s) {
		out[id] = s.Parts[ref.Part].Notes[ref.Note].Start
	}
	for i := range s.Parts {
		for j := range s.Parts[i].Notes {
			if n := &s.Parts[i].Notes[j]; n.Rest {
				out[fmt.Sprintf("r%d-%d", i+1, j+1)] = n.Start
			}
		}
	}
	return out
}
