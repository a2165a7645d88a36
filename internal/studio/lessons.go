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
	SendAt      time.Time // of a draft: the hour at which it goes out by itself; zero none
	Missed      time.Time // of a draft: the hour at which it was to go out and was not fit to; zero none
	Sent        time.Time // zero while it is a draft
	Opened      time.Time // when the family saw it first; zero not yet
}

// Assignment is one thing asked until the next lesson.
type Assignment struct {
	ID        AssignmentID
	Ask       Ask    // what kind of thing
	Work      WorkID // "" where the kind needs none
	FromBar   string // "" with ToBar "": all of it
	ToBar     string
	Goals     Goals
	Do        string    // what to do, as a parent who reads no music can carry it out
	Minutes   int       `json:",omitzero"` // a day; 0 not said
	Watch     string    `json:",omitzero"` // what to watch for
	Coach     []string  `json:",omitzero"` // goals that the adult at home sees; never claimed from sound
	Like      Clip      `json:",omitzero"` // like this
	Unlike    Clip      `json:",omitzero"` // not like this
	Best      Clip      `json:",omitzero"` // the child's own best moment, as a loop
	Last      Clip      `json:",omitzero"` // and the last one
	Ladder    Ladder    `json:",omitzero"`
	Model     TakeID    `json:",omitzero"` // a take of the teacher's own to hear; "" none
	Question  *Question `json:",omitzero"` // asked with it; nil none
	Second    Second    `json:",omitzero"` // of AskTogether
	Ways      [2]Way    `json:",omitzero"` // of AskChoose
	Opens     string    `json:",omitzero"` // of AskHeld: what would open it
	For       WorkID    `json:",omitzero"` // the piece that a technique or a reading serves; "" none
	Recording MediaID   `json:",omitzero"` // of AskListen: what KeepRecording kept; "" none
	// Half is of a draft: what was typed so far where it cannot be read yet, by the name of its field. Nothing goes out with it.
	Half map[string]string `json:",omitzero"`
}

// Goals say when it is done. What is empty is not asked.
type Goals struct {
	TempoBpm   float64 `json:",omitzero"` // quarter notes a minute; where FromBpm is given, the tempo to arrive at
	FromBpm    float64 `json:",omitzero"` // the tempo to begin with
	CleanRun   int     `json:",omitzero"` // clean passes in a row
	ContrastDb float64 `json:",omitzero"` // between loud and soft
	Dynamics   string  `json:",omitzero"`
	Tone       string  `json:",omitzero"`
	Stroke     string  `json:",omitzero"` // rest or free
	Fingering  string  `json:",omitzero"`
	DoneWhen   string  `json:",omitzero"`
}
