package studio

import (
	"context"
	"encoding/json"
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
// or the family it is for: an id from elsewhere is ErrNotFound, in reading and in writing. The
// exceptions take a secret instead of a name: OpenInvitation, RedeemInvitation, DeviceByHash, TakeSetUp,
// TakeRecoveryCode, TakeEmailSecret and ForgetEmail; PutSetUp and FirstStudio are asked before anybody is known.
// Lists are in the order in which things happened, and then by id, where they do not say otherwise.
type Records interface {
	peopleRecords
	doorRecords
	accountRecords
	libraryRecords
	fingeringRecords
	lessonRecords
	takeRecords
	unsortedRecords
	reviewRecords
	answerRecords
	reachRecords
	wordRecords
	tapRecords
	planRecords
	careRecords
}

type peopleRecords interface {
	AddStudio(ctx context.Context, s Studio) error // with its Shelf
	PutStudio(ctx context.Context, s Studio) error // name, clocks and language
	Studio(ctx context.Context, id StudioID) (Studio, error)
	FirstStudio(ctx context.Context) (Studio, error)
	AddFamily(ctx context.Context, f Family) error
	Families(ctx context.Context, in Scope) ([]Family, error)
	AddPerson(ctx context.Context, p Person) error
	People(ctx context.Context, in Scope) ([]Person, error)
	AddStudent(ctx context.Context, s Student) error
	PutStudent(ctx context.Context, s Student) error // name, media and what the family is told
	Student(ctx context.Context, in Scope, id StudentID) (Student, error)
	Students(ctx context.Context, in Scope) ([]Student, error)
	AddConsent(ctx context.Context, c Consent) error
	Consents(ctx context.Context, in Scope) ([]Consent, error)
	// Pulse says of every student when something was last heard from and last said to them.
	Pulse(ctx context.Context, s StudioID) ([]Pulse, error)
}

type doorRecords interface {
	AddInvitation(ctx context.Context, i Invitation) error
	// OpenInvitation reads an invitation that is open, and leaves it so.
	OpenInvitation(ctx context.Context, hash string, now time.Time) (Invitation, error)
	// RedeemInvitation closes an open invitation that has not expired, and returns it: exactly one
	// of two callers gets it, the other ErrNotFound.
	RedeemInvitation(ctx context.Context, hash string, now time.Time) (Invitation, error)
	Invitations(ctx context.Context, in Scope) ([]Invitation, error)
	AddDevice(ctx context.Context, d Device) error
	DeviceByHash(ctx context.Context, hash string) (Device, Person, error) // not a revoked one
	SeeDevice(ctx context.Context, d Device) error                         // keeps d.Seen
	Devices(ctx context.Context, in Scope) ([]Device, error)
	RevokeDevice(ctx context.Context, in Scope, id DeviceID, now time.Time) error
	NameDevice(ctx context.Context, in Scope, id DeviceID, name string) error // not a revoked one
}

// accountRecords are the teacher's. SetUp's and recovery's secrets are taken by exactly one caller.
type accountRecords interface {
	PutSetUp(ctx context.Context, hash string, now time.Time) error // the only one from now on
	TakeSetUp(ctx context.Context, hash string) error
	PutPassword(ctx context.Context, p Person, hash string, now time.Time) error
	Password(ctx context.Context, p Person) (hash string, err error)
	PutRecoveryCodes(ctx context.Context, p Person, hashes []string, now time.Time) error // instead of the older ones
	TakeRecoveryCode(ctx context.Context, hash string) (Person, error)
	RecoveryCodesLeft(ctx context.Context, p Person) (int, error)
	AddPasskey(ctx context.Context, k Passkey) error
	PutPasskey(ctx context.Context, k Passkey) error // its credential and Used
	Passkeys(ctx context.Context, s StudioID) ([]Passkey, error)
	RemovePasskey(ctx context.Context, s StudioID, id PasskeyID) error
}

type libraryRecords interface {
	AddWork(ctx context.Context, w Work) error
	PutWork(ctx context.Context, w Work) error // everything but Added
	Work(ctx context.Context, s StudioID, id WorkID) (Work, error)
	// HoldWork is Work, in a transaction: until it ends nobody else changes the work or its score.
	HoldWork(ctx context.Context, s StudioID, id WorkID) (Work, error)
	Works(ctx context.Context, s StudioID) ([]Work, error) // without scores
	AddEarlier(ctx context.Context, e EarlierScore) error
	Earlier(ctx context.Context, s StudioID, w WorkID) ([]EarlierScore, error) // the latest first, without the scores themselves
	EarlierScore(ctx context.Context, s StudioID, w WorkID, id EarlierID) (EarlierScore, error)
	RemoveEarlier(ctx context.Context, s StudioID, id EarlierID) error
	// Candidates are works with scores, those asked of the student first, the latest before the others.
	Candidates(ctx context.Context, s StudioID, of StudentID, limit int) ([]Work, error)
	PutCollection(ctx context.Context, c Collection) error // whole, items and order
	Collections(ctx context.Context, s StudioID) ([]Collection, error)
	AddPassage(ctx context.Context, p Passage) error
	Passages(ctx context.Context, s StudioID, w WorkID) ([]Passage, error)
	RemovePassage(ctx context.Context, s StudioID, id PassageID) error
	PutOwnRemedy(ctx context.Context, s StudioID, id string, doc json.RawMessage) error // nil removes it
	OwnRemedies(ctx context.Context, s StudioID) (map[string]json.RawMessage, error)
}

type fingeringRecords interface {
	AddFingering(ctx context.Context, f OwnFingering) error
	PutFingering(ctx context.Context, f OwnFingering) error // Score, Held, Ended and Fits
	Fingering(ctx context.Context, in Scope, id FingeringID) (OwnFingering, error)
	// HoldingFingering is the one that holds for a student and a work; ErrNotFound where none does.
	HoldingFingering(ctx context.Context, in Scope, s StudentID, w WorkID) (OwnFingering, error)
	Fingerings(ctx context.Context, in Scope, s StudentID, w WorkID) ([]OwnFingering, error)     // "" for all; the newest first
	FingeringsKept(ctx context.Context, in Scope, s StudentID, w WorkID) ([]OwnFingering, error) // the same without the scores
	FingeringsOf(ctx context.Context, s StudioID, w WorkID) ([]OwnFingering, error)              // every student's
}

type lessonRecords interface {
	// PutLesson keeps a draft with its assignments. l.Version is the one that was read, 0 for a new
	// lesson; another version in the store, or a lesson that was sent, is ErrConflict.
	PutLesson(ctx context.Context, l Lesson) error
	RemoveDraft(ctx context.Context, in Scope, id LessonID) error // a sent one is ErrConflict
	SendLesson(ctx context.Context, in Scope, id LessonID, version int, now time.Time) error
	// SetSending sets the hour of a draft, zero for none; that is a change of the draft, and keeps now as Saved.
	SetSending(ctx context.Context, in Scope, id LessonID, version int, at, now time.Time) error
	MissHour(ctx context.Context, in Scope, id LessonID) error                   // a draft does not go out at its hour
	DueLessons(ctx context.Context, s StudioID, now time.Time) ([]Lesson, error) // drafts whose hour has come
	// UnsendLesson makes a lesson that was sent then a draft again, and what was answered then unanswered.
	UnsendLesson(ctx context.Context, in Scope, id LessonID, s StudentID, sent time.Time) error
	SeeLesson(ctx context.Context, in Scope, id LessonID, now time.Time) error // the first time counts
	Lesson(ctx context.Context, in Scope, id LessonID) (Lesson, error)
	Lessons(ctx context.Context, in Scope, q LessonQuery) ([]Lesson, error)
	// Assigned finds an assignment that stands in a sent lesson of the student, with the lesson's head.
	Assigned(ctx context.Context, in Scope, s StudentID, a AssignmentID) (Assignment, Lesson, error)
	WorkAsked(ctx context.Context, in Scope, w WorkID) (bool, error)  // in any sent lesson
	ModelAsked(ctx context.Context, in Scope, t TakeID) (bool, error) // the teacher's own take, in any sent lesson
	// LastLessons are of each student the one that was sent last; "" for all students.
	LastLessons(ctx context.Context, in Scope, s StudentID) ([]Lesson, error)
	Course(ctx context.Context, in Scope, s StudentID) ([]CourseLine, error)
}

type takeRecords interface {
	AddTake(ctx context.Context, t Take) error
	Take(ctx context.Context, in Scope, id TakeID) (Take, error)
	Takes(ctx context.Context, in Scope, q TakeQuery) ([]Take, error) // the newest first
	Unanswered(ctx context.Context, in Scope) ([]Take, error)         // the oldest first; no model takes
	TakesChanged(ctx context.Context, in Scope, since time.Time, limit int) ([]Take, error)
	TakesUntil(ctx context.Context, s StudioID, t time.Time) ([]Take, error) // whose time is over
	// MoveTake keeps everything of t but what it is of and when it was announced and answered. The
	// take must be in one of from and be as t was read: t.Changed is the old time, now the new one.
	// Else it is ErrConflict.
	MoveTake(ctx context.Context, t Take, now time.Time, from ...TakeState) error
	// AnswerTakes marks a take as answered now, or with only "" all that arrived until then.
	AnswerTakes(ctx context.Context, in Scope, s StudentID, only TakeID, until, now time.Time) error
	RemoveTake(ctx context.Context, in Scope, id TakeID) error // with all that hangs on it
	AddMedia(ctx context.Context, m Media) error
	Media(ctx context.Context, in Scope, take TakeID) ([]Media, error) // "" for all, those of no take too
	Unclean(ctx context.Context, s StudioID) ([]Media, error)          // files that people recorded to say something, and that still hold place and device
	MediaOfLesson(ctx context.Context, in Scope, l LessonID) ([]Media, error)
	MediaByID(ctx context.Context, in Scope, id MediaID) (Media, error)
	LessonFilesUntil(ctx context.Context, s StudioID, made time.Time) ([]Media, error) // files of lessons made then or before
	RemoveMedia(ctx context.Context, in Scope, id MediaID) error
	// SameBytes finds an arrived take of this family's that was sent with these bytes.
	SameBytes(ctx context.Context, in Scope, sha256 string) (Take, error)
	AddPrint(ctx context.Context, p Print) error // instead of an older one
	Prints(ctx context.Context, in Scope, s StudentID, since time.Time) ([]Print, error)
	Load(ctx context.Context, in Scope, since time.Time) (Load, error)
}

type unsortedRecords interface {
	AddUnsorted(ctx context.Context, u Unsorted) error
	Unsorted(ctx context.Context, s StudioID, id UnsortedID) (Unsorted, error)
	AllUnsorted(ctx context.Context, s StudioID) ([]Unsorted, error)
	PutUnsorted(ctx context.Context, u Unsorted) error // state, why and guesses
	RemoveUnsorted(ctx context.Context, s StudioID, id UnsortedID) error
}

type reviewRecords interface {
	AddHearing(ctx context.Context, h Hearing) error
	Hearings(ctx context.Context, in Scope, take TakeID) ([]Hearing, error) // the newest last
	NewestHearing(ctx context.Context, in Scope, take TakeID) (Hearing, error)
	AddCorrection(ctx context.Context, c Correction) error
	Corrections(ctx context.Context, in Scope, take TakeID) ([]Correction, error)
	RemoveCorrection(ctx context.Context, in Scope, id CorrectionID) error
	AddRemark(ctx context.Context, r Remark) error
	Remarks(ctx context.Context, in Scope, take TakeID) ([]Remark, error)
	RemarksTo(ctx context.Context, in Scope, s StudentID, limit int) ([]Remark, error) // the newest first
	Remark(ctx context.Context, in Scope, id RemarkID) (Remark, error)
	PutRemark(ctx context.Context, r Remark) error // its text
	// Respeak gives the remark that was said in a file another one, "" for none.
	Respeak(ctx context.Context, in Scope, take TakeID, from, to MediaID) error
	RemoveRemark(ctx context.Context, in Scope, id RemarkID) error
	Said(ctx context.Context, in Scope, s StudentID, remedy string) ([]Said, error) // the newest first
}

type answerRecords interface {
	PutAnswer(ctx context.Context, a Answer) error                              // instead of an older one
	Answers(ctx context.Context, in Scope, l LessonID) ([]Answer, error)        // "" for those of all lessons
	Reanswer(ctx context.Context, in Scope, l LessonID, from, to MediaID) error // gives the answer that is in a file another one
	RemoveAnswer(ctx context.Context, in Scope, l LessonID, a AssignmentID) error
	PutFilm(ctx context.Context, f Film) error // instead of an older one
	Film(ctx context.Context, in Scope, l LessonID) (Film, error)
	Films(ctx context.Context, in Scope) ([]Film, error)
	RemoveFilm(ctx context.Context, in Scope, l LessonID) error
}

type reachRecords interface {
	PutPerson(ctx context.Context, p Person) error // address, when it was confirmed, note names and language; without an address its secrets go
	PutEmailSecrets(ctx context.Context, p Person, hash, off string, now time.Time) error
	// TakeEmailSecret confirms the address that was asked for since then: exactly one caller gets the person.
	TakeEmailSecret(ctx context.Context, hash string, since, now time.Time) (Person, error)
	MailsOffSecret(ctx context.Context, p Person) (string, error)
	ForgetEmail(ctx context.Context, off string) error
	PutPush(ctx context.Context, a PushAddress) error                               // instead of the device's older one; of a device that is good
	PushAddresses(ctx context.Context, in Scope, p PersonID) ([]PushAddress, error) // "" for all people
	RemovePush(ctx context.Context, in Scope, id PushID) error
	AddNotice(ctx context.Context, n Notice) error
	Notice(ctx context.Context, in Scope, id NoticeID) (Notice, error)
	Notices(ctx context.Context, in Scope) ([]Notice, error)
	OpenNotices(ctx context.Context, in Scope, p PersonID) ([]Notice, error) // not sent yet, and not given up
	PutNotice(ctx context.Context, n Notice) error                           // Sent, Tries, Why and State
	DropNotices(ctx context.Context, in Scope, about string) error           // that are not sent
	RemoveNotices(ctx context.Context, s StudioID, before time.Time) error
}

type wordRecords interface {
	AddNudge(ctx context.Context, n Nudge) error
	Nudges(ctx context.Context, in Scope, s StudentID) ([]Nudge, error) // "" for all
	PutPhrase(ctx context.Context, p Phrase) error                      // new, or instead of the one with its id
	Phrases(ctx context.Context, s StudioID) ([]Phrase, error)          // those said last first
	RemovePhrase(ctx context.Context, s StudioID, id string) error
	PutLetter(ctx context.Context, l Letter) error // as PutLesson
	Letter(ctx context.Context, in Scope, id LetterID) (Letter, error)
	Letters(ctx context.Context, in Scope, s StudentID) ([]Letter, error) // "" for all; the newest first
	SendLetter(ctx context.Context, in Scope, id LetterID, version int, now time.Time) error
	RemoveLetter(ctx context.Context, in Scope, id LetterID) error // a draft
}

type tapRecords interface {
	AddTap(ctx context.Context, t Tap) (fresh bool, err error) // one that is there stays as it is
	Tap(ctx context.Context, in Scope, s StudentID, id string) (Tap, error)
	Taps(ctx context.Context, in Scope, q TapQuery) ([]Tap, error)        // the newest first
	OpenTaps(ctx context.Context, in Scope, s StudentID) ([]Tap, error)   // hurts, questions and voice notes that nobody answered; "" for all students
	TapsOfWeek(ctx context.Context, in Scope, s StudentID) ([]Tap, error) // since the student's last sent lesson, in the order of students; "" for all
	TapsCame(ctx context.Context, in Scope, since time.Time) (int, error) // how many
	AnswerTap(ctx context.Context, in Scope, s StudentID, id string, now time.Time) error
	AnswerTaps(ctx context.Context, in Scope, s StudentID, until, now time.Time) error // all that OpenTaps lists and that came until then
	// ResayTap gives the tap that was said in a file another one, "" for none.
	ResayTap(ctx context.Context, in Scope, from, to MediaID) error
	TapsUntil(ctx context.Context, s StudioID, t time.Time) ([]Tap, error) // whose time is over
	RemoveTap(ctx context.Context, in Scope, s StudentID, id string) error
}

type careRecords interface {
	LogAccess(ctx context.Context, a Access) error
	Logged(ctx context.Context, a Access, since time.Time) (bool, error)               // whether a line like a is there since then
	AccessLog(ctx context.Context, in Scope, s StudentID, limit int) ([]Access, error) // "" for all, limit 0 all; the newest first
	// EraseFamily deletes every row of the family and counts what was there.
	EraseFamily(ctx context.Context, in Scope) (Receipt, error)
	AddReceipt(ctx context.Context, r Receipt) error
	Receipts(ctx context.Context, s StudioID) ([]Receipt, error)
	Looks(ctx context.Context, s StudioID) (Looks, error)
	PutLooks(ctx context.Context, s StudioID, l Looks) error
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
