package ear

import (
	"slices"

	"antiphon/internal/music"
)

// moment is a place in the written score where one or more notes begin together.
type moment struct {
	q       float64
	notes   []int // indices into the sounding notes
	pitches []int // distinct written pitches, low to high
	bar     int   // index into Score.Bars
	label   string
	opens   bool // first moment of its bar
	light   bool // grace notes only: leaving it out is no surprise
	kind    int  // moments with the same pitches share a kind
}

// arc is a way from one moment to another that the score itself offers: a written repeat, an
// ending, a da capo, or another round of a short exercise.
type arc struct {
	from, to int
	dq       float64 // quarters from one to the other
	back     bool    // leads backwards, so that taking it begins a new pass
	round    bool
}

// route is the score as the ear follows it.
type route struct {
	score   *music.Score
	notes   []music.Sounding
	moments []moment
	arcs    []arc
	kinds   [][]int // pitches of each kind
	spq     float64 // seconds a quarter at the written tempo
	marked  bool
}

const (
	togetherQ  = 0.02 // notes closer than this begin together
	graceLeadQ = 0.12 // a grace note is expected so long before its main note
	roundBars  = 4    // an exercise so short is played round and round
	offGridQ   = 1e-6
)

func newRoute(s *music.Score) *route {
	r := &route{score: s, notes: s.Sounding()}
	bpm, marked := s.TempoAt(music.Beats{})
	r.spq, r.marked = 60/bpm, marked
	type place struct {
		q    float64
		note int
	}
	var places []place
	for i, n := range r.notes {
		if n.Cue {
			continue
		}
		q := n.Onset.Q()
		if n.Grace {
			q -= graceLeadQ
		}
		places = append(places, place{q, i})
	}
	slices.SortStableFunc(places, func(a, b place) int {
		switch {
		case a.q < b.q:
			return -1
		case a.q > b.q:
			return 1
		}
		return 0
	})
	for _, p := range places {
		n := r.notes[p.note]
		if k := len(r.moments); k == 0 || p.q-r.moments[k-1].q > togetherQ {
			r.moments = append(r.moments, moment{q: p.q, bar: n.BarIndex, label: n.Bar, light: true})
		}
		m := &r.moments[len(r.moments)-1]
		m.notes = append(m.notes, p.note)
		m.light = m.light && n.Grace
		if !slices.Contains(m.pitches, n.Midi) {
			m.pitches = append(m.pitches, n.Midi)
		}
	}
	kinds := map[string]int{}
	for i := range r.moments {
		m := &r.moments[i]
		slices.Sort(m.pitches)
		m.opens = i == 0 || r.moments[i-1].bar != m.bar
		key := ""
		for _, p := range m.pitches {
			key += string(rune(p + 1))
		}
		k, ok := kinds[key]
		if !ok {
			k = len(r.kinds)
			kinds[key] = k
			r.kinds = append(r.kinds, m.pitches)
		}
		m.kind = k
	}
	r.findArcs()
	return r
}

func (r *route) findArcs() {
	if len(r.moments) == 0 {
		return
	}
	first, last := map[int]int{}, map[int]int{} // by bar
	for i, m := range r.moments {
		if _, ok := first[m.bar]; !ok {
			first[m.bar] = i
		}
		last[m.bar] = i
	}
	// lastUpTo and firstFrom step over bars of rest.
	lastUpTo := func(bar int) int {
		for b := bar; b >= 0; b-- {
			if i, ok := last[b]; ok {
				return i
			}
		}
		return -1
	}
	firstFrom := func(bar int) int {
		for b := bar; b < len(r.score.Bars); b++ {
			if i, ok := first[b]; ok {
				return i
			}
		}
		return -1
	}
	seen := map[[2]int]bool{}
	add := func(fromBar, toBar int, round bool) {
		from, to := lastUpTo(fromBar), firstFrom(toBar)
		if from < 0 || to < 0 || to == from+1 || seen[[2]int{from, to}] {
			return
		}
		seen[[2]int{from, to}] = true
		tail := r.score.Bars[fromBar].End().Q() - r.moments[from].q
		head := r.moments[to].q - r.score.Bars[toBar].Start.Q()
		dq := tail + head
		if dq < offGridQ {
			return
		}
		r.arcs = append(r.arcs, arc{from, to, dq, to <= from, round})
	}
	order := r.score.Performed()
	for i := 1; i < len(order); i++ {
		if order[i].From != order[i-1].To+1 {
			add(order[i-1].To, order[i].From, false)
		}
	}
	if n := len(r.score.Bars); n <= roundBars {
		add(n-1, 0, true)
	}
}
