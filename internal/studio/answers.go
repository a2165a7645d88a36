package studio

import "time"

// Answer is what the teacher recorded of one item of a lesson: in sound, or filmed.
type Answer struct {
	Lesson     LessonID
	Assignment AssignmentID // "" the opening words
	Studio     StudioID
	Family     FamilyID
	Media      MediaID // "" where the recording could not be played and was not kept
	Type       string  // media type
	DurationS  float64 // 0 until it was measured
	Captions   string  // WebVTT, or plain text; "" none
	Made       time.Time
}

// Film is a lesson's answers in one, with a chapter for each.
type Film struct {
	Lesson    LessonID
	Studio    StudioID
	Family    FamilyID
	Media     MediaID // of a ready one, and of an older one while it is made anew
	DurationS float64
	Chapters  []Chapter
	State     FilmState
	Why       string // of FilmFailed, for a person
}

// Chapter is where in a film one item is.
type Chapter struct {
	Assignment AssignmentID // "" the opening words
	FromS, ToS float64
}

// FilmState is how far a film is.
type FilmState string

const (
	NoFilm     FilmState = ""
	FilmMaking FilmState = "making"
	FilmReady  FilmState = "ready"
	FilmFailed FilmState = "failed"
)
