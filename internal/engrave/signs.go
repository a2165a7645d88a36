package engrave

import (
	"fmt"
	"regexp"
	"slices"
	"strings"

	"antiphon/internal/music"
	"antiphon/internal/notation"
)

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
