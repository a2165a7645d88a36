package studio

import (
	"time"

	"antiphon/internal/plan"
	"antiphon/internal/plan/calendar"
)

// ForecastID is an id like the others.
type ForecastID string

// Demand is what a score asks of the hands, as far as a plan needs it. It is worked out once for a score,
// and for each child that has fingers of its own once for these.
type Demand struct {
	Skills  []string // that it asks in more than an odd bar
	Load    float64  // of its hardest tenth, in difficulty's own unit; 0: nothing could be fingered
	Bars    int
	LastBar string // as printed
	Strain  bool   // barre, stretch or fourth finger in much of it
	Why     string `json:",omitempty"` // why nothing is known of it, one sentence

	Numbers []string         `json:",omitempty"` // of its bars, as printed, where they are not 1 to Bars
	Where   map[string][]int `json:",omitempty"` // by skill the bars that ask it: the first and the last of each run, counted from 0
}

// OwnDemand is what a work asks of one child, which takes it with fingers of its own.
type OwnDemand struct {
	Work   WorkID
	Demand *Demand // nil while it was not worked out
}

// WorkSays is what the teacher says of a work in plans, in place of what was worked out. The zero value says nothing.
type WorkSays struct {
	Kind    plan.Kind `json:",omitempty"`
	Minutes int       `json:",omitempty"` // of one sitting
	Load    float64   `json:",omitempty"` // 1: the usual
	Group   string    `json:",omitempty"` // with a limit
	For     WorkID    `json:",omitempty"` // the piece that an exercise serves
	Joy     bool      `json:",omitempty"` // easy and liked
	Strain  bool      `json:",omitempty"`
	Skills  bool      `json:",omitempty"` // Needs and Builds hold, also where they are empty
	Needs   []string  `json:",omitempty"`
	Builds  []string  `json:",omitempty"`
}

// WorkPlan is a work as plans see it.
type WorkPlan struct {
	Studio StudioID
	Work   WorkID
	Demand *Demand // nil while it was not worked out, or the score changed since
	Says   WorkSays
}

// StudioPlan is what holds for the plans of a whole studio.
type StudioPlan struct {
	Studio   StudioID
	Groups   []plan.Group  `json:",omitempty"`
	Holidays calendar.Free `json:",omitempty"`

	// What the worker found from all students.
	Found  *plan.Found        `json:",omitempty"`
	Loads  map[WorkID]float64 `json:",omitempty"` // what works asked of students, as it turned out
	Looked time.Time          `json:",omitzero"`  // when it was found
	Wanted time.Time          `json:",omitzero"`  // when it was last asked for
}

// StudentPlan is what the teacher settled and said for the plans of one student. The zero value is a student of whom nothing was said.
type StudentPlan struct {
	Studio  StudioID
	Family  FamilyID
	Student StudentID

	Minutes    [7]int              // that the family has, from Monday on; all 0: not said
	MostNew    *int                `json:",omitempty"` // new things in a week, 0 to 2; nil: 1
	Collection CollectionID        `json:",omitempty"` // that is gone through; "": the one most was asked of
	Holidays   calendar.Free       `json:",omitempty"` // of the family
	Limits     []plan.OwnLimit     `json:",omitempty"` // of groups, in place of the studio's
	Recital    *plan.Recital       `json:",omitempty"`
	HandsFree  calendar.Day        `json:",omitzero"`  // hands may play again from this day on
	Known      []string            `json:",omitempty"` // skills, whatever was heard
	Without    []string            `json:",omitempty"` // skills that these hands do without
	Items      map[WorkID]ItemSays `json:",omitempty"`
	Wishes     []PlanWish          `json:",omitempty"`
	Choices    []plan.Choice       `json:",omitempty"` // the oldest first
	Trial      *plan.Trial         `json:",omitempty"` // of a new student
}

// ItemSays is what the teacher says of one work of a student.
type ItemSays struct {
	Stage    plan.Stage    `json:",omitempty"` // "": by what was asked and heard
	Finished calendar.Day  `json:",omitzero"`
	Rated    []plan.Played `json:",omitempty"` // how it went, by the teacher's own ear
	Bars     []RatedBars   `json:",omitempty"` // the same of some bars of it
}

// RatedBars is how bars of a work went on one day, by the teacher's own ear.
type RatedBars struct {
	From, To string // as printed
	plan.Played
}

// PlanWish is a pin or the opposite, until a day.
type PlanWish struct {
	plan.Wish
	Until calendar.Day // the last day on which it holds
}

// Forecast is one that was made, kept to see how good it was.
type Forecast struct {
	ID      ForecastID
	Studio  StudioID
	Family  FamilyID
	Student StudentID
	Day     string // on which it was made
	Came    string // the day on which all of it was finished; "" not yet
	Said    ForecastSaid
}

// ForecastSaid is what it was about and what it said.
type ForecastSaid struct {
	Collection CollectionID
	Left       []WorkID
	Weeks      [5]float64  // teaching weeks at 10, 25, 50, 75 and 90 %
	Model      *[5]float64 `json:",omitempty"` // before earlier forecasts set their width
	Missed     float64     // share of weeks without a recording until then
}

// History is what was asked of students, heard of them, practised and said. Each list is in order of time.
type History struct {
	Asked     []AskedOnce
	Heard     []HeardOnce
	Practised []PractisedDay
	Said      []SaidOnce
}

// AskedOnce is one thing of one sent lesson.
type AskedOnce struct {
	Student StudentID
	Lesson  LessonID
	Day     string
	Work    WorkID
	Ask     Ask
	Bpm     float64 // the goal; 0 none
	For     WorkID
	FromBar string // "" with ToBar "": all of it
	ToBar   string
}

// HeardOnce is one take that arrived.
type HeardOnce struct {
	Student StudentID
	Take    TakeID
	Work    WorkID // "" unknown
	At      time.Time
	Hurt    bool
	Note    string
	Summary *Summary // nil where nothing was heard
	FromBar string   // that were asked; "" with ToBar "": all of it, or nothing
	ToBar   string
	Bars    *HeardBars // nil where it was not counted, or nothing was heard
}

// PractisedDay is what was tapped of one work, or of bars of it that were asked by themselves, on one day.
type PractisedDay struct {
	Student StudentID
	Work    WorkID // "" of none
	FromBar string // "" with ToBar "": all of it
	ToBar   string
	Day     calendar.Day
	Done    int
	Tries   int
	Clean   int
	TopBpm  float64 // of what was clean; 0 not known
	Seconds float64
}

// SaidOnce is one remark.
type SaidOnce struct {
	Student StudentID
	Take    TakeID
	Work    WorkID
	At      time.Time
	Remedy  string
	Text    string
	Remark  RemarkID
	Bar     string
}
