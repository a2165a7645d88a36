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
	Family     FamilyID
	Student    StudentID
	Assignment AssignmentID // "" until somebody said what it is for
	By         PersonID     // who sent it
	State      TakeState
	Why        string // of NeedsALook, for a person
	Announced  time.Time
	Arrived    time.Time // zero while it is arriving
	KeepUntil  time.Time // then the clock deletes it
	Answered   time.Time // zero while the teacher has not answered
}

// MediaKind is what one file of a take is.
type MediaKind string

const (
	Original MediaKind = "original" // as it was sent
	Playable MediaKind = "playable" // what every browser plays
	Poster   MediaKind = "poster"
	Peaks    MediaKind = "peaks"
	Spoken   MediaKind = "remark" // a remark, said or filmed; a take may have many
)

// Media is one file of a take. Its bytes are a blob named by its own id.
type Media struct {
	ID     MediaID
	Studio StudioID
	Family FamilyID
	Take   TakeID
	Kind   MediaKind
	Type   string // media type, "video/mp4"
	Bytes  int64
	SHA256 string // hex
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
	ID     RemarkID
	Studio StudioID
	Family FamilyID
	Take   TakeID
	By     PersonID
	Anchor Anchor
	Text   string
	Media  MediaID // of a spoken or filmed remark; "" for text
	Made   time.Time
}

// Anchor is the place of a remark. A moment always; a bar, a note or lines on a frozen frame where they help.
type Anchor struct {
	AtS   float64         // seconds from the start of the take
	Bar   string          `json:",omitzero"`
	Note  string          `json:",omitzero"` // id of a score note in the hearing
	Frame json.RawMessage `json:",omitzero"` // drawing on the frame at AtS
}
