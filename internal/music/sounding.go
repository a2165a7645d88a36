package music

// Sounding is one note as it is to be heard: notes tied together are one, every member of a chord
// is one of its own. Sounding notes count in written order; repeats are not unfolded.
type Sounding struct {
	ID       string // stable for one file: "n1", "n2", … in the order of Score.Sounding
	Part     string // part id as in the file, "P1"
	Voice    string
	Bar      string // bar number as printed; a pickup is "0" where the file says so
	BarIndex int    // index into Score.Bars
	Onset    Beats  // from the start of the written score
	Duration Beats  // ties added up; 0 for a grace note
	Midi     int    // sounding pitch
	Name     string // written spelling of the sounding pitch: "F#4"
	String   int    // 1 (highest) to 6 and beyond; 0 unknown
	Fret     int    // -1 unknown
	Finger   string // left hand "0" to "4", "" unknown
	Pluck    string // right hand "p", "i", "m", "a", "" unknown
	Grace    bool
	Cue      bool
	Rolled   bool   // part of an arpeggiated (rolled) chord
	Slurred  bool   // not plucked: the end of a hammer-on, pull-off or slide
	Tremolo  int    // strokes per note as beams through the stem: 1 eighths … 3 thirty-seconds; 0 none
	Dynamic  string // the dynamic mark in force: "p", "mf", …; "" none yet
	TiedIn   bool   // a tie leads here from no note before it, as into a second ending: it may not be struck
	Unison   bool   // another voice of the part has the same note at the same moment: one stroke plays both
}

// NoteRef is the place of one written note: Score.Parts[Part].Notes[Note].
type NoteRef struct{ Part, Note int }

// Sounding returns the notes to be heard, in order of onset, part and pitch (grace notes before the
// notes that they lead to), with ids "n1", "n2", … in that order. Rests and unpitched notes are left
// out, and so is a tablature that only repeats what is written in notes: its strings and frets are
// given to the notes.
func (s *Score) Sounding() []Sounding {
	sounds, _ := s.sound()
	return sounds
}

// Written gives, for each note of Sounding, the written notes that make it up: the first is struck,
// the others are tied to it.
func (s *Score) Written() [][]NoteRef {
	_, refs := s.sound()
	return refs
}
