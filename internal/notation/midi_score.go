package notation

import (
	"fmt"
	"io"
	"math/big"
	"sort"

	"antiphon/internal/music"
)

// WriteMIDI writes a score as a Standard MIDI File, format 1, in the order in which it is performed:
// repeats are played out. A grace note comes just before its main note, cue notes are left out.
func WriteMIDI(w io.Writer, s *music.Score) error {
	m := &midiScore{s: s}
	m.findTicks()
	head := []midiEvent{textEvent(0, metaTrackName, s.Title)}
	var time music.Time
	var length music.Beats
	at := music.Beats{} // of the performance
	parts := make([][]midiEvent, len(s.Parts))
	index := map[string]int{}
	for i, p := range s.Parts {
		index[p.ID] = i
		parts[i] = []midiEvent{textEvent(0, metaTrackName, p.Name)}
		if c := m.channel(i); c != drums {
			parts[i] = append(parts[i], midiEvent{0, rankProgram, []byte{0xC0 | byte(c), m.program(i)}})
		}
	}
	byBar := m.soundsByBar()
	keys := m.keys()
	quarter, key, written := 0.0, music.Key{Fifths: 99}, 0
	for _, st := range s.Performed() {
		for b := st.From; b <= st.To; b++ {
			bar := &s.Bars[b]
			if t := barTime(bar); len(t.Parts) > 0 && (t.Length().Cmp(length) != 0 || len(time.Parts) == 0 || t.Parts[0].Unit != time.Parts[0].Unit) {
				time, length = t, t.Length()
				head = append(head, metaEvent(m.ticks(at), metaTime, []byte{byte(sum(t.Parts[0].Beats)), byte(log2(t.Parts[0].Unit)), 24, 8}))
			}
			if k := keys[b]; k != nil && *k != key {
				key = *k
				head = append(head, metaEvent(m.ticks(at), metaKey, []byte{byte(int8(k.Fifths)), isMinor(key)}))
			}
			if q, marked := s.TempoAt(bar.Start); marked && q != quarter {
				quarter = q
				head = append(head, tempoEvent(m.ticks(at), q))
			}
			within := sort.Search(len(s.Tempos), func(i int) bool { return bar.Start.Less(s.Tempos[i].At) })
			for _, t := range s.Tempos[within:] {
				if !t.At.Less(bar.End()) {
					break
				}
				if t.QuarterBpm() != quarter {
					quarter = t.QuarterBpm()
					head = append(head, tempoEvent(m.ticks(at.Add(t.At.Sub(bar.Start))), quarter))
				}
			}
			if written += len(byBar[b]); written > maxNotesOut {
				return fmt.Errorf("%w: with its repeats it has more than %d notes", ErrUnwritable, maxNotesOut)
			}
			for k, n := range byBar[b] {
				i := index[n.Part]
				parts[i] = append(parts[i], m.note(n, gracesAfter(byBar[b][k:]), at.Sub(bar.Start), i)...)
			}
			at = at.Add(bar.Length)
		}
	}
	return writeMIDIFile(w, m.tpq, append([][]midiEvent{head}, parts...))
}

// midiScore is a score on its way to MIDI.
type midiScore struct {
	s   *music.Score
	tpq int64
}

// findTicks chooses ticks that hold every time exactly where fifteen bits can.
func (m *midiScore) findTicks() {
	grid := int64(1)
	add := func(b music.Beats) {
		_, den := b.Fraction()
		grid = lcm(grid, big.NewInt(den))
	}
	for _, b := range m.s.Bars {
		add(b.Start)
		add(b.Length)
	}
	for i := range m.s.Parts {
		for j := range m.s.Parts[i].Notes {
			add(m.s.Parts[i].Notes[j].Start)
			add(m.s.Parts[i].Notes[j].Duration)
		}
	}
	const wanted, most = 480, 0x7FFF
	switch {
	case grid > most:
		m.tpq = 10080 // divides by all of 1 to 10
	case grid >= wanted:
		m.tpq = grid
	default:
		m.tpq = grid * ((wanted + grid - 1) / grid)
	}
}

func (m *midiScore) ticks(b music.Beats) int64 {
	num, den := b.Fraction()
	hi, lo := num/den, num%den
	return hi*m.tpq + (lo*m.tpq+den/2)/den
}

func (m *midiScore) soundsByBar() map[int][]music.Sounding {
	out := map[int][]music.Sounding{}
	for _, n := range m.s.Sounding() {
		if !n.Cue && n.Midi >= 0 && n.Midi < 128 {
			out[n.BarIndex] = append(out[n.BarIndex], n)
		}
	}
	return out
}

// maxNotesOut bounds a file whose repeats were made to explode.
const maxNotesOut = 1_000_000

// graceQ is the length given to a grace note, in quarters.
func graceQ() music.Beats { return music.Quarters(1, 8) }

// gracesAfter counts the grace notes from the first of these notes on that lead to the same main note.
func gracesAfter(notes []music.Sounding) int64 {
	k := int64(0)
	for _, n := range notes {
		if !n.Grace || n.Part != notes[0].Part || n.Onset.Cmp(notes[0].Onset) != 0 {
			break
		}
		k++
	}
	return k
}

func (m *midiScore) note(n music.Sounding, graces int64, shift music.Beats, part int) []midiEvent {
	start := n.Onset.Add(shift)
	on, off := m.ticks(start), m.ticks(start.Add(n.Duration))
	if n.Grace || off <= on {
		graces = max(graces, 1)
		on, off = max(m.ticks(start.Sub(graceQ().Mul(graces, 1))), 0), m.ticks(start.Sub(graceQ().Mul(graces-1, 1)))
		off = max(off, on+1)
	}
	return noteEvents(on, off, m.channel(part), n.Midi, loudness(n.Dynamic))
}

// loudness gives a dynamic mark a velocity: equal steps around mf = 80. Common practice, no source.
func loudness(mark string) int {
	levels := map[string]int{"ppp": 20, "pp": 35, "p": 50, "mp": 65, "mf": 80, "f": 95, "ff": 110, "fff": 125}
	if v, ok := levels[mark]; ok {
		return v
	}
	return 80
}

// channel is the part's own, or else one after the other without the drums'.
func (m *midiScore) channel(part int) int {
	if c := m.s.Parts[part].Channel; c >= 1 && c <= 16 {
		return c - 1
	}
	if c := part % 15; c >= drums {
		return c + 1
	}
	return part % 15
}

func (m *midiScore) program(part int) byte {
	if p := m.s.Parts[part].Program; p >= 1 && p <= 128 {
		return byte(p - 1)
	}
	return guitarProgram
}

// keys gives the key in force in each bar, by the first part; nil before the first.
func (m *midiScore) keys() []*music.Key {
	out := make([]*music.Key, len(m.s.Bars))
	if len(m.s.Parts) > 0 {
		for _, a := range m.s.Parts[0].Attributes {
			if a.Key != nil && a.Bar >= 0 && a.Bar < len(out) {
				out[a.Bar] = a.Key
			}
		}
	}
	for i := 1; i < len(out); i++ {
		if out[i] == nil {
			out[i] = out[i-1]
		}
	}
	return out
}

func isMinor(k music.Key) byte {
	if k.Mode == "minor" {
		return 1
	}
	return 0
}

// barTime is the time signature that gives a bar its length as filled, so that a pickup comes back
// as a short bar.
func barTime(b *music.Bar) music.Time {
	if len(b.Time.Parts) == 1 && b.Time.Parts[0].Unit <= 128 && sum(b.Time.Parts[0].Beats) <= 255 && b.Time.Length().Cmp(b.Length) == 0 {
		return b.Time
	}
	num, den := b.Length.Fraction() // quarters
	unit := int64(4)
	for den > 1 && unit < 128 && den%2 == 0 {
		den, unit = den/2, unit*2
	}
	if den != 1 || num < 1 || num > 255 {
		return music.Time{}
	}
	return music.Time{Parts: []music.TimePart{{Beats: []int{int(num)}, Unit: int(unit)}}}
}

func sum(list []int) int {
	n := 0
	for _, v := range list {
		n += v
	}
	return n
}

func log2(n int) int {
	k := 0
	for n > 1 {
		n, k = n/2, k+1
	}
	return k
}
