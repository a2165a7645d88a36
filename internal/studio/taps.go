package studio

import "time"

// Tap is one thing that was tapped at home. Its id is made by the phone, so that the same tap sent twice is one.
type Tap struct {
	ID         string // 8 to 64 letters, digits and dashes
	Studio     StudioID
	Family     FamilyID
	Student    StudentID
	Assignment AssignmentID // "" where it is of none, or of one that was taken back
	By         PersonID
	Kind       TapKind
	At         time.Time // by the phone, between the lesson and now
	Came       time.Time
	Clean      bool    // of TapTry
	Bpm        float64 // of TapTry and TapRung: quarter notes a minute; 0 not known
	Seconds    float64 // how long it took; 0 not known
	Text       string
	Media      MediaID   // of TapVoice; "" none, or not kept any more
	Right      bool      // of TapAnswer: the studio's own comparison
	Answered   time.Time // by the teacher; zero not yet
	KeepUntil  time.Time // then the clock deletes it
}

// TapKind is what was tapped.
type TapKind string

const (
	TapDone     TapKind = "done"
	TapUndone   TapKind = "undone" // takes the last done of that day back
	TapTry      TapKind = "try"    // Clean says how it went, Bpm how fast
	TapRung     TapKind = "rung"   // Bpm was reached
	TapHurt     TapKind = "hurt"   // Text says what
	TapQuestion TapKind = "question"
	TapVoice    TapKind = "voice"  // through SayVoice only
	TapHeard    TapKind = "heard"  // a recording was listened to
	TapAnswer   TapKind = "answer" // Text to the question of the assignment
	TapChose    TapKind = "chose"  // Text says which way
)

// TapQuery narrows a list of taps. The newest come first.
type TapQuery struct {
	Student    StudentID
	Assignment AssignmentID
	Since      time.Time // tapped then or later; zero for all
	Told       bool      // without tries and rungs, of which there are many
	Limit      int       // 0 means 50, and never more than 500
}

// SoFar is how a student's week fills in.
type SoFar struct {
	Student   Student
	Family    Family
	Lesson    LessonID // the one that was sent last; "" none yet
	Day       string   // of the lesson
	Sent      time.Time
	Opened    time.Time // by the family; zero not yet
	Days      []string  // on which something was practised since, 2026-11-25
	Items     []ItemSoFar
	Questions []Tap // questions and voice notes since the lesson, and older ones that nobody answered; the oldest first
	Hurts     []Tap // the same
}

// ItemSoFar is one assignment, and what was tapped of it.
type ItemSoFar struct {
	Assignment
	Done    int // how often
	Tries   int
	Clean   int         // of the tries
	TopBpm  float64     // the fastest clean try or rung reached; 0 none
	Heard   bool        // the recording was listened to
	Answer  string      // the last one to its question
	Right   bool        // one of the answers was right
	Chose   string      // which of two ways, in the words of the task
	Way     int         // the same as its number, 1 or 2; 0 none, or words that are neither
	Choice  FingeringID // the fingers of that way, while they are not the student's own; "" none
	Stopped bool        // it hurt, and the teacher has not answered
}
