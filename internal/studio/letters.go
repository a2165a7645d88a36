package studio

import (
	"encoding/json"
	"time"
)

// Letter is what parents read of a stretch of time. Until it is sent it is a draft, seen by the teacher only.
type Letter struct {
	ID      LetterID
	Studio  StudioID
	Student StudentID
	Family  FamilyID
	From    string // the first day, 2026-09-01
	To      string // the last day
	Parts   []LetterPart
	Version int       // of the draft; each saving counts one up
	Saved   time.Time // last change
	Sent    time.Time // zero while it is a draft
}

// LetterPart is a heading with its text, the facts that it is drawn from, and where it helps a chart.
type LetterPart struct {
	Heading string
	Text    string
	Facts   []Fact          `json:",omitzero"`
	Chart   json.RawMessage `json:",omitzero"` // a LetterChart; nil none
}

// Fact is one thing that was logged, with its place.
type Fact struct {
	Say    string
	Day    string   // 2026-11-25
	Take   TakeID   `json:",omitzero"`
	Lesson LessonID `json:",omitzero"`
}

// LetterChart is a line that a parent reads: one value a day or week.
type LetterChart struct {
	Kind   string // "tempo": quarter notes a minute of one piece; "days": days of practice a week
	Title  string
	Points []ChartPoint
}

// ChartPoint is one value.
type ChartPoint struct {
	Day   string // 2026-11-25; of a week its Monday
	Value float64
}
