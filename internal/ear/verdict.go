package ear

import (
	"cmp"
	"math"
	"slices"
)

const (
	wrongSpan    = 7    // a wrong note lies within so many semitones of the written one
	windowBack   = 8    // frames before a stroke in which its notes may begin
	windowAhead  = 18   // and after
	hintFloor    = 0.01 // a pitch that began less likely than this is not looked at,
	doubtSteps   = 3    // but for those so many semitones from a written one that seems not to have begun
	strangerSure = 0.6
	ringFloor    = 0.25 // activity from which a pitch counts as sounding
	ringMoments  = 3    // moments back whose notes may still ring
	echoS        = 0.12 // a stroke so near a matched one may be a string of its chord,
	rollS        = 0.25 // or so near that of a chord of three and more,
	echoShare    = 0.45 // but within this share of the distance between matched strokes
	softShare    = 0.35 // a note without a stroke is looked for within this share of its distance to others
	softMostS    = 0.15 // and so many seconds
	softScene    = -10  // scenes of such notes are numbered from here down
)

// judge turns a path into played and missed notes. First it gathers claims (written notes, each with
// how likely it was played) and strangers (pitches that seem to have begun where they are not
// written); then it settles who is who.
type judge struct {
	*evidence
	route   *route
	strokes []stroke
	path    []node
	pass    []int // of each node
	observe func(Observation)
	take    habits
	haunts  haunts
	inputs  []float32 // scratch

	claims    []claim
	strangers []stranger
	played    []Played
	missed    []Missed
}

// claim is one written note on the path.
type claim struct {
	note      int
	midi      int
	pass      int
	scene     int     // claims and strangers of one stroke have the same
	expectedS float64 // by the score
	onsetS    float64
	logit     float64 // log odds that it was played
	strokeS   float64
	likely    float32 // that its pitch began at this very stroke
	settled   bool
	unasked   bool // of a moment that the path does not reach: not missed if it was not played
}

// stranger is a pitch that may have begun where it is not written.
type stranger struct {
	midi   int
	pass   int
	scene  int
	s      float64 // of the stroke
	gapS   float64 // between the moments around it
	onsetS float64
	logit  float64 // log odds that it began
	likely float32 // that it began at this stroke
	echo   bool    // may be a string of a written chord nearby: no extra note then
}

func (j *judge) run() {
	j.pass = make([]int, len(j.path))
	n := 1
	for i, nd := range j.path {
		if i > 0 && j.newPass(nd) {
			n++
		}
		j.pass[i] = n
	}
	j.take = j.habits()
	j.findHaunts()
	for i := range j.path {
		j.moment(i)
		if i+1 < len(j.path) && j.path[i+1].kind == onward {
			j.omitted(i)
		}
		if i+1 == len(j.path) || j.path[i+1].kind == pause || j.path[i+1].kind == leap {
			j.tail(i)
			continue
		}
		for c := j.path[i].stroke + 1; c < j.path[i+1].stroke; c++ {
			j.beside(i, &j.strokes[c])
		}
	}
	j.again()
	j.unroll()
	j.keepApart()
	j.settle()
	slices.SortStableFunc(j.played, func(a, b Played) int { return cmp.Compare(a.OnsetS, b.OnsetS) })
}

func (j *judge) newPass(nd node) bool {
	return nd.kind == leap || nd.kind == along && j.route.arcs[nd.arc].back
}

// frames of the matched strokes before and after node i.
func (j *judge) neighbours(i int) (prev, next int) {
	prev, next = -1000, math.MaxInt32
	if i > 0 {
		prev = j.strokes[j.path[i-1].stroke].frame
	}
	if i+1 < len(j.path) {
		next = j.strokes[j.path[i+1].stroke].frame
	}
	return prev, next
}

// setScene gathers what is known around a stroke, with the moments up to node i behind it.
func (j *judge) setScene(k *stroke, i, prev, next int, written, before []int) *scene {
	sc := &scene{stroke: k, node: i, kind: -1, take: &j.take, prev: prev, next: next, written: written, before: before,
		back:     int(min(windowBack, 0.4*float64(k.frame-prev))),
		ahead:    int(min(windowAhead, 0.5*float64(next-k.frame))),
		nearBack: float64(k.frame-prev) / activityFps, nearAhead: float64(next-k.frame) / activityFps}
	sc.sounding = slices.Clone(written)
	for b := i - 1; b >= 0 && b >= i-ringMoments; b-- {
		for _, p := range j.route.moments[j.path[b].moment].pitches {
			if q := j.at(p); q >= 0 && !slices.Contains(sc.sounding, p) && j.act.before(q, k.frame) > ringFloor {
				sc.sounding = append(sc.sounding, p)
			}
		}
	}
	mask := j.masks(written)
	for q, b := range k.likely {
		if p := q + lowestMidi - j.shift; b > strangerSure && mask[q] == 1 && !slices.Contains(sc.sounding, p) {
			sc.sounding = append(sc.sounding, p)
		}
	}
	return sc
}

func (j *judge) previous(i int) []int {
	if i == 0 {
		return nil
	}
	return j.route.moments[j.path[i-1].moment].pitches
}

func (j *judge) moment(i int) {
	nd := j.path[i]
	m := &j.route.moments[nd.moment]
	prev, next := j.neighbours(i)
	sc := j.setScene(&j.strokes[nd.stroke], i, prev, next, m.pitches, j.previous(i))
	sc.kind = m.kind
	sc.due, sc.linked = j.due(i)
	if i+1 < len(j.path) {
		sc.after = j.route.moments[j.path[i+1].moment].pitches
	}
	j.weigh(sc, m, int(nd.stroke), j.pass[i], sc.stroke.s)
}

// due says how far node i lies from where its neighbours put it, as a share of their distance, and how
// many of them, in halves, go with it along the score.
func (j *judge) due(i int) (due, linked float64) {
	from, to := i > 0 && j.path[i].kind == onward, i+1 < len(j.path) && j.path[i+1].kind == onward
	if from {
		linked += 0.5
	}
	if to {
		linked += 0.5
	}
	if from && to {
		a, m, b := j.path[i-1], j.path[i], j.path[i+1]
		place := func(n node) (q, s float64) { return j.route.moments[n.moment].q, j.strokes[n.stroke].s }
		qa, sa := place(a)
		q, s := place(m)
		qb, sb := place(b)
		due = (s-sa)/(sb-sa) - (q-qa)/(qb-qa)
	}
	return due, linked
}

// weigh makes claims of the notes of one moment, and finds strangers among them.
func (j *judge) weigh(sc *scene, m *moment, id, pass int, expectedS float64) {
	w := j.around(sc.stroke.frame)
	rows := make([][]float64, len(m.pitches))
	logits := make([]float64, len(m.pitches))
	for n, midi := range m.pitches {
		note := j.noteOf(m, midi)
		logits[n] = j.ask(Written, j.models.written, sc, midi, note)
		var inputs []float32
		rows[n], inputs = j.places(w, m.pitches, n, sc.stroke.frame, sc.back, sc.ahead)
		if j.observe != nil {
			j.observe(Observation{Of: Onset, S: sc.stroke.s, FromS: w.fromS(), Midi: midi, Note: note, Inputs: inputs, Output: w.time(rows[n], argmax(rows[n]))})
		}
	}
	at := chordPlaces(rows)
	for _, ni := range m.notes {
		n := slices.Index(m.pitches, j.route.notes[ni].Midi)
		j.claims = append(j.claims, claim{note: ni, midi: m.pitches[n], pass: pass, scene: id,
			expectedS: expectedS, onsetS: w.time(rows[n], at[n]), logit: logits[n], strokeS: sc.stroke.s, likely: j.likely(sc.stroke, m.pitches[n])})
	}
	var doubtful []int
	for n, midi := range m.pitches {
		if logits[n] < absentFloor {
			doubtful = append(doubtful, midi)
		}
	}
	j.strange(sc, stranger{pass: pass, scene: id, s: sc.stroke.s}, nil, doubtful)
}

// noteOf is the first note of a moment with a pitch.
func (j *judge) noteOf(m *moment, midi int) int {
	for _, n := range m.notes {
		if j.route.notes[n].Midi == midi {
			return n
		}
	}
	return -1
}

// strange weighs every pitch that may have begun at a scene though it is not written there; like
// gives what all of them share, echoes the pitches that may be echoes. Around a doubtful written pitch every
// step is weighed, however unlikely at first sight: something may stand there in its place.
func (j *judge) strange(sc *scene, like stranger, echoes, doubtful []int) {
	for q, b := range sc.stroke.likely {
		midi := q + lowestMidi - j.shift
		near := slices.ContainsFunc(doubtful, func(w int) bool { return abs(midi-w) <= doubtSteps })
		again := slices.Contains(sc.sounding, midi) && !slices.Contains(sc.written, midi) // struck again while it rings, it rises little
		if float64(b) < hintFloor && !near && !again || slices.Contains(sc.written, midi) {
			continue
		}
		st := like
		st.midi, st.echo, st.likely = midi, slices.Contains(echoes, midi), b
		st.logit = j.ask(Stranger, j.models.stranger, sc, midi, -1)
		least := hopelessFloor
		if float64(b) < hintFloor && !again {
			least = unseenFloor
		}
		if st.logit > least {
			w := j.around(sc.stroke.frame)
			logs, _ := j.places(w, []int{midi}, 0, sc.stroke.frame, sc.back, sc.ahead)
			st.onsetS = w.time(logs, argmax(logs))
			j.strangers = append(j.strangers, st)
		}
	}
}

// ask shows a model what there is to know of a pitch at a scene; it gives log odds.
func (j *judge) ask(of Decision, m *model, sc *scene, midi, note int) float64 {
	c := j.clues(sc, midi)
	v := j.inputs[:0]
	for _, x := range c {
		v = append(v, float32(x))
	}
	v = j.portrait(v, sc, midi)
	if p := j.at(midi); p >= 0 {
		v = j.steady.appendTo(v, sc.stroke.frame, j.hz(midi), float64(j.sonogram.loudDb-j.sonogram.liftDb))
		v = j.likeness(v, sc, midi)
	} else {
		v = append(v, make([]float32, askCount-len(v))...)
	}
	j.inputs = v
	logit := float64(m.run(v, &j.scratch)[0])
	if j.observe != nil {
		j.observe(Observation{Of: of, S: sc.stroke.s, Midi: midi, Note: note, Inputs: slices.Clone(v), Output: logit})
	}
	return logit
}

// likely is how likely a written pitch began at a stroke.
func (e *evidence) likely(k *stroke, midi int) float32 {
	if p := e.at(midi); p >= 0 {
		return k.likely[p]
	}
	return 0
}

func sure(logit float64) float64 { return 1 / (1 + math.Exp(-logit)) }

// omitted looks for the notes of moments stepped over between two matched ones: they may have begun
// without an attack that made a stroke.
func (j *judge) omitted(i int) {
	a, b := j.path[i], j.path[i+1]
	ms := j.route.moments
	s0, s1 := j.strokes[a.stroke].s, j.strokes[b.stroke].s
	gap := (s1 - s0) / (ms[b.moment].q - ms[a.moment].q)
	prev := j.strokes[a.stroke].frame
	for g := a.moment + 1; g < b.moment; g++ {
		m := &ms[g]
		s := s0 + gap*(m.q-ms[a.moment].q)
		room := softShare * gap * min(m.q-ms[g-1].q, ms[g+1].q-m.q)
		k := j.softStroke(m, s, min(room, softMostS))
		sc := j.setScene(k, i+1, prev, j.strokes[b.stroke].frame, m.pitches, ms[g-1].pitches)
		sc.kind = m.kind
		sc.soft, sc.offS, sc.after = true, k.s-s, ms[g+1].pitches
		j.weigh(sc, m, softScene-int(g), j.pass[i], s)
		prev = k.frame
	}
}

// softStroke is the likeliest place near s where the pitches of a moment began.
func (j *judge) softStroke(m *moment, s, room float64) *stroke {
	at := int(s * activityFps)
	reach := max(1, int(room*activityFps))
	best, top := at, math.Inf(-1)
	for t := max(0, at-reach); t <= min(j.act.frames-1, at+reach); t++ {
		sum := 0.0
		for _, midi := range m.pitches {
			if p := j.at(midi); p >= 0 {
				sum += j.act.rise(p, t)
			}
		}
		if sum *= gauss(float64(t-at) / float64(reach)); sum > top {
			best, top = t, sum
		}
	}
	best = min(max(best, 0), j.act.frames-1)
	k := &stroke{frame: best, s: float64(best) / activityFps}
	k.listen(j.evidence, j.act.frames)
	return k
}

// beside weighs what began at a stroke after node i that is no moment of the score.
func (j *judge) beside(i int, k *stroke) {
	a, b := j.path[i], j.path[i+1]
	was, will := &j.strokes[a.stroke], &j.strokes[b.stroke]
	var echoes []int
	for _, n := range []node{a, b} {
		pitches, reach := j.route.moments[n.moment].pitches, echoS
		if len(pitches) >= rollStrings {
			reach = rollS
		}
		if math.Abs(k.s-j.strokes[n.stroke].s) < min(reach, max(echoS, echoShare*(will.s-was.s))) {
			echoes = append(echoes, pitches...)
		}
	}
	sc := j.setScene(k, i+1, was.frame, will.frame, nil, j.route.moments[a.moment].pitches)
	sc.after = j.route.moments[b.moment].pitches
	sc.due = (k.s - was.s) / (will.s - was.s)
	gap := (will.s - was.s) / float64(max(1, b.moment-a.moment))
	j.strange(sc, stranger{pass: j.pass[i], scene: -1, s: k.s, gapS: gap}, echoes, nil)
}
