// Package music holds a score as the rest of the house uses it: exact times, spelled pitches, bars
// with their repeats, and the guitar's marks.
//
// It reads no files and knows no sound.
package music

// Score is one piece as written.
type Score struct {
	Title    string
	Composer string
	Parts    []Part
	Bars     []Bar       // shared by all parts, in written order
	Tempos   []TempoMark // in order of place; may be empty
}

// Bar is one bar, the same for all parts.
type Bar struct {
	Number string // as printed
	Start  Beats  // from the start of the written score
	Length Beats  // as filled, a pickup is shorter than its time signature
}

// End is the place where the next bar starts.
func (b Bar) End() Beats { return b.Start.Add(b.Length) }

// TempoMark is a metronome mark or a sounded tempo.
type TempoMark struct {
	At   Beats
	Bpm  float64 // beats a minute
	Unit Beats   // the beat it counts: 1 quarter, 3/2 dotted quarter
}

// QuarterBpm is the tempo in quarter notes a minute.
func (t TempoMark) QuarterBpm() float64 { return t.Bpm * t.Unit.Q() }

// Part is one player's line or lines.
type Part struct {
	ID   string
	Name string
}
