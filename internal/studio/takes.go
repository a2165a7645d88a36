package studio

import (
	"encoding/json"
	"time"
)

// TakeState is where a take is on its way.
type TakeState string

const (
	Arriving   TakeState = "arriving"    // announced; its bytes are not all here
	Waiting    TakeState = "waiting"     // safe, and waiting to be heard
	BeingHeard TakeState = "being-heard" //
	Ready      TakeState = "ready"       // a hearing is there
	NeedsALook TakeState = "needs-look"  // the ear could do nothing with it; Why says why
)

// Take is a recording sent for an assignment.
type Take struct {
	ID         TakeID
	Studio     StudioID
	Family     FamilyID // the studio's Shelf for the teacher's own take
	Student    StudentID
	Assignment AssignmentID // "" until somebody said what it is for
	Work       WorkID       // what is played; the assignment's, or what the teacher said; "" unknown
	By         PersonID     // who sent it; "" for the inbox folder
	State      TakeState
	Why        string // of NeedsALook, for a person
	FileName   string // as it was called where it came from; never a path
	Note       string // what the family says with it
	Hurt       bool   // the family says that something hurt
	Bytes      int64  // announced; once it arrived, of what was sent
	Announced  time.Time
	Arrived    time.Time // zero while it is arriving
	KeepUntil  time.Time // then the clock deletes it
	Answered   time.Time // zero while the teacher has not answered
	Changed    time.Time // last change of anything here
	Turn       int       // how often the ear began on it
	DurationS  float64   // 0 unknown
	Concerns   []Concern // what to know before listening; nil while it was not heard
	SoundsLike []Likeness
	SameAs     TakeID   // the same sound was sent before; "" no
	Summary    *Summary // of the newest hearing; nil while there is none
	With       Partner  // what sounded beside the child; the zero value is nothing
}

// Partner is what sounded beside the child while a take was recorded.
type Partner struct {
	Second
	Bpm       float64 `json:",omitzero"` // quarter notes a minute that it kept
	StartS    float64 `json:",omitzero"` // where in the take its first bar begins, seconds
	Speaker   bool    `json:",omitzero"` // from the speaker, so that it is in the recording; else in headphones
	HandsOnly bool    `json:",omitzero"` // the camera was on the hands
}

// Model says that it is the teacher's own take, and no family's.
func (t Take) Model() bool { return t.Family == Shelf(t.Studio) }

// Concern is something about a take that should be known before time is spent on it.
type Concern struct {
	Kind string  // too-quiet, clipped, cut-off, other-piece, not-this-score, string-out-of-tune, noisy, short …
	Say  string  // one sentence
	AtS  float64 `json:",omitzero"` // seconds from the start, where it has a place
}

// Likeness is a work that a take sounds like, the likeliest first.
type Likeness struct {
	Work       WorkID
	Confidence float64 // 0 to 1
}

// Summary is the least that a list shows of a hearing, so that lists never read hearings.
type Summary struct {
	Bpm           float64 // quarter notes a minute, the median; 0 unknown
	SteadinessPct float64 // spread about the local tempo, in percent
	RightShare    float64 // of the notes asked, 0 to 1
	Notes         int     // of the score, in the bars played
	Wrong         int
	Missed        int
	Extra         int
	Restarts      int
	FromBar       string
	ToBar         string
}

// MediaKind is what one file of a take is.
type MediaKind string

const (
	Original MediaKind = "original" // as it was sent, without its metadata once it is Clean
	Playable MediaKind = "playable" // what every browser plays
	Poster   MediaKind = "poster"
	Peaks    MediaKind = "peaks"
	Spoken   MediaKind = "remark" // a remark, said or filmed; a take may have many

	CutClip    MediaKind = "clip"      // of a lesson: a stretch that was cut out of a take, and goes with it too
	ItemAnswer MediaKind = "answer"    // of a lesson: what the teacher recorded of one item
	Filmed     MediaKind = "film"      // of a lesson: all of it in one
	ToHear     MediaKind = "recording" // of a lesson: to be listened to
	Voice      MediaKind = "voice"     // of a student: a voice note from home
)

// told says that such a file may tell of place and device until it is clean, and is served to nobody before.
func (k MediaKind) told() bool {
	return k == Spoken || k == ItemAnswer || k == ToHear || k == Voice
}

// Media is one file. Its bytes are a blob named by its own id.
type Media struct {
	ID         MediaID
	Studio     StudioID
	Family     FamilyID
	Student    StudentID
	Take       TakeID   // "" where it is of none
	Lesson     LessonID // "" where it is of none
	Kind       MediaKind
	What       string `json:",omitzero"` // of a clip Clip.Key, of an answer or a recording the assignment
	Type       string // media type, "video/mp4"
	Bytes      int64
	SHA256     string // hex
	Clean      bool   // place and device are taken out of it
	SentSHA256 string // of an original: the sum of what was sent
	Made       time.Time
}

// teachersOwn says that no child is heard in a file of a lesson.
func (m Media) teachersOwn() bool {
	return m.Kind == ItemAnswer || m.Kind == ToHear || m.Kind == Filmed || m.Kind == CutClip && m.Take == ""
}

func (m Media) Key() BlobKey { return BlobKey{m.Studio, m.Family, m.ID} }

// Hearing is what the ear measured, kept as the JSON contract it was given in.
type Hearing struct {
	ID     HearingID
	Studio StudioID
	Family FamilyID
	Take   TakeID
	Schema string // "antiphon.hearing/1"
	JSON   json.RawMessage
	Heard  time.Time
}

// Print is what a take sounds like, small enough to compare with many.
type Print struct {
	Studio  StudioID
	Family  FamilyID
	Student StudentID
	Take    TakeID
	Bytes   []byte
	Arrived time.Time
}

// Correction is where the teacher knew better than the ear. It never changes a hearing.
type Correction struct {
	ID      CorrectionID
	Studio  StudioID
	Family  FamilyID
	Take    TakeID
	Hearing HearingID // that was corrected
	By      PersonID
	Kind    string          // "note-right", "this-bar", "no-restart" …
	What    json.RawMessage // where and what instead
	Made    time.Time
}

// Remark is what the teacher says about a place in a take.
type Remark struct {
	ID      RemarkID
	Studio  StudioID
	Family  FamilyID
	Student StudentID
	Take    TakeID
	By      PersonID
	Anchor  Anchor
	Text    string
	Remedy  string  // id in the book of remedies; "" none
	Media   MediaID // of a spoken or filmed remark; "" for text
	Made    time.Time
}

// Anchor is the place of a remark. A moment always; a bar, a note or lines on a frozen frame where they help.
type Anchor struct {
	AtS   float64         // seconds from the start of the take
	Bar   string          `json:",omitzero"`
	Note  string          `json:",omitzero"` // id of a score note in the hearing
	Frame json.RawMessage `json:",omitzero"` // drawing on the frame at AtS
}
