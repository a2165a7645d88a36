// Package plan says what to keep alive, to advance, to bring back and to introduce for a student, under the
// minutes a family really has, and when what is left will be finished.
//
// It proposes and gives its reason for every line; the teacher decides, and is remembered. It keeps the rules that
// protect hands, but it is no medical advice. It knows no clock, no chance and no storage: the state of a
// studio goes in, the same state gives the same plan.
package plan

import (
	"antiphon/internal/plan/calendar"
	"antiphon/internal/plan/ladder"
	"antiphon/internal/plan/memory"
)

// Schema of a Studio as JSON. Fields may be added.
const Schema = "antiphon.state/1"

// Studio is all that a plan is made from.
type Studio struct {
	Schema      string        `json:"schema"`
	Today       calendar.Day  `json:"today"` // the plan's first day
	Holidays    calendar.Free `json:"holidays,omitempty"`
	Groups      []Group       `json:"groups,omitempty"`
	Works       []Work        `json:"works"`
	Collections []Collection  `json:"collections,omitempty"`
	Students    []Student     `json:"students"`
	Forecasts   []Earlier     `json:"forecasts,omitempty"`
	Pace        *memory.Pace  `json:"pace,omitempty"` // at which the studio forgets, as it was found before; without it, it is found
	Found       *Found        `json:"-"`              // what was found from all students before, where these are only some of them
}

// Group is a set of works with a hard limit: nothing in it stays unseen for longer.
type Group struct {
	Name      string `json:"name"`
	LimitDays int    `json:"limit_days"`
}

// OwnLimit is a limit of a group for one student, in place of the studio's: other days, or none.
type OwnLimit struct {
	Group     string `json:"group"`
	LimitDays int    `json:"limit_days,omitempty"`
	Lifted    bool   `json:"lifted,omitempty"` // this student has no limit there; said, so that a number that was forgotten lifts none
}

// Kind of a work.
type Kind string

const (
	Piece     Kind = "piece"
	Exercise  Kind = "exercise"
	Technique Kind = "technique" // a skill in itself, such as scales
	Listening Kind = "listening" // no hands: listening, clapping, singing, reading
)

// Work is one thing that can be asked: a piece, a study, an exercise.
type Work struct {
	ID      string   `json:"id"`
	Title   string   `json:"title"`
	Kind    Kind     `json:"kind,omitempty"`    // "": piece
	Load    float64  `json:"load,omitempty"`    // how much it asks, 1: the usual; 0 counts as 1
	Minutes int      `json:"minutes,omitempty"` // of one sitting; 0: 5, of a technique 3
	Group   string   `json:"group,omitempty"`
	Needs   []string `json:"needs,omitempty"`  // skills
	Builds  []string `json:"builds,omitempty"` // skills
	After   []string `json:"after,omitempty"`  // works, by id
	For     string   `json:"for,omitempty"`    // of an exercise: the work that it serves
	Joy     bool     `json:"joy,omitempty"`    // easy and liked
	Strain  bool     `json:"strain,omitempty"` // barre, stretch or fourth-finger drill
}

func (w *Work) load() float64 {
	if w.Load <= 0 {
		return 1
	}
	return w.Load
}

func (w *Work) minutes() int {
	switch {
	case w.Minutes > 0:
		return w.Minutes
	case w.Kind == Technique:
		return 3
	}
	return 5
}

// Collection is an ordered list of works.
type Collection struct {
	ID    string   `json:"id"`
	Title string   `json:"title"`
	Works []string `json:"works"`
}

// Student with all that is known.
type Student struct {
	ID         string        `json:"id"`
	Name       string        `json:"name"`
	Family     string        `json:"family,omitempty"`   // as it is addressed, "the Larks"
	Minutes    [7]int        `json:"minutes"`            // that the family has, from Monday on
	Holidays   calendar.Free `json:"holidays,omitempty"` // of the family, beside the studio's
	Limits     []OwnLimit    `json:"limits,omitempty"`   // of groups, where they differ from the studio's
	MostNew    *int          `json:"most_new,omitempty"` // new things in a week, 0 to 2; 1 without it
	Items      []Item        `json:"items,omitempty"`    // what was learnt or is being learnt
	Skills     []Skill       `json:"skills,omitempty"`
	Without    []string      `json:"without,omitempty"`        // skills that these hands do without
	Hurts      []Hurt        `json:"hurts,omitempty"`          // what the family told
	FreeFrom   calendar.Day  `json:"hands_free_from,omitzero"` // the teacher says that hands may play again
	Weeks      []Week        `json:"weeks,omitempty"`          // teaching weeks, the oldest first
	Wishes     []Wish        `json:"wishes,omitempty"`         // of the teacher, for this plan
	Choices    []Choice      `json:"choices,omitempty"`        // of the teacher, in earlier plans
	Collection string        `json:"collection,omitempty"`     // that is gone through
	Trial      *Trial        `json:"trial,omitempty"`          // of a new student: what the first plan rests on
	Recital    *Recital      `json:"recital,omitempty"`
	Pace       *memory.Pace  `json:"pace,omitempty"` // at which the student forgets, as it was found before
}

// Trial is what a new student showed and said.
type Trial struct {
	Takes      []TrialTake `json:"takes,omitempty"`
	Years      float64     `json:"years,omitempty"` // played so far
	ReadsMusic bool        `json:"reads_music,omitempty"`
}

// TrialTake is one work that was tried, rated 1 to 4 as in Played.
type TrialTake struct {
	Work   string `json:"work"`
	Rating int    `json:"rating"`
}

// Stage of an item.
type Stage string

const (
	Learning Stage = "learning"
	Kept     Stage = "kept"   // learnt, and to be kept
	Rested   Stage = "rested" // learnt, and let go
)

// Item is what a student has to do with one work.
type Item struct {
	Work     string         `json:"work"`
	Stage    Stage          `json:"stage"`
	Begun    calendar.Day   `json:"begun,omitzero"`
	Finished calendar.Day   `json:"finished,omitzero"`
	Target   float64        `json:"target,omitempty"`   // of being kept, 0 to 1; 0: 0.85
	GoalBpm  float64        `json:"goal_bpm,omitempty"` // quarter notes a minute
	Asked    []calendar.Day `json:"asked,omitempty"`    // lessons
	Played   []Played       `json:"played,omitempty"`   // in order of days
	Remarks  []Remark       `json:"remarks,omitempty"`
	Passages []Passage      `json:"passages,omitempty"` // in the order of the score
}

// Played is one day on which it was heard or logged. One of the three ways to say how it went is enough; the teacher's
// own rating goes before the rest, and with none it counts as steady.
type Played struct {
	Day    calendar.Day `json:"day"`
	Rating int          `json:"rating,omitempty"` // of the teacher: 1 broke down, 2 with stops, 3 steady, 4 at tempo
	Right  int          `json:"right,omitempty"`  // counted at home, of Tries
	Tries  int          `json:"tries,omitempty"`
	Heard  *Heard       `json:"heard,omitempty"` // a take
	Bpm    float64      `json:"bpm,omitempty"`
	Part   bool         `json:"part,omitempty"` // of what was counted at home: only some bars of the work, so that it tells nothing of the others
}

// Heard is what a hearing says of a take.
type Heard struct {
	RightShare float64 `json:"right_share"`
	Complete   bool    `json:"complete"`
	Stops      int     `json:"stops,omitempty"`
	SpreadPct  float64 `json:"spread_pct,omitempty"`
	Notes      int     `json:"notes,omitempty"` // that were to be played; of a passage, where one may be a slip
}

// Remark of a sent lesson.
type Remark struct {
	Day  calendar.Day `json:"day"`
	Key  string       `json:"key,omitempty"` // the same for the same remark
	Text string       `json:"text"`
}

// Skill as far as it is known.
type Skill struct {
	Name  string `json:"name"`
	Known bool   `json:"known,omitempty"` // the teacher says so
	Heard []bool `json:"heard,omitempty"` // each time something needed it: did it go right

	Times     []SkillTime  `json:"times,omitempty"`    // the same with its day and work, as far as it is known
	Asked     calendar.Day `json:"asked,omitzero"`     // last, in a lesson
	Practised calendar.Day `json:"practised,omitzero"` // last, as it was tapped
}

// SkillTime is one hearing of something that needs a skill.
type SkillTime struct {
	Day   calendar.Day `json:"day"`
	Work  string       `json:"work"`
	Right bool         `json:"right"` // in the bars that need it
}

// Hurt is what a family told: something hurts.
type Hurt struct {
	Day   calendar.Day `json:"day"`
	Where string       `json:"where,omitempty"`
	Level int          `json:"level"` // 1 to 3
}

// Week is one teaching week.
type Week struct {
	Came    bool     `json:"came"`              // a recording
	Minutes *float64 `json:"minutes,omitempty"` // practised, where a log is kept
}

// Wish of the teacher for this plan.
type Wish struct {
	Work   string         `json:"work"`
	Forbid bool           `json:"forbid,omitempty"`
	Whole  bool           `json:"whole,omitempty"` // of a pin: all of it, where the plan would ask for a passage only
	On     []calendar.Day `json:"on,omitempty"`    // of a pin: on these days; none: the plan chooses
}

// Choice of the teacher in an earlier plan: what was proposed, and whether it stayed.
type Choice struct {
	Work   string `json:"work"`
	Stayed bool   `json:"stayed"`
}

// Recital and what is to be played.
type Recital struct {
	Day   calendar.Day `json:"day"`
	Works []string     `json:"works"`
}

// Earlier is a forecast that was made before, all in teaching weeks from its day.
type Earlier struct {
	Student string     `json:"student,omitempty"`
	Weeks   [5]float64 `json:"weeks"` // at 10, 25, 50, 75 and 90 %
	Since   float64    `json:"since"`
	Came    float64    `json:"came,omitempty"` // 0: not finished yet

	Raw    *[5]float64 `json:"model,omitempty"`  // the same five before earlier forecasts set their width
	Missed float64     `json:"missed,omitempty"` // share of teaching weeks without a recording until then
}

// rating of a playing.
func (p *Played) rating(goal float64) memory.Rating {
	switch {
	case p.Rating > 0:
		return memory.Rating(p.Rating)
	case p.Heard != nil:
		return memory.Rate(memory.Heard{RightShare: p.Heard.RightShare, Complete: p.Heard.Complete, Stops: p.Heard.Stops,
			Bpm: p.Bpm, GoalBpm: goal, SpreadPct: p.Heard.SpreadPct})
	}
	return memory.RateLog(p.Right, p.Tries)
}

// playings of an item, rated.
func (it *Item) playings() []memory.Playing {
	out := make([]memory.Playing, 0, len(it.Played))
	for i := range it.Played {
		if !outranked(it.Played, i) {
			out = append(out, memory.Playing{Day: it.Played[i].Day, Rating: it.Played[i].rating(it.GoalBpm)})
		}
	}
	return out
}

// outranked says that the teacher rated the day of a playing, which goes before what was heard and counted on it. They are in
// order of days.
func outranked(all []Played, i int) bool {
	if all[i].Rating > 0 {
		return false
	}
	for j := i - 1; j >= 0 && all[j].Day == all[i].Day; j-- {
		if all[j].Rating > 0 {
			return true
		}
	}
	for j := i + 1; j < len(all) && all[j].Day == all[i].Day; j++ {
		if all[j].Rating > 0 {
			return true
		}
	}
	return false
}

// tries of an item at a tempo.
func (it *Item) tries() []ladder.Try {
	var out []ladder.Try
	for i := range it.Played {
		if p := &it.Played[i]; p.Bpm > 0 {
			out = append(out, ladder.Try{Day: p.Day, Bpm: p.Bpm, Clean: p.rating(0) >= memory.Steady})
		}
	}
	return out
}

func (it *Item) target() float64 {
	if it.Target <= 0 {
		return memory.UsualTarget
	}
	return it.Target
}

func (s *Student) mostNew() int {
	if s.MostNew == nil {
		return 1
	}
	return *s.MostNew
}
