// Package hands chooses string, fret and finger for every note of a score, for the whole piece at
// once: what the left hand holds, where it moves and when, on this guitar and for this hand.
//
// It takes marks in the score as given, tells what it could not honour, and never breaks a limit of
// the player without saying so. It does not choose right-hand fingers, and it does not judge a piece.
package hands

import (
	"antiphon/internal/guitar"
	"antiphon/internal/music"
)

// Skills are what the player does not do yet; the zero value can do everything.
type Skills struct {
	NoFourthFinger, NoBarre, FirstPosition, NoStretch bool
}

// Wish asks for, or forbids, a place or finger of one note.
type Wish struct {
	Note   string // id of music.Sounding
	String int    // 0: any
	Finger int    // -1: any
}

// Options of Finger. The zero value fingers the whole score for an adult on a full-size guitar.
type Options struct {
	Instrument  guitar.Instrument // the zero value takes tuning and capo from the score where it states them
	Hand        guitar.Hand       // the zero value is an adult's
	Skills      Skills
	Fix, Forbid []Wish
	K           int    // answers wanted, the best one counted; 0 means 1
	From, To    string // numbers of the first and last bar of a passage; "" the whole score
	Minimax     bool   // the hardest move as easy as can be first, the sum second
}

// Fingering is the answer.
type Fingering struct {
	Notes        []Placed // in the order of Score.Sounding; only those of the passage
	Cost         float64  // of the whole way; only differences mean something: 1 makes a choice e times less likely
	Alternatives []Alternative
	Told         []Told // what could not be had, or was assumed
	Instrument   guitar.Instrument
}

// Placed is one note with its place.
type Placed struct {
	music.Sounding
	Place   guitar.Place // String 0: the note is not fingered, and Told says why
	Finger  int          // 0 open; -1 not fingered
	Options []Option     // other places and fingers of this note, the chosen one first
}

// Option is one way to take a note.
type Option struct {
	Place     guitar.Place
	Finger    int
	ExtraCost float64 // of the best way through the whole passage that takes the note so
	Reason    string
}

// Alternative is another answer for the whole passage.
type Alternative struct {
	Places []guitar.Place // as Fingering.Notes
	Finger []int
	Cost   float64
	Reason string   // how it differs and what that gains or costs
	Change []string // ids of the notes that are taken otherwise than in the best answer
}

// ToldKind says what a message is about.
type ToldKind string

const (
	Unplayable  ToldKind = "unplayable" // the note is left out
	BeyondSkill ToldKind = "beyond the limits"
	WishBroken  ToldKind = "wish not met"
	Released    ToldKind = "let go early"
	Assumed     ToldKind = "assumed"
)

// Told is one thing a person must know about the answer.
type Told struct {
	Kind  ToldKind
	Bar   string
	Notes []string // ids
	Text  string   // one sentence: what, where, what to do
}
