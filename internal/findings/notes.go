package findings

import (
	"fmt"
	"slices"
	"strings"

	"antiphon/internal/ear"
)

const (
	// passageErrors and passageShare say when a bar is better named as a whole than note by note.
	// Our choice: a teacher does not read four sentences about one bar.
	passageErrors = 4
	passageShare  = 0.4
	// sameSlip is how many places must share one written and one heard pitch before it is named as one
	// thing, such as a forgotten sharp of the key.
	sameSlip = 2
)

// fault is one wrong, missed or added note that is sure enough to speak of.
type fault struct {
	kind       Kind
	note       int // index into Hearing.Score; -1 for an added note
	pass, bar  int
	s          float64
	midi       int // heard
	confidence float64
}

func (s *scene) faults() []fault {
	var all []fault
	for _, l := range s.lines {
		for _, n := range s.h.Played {
			if n.Pass != l.pass.N || n.Verdict == ear.Right || n.Confidence < Sure {
				continue
			}
			kind := Wrong
			if n.Verdict == ear.Extra {
				kind = Extra
			}
			all = append(all, fault{kind, n.Note, n.Pass, s.barOfPlayed(l, n), n.OnsetS, n.Midi, n.Confidence})
		}
		for _, m := range s.h.Missed {
			if m.Pass == l.pass.N && m.Confidence >= Sure {
				all = append(all, fault{Missed, m.Note, m.Pass, s.h.Score[m.Note].BarIndex, m.ExpectedS, 0, m.Confidence})
			}
		}
	}
	slices.SortStableFunc(all, func(a, b fault) int {
		switch {
		case a.s < b.s:
			return -1
		case a.s > b.s:
			return 1
		}
		return 0
	})
	return all
}

// wrongNotes says what was wrong, missing or added: bars that came apart first, then slips that
// share one cause, then single places, the same place in several passes as one.
func (s *scene) wrongNotes() []Finding {
	faults := s.faults()
	var out []Finding
	out, faults = s.passages(faults, out)
	out, faults = s.sameSlips(faults, out)
	type key struct {
		kind      Kind
		bar, note int
	}
	groups := map[key][]fault{}
	var order []key
	for _, f := range s.mergeMissed(faults) {
		k := key{f[0].kind, f[0].bar, f[0].note}
		if f[0].kind == Extra {
			k.note = f[0].midi
		}
		if groups[k] == nil {
			order = append(order, k)
		}
		groups[k] = append(groups[k], f...)
	}
	for _, k := range order {
		switch g := groups[k]; k.kind {
		case Wrong:
			out = append(out, s.wrong(g))
		case Missed:
			out = append(out, s.missed(g))
		default:
			out = append(out, s.extra(g))
		}
	}
	return out
}

// mergeMissed joins missed notes of one bar and pass into one group; the others stay alone.
func (s *scene) mergeMissed(faults []fault) [][]fault {
	var out [][]fault
	at := map[[2]int]int{}
	for _, f := range faults {
		k := [2]int{f.pass, f.bar}
		if i, ok := at[k]; ok && f.kind == Missed {
			out[i] = append(out[i], f)
			continue
		}
		if f.kind == Missed {
			at[k] = len(out)
		}
		out = append(out, []fault{f})
	}
	return out
}

// finding makes a finding from faults of one sort. Sure of one is not sure of two, but a fault heard
// twice at one place is surer than either.
func (s *scene) finding(kind Kind, g []fault, size float64, unit, text string) Finding {
	f := Finding{Kind: kind, Size: size, Unit: unit, Text: text, FromS: g[0].s, ToS: g[0].s}
	lo, hi := g[0].bar, g[0].bar
	doubt := 1.0
	seen := map[int]bool{}
	for _, x := range g {
		lo, hi = min(lo, x.bar), max(hi, x.bar)
		if x.pass == g[0].pass {
			f.ToS = max(f.ToS, x.s)
		}
		if n := len(f.AtS); n == 0 || !seen[x.pass*100000+x.bar] {
			f.AtS = append(f.AtS, x.s)
		}
		seen[x.pass*100000+x.bar] = true
		if x.note >= 0 && !slices.Contains(f.Evidence, s.h.Score[x.note].ID) {
			f.Evidence = append(f.Evidence, s.h.Score[x.note].ID)
		}
		f.Confidence = max(f.Confidence, min(1, x.confidence))
		doubt *= 1 - min(0.95, x.confidence)
	}
	if len(f.AtS) > 1 {
		f.Confidence = max(f.Confidence, 1-doubt)
	}
	f.FromBar, f.ToBar = s.barName(lo), s.barName(hi)
	return f
}

func (s *scene) wrong(g []fault) Finding {
	n := s.h.Score[g[0].note]
	var heard []string
	for _, f := range g {
		if w := s.heardInWords(f.midi, n); !slices.Contains(heard, w) {
			heard = append(heard, w)
		}
	}
	text := fmt.Sprintf("%s: %s was heard where %s is written", s.placeInWords(n), strings.Join(heard, ", then "), pitchInWords(n.Name))
	if len(g) > 1 {
		text += ", " + timesInWords(len(g))
	}
	f := s.finding(Wrong, g, float64(len(g)), "times", text+".")
	f.Aspect = s.wrongAspect(n, g[0].midi)
	return f
}

func (s *scene) missed(g []fault) Finding {
	first := s.h.Score[g[0].note]
	passes := map[int][]fault{}
	for _, f := range g {
		passes[f.pass] = append(passes[f.pass], f)
	}
	one := passes[g[0].pass]
	var names []string
	together := true // members of one chord
	for _, f := range one {
		n := s.h.Score[f.note]
		names = append(names, pitchInWords(n.Name))
		together = together && n.Onset.Cmp(first.Onset) == 0
	}
	var text string
	switch {
	case len(one) == 1:
		_, which := s.inChord(g[0].note, names[0])
		text = fmt.Sprintf("%s: the %s was not heard", s.placeInWords(first), which)
	case together:
		text = fmt.Sprintf("%s: %s of the chord were not heard", s.placeInWords(first), list(names))
	default:
		text = fmt.Sprintf("%s: %s were not heard, the first on %s",
			capital(s.barsInWords(first.BarIndex, first.BarIndex))+s.partInWords(first.Part), countInWords(len(one), "note"), s.beatInWords(first))
	}
	if len(passes) > 1 {
		text += ", " + timesInWords(len(passes))
	}
	f := s.finding(Missed, g, float64(len(g)), "notes", text+".")
	f.Aspect = "several"
	if len(one) == 1 {
		f.Aspect, _ = s.inChord(g[0].note, "")
		if f.Aspect == "" && first.Pluck == "p" {
			f.Aspect = "bass" // the thumb's note of an arpeggio stands alone
		}
	}
	return f
}

// inChord says which note of a chord it is: as an aspect, "" for a single note, and with its name in words.
func (s *scene) inChord(note int, name string) (aspect, words string) {
	n := s.h.Score[note]
	lowest, highest, size := true, true, 0
	for _, m := range s.h.Score {
		if m.Part == n.Part && m.Onset.Cmp(n.Onset) == 0 && !m.Grace {
			size++
			lowest = lowest && m.Midi >= n.Midi
			highest = highest && m.Midi <= n.Midi
		}
	}
	switch {
	case size < 2:
		return "", name
	case lowest:
		return "bass", "lowest note, " + name + ","
	case highest:
		return "top", "highest note, " + name + ","
	}
	return "inside", name + " inside the chord"
}

func (s *scene) extra(g []fault) Finding {
	part := ""
	if len(s.score.Parts) > 0 {
		part = s.score.Parts[0].ID
	}
	name := s.spelled(g[0].midi, part, g[0].bar)
	text := fmt.Sprintf("%s: an added %s that is not written", capital(s.barsInWords(g[0].bar, g[0].bar)), name)
	if len(g) > 1 {
		text += ", " + timesInWords(len(g))
	}
	f := s.finding(Extra, g, float64(len(g)), "times", text+".")
	for _, x := range g {
		for _, id := range s.idsAround(x) {
			if !slices.Contains(f.Evidence, id) {
				f.Evidence = append(f.Evidence, id)
			}
		}
	}
	f.Aspect = s.extraAspect(g[0])
	return f
}

// idsAround are the written moments between which an added note fell: the last one heard before it and
// the first one after it.
func (s *scene) idsAround(f fault) []string {
	for _, l := range s.lines {
		if l.pass.N != f.pass {
			continue
		}
		after := len(l.points)
		for i, p := range l.points {
			if p.s > f.s {
				after = i
				break
			}
		}
		return s.ids(l.points[max(0, after-1):min(len(l.points), after+1)])
	}
	return nil
}

// sameSlips finds one written pitch that was heard as one other pitch at several places.
func (s *scene) sameSlips(faults []fault, out []Finding) ([]Finding, []fault) {
	type slip struct{ written, heard int }
	places := map[slip][]fault{}
	var order []slip
	for _, f := range faults {
		if f.kind != Wrong {
			continue
		}
		k := slip{s.h.Score[f.note].Midi, f.midi}
		if places[k] == nil {
			order = append(order, k)
		}
		places[k] = append(places[k], f)
	}
	taken := map[fault]bool{}
	for _, k := range order {
		g := places[k]
		notes, bars := map[int]bool{}, []string{}
		for _, f := range g {
			notes[f.note] = true
			if b := s.barName(f.bar); !slices.Contains(bars, b) {
				bars = append(bars, b)
			}
		}
		if len(notes) < sameSlip {
			continue
		}
		for _, f := range g {
			taken[f] = true
		}
		n := s.h.Score[g[0].note]
		where := "bar " + bars[0]
		if len(bars) > 1 {
			where = "bars " + list(bars)
		}
		same := s.finding(Wrong, g, float64(len(g)), "times",
			fmt.Sprintf("%s was heard where %s is written, %s (%s).", capital(s.heardInWords(k.heard, n)), pitchInWords(n.Name), timesInWords(len(g)), where))
		same.Aspect = s.wrongAspect(n, k.heard)
		out = append(out, same)
	}
	return out, slices.DeleteFunc(faults, func(f fault) bool { return taken[f] })
}

// passages names bars in which many notes of one pass went wrong.
func (s *scene) passages(faults []fault, out []Finding) ([]Finding, []fault) {
	groups := map[[2]int][]fault{}
	var order [][2]int
	for _, f := range faults {
		k := [2]int{f.pass, f.bar}
		if groups[k] == nil {
			order = append(order, k)
		}
		groups[k] = append(groups[k], f)
	}
	written := map[int]int{}
	for _, n := range s.h.Score {
		written[n.BarIndex]++
	}
	byBar := map[int][]fault{}
	var bars []int
	for _, k := range order {
		g := groups[k]
		if len(g) < passageErrors || float64(len(g)) < passageShare*float64(written[k[1]]) {
			continue
		}
		if byBar[k[1]] == nil {
			bars = append(bars, k[1])
		}
		byBar[k[1]] = append(byBar[k[1]], g...)
	}
	taken := map[fault]bool{}
	for _, bar := range bars {
		g := byBar[bar]
		count := map[Kind]int{}
		for _, f := range g {
			taken[f] = true
			count[f.kind]++
		}
		var what []string
		for _, c := range []struct {
			k    Kind
			word string
		}{{Wrong, "other than written"}, {Missed, "not heard"}, {Extra, "added"}} {
			if count[c.k] > 0 {
				what = append(what, fmt.Sprintf("%d %s", count[c.k], c.word))
			}
		}
		out = append(out, s.finding(Passage, g, float64(len(g)), "notes",
			fmt.Sprintf("%s: many notes at once did not come out (%s).", capital(s.barsInWords(bar, bar)), list(what))))
	}
	return out, slices.DeleteFunc(faults, func(f fault) bool { return taken[f] })
}
