package studio

import (
	"errors"
	"fmt"
	"maps"
	"math"
	"slices"
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
	mostRungs                = 60
	mostClean                = 20  // clean passes in a row
	mostMinutes              = 240 // a day
	mostContrastDb           = 40
	mostCoachGoals           = 12
	mostChoices              = 8
	mostBars                 = 64  // before a second voice enters
	longestClipS             = 120 // no longer, and no shorter than the next, are cut
	shortestClipS            = 0.1
	mostHalf                 = 40
	longestHalf              = 400 // bytes
)

// checked is a lesson as it may be kept while it is written: a day, and words of a length that can be read. Numbers may
// be half typed; what makes no sense yet is for ready.
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
		if as[i], err = a.checked(); err != nil {
			return l, err
		}
	}
	l.Assignments = as
	return l, nil
}

// ready refuses what must not go out: a task that is not written to its end, or that makes no sense.
func (l Lesson) ready() error {
	if l.Words == "" && len(l.Assignments) == 0 {
		return emptyLesson()
	}
	for i, a := range l.Assignments {
		if err := a.ready(); err != nil {
			p, ok := errors.AsType[*Problem](err)
			if !ok {
				return err
			}
			return &Problem{Kind: p.Kind, Say: fmt.Sprintf("Task %d: %s", i+1, p.Say), Err: p.Err}
		}
	}
	return nil
}

// ready refuses a task that is half written.
func (a Assignment) ready() error {
	for _, name := range slices.Sorted(maps.Keys(a.Half)) {
		return invalid("“%s” is not written to its end, or cannot be read. Write it anew, or leave it out.", a.Half[name])
	}
	switch {
	case a.Work == "" && a.Ask.NeedsWork():
		return invalid("Choose what is to be played, or another kind of task.")
	case a.Minutes < 0 || a.Minutes > mostMinutes:
		return invalid("%d minutes a day is no time to practise. Give %d at most.", a.Minutes, mostMinutes)
	}
	for _, c := range a.Clips() {
		if err := c.ready(); err != nil {
			return err
		}
	}
	for _, part := range []interface{ ready() error }{a.Goals, a.Ladder, a.Question, a.Second} {
		if err := part.ready(); err != nil {
			return err
		}
	}
	return nil
}

// checked is an assignment as it may be kept. It does not ask whether what it names is there.
func (a Assignment) checked() (Assignment, error) {
	a.FromBar, a.ToBar, a.Do = tidy(a.FromBar), tidy(a.ToBar), strings.TrimSpace(plain(a.Do))
	a.Watch, a.Opens = strings.TrimSpace(plain(a.Watch)), strings.TrimSpace(plain(a.Opens))
	switch {
	case !slices.Contains(Asks(), a.Ask):
		return a, invalid("%q is no kind of task.", a.Ask)
	case len(a.FromBar) > longestBar || len(a.ToBar) > longestBar:
		return a, invalid("A bar is written as it is printed, in %d signs at most.", longestBar)
	case len(a.Do) > longestWords:
		return a, invalid("What is to be done may have %d letters.", longestWords)
	case len(a.Watch) > longestLine || len(a.Opens) > longestLine:
		return a, invalid("What to watch for, and what opens a piece, may have %d letters each.", longestLine)
	case len(a.Half) > mostHalf:
		return a, invalid("The page sent something that makes no sense. Load it again.")
	case !(finite(a.Ladder.FromBpm) && finite(a.Ladder.ToBpm) && finite(a.Ladder.StepBpm)):
		return a, invalid("A ladder goes up from one tempo to another, between %d and %d quarter notes a minute.", slowestGoal, fastestGoal)
	case len(a.Coach) > mostCoachGoals:
		return a, invalid("The adult at home can look at %d things at most.", mostCoachGoals)
	}
	var err error
	if a.Goals, err = a.Goals.checked(); err != nil {
		return a, err
	}
	coach := make([]string, 0, len(a.Coach))
	for _, say := range a.Coach {
		if say = tidy(say); len(say) > longestLine {
			return a, invalid("A goal may have %d letters.", longestLine)
		}
		if say != "" {
			coach = append(coach, say)
		}
	}
	if a.Coach = coach; len(coach) == 0 {
		a.Coach = nil
	}
	a.Recording = "" // is looked up when the lesson is read
	for _, c := range []*Clip{&a.Like, &a.Unlike, &a.Best, &a.Last} {
		if *c, err = c.checked(); err != nil {
			return a, err
		}
	}
	if half := a.Half; half != nil {
		a.Half = nil
		for name, typed := range half {
			if name, typed = tidy(name), tidy(typed); len(name) > longestHalf || len(typed) > longestHalf {
				return a, invalid("A number may have %d signs.", longestHalf)
			}
			if typed != "" {
				if a.Half == nil {
					a.Half = map[string]string{}
				}
				a.Half[name] = typed
			}
		}
	}
	if a.Question, err = a.Question.checked(); err != nil {
		return a, err
	}
	for i := range a.Ways {
		w := &a.Ways[i]
		if w.Say, w.Fingering = tidy(w.Say), strings.TrimSpace(plain(w.Fingering)); len(w.Say) > longestLine || len(w.Fingering) > longestLine {
			return a, invalid("A way to finger it may have %d letters.", longestLine)
		}
		if w.Own != "" && w.Own != AsEverybody && !IsID(w.Own) {
			return a, invalid("The page sent something that makes no sense. Load it again.")
		}
	}
	a.Second, err = a.Second.checked()
	return a, err
}

func (g Goals) checked() (Goals, error) {
	for _, line := range []*string{&g.Dynamics, &g.Tone, &g.Stroke, &g.Fingering, &g.DoneWhen} {
		if *line = tidy(*line); len(*line) > longestLine {
			return g, invalid("A goal may have %d letters.", longestLine)
		}
	}
	if !(finite(g.TempoBpm) && finite(g.FromBpm) && finite(g.ContrastDb)) {
		return g, invalid("A tempo is a number of quarter notes a minute, from %d to %d.", slowestGoal, fastestGoal)
	}
	return g, nil
}

func (g Goals) ready() error {
	for _, bpm := range []float64{g.TempoBpm, g.FromBpm} {
		if bpm != 0 && !goalTempo(bpm) {
			return invalid("%v is no tempo. Give %d to %d quarter notes a minute.", bpm, slowestGoal, fastestGoal)
		}
	}
	switch {
	case g.CleanRun < 0 || g.CleanRun > mostClean:
		return invalid("%d clean times in a row is no goal. Give %d at most.", g.CleanRun, mostClean)
	case !(g.ContrastDb >= 0 && g.ContrastDb <= mostContrastDb):
		return invalid("%v dB between loud and soft is no goal. Give %d at most.", g.ContrastDb, mostContrastDb)
	}
	return nil
}

func finite(x float64) bool { return !math.IsNaN(x) && !math.IsInf(x, 0) }

func goalTempo(bpm float64) bool { return bpm >= slowestGoal && bpm <= fastestGoal }

func (c Clip) checked() (Clip, error) {
	if c.Take == "" {
		return Clip{}, nil
	}
	if c.Say, c.Media = tidy(c.Say), ""; len(c.Say) > longestLine {
		return c, invalid("The words with a clip may have %d letters.", longestLine)
	}
	if !finite(c.FromS) || !finite(c.ToS) {
		return c, clipOutside()
	}
	return c, nil
}

func (c Clip) ready() error {
	switch {
	case !(c.FromS >= 0) || !(c.ToS > c.FromS) || !finite(c.ToS):
		return clipOutside()
	case c.ToS-c.FromS < shortestClipS:
		return invalid("A clip lasts a tenth of a second at least. Choose a longer stretch.")
	case c.ToS-c.FromS > longestClipS:
		return invalid("A clip may last %d seconds. Choose a shorter stretch.", longestClipS)
	}
	return nil
}

func clipOutside() *Problem {
	return invalid("A clip begins in a take and ends later. Choose its place again.")
}

func (l Ladder) ready() error {
	switch {
	case l.Clean == 0: // none; yet its tempos are read where the goal has none
		return Goals{FromBpm: l.FromBpm, TempoBpm: l.ToBpm}.ready()
	case l.Clean < 0 || l.Clean > mostClean:
		return invalid("%d clean times in a row is no goal. Give %d at most.", l.Clean, mostClean)
	case !goalTempo(l.FromBpm) || !goalTempo(l.ToBpm) || l.ToBpm < l.FromBpm:
		return invalid("A ladder goes up from one tempo to another, between %d and %d quarter notes a minute.", slowestGoal, fastestGoal)
	case !(l.StepBpm > 0) || (l.ToBpm-l.FromBpm)/l.StepBpm > mostRungs:
		return invalid("The steps of a ladder are too small: %d at most lie between two tempos.", mostRungs)
	}
	return nil
}

func (q *Question) checked() (*Question, error) {
	if q == nil {
		return nil, nil
	}
	c := Question{Say: tidy(q.Say), Explain: strings.TrimSpace(plain(q.Explain))}
	for _, list := range []struct{ from, into *[]string }{{&q.Choices, &c.Choices}, {&q.Right, &c.Right}} {
		for _, s := range *list.from {
			if s = tidy(s); len(s) > longestLine {
				return q, invalid("An answer may have %d letters.", longestLine)
			}
			if s != "" {
				*list.into = append(*list.into, s)
			}
		}
	}
	switch {
	case c.Say == "" && len(c.Right) == 0 && len(c.Choices) == 0:
		return nil, nil
	case len(c.Say) > longestLine || len(c.Explain) > longestLine:
		return q, invalid("A question may have %d letters.", longestLine)
	case len(c.Choices) > mostChoices || len(c.Right) > mostChoices:
		return q, invalid("A question may have %d answers to choose from.", mostChoices)
	}
	return &c, nil
}

func (q *Question) ready() error {
	switch {
	case q == nil:
		return nil
	case q.Say == "":
		return invalid("A question needs words.")
	case len(q.Right) == 0:
		return invalid("Say which answer to “%s” is right. Otherwise it would come back for ever.", q.Say)
	}
	for _, r := range q.Right {
		if len(q.Choices) > 0 && !slices.ContainsFunc(q.Choices, func(s string) bool { return fold(s) == fold(r) }) {
			return invalid("“%s” is right, and is none of the answers to choose from.", r)
		}
	}
	return nil
}

func (s Second) checked() (Second, error) {
	if s == (Second{}) {
		return s, nil
	}
	if s.Part = tidy(s.Part); s.Who == "" {
		s.Who = ByTool
	}
	switch {
	case s.Kind != Round && s.Kind != SecondPart || s.Who != ByTool && s.Who != ByParent:
		return s, invalid("Beside the child sounds a round or a second part, by the tool or a parent.")
	case len(s.Part) > longestLine:
		return s, invalid("The name of a part may have %d letters.", longestLine)
	}
	return s, nil
}

func (s Second) ready() error {
	if s != (Second{}) && (s.AfterBars < 0 || s.AfterBars > mostBars || s.Kind == Round && s.AfterBars == 0) {
		return invalid("In a round the second voice enters after 1 to %d bars.", mostBars)
	}
	return nil
}
