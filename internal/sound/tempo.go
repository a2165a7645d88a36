package sound

import (
	"cmp"
	"slices"
	"sort"

	"antiphon/internal/music"
)

// clock turns places on a route into seconds.
type clock struct {
	steps []step
}

// step: from a place on, quarters take so long.
type step struct {
	at       music.Beats
	s        float64 // of that place, after a hold that ends there
	sPerBeat float64 // a quarter
}

// hold is time added before a place: the end of a note under a fermata.
type hold struct {
	at   music.Beats
	more music.Beats // as written lengths
}

// newClock lays the score's tempos along the route, all in the same proportion faster or slower.
func newClock(r *route, scale float64, holds []hold) *clock {
	c := &clock{}
	add := func(at music.Beats, quarterBpm float64) {
		sPerBeat := 60 / (quarterBpm * scale)
		if n := len(c.steps); n > 0 {
			last := &c.steps[n-1]
			if last.sPerBeat == sPerBeat {
				return
			}
			s := last.s + at.Sub(last.at).Q()*last.sPerBeat
			if last.at == at {
				last.sPerBeat = sPerBeat
				return
			}
			c.steps = append(c.steps, step{at, s, sPerBeat})
			return
		}
		c.steps = append(c.steps, step{at, 0, sPerBeat})
	}
	for k, b := range r.bars {
		bar := &r.s.Bars[b]
		q, _ := r.s.TempoAt(bar.Start)
		add(r.at[k], q)
		within := sort.Search(len(r.s.Tempos), func(i int) bool { return bar.Start.Less(r.s.Tempos[i].At) })
		for _, t := range r.s.Tempos[within:] {
			if !t.At.Less(bar.End()) {
				break
			}
			add(r.at[k].Add(t.At.Sub(bar.Start)), t.QuarterBpm())
		}
	}
	for _, h := range holds {
		c.wait(h)
	}
	return c
}

// wait puts a hold in.
func (c *clock) wait(h hold) {
	i := sort.Search(len(c.steps), func(i int) bool { return h.at.Less(c.steps[i].at) }) // the first step after it
	before := c.steps[max(i-1, 0)]
	rate := before.sPerBeat
	if before.at == h.at && i > 1 { // a tempo that begins where the hold ends does not count in it
		rate = c.steps[i-2].sPerBeat
	}
	more := h.more.Q() * rate
	if before.at == h.at {
		i--
	} else {
		c.steps = slices.Insert(c.steps, i, step{h.at, before.s + h.at.Sub(before.at).Q()*before.sPerBeat, before.sPerBeat})
	}
	for j := i; j < len(c.steps); j++ {
		c.steps[j].s += more
	}
}

// seconds of a place; places before the beginning are negative, places after the end go on at the
// last tempo.
func (c *clock) seconds(at music.Beats) float64 {
	i, found := slices.BinarySearchFunc(c.steps, at, func(s step, at music.Beats) int { return s.at.Cmp(at) })
	if !found {
		i = max(i-1, 0)
	}
	s := c.steps[i]
	return s.s + at.Sub(s.at).Q()*s.sPerBeat
}

// opening is the beat at the start of the route, with its tempo as the score says it.
func (r *route) opening() (beat music.Beats, bpm float64, marked bool) {
	start := r.s.Bars[r.bars[0]].Start
	beat = r.s.BeatUnitAt(start)
	q, marked := r.s.TempoAt(start)
	return beat, q / beat.Q(), marked
}

// longestHold of a fermata beyond the written length, and the shortest. Our choice; no source.
func holdOf(length music.Beats) music.Beats {
	more := length.Mul(1, 2)
	if more.Less(music.Quarters(1, 2)) {
		return music.Quarters(1, 2)
	}
	if two := music.Quarters(2, 1); two.Less(more) {
		return two
	}
	return more
}

// holds of the fermatas on the route, one for each place.
func (r *route) holds(touches []touch, sounds []music.Sounding, byBar map[int][]int) []hold {
	longest := map[music.Beats]music.Beats{}
	for k, b := range r.bars {
		for _, i := range byBar[b] {
			if !touches[i].fermata {
				continue
			}
			n := sounds[i]
			at := r.at[k].Add(n.Onset.Sub(r.s.Bars[b].Start)).Add(n.Duration)
			if more := holdOf(n.Duration); longest[at].Less(more) {
				longest[at] = more
			}
		}
	}
	var out []hold
	for at, more := range longest {
		out = append(out, hold{at, more})
	}
	slices.SortFunc(out, func(a, b hold) int { return cmp.Compare(a.at.Q(), b.at.Q()) })
	return out
}
