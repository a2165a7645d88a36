package studio

import "time"

// Lesson is one dated answer: ordered assignments. Until it is sent it is a draft, seen by the teacher only.
type Lesson struct {
	ID          LessonID
	Studio      StudioID
	Family      FamilyID
	Student     StudentID
	Date        string // the day as the teacher writes it, 2026-11-25
	Words       string // what is said at the top
	Assignments []Assignment
	Version     int       // of the draft; each saving counts one up
	Saved       time.Time // last change
	Sent        time.Time // zero while it is a draft
}

// Assignment is one thing asked until the next lesson.
type Assignment struct {
	ID      AssignmentID
	Work    WorkID
	FromBar string // "" with ToBar "": all of it
	ToBar   string
	Goals   Goals
	Do      string // what to do, as a parent who reads no music can carry it out
}

// Goals say when it is done. What is empty is not asked.
type Goals struct {
	TempoBpm  float64 `json:",omitzero"` // quarter notes a minute
	Dynamics  string  `json:",omitzero"`
	Tone      string  `json:",omitzero"`
	Stroke    string  `json:",omitzero"` // rest or free
	Fingering string  `json:",omitzero"`
	DoneWhen  string  `json:",omitzero"`
}
