package ear

import (
	"context"
	"math"
	"slices"
)

// A path through a take names, for each stroke that is a moment of the score, which one. It is the
// best of all such paths by a sum of gains and costs: how well the pitches of strokes fit those of
// moments, how far the time between strokes is from the tempo so far, what was left out, what was
// played besides, and a price for every leap. Leaps may lead anywhere (restarts, skips), so the
// running best state alone decides where they come from, and the work stays linear in strokes ×
// moments (after Nakamura, Nakamura & Sagayama 2015, who factor jumps of a hidden Markov model so).

type step int8

const (
	begin step = iota
	onward
	pause
	leap
	along // an arc of the score
)

// node is one stroke matched to one moment, on the way there.
type node struct {
	stroke, moment int32
	prev           int32 // index of the node before, -1 none
	kind           step
	arc            int16
}

// The costs, in units where a clear match gains about 2.5. Most come from an experiment on 13 takes.
// matchOffset (once 0.7) and the cheaper omissions were set on 180 simulated takes, where they raised
// aligned notes from .45 to .90 in strums and from .75 to .88 in arpeggios; see decision 0003.
const (
	matchGain      = 3.2
	strangerCost   = 1.6 // pitches that began and are not written here
	matchOffset    = 0.4
	worstMatch     = -0.9
	omitCost       = 1.1 // a moment left out
	lightOmitCost  = 0.1
	omitSlowS      = 0.3  // among notes quicker than this, strokes are easily overheard,
	omitLeast      = 0.4  // so that leaving one out costs less, down to this share
	besideCost     = 0.02 // a stroke that is no moment …
	besideStrong   = 1.2  // … and a clear one
	besideMost     = 4.0
	leadInMost     = 2.0 // talk and tuning before the first note
	leapCost       = 6.0
	hasteCost      = 1.0 // of a leap without a stop: in time, a wrong note is likelier,
	hasteBackCost  = 2.5 // and more so where it leads back: who goes back stops first
	leapFarCost    = 0.4 // of a leap over leapFar moments and more, so that of two equal places the nearer is taken
	leapFar        = 64
	midBarCost     = 1.5 // to enter within a bar
	midScoreCost   = 2.5
	pauseCost      = 3.0
	arcCost        = 0.3
	unfinishedCost = 1.5
	tempoSd        = 0.16 // of one log interval about the tempo so far
	timeSdS        = 0.03 // and of its two onsets, in seconds
	tempoMost      = 3.5
	tempoFollow    = 0.25
	omitMost       = 4 // moments left out in a row
	lookBackS      = 6.0
	lookBack       = 40
	leapAfterS     = 0.25
	stopS          = 0.7
	beamWidth      = 16.0
	beamStates     = 256
)

type state struct {
	moment int32
	node   int32
	gain   float64
	logSpq float64 // NaN until two strokes have been matched
}

type follower struct {
	route   *route
	strokes []stroke
	fit     [][]float32 // stroke × kind of moment
	beside  []float64   // running sum of besideCost
	nodes   [][]node    // by stroke: an index of a node is stroke × beamStates + place
	active  [][]state   // by stroke, the surviving ones

	guide  *guide
	logSpq float64 // tempo to expect before anything is known
	tempoW float64 // its standard deviation

	// scratch, one a moment
	best   []state
	arrive []node
	epoch  []int32
	waits  []state // best state of each moment so far, for pauses
	arcsAt [][]int // arcs leaving each moment
	logGap [][omitMost]float64
	omits  [][omitMost]float64
}

// fitKinds fills in how well each stroke fits each kind of moment.
func fitKinds(strokes []stroke, kinds [][]int, e *evidence) [][]float32 {
	masks := make([][]float32, len(kinds))
	for k, pitches := range kinds {
		masks[k] = strangerMask(pitches, e)
	}
	fit := make([][]float32, len(strokes))
	for c := range strokes {
		fit[c] = make([]float32, len(kinds))
		for k, pitches := range kinds {
			fit[c][k] = fitKind(&strokes[c], pitches, masks[k], e)
		}
	}
	return fit
}

func fitKind(s *stroke, pitches []int, mask []float32, e *evidence) float32 {
	var own, ownBegun float32
	n := 0
	for _, midi := range pitches {
		if p := e.at(midi); p >= 0 {
			own += s.likely[p]
			ownBegun += s.likely[p]
			n++
		}
	}
	if n == 0 {
		return 0
	}
	var strange float32
	for p, b := range s.likely {
		strange += mask[p] * b
	}
	v := matchGain*own/float32(n) - strangerCost*min(1.2, strange/(strange+ownBegun+0.15)) - matchOffset
	return max(worstMatch, v*(1+0.15*float32(n-1)))
}

// harmonicSteps are the semitones from a pitch to its partials 2 to 8.
var harmonicSteps = [...]int{12, 19, 24, 28, 31, 34, 36}

// strangerMask is 1 for pitches that have no business at a moment, less for what the moment's own
// pitches may be mistaken for.
func strangerMask(pitches []int, e *evidence) []float32 {
	mask := make([]float32, pitchCount)
	maskStrangers(mask, pitches, e.shift)
	return mask
}

func maskStrangers(mask []float32, pitches []int, shift int) {
	for i := range mask {
		mask[i] = 1
	}
	lower := func(p int, v float32) {
		if p >= 0 && p < pitchCount {
			mask[p] = min(mask[p], v)
		}
	}
	for _, midi := range pitches {
		p := midi + shift - lowestMidi
		lower(p, 0)
		lower(p-1, 0.5)
		lower(p+1, 0.5)
		lower(p-12, 0.15)
		for _, h := range harmonicSteps {
			lower(p+h, 0.15)
		}
	}
}

// follow finds the best path, and its gain for each clear stroke, which is comparable between takes.
func follow(ctx context.Context, r *route, strokes []stroke, fit [][]float32, g *guide, logSpq, tempoW float64) (path []node, spqs []float64, gain float64, err error) {
	if len(strokes) == 0 || len(r.moments) == 0 {
		return nil, nil, 0, nil
	}
	f := newFollower(r, strokes, fit, logSpq, tempoW)
	f.guide = g
	end, gain, err := f.run(ctx)
	if err != nil || end < 0 {
		return nil, nil, 0, err
	}
	for i := end; i >= 0; {
		n := f.nodes[i/beamStates][i%beamStates]
		path = append(path, n)
		i = n.prev
	}
	slices.Reverse(path)
	clear, _ := clearStrokes(strokes, nil)
	return path, f.tempos(path), gain / float64(max(1, clear)), nil
}

const clearStroke = 0.4

// clearStrokes counts the clear strokes, and those of them that a path explains.
func clearStrokes(strokes []stroke, path []node) (all, explained int) {
	for _, s := range strokes {
		if s.clear > clearStroke {
			all++
		}
	}
	for _, nd := range path {
		if strokes[nd.stroke].clear > clearStroke {
			explained++
		}
	}
	return all, explained
}

func newFollower(r *route, strokes []stroke, fit [][]float32, logSpq, tempoW float64) *follower {
	g := len(r.moments)
	f := &follower{route: r, strokes: strokes, fit: fit, logSpq: logSpq, tempoW: tempoW,
		beside: make([]float64, len(strokes)+1), active: make([][]state, len(strokes)), nodes: make([][]node, len(strokes)),
		best: make([]state, g), arrive: make([]node, g), epoch: make([]int32, g),
		waits: make([]state, g), arcsAt: make([][]int, g),
		logGap: make([][omitMost]float64, g), omits: make([][omitMost]float64, g)}
	for c, s := range strokes {
		f.beside[c+1] = f.beside[c] + besideCost + besideStrong*s.clear
	}
	for i := range f.waits {
		f.waits[i].gain = math.Inf(-1)
		f.epoch[i] = -1
	}
	for i, a := range r.arcs {
		f.arcsAt[a.from] = append(f.arcsAt[a.from], i)
	}
	for i := range r.moments { // by moment arrived at
		cost := 0.0
		for k := 0; k < omitMost && i-k-1 >= 0; k++ {
			f.logGap[i][k] = math.Log(r.moments[i].q - r.moments[i-k-1].q)
			f.omits[i][k] = cost
			cost += f.omit(i - k - 1)
		}
	}
	return f
}

// omit is the cost of leaving out one moment.
func (f *follower) omit(i int) float64 {
	m := &f.route.moments[i]
	if m.light {
		return lightOmitCost
	}
	return omitCost * (1 + 0.3*float64(len(m.pitches)-1))
}

func (f *follower) enter(i int) float64 {
	m := &f.route.moments[i]
	switch {
	case i == 0:
		return 0
	case m.opens:
		return 0
	}
	return midBarCost
}

// offer keeps the better way to a moment at the stroke at hand.
func (f *follower) offer(c int, gain, logSpq float64, n node) {
	g := n.moment
	if f.epoch[g] == int32(c) && f.best[g].gain >= gain {
		return
	}
	f.epoch[g] = int32(c)
	f.best[g] = state{moment: g, gain: gain, logSpq: logSpq}
	f.arrive[g] = n
}

func (f *follower) run(ctx context.Context) (end int32, total float64, err error) {
	r, g := f.route, len(f.route.moments)
	type mark struct {
		s  float64
		st state
	}
	var marks []mark // running best state after each stroke
	runner, ripe, calm := state{gain: math.Inf(-1)}, -1, -1
	end, total = -1, math.Inf(-1)
	var order []int32
	for c := range f.strokes {
		if c%64 == 0 && ctx.Err() != nil {
			return -1, 0, ctx.Err()
		}
		s := f.strokes[c].s
		for ripe+1 < len(marks) && marks[ripe+1].s <= s-leapAfterS {
			ripe++
		}
		for calm+1 < len(marks) && marks[calm+1].s <= s-stopS {
			calm++
		}
		leaper := state{gain: math.Inf(-1)}
		var haste bool
		if ripe >= 0 {
			leaper, haste = marks[ripe].st, true
			leaper.gain -= hasteCost
		}
		if calm >= 0 && marks[calm].st.gain > leaper.gain {
			leaper, haste = marks[calm].st, false
		}
		lead := min(f.beside[c], leadInMost)
		for i := range g { // beginnings, leaps and pauses
			v := -lead - f.enter(i)
			if i > 0 {
				v -= midScoreCost
			}
			n := node{int32(c), int32(i), -1, begin, -1}
			spq := math.NaN()
			back := int32(i) <= leaper.moment
			w := leaper.gain - leapCost - f.enter(i) + f.guide.jumped(c, back)
			if back && haste {
				w -= hasteBackCost
			}
			w -= leapFarCost * min(1, math.Abs(float64(int32(i)-leaper.moment))/leapFar)
			if w > v {
				v, n.prev, n.kind, spq = w, leaper.node, leap, leaper.logSpq
			}
			if i > 0 {
				if w := f.waits[i-1].gain - pauseCost; w > v {
					v, n.prev, n.kind, spq = w, f.waits[i-1].node, pause, f.waits[i-1].logSpq
				}
			}
			f.offer(c, v, spq, n)
		}
		for b := c - 1; b >= 0 && c-b <= lookBack && s-f.strokes[b].s <= lookBackS; b-- {
			f.advance(b, c)
		}
		order = order[:0]
		top := math.Inf(-1)
		for i := range g {
			f.best[i].gain += float64(f.fit[c][r.moments[i].kind]) + f.guide.placed(c, r.moments[i].bar)
			top = max(top, f.best[i].gain)
		}
		for i := range g {
			if f.best[i].gain > top-f.guide.beam() {
				order = append(order, int32(i))
			}
		}
		if len(order) > beamStates {
			slices.SortFunc(order, func(a, b int32) int {
				switch x, y := f.best[a].gain, f.best[b].gain; {
				case x > y:
					return -1
				case x < y:
					return 1
				}
				return int(a - b)
			})
			order = order[:beamStates]
		}
		kept, arrived := make([]state, len(order)), make([]node, len(order))
		for j, i := range order {
			f.best[i].node = int32(c*beamStates + j)
			arrived[j] = f.arrive[i]
			kept[j] = f.best[i]
			if st := f.best[i]; st.gain > f.waits[i].gain {
				f.waits[i] = st
			}
			if f.best[i].gain > runner.gain {
				runner = f.best[i]
			}
			rest := min(leadInMost, f.beside[len(f.strokes)]-f.beside[c+1])
			if int(i) != g-1 {
				rest += unfinishedCost
			}
			if v := f.best[i].gain - rest; v > total {
				total, end = v, f.best[i].node
			}
		}
		f.active[c], f.nodes[c] = kept, arrived
		if old := c - lookBack; old >= 0 {
			f.active[old] = nil
		}
		marks = append(marks, mark{s, runner})
	}
	return end, total, nil
}

// advance carries the states of stroke b on to stroke c, along the score and its arcs.
func (f *follower) advance(b, c int) {
	dt := f.strokes[c].s - f.strokes[b].s
	logDt := math.Log(dt)
	beside := min(f.beside[c]-f.beside[b+1], besideMost)
	tempoVar := 2 * (tempoSd*tempoSd + (timeSdS/dt)*(timeSdS/dt))
	g := len(f.route.moments)
	go1 := func(st *state, to int, logGap, extra float64, kind step, arcAt int16) {
		late, tempo := 0.0, st.logSpq
		if math.IsNaN(tempo) {
			late = logDt - logGap - f.logSpq
			extra += min(4, late*late/(2*f.tempoW*f.tempoW))
			tempo = logDt - logGap
		} else {
			late = logDt - logGap - tempo
			extra += min(tempoMost, late*late/tempoVar)
			if math.Abs(late) < 0.6 {
				tempo += tempoFollow * min(max(late, -0.3), 0.3)
			}
		}
		gain := st.gain - beside - extra
		if f.epoch[to] == int32(c) && f.best[to].gain >= gain {
			return
		}
		tempo = min(max(tempo, f.logSpq-1.2), f.logSpq+1.2)
		f.offer(c, gain, tempo, node{int32(c), int32(to), st.node, kind, arcAt})
	}
	for i := range f.active[b] {
		st := &f.active[b][i]
		m := int(st.moment)
		for k := 0; k < omitMost && m+k+1 < g; k++ {
			to := m + k + 1
			quick := min(1, max(omitLeast, dt/float64(k+1)/omitSlowS))
			go1(st, to, f.logGap[to][k], f.omits[to][k]*quick, onward, -1)
		}
		for _, a := range f.arcsAt[m] {
			cost := arcCost
			if f.route.arcs[a].back {
				cost -= f.guide.jumped(c, true)
			}
			go1(st, f.route.arcs[a].to, math.Log(f.route.arcs[a].dq), cost, along, int16(a))
		}
	}
}

// tempos lists seconds a quarter where the path went from one moment to a later one.
func (f *follower) tempos(path []node) []float64 {
	var spqs []float64
	for i := 1; i < len(path); i++ {
		a, b := path[i-1], path[i]
		if b.kind != onward {
			continue
		}
		dq := f.route.moments[b.moment].q - f.route.moments[a.moment].q
		spqs = append(spqs, (f.strokes[b.stroke].s-f.strokes[a.stroke].s)/dq)
	}
	return spqs
}
