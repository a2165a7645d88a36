package ear

import (
	"math"
	"slices"

	"antiphon/internal/dsp"
)

// clue names one measurement that speaks for or against a note having begun.
type clue int

const (
	clueRise      clue = iota // activity after less before, the most there is near the stroke
	clueBegun                 // the same at the stroke, 0 to 1
	clueLate                  // the rise that lasts
	clueLevel                 // activity after
	clueBefore                // activity before: it may have rung already
	clueOwnRise               // votes of its own partials: growth, in units of 12 dB
	clueClear                 // their height over the surroundings, in units of 12 dB
	clueOwn                   // how many of its partials are its own, in tens
	clueAllRise               // growth of all its partials, in units of 12 dB
	clueFirst                 // growth of its fundamental, in units of 12 dB
	clueAttack                // the pluck
	clueMasked                // how surely something began that it is an overtone of
	clueGhost                 // how surely something began that is an overtone of it
	clueBeside                // how surely a neighbouring semitone began
	clueCompany               // how surely the other written notes began
	clueSize                  // other written notes, up to 4, in fours
	clueGapBack               // seconds since the stroke before, up to 1
	clueGapAhead              // seconds to the next, up to 1
	clueHigh                  // octaves above E4
	clueAgain                 // 1 if it was written, too, at the moment before
	clueRank                  // share of all beginnings at this stroke that is its own
	clueStrange               // share of all beginnings that is nobody's written note or overtone
	clueSoft                  // 1 if no stroke was matched here: only looked for where it was expected
	clueOff                   // and how far from there it was found, in units of 100 ms
	clueRival                 // how surely and lastingly a pitch began nearby that is not written
	clueOverheard             // share of the take's moments that no stroke was matched to, in halves
	clueUsual                 // how likely written notes begin in this take: the median
	clueLikely                // how likely it began here, all in all
	clueStrangers             // how many pitches likely began here that are nobody's written note or overtone
	clueSoon                  // 1 if it is written, too, at the moment after
	clueDue                   // how far the stroke lies from where its neighbours put the moment, of their distance
	clueLinked                // 1 if both neighbours are the moments next to it, ½ if one is
	clueCount
)

type clues [clueCount]float64

// scene is one place in the take under examination: a stroke, or a moment where one was expected.
type scene struct {
	stroke      *stroke
	node, kind  int // place on the path, or the one after it; kind of the moment, -1 for none
	prev, next  int // frames of the matched strokes on both sides
	back, ahead int // frames in which the notes may begin
	written     []int
	before      []int   // written at the moment before
	after       []int   // and at the one after
	due, linked float64 // see clueDue, clueLinked
	sounding    []int   // written pitches, and strangers that surely began here
	soft        bool    // nothing was matched: the likeliest place near where it was expected
	offS        float64 // of a soft scene: seconds from where it was expected
	take        *habits
	nearBack    float64
	nearAhead   float64
}

// habits are what a whole take is like: where half the strokes drown in noise, one that is not heard
// says little.
type habits struct{ overheard, usual float64 }

// habits looks over the path before any note is judged.
func (j *judge) habits() habits {
	var likely []float64
	matched, omitted := 0, 0
	for i, nd := range j.path {
		matched++
		if i > 0 && nd.kind == onward {
			omitted += int(nd.moment-j.path[i-1].moment) - 1
		}
		for _, midi := range j.route.moments[nd.moment].pitches {
			if p := j.at(midi); p >= 0 {
				likely = append(likely, float64(j.strokes[nd.stroke].likely[p]))
			}
		}
	}
	return habits{overheard: float64(omitted) / float64(max(1, matched+omitted)), usual: dsp.Percentile(likely, 0.5)}
}

// clues gathers the measurements for one pitch at a scene.
func (e *evidence) clues(sc *scene, midi int) clues {
	var c clues
	p := e.at(midi)
	if p < 0 {
		return c
	}
	k := sc.stroke
	t := k.frame
	for u := max(0, t-sc.back); u <= min(e.act.frames-1, t+sc.ahead); u++ {
		c[clueRise] = max(c[clueRise], e.act.rise(p, u))
	}
	for u := t; u < min(e.act.frames, t+max(2, sc.ahead)); u++ {
		c[clueLevel] = max(c[clueLevel], e.act.after(p, u))
	}
	c[clueBegun] = float64(k.begun[p])
	c[clueLate] = e.late(p, t, sc.next)
	c[clueBefore] = e.act.before(p, t)
	var others []float64
	var company float64
	for _, o := range sc.sounding {
		if o == midi {
			continue
		}
		if q := e.at(o); q >= 0 {
			// A pitch of which this one is itself an overtone shares every partial: then only growth
			// of all partials is left to go by.
			others = append(others, e.hz(o))
		}
	}
	v := e.booth.open(t).count(e.hz(midi), others)
	c[clueOwnRise], c[clueClear], c[clueOwn] = v.riseDb/12, v.clear/12, v.own/10
	c[clueAllRise], c[clueFirst] = v.allDb/12, v.first/12
	c[clueAttack] = k.attack
	for q, b := range k.begun {
		switch d := p - q; {
		case d == 0:
		case d > 0 && slices.Contains(harmonicSteps[:], d):
			c[clueMasked] = max(c[clueMasked], float64(b))
		case d == -12 || d == -19 || d == -24:
			c[clueGhost] = max(c[clueGhost], float64(b))
		case d == 1 || d == -1:
			c[clueBeside] = max(c[clueBeside], float64(b))
		}
	}
	n := 0
	for _, o := range sc.written {
		if q := e.at(o); o != midi && q >= 0 {
			company += float64(k.likely[q])
			n++
		}
	}
	if n > 0 {
		c[clueCompany] = company / float64(n)
	}
	c[clueSize] = float64(min(n, 4)) / 4
	c[clueGapBack], c[clueGapAhead] = min(1, sc.nearBack), min(1, sc.nearAhead)
	c[clueHigh] = float64(midi-64) / 12
	if slices.Contains(sc.before, midi) {
		c[clueAgain] = 1
	}
	if slices.Contains(sc.after, midi) {
		c[clueSoon] = 1
	}
	c[clueLikely], c[clueDue], c[clueLinked] = float64(k.likely[p]), sc.due, sc.linked
	var total, strange float64
	mask := e.masks(sc.written)
	for q, b := range k.begun {
		total += float64(b)
		strange += float64(b * mask[q])
		if q != p {
			c[clueStrangers] += float64(k.likely[q] * mask[q])
		}
	}
	c[clueRank] = float64(k.begun[p]) / (total + 0.1)
	c[clueStrange] = strange / (total + 0.1)
	c[clueOverheard], c[clueUsual] = 2*sc.take.overheard, sc.take.usual
	if sc.soft {
		c[clueSoft], c[clueOff] = 1, math.Abs(sc.offS)*10
	}
	for q := p - wrongSpan; q <= p+wrongSpan; q++ {
		if q >= 0 && q < pitchCount && q != p && mask[q] == 1 && e.late(q, t, sc.next) > 0 {
			c[clueRival] = max(c[clueRival], min(float64(k.begun[q]), e.late(q, t, sc.next)))
		}
	}
	for i, x := range c {
		c[i] = min(max(x, -2), 2)
	}
	return c
}

// masks caches the stranger mask of the last set of pitches.
func (e *evidence) masks(pitches []int) []float32 {
	if !slices.Equal(pitches, e.maskOf) || e.mask == nil {
		e.maskOf, e.mask = slices.Clone(pitches), strangerMask(pitches, e)
	}
	return e.mask
}

// late is the rise that lasts: activity 80 to 200 ms after a stroke, not past the next matched one,
// less that before. Leaks and clicks do not last.
func (e *evidence) late(p, t, next int) float64 {
	a, b := t+8, max(t+12, min(t+20, next-3))
	a = min(a, b-4)
	return e.act.mean(p, max(0, a), b) - e.act.before(p, min(t, e.act.frames-1))
}
