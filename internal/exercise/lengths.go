package exercise

import "antiphon/internal/music"

// piece is one written note of a tone.
type piece struct {
	bar        int
	start, dur music.Beats
	kind       string
	dots       int
	ratio      music.Ratio
}

// written is the note that lasts dur: plain, dotted, or of a triplet.
func written(dur music.Beats) (kind string, dots int, ratio music.Ratio, ok bool) {
	plain := func(d music.Beats) (string, int, bool) {
		for _, t := range [...]struct {
			name string
			q    music.Beats
		}{{"whole", music.Quarters(4, 1)}, {"half", music.Quarters(2, 1)}, {"quarter", music.Quarters(1, 1)}, {"eighth", music.Quarters(1, 2)},
			{"16th", music.Quarters(1, 4)}, {"32nd", music.Quarters(1, 8)}, {"64th", music.Quarters(1, 16)}} {
			switch {
			case t.q.Cmp(d) == 0:
				return t.name, 0, true
			case t.q.Mul(3, 2).Cmp(d) == 0:
				return t.name, 1, true
			}
		}
		return "", 0, false
	}
	if kind, dots, ok = plain(dur); ok {
		return kind, dots, music.Ratio{}, true
	}
	if kind, dots, ok = plain(dur.Mul(3, 2)); ok && dots == 0 {
		return kind, 0, music.Ratio{Actual: 3, Normal: 2}, true
	}
	return "", 0, music.Ratio{}, false
}

// split cuts a length at the bar lines, and within a bar so that each piece is a note that exists:
// first up to the next beat, then the longest note that fits.
func (s *sheet) split(start, dur music.Beats) ([]piece, error) {
	var out []piece
	end := start.Add(dur)
	for start.Less(end) {
		bar := s.barAt(start)
		stop := s.barStart(bar + 1)
		if end.Less(stop) {
			stop = end
		}
		left := stop.Sub(start)
		kind, dots, ratio, ok := written(left)
		if !ok {
			if left, kind, dots, ratio, ok = s.shorter(start.Sub(s.barStart(bar)), left); !ok {
				return nil, unplayable("rhythm", "a length of %s quarters cannot be written as notes; use plain, dotted or triplet values", left)
			}
		}
		out = append(out, piece{bar, start, left, kind, dots, ratio})
		start = start.Add(left)
	}
	return out, nil
}

// shorter is the first piece of a length that is no single note.
func (s *sheet) shorter(inBar, left music.Beats) (dur music.Beats, kind string, dots int, ratio music.Ratio, ok bool) {
	beat := s.beat()
	toBeat := beat
	for at := (music.Beats{}); at.Cmp(inBar) <= 0; at = at.Add(beat) {
		toBeat = at.Add(beat).Sub(inBar)
	}
	if toBeat.Less(beat) && toBeat.Less(left) {
		if kind, dots, ratio, ok = written(toBeat); ok {
			return toBeat, kind, dots, ratio, true
		}
	}
	for sixteenths := int64(64); sixteenths > 0; sixteenths-- { // from a whole note down
		d := music.Quarters(sixteenths, 16)
		if left.Less(d) {
			continue
		}
		if kind, dots, ratio, ok = written(d); ok && ratio.Actual == 0 {
			return d, kind, dots, ratio, true
		}
	}
	return left, "", 0, music.Ratio{}, false
}

// tuplets puts brackets over the triplets of one voice: one opens on a triplet note and closes where
// the notes since then make up an even share of the bar again.
func (s *sheet) tuplets(notes []music.Note) {
	open, from := false, music.Beats{}
	for i := range notes {
		n := &notes[i]
		if n.Grace || n.Ratio.Actual == 0 || n.Chord {
			continue
		}
		if !open {
			n.Tuplets = append(n.Tuplets, music.TupletMark{Start: true, Number: 1})
			open, from = true, n.Start
		}
		_, den := n.End().Sub(from).Fraction()
		last := i+1 == len(notes) || s.barAt(n.Start) != s.barAt(n.End())
		if den%3 != 0 || last {
			n.Tuplets = append(n.Tuplets, music.TupletMark{Number: 1})
			open = false
		}
	}
}

// beams joins the eighths and shorter notes of each beat.
func (s *sheet) beams(notes []music.Note) {
	beat := s.beat()
	cell := func(n music.Note) int64 { // the beat that the note lies in
		num, den := n.Start.Sub(s.barStart(n.Bar)).Fraction()
		bn, bd := beat.Fraction()
		return num * bd / (den * bn)
	}
	for i := 0; i < len(notes); {
		if notes[i].Rest || notes[i].Grace || flags(notes[i]) == 0 {
			i++
			continue
		}
		j := i
		for j < len(notes) && !notes[j].Rest && !notes[j].Grace && flags(notes[j]) > 0 && notes[j].Bar == notes[i].Bar && cell(notes[j]) == cell(notes[i]) {
			j++
		}
		join(notes[i:j])
		i = j
	}
}

func flags(n music.Note) int {
	return map[string]int{"eighth": 1, "16th": 2, "32nd": 3, "64th": 4}[n.Type]
}

// join beams one group, level by level. The other notes of a chord carry no beam.
func join(group []music.Note) {
	var heads []int
	for i := range group {
		if !group[i].Chord {
			heads = append(heads, i)
		}
	}
	if len(heads) < 2 {
		return
	}
	has := func(k, level int) bool { return k >= 0 && k < len(heads) && flags(group[heads[k]]) >= level }
	for level := 1; level <= 4; level++ {
		for k, i := range heads {
			if !has(k, level) {
				continue
			}
			before, after := has(k-1, level), has(k+1, level)
			value := ""
			switch {
			case before && after:
				value = "continue"
			case after:
				value = "begin"
			case before:
				value = "end"
			case k == 0 || k+1 < len(heads) && group[heads[k-1]].Duration.Less(group[heads[k+1]].Duration):
				value = "forward hook" // a lone short note's hook points to the longer of its neighbours
			default:
				value = "backward hook"
			}
			group[i].Beams = append(group[i].Beams, music.Beam{Number: level, Value: value})
		}
	}
}
