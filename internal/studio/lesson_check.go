package studio

import (
	"math"
	"strings"
	"time"
)

// Limits of a lesson. A tempo is in quarter notes a minute; common practice, no source.
const (
	longestWords             = 20_000 // bytes
	longestLine              = 2_000
	longestBar               = 20
	mostAssignments          = 40
	slowestGoal, fastestGoal = 10, 500
)

// checked is a lesson as it may be kept: a day, words that can be read, tempos that can be played.
func (l Lesson) checked() (Lesson, error) {
	day, err := time.Parse(time.DateOnly, l.Date)
	if err != nil || day.Year() < 2000 || day.Year() >= 2200 {
		return l, invalid("%q is no day of a lesson. Write it like 2026-11-25.", tidy(l.Date))
	}
	if l.Words = strings.TrimSpace(plain(l.Words)); len(l.Words) > longestWords {
		return l, invalid("What is said at the top may have %d letters. Put some of it to what is asked.", longestWords)
	}
	if len(l.Assignments) > mostAssignments {
		return l, invalid("A lesson may ask for %d things. Make two of it.", mostAssignments)
	}
	as := make([]Assignment, len(l.Assignments))
	for i, a := range l.Assignments {
		a.FromBar, a.ToBar = tidy(a.FromBar), tidy(a.ToBar)
		a.Do = strings.TrimSpace(plain(a.Do))
		g := &a.Goals
		for _, line := range []*string{&g.Dynamics, &g.Tone, &g.Stroke, &g.Fingering, &g.DoneWhen} {
			if *line = tidy(*line); len(*line) > longestLine {
				return l, invalid("A goal may have %d letters.", longestLine)
			}
		}
		switch {
		case len(a.FromBar) > longestBar || len(a.ToBar) > longestBar:
			return l, invalid("A bar is written as it is printed, in %d signs at most.", longestBar)
		case len(a.Do) > longestWords:
			return l, invalid("What is to be done may have %d letters.", longestWords)
		case g.TempoBpm != 0 && !(g.TempoBpm >= slowestGoal && g.TempoBpm <= fastestGoal) || math.IsNaN(g.TempoBpm):
			return l, invalid("%v is no tempo. Give %d to %d quarter notes a minute.", g.TempoBpm, slowestGoal, fastestGoal)
		}
		as[i] = a
	}
	l.Assignments = as
	return l, nil
}
