package ear

import (
	"cmp"
	"math"
	"slices"

	"antiphon/internal/dsp"
)

// Once every note of a take was weighed by itself, each is weighed again beside the others: the strings of
// its chord, the same pitch before and after, what else stands at its place, and how well the take was
// heard all in all. Log odds come in and go out.
const (
	oddsUnit      = 8.0 // log odds are shown in this unit
	againNearS    = 3.0 // a stretch around a note
	againWithinS  = 0.3 // written notes so near to a stranger
	againFadeS    = 0.5 // after so long a note of the same pitch counts a third
	againMost     = 8   // notes of the same pitch that are told apart by their number
	againOffS     = 0.1
	takeCount     = 15
	writtenAgains = 31 + takeCount + anewCount + courseCount + surgeCount
	strangeAgains = 25 + takeCount + anewCount + courseCount + surgeCount
)

// company is what the notes of a take are weighed beside.
type company struct {
	take    []float32 // what the take is like, see takeCount
	first   []int     // of each claim: the first claim of its scene
	last    []int     // and the one after the last
	pitch   map[int]*fellows
	note    map[int]*fellows
	here    map[place][]int // strangers by scene
	strokeS []float64       // strokes of the claims, in order
	order   []int           // claims by stroke
	doubts  []int           // how many of the first so many of these are doubtful
}

type place struct{ pass, scene int }

// fellows are claims that have something in common, by stroke.
type fellows struct {
	at        []int
	sum       float64
	least     float64
	nextLeast float64
	median    float64
}

// again weighs every claim and stranger once more.
func (j *judge) again() {
	if len(j.claims) == 0 {
		return
	}
	co := j.gather()
	j.surges.compare(j.claims)
	written, strange := make([]float64, len(j.claims)), make([]float64, len(j.strangers))
	for i := range j.claims {
		v := j.besideOthers(j.inputs[:0], co, i)
		written[i] = j.askAgain(WrittenAgain, j.models.writtenAgain, v, j.claims[i].strokeS, j.claims[i].midi, j.claims[i].note)
	}
	pitches := map[int][]int{}
	for i := range j.strangers {
		pitches[j.strangers[i].midi] = append(pitches[j.strangers[i].midi], i)
	}
	for i := range j.strangers {
		v := j.amongOthers(j.inputs[:0], co, i, pitches[j.strangers[i].midi])
		strange[i] = j.askAgain(StrangerAgain, j.models.strangerAgain, v, j.strangers[i].s, j.strangers[i].midi, -1)
	}
	for i := range written {
		j.claims[i].logit = written[i]
	}
	for i := range strange {
		j.strangers[i].logit = strange[i]
	}
}

func (j *judge) askAgain(of Decision, m *model, v []float32, s float64, midi, note int) float64 {
	j.inputs = v
	logit := float64(m.run(v, &j.scratch)[0])
	if j.observe != nil {
		j.observe(Observation{Of: of, S: s, Midi: midi, Note: note, Inputs: slices.Clone(v), Output: logit})
	}
	return logit
}

// gather goes over all claims and strangers once.
func (j *judge) gather() *company {
	n := len(j.claims)
	co := &company{first: make([]int, n), last: make([]int, n), pitch: map[int]*fellows{}, note: map[int]*fellows{},
		here: map[place][]int{}, order: make([]int, n), strokeS: make([]float64, n), doubts: make([]int, n+1)}
	for from := 0; from < n; {
		to := from + 1
		for to < n && j.claims[to].scene == j.claims[from].scene && j.claims[to].pass == j.claims[from].pass {
			to++
		}
		for i := from; i < to; i++ {
			co.first[i], co.last[i] = from, to
		}
		from = to
	}
	for i := range n {
		co.order[i] = i
	}
	slices.SortStableFunc(co.order, func(a, b int) int { return cmp.Compare(j.claims[a].strokeS, j.claims[b].strokeS) })
	for k, i := range co.order {
		c := &j.claims[i]
		co.strokeS[k] = c.strokeS
		co.doubts[k+1] = co.doubts[k]
		if c.logit < 0 {
			co.doubts[k+1]++
		}
		join(co.pitch, c.midi, i)
		join(co.note, c.note, i)
	}
	for _, f := range co.pitch {
		f.measure(j.claims)
	}
	for _, f := range co.note {
		f.measure(j.claims)
	}
	for i := range j.strangers {
		at := place{j.strangers[i].pass, j.strangers[i].scene}
		co.here[at] = append(co.here[at], i)
	}
	co.take = j.takeInputs()
	return co
}

func join(m map[int]*fellows, key, i int) {
	if m[key] == nil {
		m[key] = &fellows{}
	}
	m[key].at = append(m[key].at, i)
}

func (f *fellows) measure(all []claim) {
	logits := make([]float64, len(f.at))
	for k, i := range f.at {
		logits[k] = all[i].logit
		f.sum += all[i].logit
	}
	slices.Sort(logits)
	f.least, f.nextLeast, f.median = logits[0], logits[min(1, len(logits)-1)], logits[len(logits)/2]
}

// takeInputs is what a whole take is like.
func (j *judge) takeInputs() []float32 {
	logits := make([]float64, len(j.claims))
	for i := range j.claims {
		logits[i] = j.claims[i].logit
	}
	n := float64(len(logits))
	v := make([]float32, 0, takeCount)
	for _, share := range []float64{0.02, 0.05, 0.1, 0.25, 0.5} {
		v = append(v, float32(dsp.Percentile(logits, share)/oddsUnit))
	}
	for _, floor := range []float64{-3, -1, 1, 3} {
		below := 0
		for _, l := range logits {
			if l < floor {
				below++
			}
		}
		v = append(v, float32(10*float64(below)/n))
	}
	for _, floor := range []float64{0, 2, 4} {
		above := 0
		for i := range j.strangers {
			if j.strangers[i].logit > floor && !j.strangers[i].echo {
				above++
			}
		}
		v = append(v, float32(10*float64(above)/n))
	}
	return append(v, float32(math.Log(n)/5), float32(j.take.usual), float32(2*j.take.overheard))
}

// shown is what a net is shown.
type shown []float32

func (v *shown) put(x ...float64) {
	for _, x := range x {
		*v = append(*v, float32(x))
	}
}

func (v *shown) yes(b bool) {
	if b {
		v.put(1)
	} else {
		v.put(0)
	}
}

// besideOthers appends what claim i is weighed again by.
func (j *judge) besideOthers(v shown, co *company, i int) shown {
	c := &j.claims[i]
	from, to := co.first[i], co.last[i]
	v.put(c.logit/oddsUnit, float64(c.likely), float64(min(to-from, 6))/6, float64(c.midi-60)/12)

	// The strings of its chord.
	least, most, sum, likely, mates := 0.0, 0.0, 0.0, 0.0, 0.0
	masked, ghost := false, false
	for k := from; k < to; k++ {
		o := &j.claims[k]
		if k == i {
			continue
		}
		if mates == 0 {
			least, most = o.logit, o.logit
		}
		mates++
		least, most = min(least, o.logit), max(most, o.logit)
		sum += o.logit
		likely += float64(o.likely)
		masked = masked || slices.Contains(harmonicSteps[:], c.midi-o.midi)
		ghost = ghost || slices.Contains(harmonicSteps[:], o.midi-c.midi)
	}
	v.yes(mates == 0)
	v.put(least/oddsUnit, sum/max(1, mates)/oddsUnit, most/oddsUnit, likely/max(1, mates))
	v.yes(masked)
	v.yes(ghost)

	// The same pitch before, after and all through the take, and the same note when it was played at other times.
	p := co.pitch[c.midi]
	k := slices.Index(p.at, i)
	for _, k := range []int{k - 1, k + 1} {
		if k < 0 || k >= len(p.at) {
			v.put(1, 0, 0)
			continue
		}
		o := &j.claims[p.at[k]]
		v.put(0, o.logit/oddsUnit, math.Exp(-math.Abs(c.strokeS-o.strokeS)/againFadeS))
	}
	if n := len(p.at); n > 1 {
		low := p.least
		if c.logit == low {
			low = p.nextLeast
		}
		v.put(0, (p.sum-c.logit)/float64(n-1)/oddsUnit, low/oddsUnit, p.median/oddsUnit, float64(min(n-1, againMost))/againMost)
	} else {
		v.put(1, 0, 0, 0, 0)
	}
	if s := co.note[c.note]; len(s.at) > 1 {
		v.put(0, (s.sum-c.logit)/float64(len(s.at)-1)/oddsUnit)
	} else {
		v.put(1, 0)
	}

	// What else began there.
	near, any := -1.0, -1.0
	for _, k := range co.here[place{c.pass, c.scene}] {
		l := j.strangers[k].logit / oddsUnit
		if any = max(any, l); abs(j.strangers[k].midi-c.midi) <= besideSteps {
			near = max(near, l)
		}
	}
	v.put(near, any, min(max(c.onsetS-c.strokeS, -againOffS), againOffS)/againOffS)
	v.yes(c.scene <= softScene)
	v.put(j.doubtAround(co, c.strokeS, from, to), j.leastAt(co, from-1), j.leastAt(co, to))
	v = append(v, co.take...)
	var written []int
	for k := from; k < to; k++ {
		if o := j.claims[k].midi; o != c.midi {
			written = append(written, o)
		}
	}
	v = j.anew(v, co, c.midi, c.strokeS, written, c.scene <= softScene)
	return j.surges.appendTo(v, c.onsetS, c.expectedS)
}

// doubtAround is the share of doubtful written notes in the stretch around a stroke, without claims from up to to.
func (j *judge) doubtAround(co *company, s float64, from, to int) float64 {
	lo, _ := slices.BinarySearch(co.strokeS, s-againNearS)
	hi, _ := slices.BinarySearch(co.strokeS, s+againNearS)
	n, doubts := hi-lo, co.doubts[hi]-co.doubts[lo]
	for k := from; k < to; k++ {
		if n--; j.claims[k].logit < 0 {
			doubts--
		}
	}
	return float64(doubts) / float64(max(n, 4))
}

// leastAt is the lowest log odds of the scene that claim i belongs to, 0 where there is no such claim.
func (j *judge) leastAt(co *company, i int) float64 {
	if i < 0 || i >= len(j.claims) {
		return 0
	}
	least := math.Inf(1)
	for k := co.first[i]; k < co.last[i]; k++ {
		least = min(least, j.claims[k].logit)
	}
	return least / oddsUnit
}

// amongOthers appends what stranger i is weighed again by; same are the strangers of its pitch.
func (j *judge) amongOthers(v shown, co *company, i int, same []int) shown {
	st := &j.strangers[i]
	lo, _ := slices.BinarySearch(co.strokeS, st.s-againWithinS)
	hi, _ := slices.BinarySearch(co.strokeS, st.s+againWithinS)
	// Written notes in whose place it may stand, and those nearby.
	here, step, wide, sure := 0.0, 1.0, 1.0, 0.0
	stepSeen, wideSeen, again := false, false, false
	masked, ghost, beside := false, false, false
	apart, likely := againWithinS, 0.0
	for _, k := range co.order[lo:hi] {
		c := &j.claims[k]
		masked = masked || slices.Contains(harmonicSteps[:], st.midi-c.midi)
		ghost = ghost || slices.Contains(harmonicSteps[:], c.midi-st.midi)
		beside = beside || abs(st.midi-c.midi) == 1
		if c.midi == st.midi {
			again, apart, likely = true, min(apart, math.Abs(c.strokeS-st.s)), max(likely, float64(c.likely))
		}
		if c.pass != st.pass || c.scene != st.scene && (st.scene != -1 || math.Abs(c.expectedS-st.s) > min(inPlaceS, inPlaceQ*st.gapS)) {
			continue
		}
		l := c.logit / oddsUnit
		if here == 0 {
			sure = l
		}
		here++
		sure = max(sure, l)
		if d := abs(st.midi - c.midi); d > 0 && d <= wrongSpan {
			if wide = min(wide, l); d <= besideSteps {
				step, stepSeen = min(step, l), true
			}
			wideSeen = true
		}
	}
	v.put(st.logit/oddsUnit, float64(st.likely))
	v.yes(st.echo)
	v.put(float64(st.midi-60) / 12)
	v.yes(st.scene == -1)
	v.put(min(here, 6) / 6)
	v.yes(stepSeen)
	v.put(step)
	v.yes(wideSeen)
	v.put(wide, sure)
	v.yes(again)
	v.put(apart/againWithinS, likely)
	v.yes(masked)
	v.yes(ghost)
	v.yes(beside)

	// Other strangers there, and the same one all through the take.
	mates, most := 0, -1.0
	for _, k := range co.here[place{st.pass, st.scene}] {
		if o := &j.strangers[k]; k != i && o.s == st.s {
			mates++
			most = max(most, o.logit/oddsUnit)
		}
	}
	v.put(most, float64(min(mates, 5))/5)
	top, sum := -1.0, 0.0
	for _, k := range same {
		if k != i {
			top = max(top, j.strangers[k].logit/oddsUnit)
			sum += j.strangers[k].logit / oddsUnit
		}
	}
	v.yes(len(same) == 1)
	v.put(top, sum/float64(max(1, len(same)-1)), float64(min(len(same)-1, againMost))/againMost,
		min(st.gapS, 1), j.doubtAround(co, st.s, 0, 0))
	v = append(v, co.take...)
	var written []int
	for _, k := range co.order[lo:hi] {
		if c := &j.claims[k]; c.pass == st.pass && c.scene == st.scene && c.midi != st.midi {
			written = append(written, c.midi)
		}
	}
	v = j.anew(v, co, st.midi, st.s, written, st.scene <= softScene)
	return j.surges.appendTo(v, st.onsetS, st.s)
}
