package notation

import (
	"math"

	"antiphon/internal/music"
)

// A performance that was recorded as MIDI has lengths that no notes have. A part where many notes say
// nothing of how they look and last as long as no plain note is drawn to the nearest sixteenth: what is
// drawn can then be read, and ids and times stay those of the performance.

const (
	roughShare = 0.2 // of the notes whose lengths are no plain ones, from which on a part is drawn so. Our choice
	roughGrid  = 4   // parts of a quarter
)

// roughParts tells which parts are drawn to the nearest sixteenth.
func roughParts(s *music.Score) []bool {
	out := make([]bool, len(s.Parts))
	for i := range s.Parts {
		notes, odd := 0, 0
		for j := range s.Parts[i].Notes {
			n := &s.Parts[i].Notes[j]
			if n.Grace || n.Rest {
				continue
			}
			notes++
			if n.Type == "" && len(plainly(voiceEvent{length: n.Duration})) > 1 {
				odd++
			}
		}
		out[i] = float64(odd) > roughShare*float64(notes)
	}
	return out
}

// snapped moves a note within its bar to the nearest sixteenth.
func snapped(bar *music.Bar, n *music.Note) (at, length music.Beats) {
	grid := func(b music.Beats) int64 { return int64(math.Round(b.Q() * roughGrid)) }
	last := max(grid(bar.Length), 1)
	from := min(max(grid(n.Start.Sub(bar.Start)), 0), last-1)
	to := min(max(grid(n.End().Sub(bar.Start)), from+1), last)
	return bar.Start.Add(music.Quarters(from, roughGrid)), music.Quarters(to-from, roughGrid)
}
