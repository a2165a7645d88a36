package practice

import (
	"time"

	"antiphon/internal/sound"
	"antiphon/internal/studio"
)

// plan is what the island needs to know, as JSON. Tempos are quarter notes a minute, times seconds.
type plan struct {
	Student studio.StudentID    `json:"student"`
	Of      studio.AssignmentID `json:"of"`
	Beat    float64             `json:"beat"` // that is counted, in quarters
	Rungs   []rung              `json:"rungs"`
	Begin   int                 `json:"begin"` // the rung to begin with
	Clean   int                 `json:"clean"` // passes that went well in a row, before the next rung; 0: no ladder
	Reached *reached            `json:"reached,omitempty"`
	Line    *line               `json:"line"`
	Second  string              `json:"second,omitempty"` // "round" or "part"
	ByTool  bool                `json:"byTool,omitempty"`
	Minutes int                 `json:"minutes"` // after which the page says to rest
}

// rung is one tempo with its words and its sounds.
type rung struct {
	Bpm    float64 `json:"bpm"`
	Pace   string  `json:"pace"`             // "about one beat a second"
	Sound  string  `json:"sound,omitempty"`  // address; "" the click alone
	Second string  `json:"second,omitempty"` // of the part that the tool plays
}

// reached is where the log of the studio left off.
type reached struct {
	Bpm float64   `json:"bpm"`
	At  time.Time `json:"at"`
}

// line is sound.Timeline for a script, at a tempo of Bpm beats a minute.
type line struct {
	Bpm     float64      `json:"bpm"`
	LengthS float64      `json:"lengthS"`
	EntryS  float64      `json:"entryS"`
	Bars    []bar        `json:"bars"`
	CountIn [][2]float64 `json:"countIn"` // seconds and accent
	Clicks  [][2]float64 `json:"clicks"`
}

type bar struct {
	Index int     `json:"i"` // into the score's bars
	Name  string  `json:"n"` // as printed
	AtS   float64 `json:"at"`
}

// restAfter is after how many minutes the page says to rest where nobody said how long. Common practice, no source.
const restAfter = 10

// planOf lays everything out. A score that cannot be laid out is practised with the click alone.
func (p *Practice) planOf(a asked, c Card) (plan, error) {
	pl := plan{Student: a.Student, Of: a.ID, Beat: a.Beat, Clean: a.Ladder.Clean, Minutes: a.Minutes, Second: a.Second.Kind, ByTool: a.byTool()}
	if pl.Minutes <= 0 {
		pl.Minutes = restAfter
	}
	if a.Score != nil {
		l, err := lay(a)
		if err != nil {
			p.f.Log().Info("a score without a timeline", "error", err)
		} else {
			pl.Line = l
		}
	}
	alone := pl.Line == nil
	if alone {
		pl.Line, pl.Beat, pl.Second = clicksAlone(), a.Beat, ""
	}
	for _, bpm := range rungs(a.Ladder, a.goalBpm()) {
		pace, err := c.In.Pace(bpm / a.Beat)
		if err != nil {
			return plan{}, err
		}
		r := rung{Bpm: bpm, Pace: pace}
		if !alone {
			r.Sound = soundAddress(a.Student, a.ID, bpm, false)
			if pl.ByTool && pl.Second == studio.SecondPart {
				r.Second = soundAddress(a.Student, a.ID, bpm, true)
			}
		}
		pl.Rungs = append(pl.Rungs, r)
	}
	pl.Begin = begin(pl.Rungs, a)
	return pl, nil
}

// begin is the rung to begin with: the lowest of a ladder, else the tempo to begin with, else the tempo asked.
func begin(rungs []rung, a asked) int {
	from := a.Goals.FromBpm
	if len(a.Ladder.Rungs()) > 0 {
		from = a.Ladder.FromBpm
	}
	if from <= 0 {
		return len(rungs) - 1
	}
	best := 0
	for i, r := range rungs {
		if r.Bpm <= from {
			best = i
		}
	}
	return best
}

// reachedIn is the last tempo that was tapped: a rung that was reached, or that of a try. The newest tap is first.
func reachedIn(taps []studio.Tap) *reached {
	for _, t := range taps {
		if (t.Kind == studio.TapRung || t.Kind == studio.TapTry) && t.Bpm > 0 {
			return &reached{t.Bpm, t.At}
		}
	}
	return nil
}

// hurtToday says that it was tapped today that something hurt: then nothing more is played today.
func hurtToday(taps []studio.Tap, now time.Time) bool {
	y, m, d := now.Date()
	for _, t := range taps {
		if ty, tm, td := t.At.In(now.Location()).Date(); t.Kind == studio.TapHurt && ty == y && tm == m && td == d {
			return true
		}
	}
	return false
}

func lay(a asked) (*line, error) {
	o := a.passage()
	o.Mark, o.CountIn, o.Bpm = false, 1, 60
	if a.asRound() {
		o.EnterAfter = max(a.Second.AfterBars, 1)
	}
	t, err := sound.Lay(a.Score, o)
	if err != nil {
		return nil, err
	}
	l := &line{Bpm: t.Bpm, LengthS: t.LengthS, EntryS: t.EntryS, CountIn: pairs(t.CountIn), Clicks: pairs(t.Clicks)}
	for _, b := range t.Bars {
		l.Bars = append(l.Bars, bar{b.Index, a.Score.Bars[b.Index].Number, b.AtS})
	}
	return l, nil
}

func pairs(all []sound.ClickAt) [][2]float64 {
	out := make([][2]float64, len(all))
	for i, c := range all {
		out[i] = [2]float64{c.AtS, float64(c.Accent)}
	}
	return out
}

// clicksAlone are four beats, for what has no score.
func clicksAlone() *line {
	l := &line{Bpm: 60, LengthS: 4, Bars: []bar{}}
	for i := range 4 {
		l.Clicks = append(l.Clicks, [2]float64{float64(i), 0})
		l.CountIn = append(l.CountIn, [2]float64{float64(i - 4), 0})
	}
	return l
}
