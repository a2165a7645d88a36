package ear

import (
	"cmp"
	"math"
	"slices"
)

// Verdict thresholds, as log odds of the models. A false accusation costs more than a miss.
const (
	missFloor     = -0.5 // a written note less likely than this was missed
	doubtFloor    = 0.5  // one less likely than this gives way to a stranger in its place …
	strangerFloor = 0.8  // … that is as likely as this
	absentFloor   = -1.0 // one as unlikely as this …
	restruckFloor = -1.0 // … gives way to a fainter one: a pitch struck again while it rings shows little
	maskedFloor   = -2.0 // one that is surely absent gives way to as faint a step beside it: something stood there,
	goneFloor     = -3.0 // and a chord may hide it
	extraFloor    = 0.5
	hopelessFloor = -2.0
	unseenFloor   = 3.0 // of a pitch that the first net did not see at all: eight of eight above this had begun, 5 of 182 below

	// A written note whose pitch so clearly begins at its very stroke was played, even if the net that knows
	// the score doubts it down to this.
	clearBegin = 0.97
	clearFloor = -4.0

	// The nets have learned little above the pitches of the tuning set's pieces: up there only the sure is said.
	highestLearned = 79
	highFloor      = -3.5

	// A step beside a written note of the same stroke, as sure as this, is taken for it even where the
	// written one is not so doubtful: the two share most partials.
	besideSteps = 2
	besideSure  = 2.0
	besideDoubt = 2.5
	stepOdds    = 0.6  // of two notes in whose place it may stand, each step that one is nearer speaks for it by so much
	ownSure     = 2.0  // a pitch that both a stranger and a written note of another stroke have as surely as this began twice
	ringingS    = 0.15 // what sounds so soon after the recording began may have begun before it
	endS        = 0.15
	onceS       = 0.11 // a pitch does not begin twice within so many seconds

	inPlaceS = 0.2 // a stray stroke stands for a written note at most so far away,
	inPlaceQ = 0.4 // and within this share of the distance between the moments around it
)

// settle gives the verdicts: a stranger in the place of a doubtful written note is a wrong note, one
// more is an extra note.
func (j *judge) settle() {
	slices.SortStableFunc(j.strangers, func(a, b stranger) int { return cmp.Compare(b.logit, a.logit) })
	for _, st := range j.strangers {
		if j.rolled(&st) {
			continue
		}
		c := j.placeOf(&st)
		switch {
		case c != nil && st.midi == c.midi: // the note itself, apart from where it was looked for
			c.settled = true
			j.played = append(j.played, Played{Note: c.note, Pass: c.pass, OnsetS: st.onsetS, Midi: c.midi,
				Verdict: Right, Confidence: sure(st.logit)})
		case c != nil:
			c.settled = true
			j.played = append(j.played, Played{Note: c.note, Pass: c.pass, OnsetS: st.onsetS, Midi: st.midi,
				Verdict: Wrong, Confidence: min(sure(st.logit), sure(doubtFloor+1-c.logit))})
		case st.logit > extraFloor && !st.echo && st.onsetS > ringingS && !j.begunAt(st.midi, st.onsetS):
			j.played = append(j.played, Played{Note: -1, Pass: st.pass, OnsetS: st.onsetS, Midi: st.midi,
				Verdict: Extra, Confidence: sure(st.logit)})
		}
	}
	for i := range j.claims {
		c := &j.claims[i]
		switch {
		case c.settled:
		case c.logit > floorFor(c.midi) || c.likely > clearBegin && c.logit > clearFloor:
			j.played = append(j.played, Played{Note: c.note, Pass: c.pass, OnsetS: c.onsetS, Midi: c.midi,
				Verdict: Right, Confidence: sure(c.logit)})
		case c.unasked || j.route.notes[c.note].TiedIn || c.expectedS > j.seconds()-endS: // a tie from nowhere, as into an ending, need not be struck; what the recording cut off was not missed
		default:
			j.missed = append(j.missed, Missed{Note: c.note, Pass: c.pass, ExpectedS: c.expectedS, Confidence: sure(-c.logit)})
		}
	}
	slices.SortStableFunc(j.missed, func(a, b Missed) int { return cmp.Compare(a.ExpectedS, b.ExpectedS) })
}

// rolled gives a stranger to the written note of its pitch nearby, if it was heard more likely here than
// at the stroke that the note was matched to: rolls have several strokes, and two quick notes may have
// one. It reports whether there is such a note: then the stranger is nobody else.
func (j *judge) rolled(st *stranger) bool {
	reach := onceS
	if st.echo {
		reach = rollS
	}
	found, twice := false, st.logit > ownSure && j.standsFor(st)
	for i := range j.claims {
		c := &j.claims[i]
		if c.pass != st.pass || c.midi != st.midi || twice && c.scene != st.scene && c.logit > ownSure || math.Abs(c.strokeS-st.s) > reach && math.Abs(c.onsetS-st.onsetS) > onceS {
			continue
		}
		found = true
		if st.likely > c.likely && !c.settled {
			c.onsetS, c.likely, c.logit = st.onsetS, st.likely, max(c.logit, st.logit)
		}
	}
	return found
}

// standsFor reports whether a written note of the very moment that a stranger began at is surely absent, and
// near enough for the stranger to stand there: quick strums play the same pitch again and again.
func (j *judge) standsFor(st *stranger) bool {
	return st.scene != -1 && slices.ContainsFunc(j.claims, func(c claim) bool {
		return c.scene == st.scene && c.pass == st.pass && !c.settled && c.logit < absentFloor && c.midi != st.midi && abs(c.midi-st.midi) <= wrongSpan
	})
}

// placeOf is the claim that a stranger stands in the place of, nil for none.
func (j *judge) placeOf(st *stranger) *claim {
	var best *claim
	for i := range j.claims {
		c := &j.claims[i]
		if c.pass != st.pass {
			continue
		}
		if c.scene != st.scene {
			if st.scene != -1 || math.Abs(c.expectedS-st.s) > min(inPlaceS, inPlaceQ*st.gapS) {
				continue
			}
		}
		if d := st.midi - c.midi; d < -wrongSpan || d > wrongSpan {
			continue
		}
		if c.settled {
			continue
		}
		yields := c.scene == st.scene && st.logit > besideSure && c.logit < besideDoubt && abs(st.midi-c.midi) <= besideSteps ||
			st.logit > strangerFloor && c.logit < doubtFloor || st.logit > restruckFloor && c.logit < absentFloor ||
			st.logit > maskedFloor && c.logit < goneFloor && abs(st.midi-c.midi) <= besideSteps
		if st.midi == c.midi {
			if yields && c.logit < missFloor {
				return c
			}
			continue
		}
		if yields && (best == nil || c.logit+stepOdds*float64(abs(st.midi-c.midi)) < best.logit+stepOdds*float64(abs(st.midi-best.midi))) {
			best = c
		}
	}
	return best
}

// begunAt reports whether a written note of this pitch is heard at this moment.
func (j *judge) begunAt(midi int, s float64) bool {
	for i := range j.claims {
		c := &j.claims[i]
		if c.midi == midi && c.logit > missFloor && math.Abs(c.onsetS-s) < onceS {
			return true
		}
	}
	for _, p := range j.played {
		if p.Midi == midi && math.Abs(p.OnsetS-s) < onceS {
			return true
		}
	}
	return false
}

func abs(x int) int { return max(x, -x) }

// floorFor is the least log odds at which a written note counts as played.
func floorFor(midi int) float64 {
	if midi > highestLearned {
		return highFloor
	}
	return missFloor
}

// seconds of the take.
func (j *judge) seconds() float64 { return float64(len(j.x)) / RateHz }
