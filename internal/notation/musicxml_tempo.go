package notation

import (
	"slices"
	"strings"

	"antiphon/internal/music"
)

// finishTempos puts the tempo marks of all parts in order, each place once: a printed mark before one
// that only sounds.
func (r *xmlScore) finishTempos() {
	for i := range r.tempo {
		t := &r.tempo[i]
		t.mark.At = t.mark.At.Add(r.s.Bars[t.bar].Start)
	}
	slices.SortStableFunc(r.tempo, func(a, b barTempo) int {
		if c := a.mark.At.Cmp(b.mark.At); c != 0 {
			return c
		}
		return silent(a.mark) - silent(b.mark)
	})
	var out []music.TempoMark
	quarter := 0.0
	for _, t := range r.tempo {
		m := t.mark
		if n := len(out); n > 0 && out[n-1].At.Cmp(m.At) == 0 {
			continue
		}
		if !m.Was.IsZero() && m.Bpm == 0 { // old note = new note: the new one goes as fast as the old did
			if quarter == 0 {
				quarter = music.DefaultQuarterBpm
			}
			m.Bpm = quarter / m.Unit.Q() * m.Was.Q() / m.Unit.Q()
		}
		quarter = m.QuarterBpm()
		out = append(out, m)
	}
	r.s.Tempos = out
}

func silent(t music.TempoMark) int {
	if t.Silent {
		return 1
	}
	return 0
}

// settleSigns gives segno and coda signs to their bars: one at the end of a bar belongs to the next.
// Coda signs that say nothing more are, where there are two, first the way out and then the coda.
func (r *xmlScore) settleSigns() {
	bars := r.s.Bars
	type place struct{ in, next int } // the bar that a sign stands in, and the bar that it begins
	var bare []place
	for _, s := range r.signs {
		i := s.bar
		if i+1 < len(bars) && !bars[i].Length.IsZero() && !s.at.Less(bars[i].Length) {
			i++
		}
		switch {
		case s.kind == "segno" && (bars[i].Segno == "" || s.label != ""):
			bars[i].Segno = or(s.label, "segno")
		case s.kind == "coda" && s.label != "":
			bars[i].Coda = s.label
		case s.kind == "coda":
			bare = append(bare, place{s.bar, i})
		}
	}
	slices.SortStableFunc(bare, func(a, b place) int { return a.in - b.in })
	bare = slices.CompactFunc(bare, func(a, b place) bool { return a.in == b.in })
	stated, out := false, false
	for _, b := range bars {
		stated, out = stated || b.Coda != "", out || b.ToCoda != ""
	}
	for k, p := range bare {
		switch {
		case bars[p.next].Coda != "" || bars[p.in].ToCoda != "":
		case !out && k < len(bare)-1, stated && !out:
			bars[p.in].ToCoda = "coda"
		default:
			bars[p.next].Coda = "coda"
		}
	}
}

// navigateByWords reads "D.C. al Fine" and its like where the file prints them and does not also say
// so to players.
func navigateByWords(s *music.Score) {
	said := map[int]bool{}
	for i, b := range s.Bars {
		said[i] = b.DaCapo || b.DalSegno != "" || b.ToCoda != "" || b.Fine
	}
	for _, p := range s.Parts {
		for _, d := range p.Directions {
			if d.Kind != music.Words || said[d.Bar] {
				continue
			}
			b := &s.Bars[d.Bar]
			switch jumpWords(d.Text) {
			case jumpDaCapo:
				b.DaCapo = true
			case jumpDalSegno:
				b.DalSegno = "segno"
			case jumpToCoda:
				b.ToCoda, b.Coda = "coda", ""
			case jumpFine:
				b.Fine = true
			case signCoda:
				if b.Coda == "" && b.ToCoda == "" {
					b.Coda = "coda"
				}
			}
		}
	}
}

type jumpKind int

const (
	jumpNone jumpKind = iota
	jumpDaCapo
	jumpDalSegno
	jumpToCoda
	jumpFine
	signCoda
)

// jumpWords tells what printed words ask of the player.
func jumpWords(text string) jumpKind {
	t := strings.ToLower(strings.Join(strings.Fields(text), " "))
	flat := strings.NewReplacer(".", "", " ", "").Replace(t)
	switch {
	case strings.HasPrefix(flat, "dacapo"), flat == "dc", strings.HasPrefix(flat, "dcal"), strings.HasPrefix(flat, "dcsenza"), strings.HasPrefix(flat, "dcsin"), strings.HasPrefix(flat, "dccon"):
		return jumpDaCapo
	case strings.HasPrefix(flat, "dalsegno"), flat == "ds", strings.HasPrefix(flat, "dsal"), strings.HasPrefix(flat, "dssenza"), strings.HasPrefix(flat, "dscon"):
		return jumpDalSegno
	case strings.HasPrefix(flat, "tocoda"), strings.HasPrefix(flat, "alcoda"), strings.HasPrefix(flat, "allacoda"):
		return jumpToCoda
	case flat == "fine":
		return jumpFine
	case flat == "coda":
		return signCoda
	}
	return jumpNone
}
