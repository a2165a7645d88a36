package studio

import (
	"context"
	"io"
	"time"
)

// Store keeps a studio's facts. What Within's function did is there wholly when Within returned nil,
// even if the machine stops at that moment, and not at all when it returned an error. The function
// uses nothing but its tx, and may not keep it.
type Store interface {
	Records
	Within(ctx context.Context, do func(tx Records) error) error
}

// Records is what can be asked and told, in a transaction or outside. Every method names the studio
// or the family it is for: an id from elsewhere is ErrNotFound, in reading and in writing. The two
// exceptions take a secret instead of a name: RedeemInvitation and DeviceByHash.
// Lists are in the order in which things happened, and then by id.
type Records interface {
	peopleRecords
	doorRecords
	libraryRecords
	lessonRecords
	takeRecords
	reviewRecords
	careRecords
}

type peopleRecords interface {
	AddStudio(ctx context.Context, s Studio) error
	Studio(ctx context.Context, id StudioID) (Studio, error)
	AddFamily(ctx context.Context, f Family) error
	Families(ctx context.Context, in Scope) ([]Family, error)
	AddPerson(ctx context.Context, p Person) error
	People(ctx context.Context, in Scope) ([]Person, error)
	AddStudent(ctx context.Context, s Student) error
	Student(ctx context.Context, in Scope, id StudentID) (Student, error)
	Students(ctx context.Context, in Scope) ([]Student, error)
	AddConsent(ctx context.Context, c Consent) error
	Consents(ctx context.Context, in Scope) ([]Consent, error)
}

type doorRecords interface {
	AddInvitation(ctx context.Context, i Invitation) error
	// RedeemInvitation closes an open invitation that has not expired, and returns it: exactly one
	// of two callers gets it, the other ErrNotFound.
	RedeemInvitation(ctx context.Context, hash string, now time.Time) (Invitation, error)
	AddDevice(ctx context.Context, d Device) error
	DeviceByHash(ctx context.Context, hash string) (Device, Person, error) // not a revoked one
	Devices(ctx context.Context, in Scope) ([]Device, error)
	RevokeDevice(ctx context.Context, in Scope, id DeviceID, now time.Time) error
}

type libraryRecords interface {
	AddWork(ctx context.Context, w Work) error
	Work(ctx context.Context, s StudioID, id WorkID) (Work, error)
	Works(ctx context.Context, s StudioID) ([]Work, error) // without scores
	PutCollection(ctx context.Context, c Collection) error // whole, items and order
	Collections(ctx context.Context, s StudioID) ([]Collection, error)
}

type lessonRecords interface {
	// PutLesson keeps a draft with its assignments. l.Version is the one that was read, 0 for a new
	// lesson; another version in the store, or a lesson that was sent, is ErrConflict.
	PutLesson(ctx context.Context, l Lesson) error
	SendLesson(ctx context.Context, in Scope, id LessonID, version int, now time.Time) error
	Lesson(ctx context.Context, in Scope, id LessonID) (Lesson, error)
	Lessons(ctx context.Context, in Scope, drafts bool) ([]Lesson, error)
	// StudentAsked says whether the assignment stands in a sent lesson of the student.
	StudentAsked(ctx context.Context, in Scope, s StudentID, a AssignmentID) (bool, error)
}

type takeRecords interface {
	AddTake(ctx context.Context, t Take) error
	Take(ctx context.Context, in Scope, id TakeID) (Take, error)
	Takes(ctx context.Context, in Scope, student StudentID) ([]Take, error) // "" for all
	TakesIn(ctx context.Context, in Scope, state TakeState) ([]Take, error)
	TakesUntil(ctx context.Context, s StudioID, t time.Time) ([]Take, error) // whose time is over
	// MoveTake changes State, Why, Arrived and KeepUntil of a take that is in one of from, else ErrConflict.
	MoveTake(ctx context.Context, t Take, from ...TakeState) error
	RemoveTake(ctx context.Context, in Scope, id TakeID) error // with all that hangs on it
	AddMedia(ctx context.Context, m Media) error
	Media(ctx context.Context, in Scope, take TakeID) ([]Media, error)
	MediaByID(ctx context.Context, in Scope, id MediaID) (Media, error)
	// SameBytes finds an arrived take of this family's whose original has these bytes.
	SameBytes(ctx context.Context, in Scope, sha256 string) (Take, error)
}

type reviewRecords interface {
	AddHearing(ctx context.Context, h Hearing) error
	Hearings(ctx context.Context, in Scope, take TakeID) ([]Hearing, error) // the newest last
	AddCorrection(ctx context.Context, c Correction) error
	Corrections(ctx context.Context, in Scope, take TakeID) ([]Correction, error)
	AddRemark(ctx context.Context, r Remark) error
	Remarks(ctx context.Context, in Scope, take TakeID) ([]Remark, error)
}

type careRecords interface {
	LogAccess(ctx context.Context, a Access) error
	AccessLog(ctx context.Context, in Scope, s StudentID) ([]Access, error) // "" for all
	// EraseFamily deletes every row of the family and counts what was there.
	EraseFamily(ctx context.Context, in Scope) (Receipt, error)
	AddReceipt(ctx context.Context, r Receipt) error
	Receipts(ctx context.Context, s StudioID) ([]Receipt, error)
	Doom(ctx context.Context, d Doomed) error
	Dooms(ctx context.Context, s StudioID) ([]Doomed, error)
	Undoom(ctx context.Context, d Doomed) error
}

// BlobKey names one file. All three are ids, so no name from outside can become a path.
type BlobKey struct {
	Studio StudioID
	Family FamilyID
	Media  MediaID
}

// Blobs keeps files: whole ones, or none.
type Blobs interface {
	// Put keeps what r gives. When it returns nil the bytes are safe; after an error, or a kill,
	// there is no such file. More than limit bytes is ErrTooLarge.
	Put(ctx context.Context, key BlobKey, r io.Reader, limit int64) (bytes int64, sha256 string, err error)
	Open(ctx context.Context, key BlobKey) (io.ReadSeekCloser, error) // ErrNotFound
	Remove(ctx context.Context, key BlobKey) error                    // one that is not there is no error
	RemoveFamily(ctx context.Context, s StudioID, f FamilyID) error
	// Each calls do for every file of a studio, with the time it was written.
	Each(ctx context.Context, s StudioID, do func(key BlobKey, written time.Time) error) error
}
