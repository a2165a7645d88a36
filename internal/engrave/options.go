package engrave

import (
	"time"

	"antiphon/internal/music"
)

// Options of one engraving. The zero value is a page of 900 pixels with all that the score says.
type Options struct {
	WidthPx float64 // of an SVG or PNG; 0 means 900
	Paper   Paper   // of a PDF; the zero value is A4

	From, Until int // a passage: from bar From, by index, up to and without bar Until; 0 means the end

	Tab     Tab
	Names   Names                   // note names below the notes
	Strings Strings                 // which string numbers are printed
	Legend  map[music.Stroke]string // what the signs of the strokes are called below the music; "" as in English
	Overlay []Overlay

	Scale   float64   // of the music; 0 means 1
	Made    time.Time // what a PDF says of when it was made
	NoTitle bool      // leaves out title and composer
	Prefix  string    // put before every id, so that several scores can stand in one page
	Under   float64   // room kept free under each system of a strip, in staff spaces, for what a page draws there; then systems and bars say where they lie
}

// Paper is a size of paper.
type Paper struct {
	Name              string
	WidthMm, HeightMm float64
}

// A4 as in ISO 216, Letter as in ANSI/ASME Y14.1.
func A4() Paper { return Paper{"A4", 210, 297} }

// Letter is 8.5 by 11 inches.
func Letter() Paper { return Paper{"Letter", 215.9, 279.4} }

// Tab says whether there is a tablature below the notes.
type Tab int

const (
	TabAsWritten Tab = iota // where the score brings one along
	TabShown
	TabHidden
)

// Names says how notes are named below the staff.
type Names int

const (
	NoNames Names = iota
	Letters
	DoReMi // fixed do, as the Romance languages say it
)

// Strings says which circled string numbers are printed.
type Strings int

const (
	StringsAuto Strings = iota // all; of a score where most notes have one, those that a player needs
	StringsAll
	StringsNone
)

// Overlay is something drawn over the score to show what was heard or meant, bound to a note. Its
// shape and its text tell what it is; a colour only repeats it.
type Overlay struct {
	Note   string // id of a note as Score.Sounding gives it
	Kind   OverlayKind
	Text   string  // below the note, for Label; the words of a ring or tick for those who cannot see it
	Early  float64 // of a Tick, in staff spaces to the left of its note; negative to the right
	Dashed bool    // of a Ring
	Role   string  // a word for the style sheet, such as "missed"; letters and hyphens
}

// OverlayKind is the shape of an Overlay.
type OverlayKind int

const (
	Ring  OverlayKind = iota // round the head of the note
	Label                    // a text below the staff
	Tick                     // a dot beside its stem on a thin thread below the staff
)

func (o Options) filled() Options {
	if o.WidthPx <= 0 {
		o.WidthPx = 900
	}
	if o.Paper.WidthMm <= 0 {
		o.Paper = A4()
	}
	return o
}

// withTab reports whether the page has a tablature.
func (o Options) withTab(s *music.Score) bool {
	if o.Tab != TabAsWritten {
		return o.Tab == TabShown
	}
	for i := range s.Parts {
		for _, a := range s.Parts[i].Attributes {
			if a.Clef != nil && a.Clef.Sign == "TAB" {
				return true
			}
		}
	}
	return false
}
