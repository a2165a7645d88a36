package studio

import "time"

// Access is one line of a child's access log: who looked at what, when.
type Access struct {
	Studio  StudioID
	Family  FamilyID
	Student StudentID
	Take    TakeID // "" for more than one take
	By      PersonID
	Role    Role
	What    string // "looked", "played", "exported"
	At      time.Time
}

// Receipt says that something was deleted, by whom, and how much. It names no child.
type Receipt struct {
	ID       ReceiptID
	Studio   StudioID
	What     string // "family", "take", "retention"
	By       Role
	Takes    int
	Files    int
	Students int
	At       time.Time
}

// Doomed is a file, or with an empty Media all files of a family, that must go. It is written in the
// transaction that deletes the rows, so a kill between the two forgets nothing.
type Doomed struct {
	Studio StudioID
	Family FamilyID
	Media  MediaID
}
