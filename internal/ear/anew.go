package ear

import (
	"cmp"
	"math"
	"slices"
)

// Most of what was told wrongly on takes whose truth is known is a string that rings already and was struck
// anew, or was not. So each note that is weighed again is shown how its own partials go through the stroke:
// how far from where they would have been had nothing happened, and how much louder or softer. Partials that
// another note has too say little; they are left out of the sums, once those of all notes that may ring, once
// those of the notes that are written here.
const (
	briefWindow = 1024
	briefHop    = 768 // 35 ms
	briefAhead  = 2   // hops from the last look before to the first after

	anewRingS    = 3.0  // a note may ring for so long,
	anewRinging  = 30   // and so many of the last ones
	anewLongest  = 4.0  // seconds since the pitch was last heard, at most
	anewHeard    = -0.5 // log odds from which it counts as heard
	anewSinceS   = 0.05
	anewSameHz   = 25
	anewPartials = 6  // those that are shown one by one
	anewOthers   = 24 // partials of others
	anewUnitDb   = 20
	anewSums     = 8
	anewEach     = 4
	anewCount    = 6 + 2*(2*anewSums+anewEach*anewPartials)
)

// newBrief takes looks half as long as those of steady, which quick notes leave room for.
func newBrief(x []float32) (*looks, error) {
	return newLooks(x, briefWindow, -3*briefHop, -2*briefHop, -briefHop, briefHop, 2*briefHop)
}

// passage is how the partials of a pitch go through a stroke: by partial, how far from foretold, in their
// sizes and as a cosine, how steadily they came, and their levels in dB below a loud one.
type passage struct {
	miss, as, was  [portraitPartials]float64
	before, after  [portraitPartials]float64
	earlier, later [portraitPartials]float64
	heard          [portraitPartials]bool
}

// through measures a passage of the pitch f0 through the stroke that l was opened for; step is how many hops
// lie between the last look before and the first after.
func (l *looks) through(f0, loudDb float64, step int) (p passage) {
	for n := range portraitPartials {
		k := int(math.Round(partialHz(f0, n+1) / l.binHz))
		if k < 1 || k >= l.bins {
			continue
		}
		b0, b1, b2, a1, a2 := l.taken[0][k], l.taken[1][k], l.taken[2][k], l.taken[3][k], l.taken[4][k]
		was, is := b1*conj(b0), b2*conj(b1)
		turn := unit(is + was/2)
		fall := min(max(length(b2)/(length(b1)+1e-9), 0.7), 1)
		told := b2
		for range step {
			told *= turn * complex(fall, 0)
		}
		db := func(a complex64) float64 { return belowDb(power(a), loudDb) }
		p.heard[n] = true
		p.miss[n] = float64(length(a1-told) / (length(a1) + length(told) + 1e-9))
		p.as[n], p.was[n] = float64(cosine(a1, told)), float64(cosine(b2, b1*unit(was)))
		p.earlier[n], p.before[n], p.after[n], p.later[n] = db(b1), db(b2), db(a1), db(a2)
	}
	return p
}

// belowDb is a level in dB from a loud partial's, down to -100, whatever the level of the take.
func belowDb(power float32, loudDb float64) float64 {
	return 10 * math.Log10(float64(power)*math.Pow(10, -loudDb/10)+1e-10)
}

// sumOver appends the sums over those partials that are heard and not shared; the louder ones count more.
func (p *passage) sumOver(v shown, shared *[portraitPartials]bool) shown {
	var weight, miss, as, gain, change, was, grows, came, size float64
	for n := range portraitPartials {
		if !p.heard[n] || shared[n] {
			continue
		}
		w := math.Pow(10, max(p.after[n], p.before[n])/40)
		up := p.after[n] - p.before[n]
		weight += w
		miss += w * p.miss[n]
		as += w * p.as[n]
		gain += w * up
		change += w * math.Abs(up)
		was += w * p.was[n]
		grows += w * (p.later[n] - p.after[n])
		came += w * (p.before[n] - p.earlier[n])
		size += w * w
	}
	weight += 1e-9
	v.put(miss/weight, as/weight, gain/weight/anewUnitDb, change/weight/anewUnitDb, was/weight,
		math.Log10(size+1e-6), grows/weight/anewUnitDb, came/weight/anewUnitDb)
	return v
}

// anew appends to v how a pitch goes through a stroke at s; written are the others that are written there, soft
// says that none was matched there.
func (j *judge) anew(v shown, co *company, midi int, s float64, written []int, soft bool) shown {
	if j.at(midi) < 0 {
		return append(v, make([]float32, anewCount+courseCount)...)
	}
	ringing, since := co.ringing(j.claims, midi, s)
	var shared, sharedHere [portraitPartials]bool
	f0 := j.hz(midi)
	for _, o := range ringing {
		j.share(&shared, f0, o)
	}
	for _, o := range written {
		j.share(&shared, f0, o)
		j.share(&sharedHere, f0, o)
	}
	own, ownHere := 0, 0
	for n := range portraitPartials {
		if !shared[n] {
			own++
		}
		if !sharedHere[n] {
			ownHere++
		}
	}
	back, ahead := j.strokesAround(s)
	v.put(since, back, ahead)
	v.yes(soft)
	v.put(float64(own)/portraitPartials, float64(ownHere)/portraitPartials)

	frame, loudDb := int(math.Round(s*activityFps)), float64(j.sonogram.loudDb-j.sonogram.liftDb)
	for _, l := range []struct {
		*looks
		step int
	}{{j.brief, briefAhead}, {j.steady.looks, steadyAhead}} {
		l.open(frame)
		p := l.through(f0, loudDb, l.step)
		v = p.sumOver(v, &shared)
		v = p.sumOver(v, &sharedHere)
		for n := range anewPartials {
			v.put(p.miss[n], (p.after[n]-p.before[n])/anewUnitDb, p.before[n]/anewUnitDb, p.after[n]/anewUnitDb)
		}
	}
	j.course.open(frame)
	return j.course.courseOf(v, f0, loudDb, &shared, &sharedHere)
}

// share marks the partials of f0 that the pitch o has too.
func (j *judge) share(shared *[portraitPartials]bool, f0 float64, o int) {
	g0 := j.hz(o)
	for n := range shared {
		hz := partialHz(f0, n+1)
		near := int(math.Round(hz / g0))
		for m := near - 1; m <= near; m++ { // the stiffness puts high ones a little above their number
			if m >= 1 && m <= anewOthers && math.Abs(partialHz(g0, m)-hz) < anewSameHz {
				shared[n] = true
			}
		}
	}
}

// ringing are the other pitches that may ring at s, and the seconds since midi was last heard before.
func (co *company) ringing(claims []claim, midi int, s float64) (others []int, since float64) {
	since = anewLongest
	hi, _ := slices.BinarySearch(co.strokeS, s-anewSinceS)
	for n := 0; hi > 0 && n < anewRinging; {
		hi--
		c := &claims[co.order[hi]]
		if s-c.strokeS > anewRingS {
			break
		}
		if c.logit < anewHeard {
			continue
		}
		n++
		if c.midi == midi {
			since = min(since, s-c.strokeS)
		} else if !slices.Contains(others, c.midi) {
			others = append(others, c.midi)
		}
	}
	return others, since
}

// strokesAround are the seconds from s to the strokes before and after it, 1 at most.
func (j *judge) strokesAround(s float64) (back, ahead float64) {
	const itself = 0.03
	back, ahead = 1, 1
	i, _ := slices.BinarySearchFunc(j.strokes, s, func(k stroke, s float64) int { return cmp.Compare(k.s, s) })
	for b := i; b > 0; b-- {
		if d := s - j.strokes[b-1].s; d > itself {
			back = min(back, d)
			break
		}
	}
	for a := i; a < len(j.strokes); a++ {
		if d := j.strokes[a].s - s; d > itself {
			ahead = min(ahead, d)
			break
		}
	}
	return back, ahead
}
