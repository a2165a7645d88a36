package studio

import "time"

// DefaultKeepDays is how long a take is kept where nobody decided otherwise: one school year and its
// summer (our choice, no source).
const DefaultKeepDays = 400

// DefaultReplyDays is the promise of a new studio: answered within three days (our choice, no source).
const DefaultReplyDays = 3

const DefaultLanguage = "en"

// Studio is one teacher's practice.
type Studio struct {
	ID        StudioID
	Name      string
	KeepDays  int    // takes are deleted this many days after they arrived; at least 1
	ReplyDays int    // the promise: answered within so many days of arrival; at least 1
	Language  string // of the pages, "en"
	Founded   time.Time
}

// Shelf is where what belongs to no family is filed: the teacher's own takes, and files that nobody
// sorted yet. It is in no list of families.
func Shelf(s StudioID) FamilyID { return FamilyID(s) }

// Family is a household: what one family sees, no other does.
type Family struct {
	ID     FamilyID
	Studio StudioID
	Name   string
	Since  time.Time
}

// Person is an adult: the teacher, or a home coach of one family.
type Person struct {
	ID     PersonID
	Studio StudioID
	Family FamilyID // "" for the teacher
	Role   Role
	Name   string

	Email     string    // "" none
	EmailAt   time.Time // when it was confirmed; zero not yet, and then nothing is sent there
	NoteNames NoteNames

	Language   string    // that a coach chose; "" the family's, see Desk.FamilyLanguage
	LanguageAt time.Time // when it was chosen; zero never
}

// Student is a learner. Only a first name is asked for.
type Student struct {
	ID     StudentID
	Studio StudioID
	Family FamilyID
	Name   string
	Media  MediaMode // what may be sent of this child
	Since  time.Time

	TellHearing bool // the family reads what was heard, in its own words
}

// MediaMode is what a family agreed to send.
type MediaMode string

const (
	SoundOnly MediaMode = "sound"
	HandsOnly MediaMode = "hands" // video without the face; a person sees to it
	FullVideo MediaMode = "video"
)

// Consent is what an adult agreed to, in the words that were shown.
type Consent struct {
	ID       ConsentID
	Studio   StudioID
	Family   FamilyID
	Person   PersonID
	What     string // what is kept
	KeepDays int    // for how long
	Who      string // who sees it
	Given    time.Time
}

// Device is a phone or a computer that was bound to a person. Its secret is stored as a hash.
type Device struct {
	ID      DeviceID
	Studio  StudioID
	Family  FamilyID // "" for the teacher
	Person  PersonID
	Name    string
	Hash    string `json:"-"`
	Bound   time.Time
	Seen    time.Time // last day on which it asked for something; zero before the first
	Revoked time.Time // zero while it is good
}

// Invitation is a link that binds one device, once, until it expires. Its secret is stored as a hash.
type Invitation struct {
	ID       InvitationID
	Studio   StudioID
	Family   FamilyID
	Hash     string `json:"-"`
	What     string // the consent that is asked
	KeepDays int
	Who      string
	Made     time.Time
	Expires  time.Time
	Redeemed time.Time // zero while it is open
}
