package sound

import (
	"antiphon/internal/music"
)

// route is the bars in the order in which they are played, laid end to end. Places on it are quarters
// from its first beat; this is the time that all players of a round share.
type route struct {
	s      *music.Score
	bars   []int         // indices into s.Bars
	at     []music.Beats // where each begins
	length music.Beats
}

func newRoute(s *music.Score, opt Options) (*route, error) {
	r := &route{s: s}
	order := played(s, opt.Repeats)
	if bars := opt.bars(); bars != nil {
		from, to, err := loopBars(s, *bars)
		if err != nil {
			return nil, err
		}
		order = within(played(s, Once), from, to)
		if len(order) == 0 { // bars that are played in an earlier ending only
			for b := from; b <= to; b++ {
				order = append(order, b)
			}
		}
	}
	for _, b := range order {
		r.bars, r.at = append(r.bars, b), append(r.at, r.length)
		r.length = r.length.Add(s.Bars[b].Length)
	}
	if len(r.bars) == 0 || r.length.IsZero() {
		return nil, problem(NoNotes, nil, "the score has no bars to play: choose another")
	}
	return r, nil
}

// bars are those that alone are played, or nil.
func (o Options) bars() *Loop {
	if o.Loop != nil {
		return o.Loop
	}
	return o.Bars
}

func played(s *music.Score, how Repeats) []int {
	var order []int
	if how == Written {
		for _, st := range s.Performed() {
			for b := st.From; b <= st.To; b++ {
				order = append(order, b)
			}
		}
		return order
	}
	for b := range s.Bars {
		if !earlierEnding(s.Bars, b) {
			order = append(order, b)
		}
	}
	return order
}

// earlierEnding reports whether a bar stands in an ending that another ending follows.
func earlierEnding(bars []music.Bar, b int) bool {
	from := b
	for from > 0 && len(bars[from].Ending) == 0 && bars[from-1].EndingStop == "" && bars[from-1].RepeatEnd == 0 {
		from--
	}
	if len(bars[from].Ending) == 0 {
		return false
	}
	to := from
	for to+1 < len(bars) && bars[to].EndingStop == "" && bars[to].RepeatEnd == 0 && len(bars[to+1].Ending) == 0 {
		to++
	}
	if b > to || to+1 >= len(bars) {
		return false
	}
	closed := bars[to].EndingStop != "" || bars[to].RepeatEnd > 0
	// The bar after a first ending is a second one, bracketed or not, if the first leads back.
	return closed && (len(bars[to+1].Ending) > 0 && bars[to+1].Ending[0] > bars[from].Ending[0] || len(bars[to+1].Ending) == 0 && bars[to].RepeatEnd > 0)
}

func loopBars(s *music.Score, l Loop) (from, to int, err error) {
	find := func(name string, first bool) (int, error) {
		found := -1
		for i, b := range s.Bars {
			if b.Number == name && (found < 0 || !first) {
				found = i
			}
		}
		if found < 0 {
			return 0, problem(NoSuchBar, nil, "there is no bar %s to loop: the bars are numbered %s to %s", name, s.Bars[0].Number, s.Bars[len(s.Bars)-1].Number)
		}
		return found, nil
	}
	if len(s.Bars) == 0 {
		return 0, 0, problem(NoNotes, nil, "the score has no bars to play: choose another")
	}
	from, to = 0, len(s.Bars)-1
	if l.From != "" {
		if from, err = find(l.From, true); err != nil {
			return 0, 0, err
		}
	}
	if l.To != "" {
		if to, err = find(l.To, false); err != nil {
			return 0, 0, err
		}
	}
	if to < from {
		return 0, 0, problem(NoSuchBar, nil, "bar %s comes after bar %s: name the earlier bar first", l.From, l.To)
	}
	return from, to, nil
}

func within(order []int, from, to int) (out []int) {
	for _, b := range order {
		if b >= from && b <= to {
			out = append(out, b)
		}
	}
	return out
}

// unbroken is, for each bar played, how far the music goes on from it as written: to the next jump.
func (r *route) unbroken() []music.Beats {
	out := make([]music.Beats, len(r.bars))
	for k := len(r.bars) - 1; k >= 0; k-- {
		if k+1 < len(r.bars) && r.bars[k+1] == r.bars[k]+1 {
			out[k] = out[k+1]
		} else {
			out[k] = r.at[k].Add(r.s.Bars[r.bars[k]].Length)
		}
	}
	return out
}
