package engrave

import (
	"cmp"
	"slices"

	"antiphon/internal/music"
)

// Moment is a time of the performance at which notes begin or end. The ids are those in the picture.
type Moment struct {
	AtQ, AtS float64 // from the start, repeats played out: in quarters and in seconds
	Bar      int     // index into Score.Bars of the bar that is being played
	On, Off  []string
}

// Moments lists when each note of the picture begins and ends, in the order of the performance, at the
// score's own tempo times rate (1 as written). A passage played twice has its notes twice; grace notes
// begin with their main note.
func Moments(s *music.Score, rate float64) []Moment {
	if !(rate > 0) {
		rate = 1
	}
	sounds := s.Sounding()
	byBar := make([][]music.Sounding, len(s.Bars))
	for _, n := range sounds {
		byBar[n.BarIndex] = append(byBar[n.BarIndex], n)
	}
	var out []Moment
	at := map[[2]int64]int{}
	moment := func(q music.Beats, sec float64, bar int) *Moment {
		num, den := q.Fraction()
		k := [2]int64{num, den}
		i, ok := at[k]
		if !ok {
			i = len(out)
			at[k] = i
			out = append(out, Moment{AtQ: q.Q(), AtS: sec, Bar: bar})
		}
		return &out[i]
	}
	played, clock := music.Beats{}, 0.0 // at the start of the bar in hand
	for _, st := range s.Performed() {
		for b := st.From; b <= st.To; b++ {
			bar := &s.Bars[b]
			seconds := func(to music.Beats) float64 { return clock + spanS(s, bar.Start, to)/rate }
			for _, n := range byBar[b] {
				on := moment(played.Add(n.Onset.Sub(bar.Start)), seconds(n.Onset), b)
				on.On = append(on.On, n.ID)
				end := n.Onset.Add(n.Duration)
				off := moment(played.Add(end.Sub(bar.Start)), seconds(end), b)
				off.Off = append(off.Off, n.ID)
			}
			clock = seconds(bar.End())
			played = played.Add(bar.Length)
		}
	}
	slices.SortStableFunc(out, func(a, b Moment) int { return cmp.Compare(a.AtQ, b.AtQ) })
	return out
}

// spanS is how long a stretch of the written score lasts, in seconds.
func spanS(s *music.Score, from, to music.Beats) float64 {
	sum := 0.0
	for _, t := range s.Tempos {
		if from.Less(t.At) && t.At.Less(to) {
			bpm, _ := s.TempoAt(from)
			sum += t.At.Sub(from).Q() * 60 / bpm
			from = t.At
		}
	}
	bpm, _ := s.TempoAt(from)
	return sum + to.Sub(from).Q()*60/bpm
}
