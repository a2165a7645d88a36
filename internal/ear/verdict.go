package ear

import (
	"math"
	"slices"
)

const (
	wrongSpan    = 7   // a wrong note lies within so many semitones of the written one
	windowBack   = 8   // frames before a stroke in which its notes may begin
	windowAhead  = 18  // and after
	hintFloor    = 0.2 // a pitch that began less surely than this is not looked at
	strangerSure = 0.6
	ringFloor    = 0.25 // activity from which a pitch counts as sounding
	ringMoments  = 3    // moments back whose notes may still ring
	echoS        = 0.12 // a stroke so near a matched one may be a string of its chord
)

// judge turns a path into played and missed notes.
type judge struct {
	*evidence
	route   *route
	strokes []stroke
	path    []node
	pass    []int // of each node
	observe func(Observation)

	found  []finding1
	played []Played
	missed []Missed
}

// finding1 is what is known of one written note on the path before verdicts are given.
type finding1 struct {
	note  int
	pass  int
	s     float64 // time of the stroke, or when it was expected
	onset float64
	logit float64 // that it was played
	midi  int
}

// stranger is a pitch that may have begun where it is not written.
type stranger struct {
	midi  int
	pass  int
	s     float64
	logit float64
	scene *scene
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
	for i := range j.path {
		j.moment(i)
		if i+1 < len(j.path) && j.path[i+1].kind == onward {
			j.omitted(i)
		}
	}
	j.extras()
	slices.SortStableFunc(j.played, func(a, b Played) int {
		switch {
		case a.OnsetS < b.OnsetS:
			return -1
		case a.OnsetS > b.OnsetS:
			return 1
		}
		return 0
	})
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
	sc := &scene{stroke: k, prev: prev, next: next, written: written, before: before,
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
	for q, b := range k.begun {
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
	j.weigh(sc, m, j.pass[i], sc.stroke.s)
}

// weigh gives verdicts on the notes of one moment, and on strangers among them.
func (j *judge) weigh(sc *scene, m *moment, pass int, expected float64) {
	t := sc.stroke.frame
	onsets := j.chordOnsets(m.pitches, t, sc.back, sc.ahead)
	logits := make([]float64, len(m.pitches))
	for n, midi := range m.pitches {
		c := j.clues(sc, midi)
		logits[n] = writtenModel.logit(&c)
		if j.observe != nil {
			j.observe(Observation{S: sc.stroke.s, Midi: midi, Note: j.noteOf(m, midi), Clues: c[:], Logit: logits[n]})
		}
	}
	strangers := j.strangers(sc, pass)
	for _, ni := range m.notes {
		midi := j.route.notes[ni].Midi
		n := slices.Index(m.pitches, midi)
		played := Played{Note: ni, Pass: pass, OnsetS: onsets[n], Midi: midi, Verdict: Right, Confidence: sure(logits[n])}
		best := -1
		for x, st := range strangers {
			if d := st.midi - midi; d >= -wrongSpan && d <= wrongSpan && st.logit > strangerFloor && (best < 0 || st.logit > strangers[best].logit) {
				best = x
			}
		}
		switch {
		case best >= 0 && logits[n] < doubtFloor:
			st := strangers[best]
			strangers = slices.Delete(strangers, best, best+1)
			played.Midi, played.Verdict = st.midi, Wrong
			played.OnsetS, played.Confidence = j.onset(st.midi, t, sc.back, sc.ahead, nil), min(sure(st.logit), sure(-logits[n]))
			j.played = append(j.played, played)
		case logits[n] > missFloor:
			j.played = append(j.played, played)
		default:
			j.missed = append(j.missed, Missed{Note: ni, Pass: pass, ExpectedS: expected, Confidence: sure(-logits[n])})
		}
	}
	for _, st := range strangers {
		if st.logit > extraFloor {
			j.played = append(j.played, Played{Note: -1, Pass: pass, OnsetS: j.onset(st.midi, t, sc.back, sc.ahead, nil),
				Midi: st.midi, Verdict: Extra, Confidence: sure(st.logit)})
		}
	}
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

// strangers weighs every pitch that may have begun at a scene though it is not written there.
func (j *judge) strangers(sc *scene, pass int) []stranger {
	var out []stranger
	for q, b := range sc.stroke.present {
		midi := q + lowestMidi - j.shift
		if float64(b) < hintFloor || slices.Contains(sc.written, midi) {
			continue
		}
		c := j.clues(sc, midi)
		l := strangerModel.logit(&c)
		if j.observe != nil {
			j.observe(Observation{S: sc.stroke.s, Midi: midi, Note: -1, Clues: c[:], Logit: l})
		}
		out = append(out, stranger{midi: midi, pass: pass, s: sc.stroke.s, logit: l, scene: sc})
	}
	return out
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
		room := 0.45 * gap * min(m.q-ms[g-1].q, ms[g+1].q-m.q)
		k := j.softStroke(m, s, min(room, 0.25))
		sc := j.setScene(k, i+1, prev, j.strokes[b.stroke].frame, m.pitches, ms[g-1].pitches)
		sc.soft, sc.offS = true, k.s-s
		j.weigh(sc, m, j.pass[i], s)
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

// extras looks at the strokes between matched ones.
func (j *judge) extras() {
	for i := 0; i+1 < len(j.path); i++ {
		a, b := j.path[i], j.path[i+1]
		if b.kind == pause || b.kind == leap {
			continue
		}
		for c := a.stroke + 1; c < b.stroke; c++ {
			j.beside(i, &j.strokes[c])
		}
	}
}

// beside weighs what began at a stroke that is no moment of the score.
func (j *judge) beside(i int, k *stroke) {
	a, b := j.path[i], j.path[i+1]
	was, will := &j.strokes[a.stroke], &j.strokes[b.stroke]
	sc := j.setScene(k, i+1, was.frame, will.frame, nil, j.route.moments[a.moment].pitches)
	for _, st := range j.strangers(sc, j.pass[i]) {
		near := k.s-was.s < echoS && slices.Contains(j.route.moments[a.moment].pitches, st.midi) ||
			will.s-k.s < echoS && slices.Contains(j.route.moments[b.moment].pitches, st.midi)
		if near || st.logit < extraFloor {
			continue
		}
		x := Played{Note: -1, Pass: j.pass[i], OnsetS: j.onset(st.midi, k.frame, sc.back, sc.ahead, nil), Midi: st.midi,
			Verdict: Extra, Confidence: sure(st.logit)}
		j.inPlaceOf(&x, (will.s-was.s)/float64(max(1, b.moment-a.moment)))
		j.played = append(j.played, x)
	}
}

// inPlaceOf makes one wrong note of a stray one and a missed one where it belongs.
func (j *judge) inPlaceOf(x *Played, gap float64) {
	best := -1
	for n, m := range j.missed {
		d := math.Abs(m.ExpectedS - x.OnsetS)
		step := j.route.notes[m.Note].Midi - x.Midi
		if m.Pass == x.Pass && d < min(0.2, 0.4*gap) && step != 0 && step >= -wrongSpan && step <= wrongSpan &&
			(best < 0 || d < math.Abs(j.missed[best].ExpectedS-x.OnsetS)) {
			best = n
		}
	}
	if best >= 0 {
		x.Note, x.Verdict = j.missed[best].Note, Wrong
		j.missed = slices.Delete(j.missed, best, best+1)
	}
}
