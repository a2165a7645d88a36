package music

// Note is one note or rest as written. Notes tied together are several; Score.Sounding joins them.
type Note struct {
	Bar      int   // index into Score.Bars
	Start    Beats // from the start of the written score; a grace note stands where its main note starts
	Duration Beats // 0 for a grace note
	Voice    string
	Staff    int  // from 1
	Chord    bool // sounds with the note before it in Part.Notes

	Grace, Slash bool // Slash: the stem of the grace note is struck through
	Cue          bool
	Rest         bool
	WholeBar     bool // a rest that fills the bar, whatever its length
	Unpitched    bool
	Hidden       bool // not printed

	Pitch   Pitch // as written; of a rest or an unpitched note the place where it is drawn, if stated
	Type    string
	Dots    int
	Ratio   Ratio // of a tuplet; the zero value for none
	Tuplets []TupletMark

	TieStart, TieStop bool
	LetRing           bool
	Accidental        Accidental // as printed
	Stem              string
	Beams             []Beam
	Notehead          string

	String   int // 1 (highest) and up; 0 unknown
	Fret     int // where HasFret
	HasFret  bool
	Fingers  []Fingering // left hand
	Plucks   []string    // right hand: p i m a c
	Harmonic Harmonic    // the zero value for none

	Marks    []Mark
	Spans    []Span
	Arpeggio Arpeggio // the zero value for none
	Tremolo  Tremolo  // the zero value for none
	Dynamics []string // a mark attached to the note itself
	Lyrics   []Lyric

	Velocity int // 1 to 127 where the file states one (MIDI); 0 unknown
}

// End is the moment where the note's written length is over.
func (n Note) End() Beats { return n.Start.Add(n.Duration) }

// Pitched reports whether the note sounds at a pitch.
func (n Note) Pitched() bool { return !n.Rest && !n.Unpitched && n.Pitch.Step != 0 }

// Ratio of a tuplet: Actual notes in the time of Normal ones.
type Ratio struct {
	Actual, Normal int
	Type           string // of the normal notes; "" as the note itself
	Dots           int
}

// TupletMark is the start or stop of a bracket.
type TupletMark struct {
	Start              bool
	Number             int
	Bracket            string // "yes", "no", "" not stated
	ShowNumber, Placed string
}

// Accidental as printed beside a note.
type Accidental struct {
	Name                  string // "sharp", "natural", …
	Cautionary, Editorial bool
	Parens                bool
}

// Beam of one level.
type Beam struct {
	Number int
	Value  string // "begin", "continue", "end", "forward hook", "backward hook"
}

// Fingering of the left hand.
type Fingering struct {
	Text                    string
	Substitution, Alternate bool
	Placed                  string // "above", "below", ""
}

// HarmonicPitch says which of a harmonic's pitches is the written one.
type HarmonicPitch string

const (
	HarmonicUnstated HarmonicPitch = ""
	HarmonicBase     HarmonicPitch = "base"     // of the open or stopped string
	HarmonicTouching HarmonicPitch = "touching" // where the string is touched
	HarmonicSounding HarmonicPitch = "sounding"
)

// Harmonic is a flageolet.
type Harmonic struct {
	Present             bool
	Natural, Artificial bool
	Pitch               HarmonicPitch
}

// Mark is an articulation, an ornament or a technical sign on one note. Kind is MusicXML's own word:
// "accent", "staccato", "trill-mark", "down-bow", "golpe", "fermata".
type Mark struct {
	Kind   string
	Text   string // what the sign says, or its form ("inverted" fermata, bend in semitones)
	Placed string // "above", "below", ""
}

// Span is the start, stop or continuation of a line from note to note.
type Span struct {
	Kind   string // "slur", "slide", "glissando", "hammer-on", "pull-off", "wavy-line"
	Role   string // "start", "stop", "continue"
	Number int    // tells lines apart that are open at the same time
	Text   string // "H", "P", "gliss."
	Placed string
	Line   string // "solid", "dashed", "dotted", "wavy", ""
}

// Arpeggio marks a note of a rolled chord, or of one that is expressly not rolled.
type Arpeggio struct {
	Kind   string // "arpeggiate", "non-arpeggiate" or ""
	Number int
	Form   string // direction "up" or "down"; for non-arpeggiate "top" or "bottom"
}

// Tremolo is a sign of repeated strokes.
type Tremolo struct {
	Kind  string // "single", "start", "stop", "unmeasured" or ""
	Beams int    // 0 to 8
}

// Lyric is one syllable.
type Lyric struct {
	Number   string
	Syllabic string // "single", "begin", "middle", "end"
	Text     string
	Extend   bool
}

// DirectionKind says what a Direction is.
type DirectionKind string

const (
	Words       DirectionKind = "words"
	Dynamic     DirectionKind = "dynamics"
	Wedge       DirectionKind = "wedge" // Text: "crescendo", "diminuendo", "stop", "continue"
	Rehearsal   DirectionKind = "rehearsal"
	SegnoSign   DirectionKind = "segno"
	CodaSign    DirectionKind = "coda"
	OctaveShift DirectionKind = "octave-shift" // Text: "up", "down", "stop"; Size 8 or 15; pitches are as stated
	Dashes      DirectionKind = "dashes"       // Text: "start", "stop"
	Bracket     DirectionKind = "bracket"      // Text: "start", "stop"; End the form of its end
	Pedal       DirectionKind = "pedal"
	Harmony     DirectionKind = "harmony" // a chord symbol, Text "Am7"
	OtherSign   DirectionKind = "other-direction"
)

// Direction is something printed at a place, not on a note.
type Direction struct {
	Bar    int
	At     Beats
	Staff  int    // 0 not stated
	Voice  string // "" not stated
	Kind   DirectionKind
	Text   string
	Number int // tells lines apart; 0 not stated
	Size   int
	End    string // line end of a bracket: "up", "down", "both", "arrow", "none"
	Line   string // "solid", "dashed", …
	Placed string // "above", "below", ""
	Niente bool
	Frame  *Frame // chord diagram of a Harmony; nil none
}

// Frame is a chord diagram.
type Frame struct {
	Strings, Frets int
	First          int // fret at the top; 0 not stated
	Notes          []FrameNote
}

// FrameNote is a dot in a chord diagram.
type FrameNote struct {
	String, Fret int
	Finger       string
	Barre        string // "start" or "stop" of a barre; "" none
}
