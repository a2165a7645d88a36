package memory

import "math"

// Skilled are the numbers of Bayesian knowledge tracing (Corbett & Anderson 1995): what is believed of a
// skill before anything was heard, and what one hearing tells about it.
type Skilled struct {
	Before float64 // known before the first hearing
	Learn  float64 // becomes known between two hearings
	Slip   float64 // known, and yet it went wrong
	Guess  float64 // not known, and yet it went right
}

// UsualSkill are the numbers where nothing better is known.
func UsualSkill() Skilled { return Skilled{Before: 0.3, Learn: 0.1, Slip: 0.1, Guess: 0.2} }

// Mastered is from which chance on a skill counts as known.
const Mastered = 0.95

// Hear is the chance that the skill is known after one more hearing of something that needs it: what the
// hearing shows (shown), and what is believed at the next one (next).
func (s Skilled) Hear(known float64, right bool) (shown, next float64) {
	if right {
		shown = known * (1 - s.Slip) / (known*(1-s.Slip) + (1-known)*s.Guess)
	} else {
		shown = known * s.Slip / (known*s.Slip + (1-known)*(1-s.Guess))
	}
	return shown, shown + (1-shown)*s.Learn
}

// Known is the chance that a skill is known after a row of hearings.
func (s Skilled) Known(right []bool) float64 {
	p := s.Before
	for _, r := range right {
		_, p = s.Hear(p, r)
	}
	return p
}

// Expected is the chance that a student of one level manages a work of another, both on the scale of
// Elo: 400 apart is ten to one.
func Expected(student, work float64) float64 { return 1 / (1 + math.Pow(10, (work-student)/400)) }

// Met moves two levels after a meeting: the student's by k times what was not expected, the work's the
// other way.
func Met(student, work, k float64, managed bool) (newStudent, newWork float64) {
	d := -Expected(student, work)
	if managed {
		d++
	}
	return student + k*d, work - k*d
}
