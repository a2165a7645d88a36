package music

import "sort"

// TempoMark is a metronome mark or a sounded tempo.
type TempoMark struct {
	At   Beats
	Bpm  float64 // beats a minute
	Unit Beats   // the beat it counts: 1 quarter, 3/2 dotted quarter

	Silent bool   // not printed: the file only says how fast it is to sound
	Text   string // what is printed after the equals sign where that is no plain number: "c. 108"
	Parens bool
	Was    Beats // of a mark like "quarter = dotted quarter": the new note on its right; 0 none
}

// QuarterBpm is the tempo in quarter notes a minute.
func (t TempoMark) QuarterBpm() float64 { return t.Bpm * t.Unit.Q() }

// DefaultQuarterBpm is the tempo of a score that states none. Our choice; no source.
const DefaultQuarterBpm = 90

// TempoAt is the tempo in force at a place of the written score, in quarters a minute. Before the
// first mark it is that of the first mark. A score without a mark has 90, and marked is false.
func (s *Score) TempoAt(at Beats) (quarterBpm float64, marked bool) {
	t, ok := s.tempoMark(at)
	if !ok {
		return DefaultQuarterBpm, false
	}
	return t.QuarterBpm(), true
}

func (s *Score) tempoMark(at Beats) (TempoMark, bool) {
	if len(s.Tempos) == 0 {
		return TempoMark{}, false
	}
	after := sort.Search(len(s.Tempos), func(i int) bool { return at.Less(s.Tempos[i].At) })
	return s.Tempos[max(after-1, 0)], true
}

// BeatUnitAt is the note that is one beat: the one that the printed tempo mark counts, else a dotted
// note in compound time, else a quarter.
func (s *Score) BeatUnitAt(at Beats) Beats {
	if t, ok := s.tempoMark(at); ok && !t.Silent && !t.Unit.IsZero() {
		return t.Unit
	}
	if i := s.BarAt(at); i >= 0 && s.Bars[i].Time.Compound() {
		return Quarters(12, int64(s.Bars[i].Time.Parts[0].Unit))
	}
	return Quarters(1, 1)
}

// BarAt is the index of the bar that holds a place: the last one that starts at or before it; -1 in
// a score without bars.
func (s *Score) BarAt(at Beats) int {
	after := sort.Search(len(s.Bars), func(i int) bool { return at.Less(s.Bars[i].Start) })
	if after == 0 && len(s.Bars) > 0 {
		return 0
	}
	return after - 1
}
