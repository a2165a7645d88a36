package exercise

import (
	"slices"

	"antiphon/internal/music"
)

// borrow takes strings and fingers from a tablature that repeats the notes, or that some writers put
// elsewhere: as Score.Sounding understands them.
func (s *sheet) borrow(score *music.Score, part int, place func(int, music.Beats) music.Beats) {
	type id struct {
		at   music.Beats
		midi int
	}
	known := map[id]music.Sounding{}
	written := score.Written()
	for i, n := range score.Sounding() {
		if ref := written[i][0]; ref.Part == part && n.BarIndex < len(score.Bars) && !n.Grace {
			d := score.Parts[part].Notes[ref.Note]
			known[id{place(d.Bar, d.Start), d.Pitch.Midi()}] = n
		}
	}
	for i := range s.tones {
		t := &s.tones[i]
		n, ok := known[id{t.Start, t.Pitch.Midi()}]
		if !ok {
			continue
		}
		if t.String == 0 && n.String > 0 && n.Fret >= 0 {
			t.String, t.Fret, t.HasFret = n.String, n.Fret, true
		}
		if t.String > 0 && !t.HasFret && !t.Harmonic.Present {
			if fret := n.Midi - s.guitar.Pitch(t.String, 0); s.guitar.Pitch(t.String, 0) > 0 && fret >= 0 {
				t.Fret, t.HasFret = fret, true
			}
		}
		if t.finger() < 0 && n.Finger != "" {
			t.setFinger(number(n.Finger))
		}
		if len(t.Plucks) == 0 && n.Pluck != "" {
			t.Plucks = []string{n.Pluck}
		}
	}
}

// wholeSpans keeps the lines that an exercise can draw: from note to note, not over many.
func wholeSpans(spans []music.Span) []music.Span {
	return slices.DeleteFunc(slices.Clone(spans), func(sp music.Span) bool { return sp.Role == "continue" || sp.Kind == "wavy-line" })
}

// closeSpans takes away starts without a stop and stops without a start, at the edges of the passage.
func (s *sheet) closeSpans() {
	type id struct {
		kind   string
		number int
	}
	started := map[id][2]int{} // tone and index of the span
	drop := map[[2]int]bool{}
	s.sort()
	for i := range s.tones {
		for k, sp := range s.tones[i].Spans { // a stop before a start on the same note
			if sp.Role != "stop" {
				continue
			}
			if _, ok := started[id{sp.Kind, sp.Number}]; !ok {
				drop[[2]int{i, k}] = true
			}
			delete(started, id{sp.Kind, sp.Number})
		}
		for k, sp := range s.tones[i].Spans {
			if sp.Role == "start" {
				if at, ok := started[id{sp.Kind, sp.Number}]; ok {
					drop[at] = true
				}
				started[id{sp.Kind, sp.Number}] = [2]int{i, k}
			}
		}
	}
	for _, at := range started {
		drop[at] = true
	}
	for i := range s.tones {
		var keep []music.Span
		for k, sp := range s.tones[i].Spans {
			if !drop[[2]int{i, k}] {
				keep = append(keep, sp)
			}
		}
		s.tones[i].Spans = keep
	}
}
