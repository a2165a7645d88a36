// Package music holds a score as the rest of the house uses it: exact times, spelled pitches, bars
// with their repeats, and the guitar's marks.
//
// It reads no files and knows no sound.
package music

// Score is one piece as written.
type Score struct {
	Title    string
	Subtitle string // movement title, where the work has a title of its own
	Composer string
	Creators []Creator // lyricist, arranger and others; the composer is in Composer
	Rights   []string
	Parts    []Part
	Bars     []Bar       // shared by all parts, in written order
	Tempos   []TempoMark // in order of place; may be empty
}

// Creator is somebody who had a hand in the piece, other than the composer.
type Creator struct{ Role, Name string }

// Bar is one bar, the same for all parts.
type Bar struct {
	Number   string // as printed
	Start    Beats  // from the start of the written score
	Length   Beats  // as filled, a pickup is shorter than its time signature
	Implicit bool   // the number is not printed: a pickup, or the second half of a divided bar
	Time     Time   // in force in this bar; the zero value where the file gives none

	LeftStyle, RightStyle string // barline: "light-light", "light-heavy", …; "" a plain line

	RepeatStart bool
	RepeatEnd   int   // times the passage is played in all, 2 as a rule; 0 no repeat ends here
	AfterJump   bool  // the repeat that ends here is also taken after a D.C. or D.S.
	Ending      []int // numbers of the ending that starts here; nil none
	EndingText  string
	EndingStop  string // "stop", or "discontinue" for an open bracket; "" no ending stops here

	Segno, Coda string // labels of signs at the start of this bar; "" none
	ToCoda      string // label of the coda to go to from the end of this bar, after a jump
	DalSegno    string // label of the segno to go back to from the end of this bar
	DaCapo      bool   // back to the beginning from the end of this bar
	Fine        bool   // the end, after a jump
}

// End is the place where the next bar starts.
func (b Bar) End() Beats { return b.Start.Add(b.Length) }

// Part is one player's line or lines.
type Part struct {
	ID         string
	Name       string
	Abbrev     string
	Instrument string // "" where the file names none
	Program    int    // General MIDI program, 1 to 128; 0 unknown
	Channel    int    // MIDI channel, 1 to 16; 0 unknown
	Staves     int    // at least 1
	Attributes []Attributes
	Notes      []Note // bar by bar, in each bar voice by voice
	Directions []Direction
}

// Attributes is a change of key, time, clef, transposition or staff. Nil fields stay as they were.
type Attributes struct {
	Bar       int
	At        Beats
	Staff     int // 0 all staves of the part
	Key       *Key
	Time      *Time
	Clef      *Clef
	Transpose *Transpose
	Lines     int     // of the staff; 0 unchanged
	Tuning    []Pitch // open strings from the lowest line of the staff upwards, as a tablature states them
	Capo      int     // fret of the capo; 0 none stated
}

// Key is a key signature.
type Key struct {
	Fifths int    // sharps, or flats if negative
	Mode   string // "major", "minor", …; "" not stated
}

// Time is a time signature. 3+2/8 has two parts; Symbol is "common", "cut" or "".
type Time struct {
	Parts  []TimePart
	Symbol string
	Senza  bool // no time signature: senza misura
}

// TimePart is a numerator, which may be a sum, over a denominator.
type TimePart struct {
	Beats []int
	Unit  int // 4 for quarters
}

// Length of a full bar; 0 where there is no time signature.
func (t Time) Length() Beats {
	var sum Beats
	for _, p := range t.Parts {
		for _, b := range p.Beats {
			sum = sum.Add(Quarters(int64(4*b), int64(p.Unit)))
		}
	}
	return sum
}

// Compound reports whether the beat is a dotted note: 6/8, 9/8, 12/8, 6/16, …
func (t Time) Compound() bool {
	if len(t.Parts) != 1 || len(t.Parts[0].Beats) != 1 {
		return false
	}
	p := t.Parts[0]
	return p.Unit >= 8 && p.Beats[0] > 3 && p.Beats[0]%3 == 0
}

// Clef of a staff: G on line 2 is the treble clef. Octave -1 marks the 8 below it; it does not move
// the pitch of the notes, which is as stated.
type Clef struct {
	Sign   string // "G", "F", "C", "percussion", "TAB", "none"
	Line   int    // 0 not stated
	Octave int
}

// Transpose moves written pitch to sounding pitch.
type Transpose struct {
	Diatonic, Chromatic, Octave int
	Double                      bool // doubled an octave down
}
