// Package rehearse plays scores as people play them and records the playing as phones do, with the
// truth beside it: which note was played when, what went wrong, where the player jumped. It is the
// measure of the ear, for tests, `make accuracy` and `make bench`.
//
// It refuses to judge: the measures live in measure.go and compare, they do not hear. Everything is
// a function of a seed, so a take can be made again.
package rehearse

import (
	"fmt"
	"sort"
	"strconv"
	"strings"
)

// TicksPerQuarter divides a quarter note so that sixteenths, triplets of eighths and of sixteenths
// are whole numbers.
const TicksPerQuarter = 48

// Note is one written note, ties merged.
type Note struct {
	At, Ticks   int // from the start of the written piece
	Midi        int
	Bar         int // index into Piece.Bars
	Part, Voice int // from 1
	String      int // 1 (highest) to 6
	Fret        int
	Rolled      bool
}

// Bar is one written bar.
type Bar struct {
	Number    int // as printed; a pickup is 0
	At, Ticks int
}

// Ending is a written repeat: bars From to To (indices, inclusive) are played twice. Where First is
// not negative, bars First to To are the first ending and the bars after To up to Second the second.
type Ending struct{ From, To, First, Second int }

// Piece is a score as the player reads it. Notes are sorted by place, part and pitch: their index is
// the score_note_index of the truth.
type Piece struct {
	Name, Title     string
	Kind            string // "monophonic", "two-voice", "arpeggio", "chordal", "strum", "tremolo", "two-guitars", "exercise"
	Bpm             float64
	Beats, BeatType int
	Fifths          int
	Bars            []Bar
	Notes           []Note
	Repeats         []Ending
	Transposed      bool // writes an octave up with <transpose>, instead of a clef with an 8
	Rings           bool // notes of different strings are left to ring
}

// Open strings of the guitar, sixth to first, in MIDI pitches.
var openMidi = [7]int{0, 64, 59, 55, 50, 45, 40}

// voiceText is one voice of a piece in the short notation of compose.
type voiceText struct {
	part int
	text string
}

// compose reads voices written as words: pitches joined by + are a chord, ~ before one rolls it, r is
// a rest, :n gives the length in sixteenths (:t a triplet eighth, :q a sixteenth triplet) and holds
// until changed, | checks that a bar is full. pickup is the length of bar 0 in sixteenths, or 0.
func compose(p Piece, pickup int, voices ...voiceText) (Piece, error) {
	barTicks := p.Beats * TicksPerQuarter * 4 / p.BeatType
	for n, v := range voices {
		at, bar, ticks := 0, 0, TicksPerQuarter
		for _, word := range strings.Fields(v.text) {
			if word == "|" {
				bar++
				want := bar * barTicks
				if pickup > 0 {
					want = pickup*12 + (bar-1)*barTicks
				}
				if at != want {
					return p, fmt.Errorf("piece %s: voice %d: bar %d ends at tick %d, not %d", p.Name, n+1, bar, at, want)
				}
				continue
			}
			word, length, found := strings.Cut(word, ":")
			if found {
				switch length {
				case "t":
					ticks = 16
				case "q":
					ticks = 8
				default:
					sixteenths, err := strconv.Atoi(length)
					if err != nil {
						return p, fmt.Errorf("piece %s: length %q: %w", p.Name, length, err)
					}
					ticks = sixteenths * 12
				}
			}
			if word != "r" {
				rolled := strings.HasPrefix(word, "~")
				for _, name := range strings.Split(strings.TrimPrefix(word, "~"), "+") {
					midi, err := midiOf(name)
					if err != nil {
						return p, fmt.Errorf("piece %s: %w", p.Name, err)
					}
					p.Notes = append(p.Notes, Note{At: at, Ticks: ticks, Midi: midi, Part: v.part, Voice: n + 1, Rolled: rolled})
				}
			}
			at += ticks
		}
	}
	return p.finish(pickup * 12), nil
}

// finish lays the bars, sorts the notes and gives every note a string.
func (p Piece) finish(pickupTicks int) Piece {
	barTicks := p.Beats * TicksPerQuarter * 4 / p.BeatType
	end := 0
	for _, n := range p.Notes {
		end = max(end, n.At+n.Ticks)
	}
	p.Bars = nil
	at := 0
	if pickupTicks > 0 {
		p.Bars = append(p.Bars, Bar{0, 0, pickupTicks})
		at = pickupTicks
	}
	for number := 1; at < end; number++ {
		p.Bars = append(p.Bars, Bar{number, at, barTicks})
		at += barTicks
	}
	sort.SliceStable(p.Notes, func(i, j int) bool {
		a, b := p.Notes[i], p.Notes[j]
		if a.At != b.At {
			return a.At < b.At
		}
		if a.Part != b.Part {
			return a.Part < b.Part
		}
		return a.Midi < b.Midi
	})
	bar := 0
	for i := range p.Notes {
		for bar+1 < len(p.Bars) && p.Bars[bar+1].At <= p.Notes[i].At {
			bar++
		}
		p.Notes[i].Bar = bar
	}
	p.giveStrings()
	return p
}

// giveStrings chooses for every note without one the thinnest free string on which the fret is lowest.
func (p *Piece) giveStrings() {
	type hold struct{ until, part int }
	var held [7]hold
	for i := 0; i < len(p.Notes); {
		j := i
		for j < len(p.Notes) && p.Notes[j].At == p.Notes[i].At && p.Notes[j].Part == p.Notes[i].Part {
			j++
		}
		var taken [7]bool
		for k := i; k < j; k++ {
			if s := p.Notes[k].String; s > 0 {
				taken[s] = true
			}
		}
		for k := j - 1; k >= i; k-- {
			n := &p.Notes[k]
			if n.String == 0 {
				best := 0
				for s := 1; s <= 6; s++ {
					if n.Midi < openMidi[s] || taken[s] {
						continue
					}
					if best == 0 || (held[best].until > n.At && held[best].part == n.Part && held[s].until <= n.At) {
						best = s
					}
				}
				if best == 0 {
					best = 6
				}
				n.String = best
			}
			n.Fret = n.Midi - openMidi[n.String]
			taken[n.String] = true
			held[n.String] = hold{n.At + n.Ticks, n.Part}
		}
		i = j
	}
}

var stepSemitones = map[byte]int{'C': 0, 'D': 2, 'E': 4, 'F': 5, 'G': 7, 'A': 9, 'B': 11}

// midiOf reads a pitch such as "F#4" or "Bb2"; middle C is C4, MIDI 60.
func midiOf(name string) (int, error) {
	if len(name) < 2 {
		return 0, fmt.Errorf("pitch %q: want a letter, an accidental and an octave", name)
	}
	step, ok := stepSemitones[name[0]]
	if !ok {
		return 0, fmt.Errorf("pitch %q: unknown letter", name)
	}
	rest := name[1:]
	for strings.HasPrefix(rest, "#") {
		step, rest = step+1, rest[1:]
	}
	for strings.HasPrefix(rest, "b") {
		step, rest = step-1, rest[1:]
	}
	octave, err := strconv.Atoi(rest)
	if err != nil {
		return 0, fmt.Errorf("pitch %q: unknown octave", name)
	}
	return 12*(octave+1) + step, nil
}

// Unrolled lists the bars (indices) in the order of playing, with or without the written repeats. A
// repeat that is left out goes straight to the second ending.
func (p Piece) Unrolled(repeats bool) []int {
	var order []int
	at := 0
	for _, r := range p.Repeats {
		for ; at < r.From; at++ {
			order = append(order, at)
		}
		last := r.To
		if !repeats && r.First >= 0 {
			last = r.First - 1
		}
		for b := r.From; b <= last; b++ {
			order = append(order, b)
		}
		if repeats {
			again := r.To
			if r.First >= 0 {
				again = r.First - 1
			}
			for b := r.From; b <= again; b++ {
				order = append(order, b)
			}
		}
		at = r.To + 1
	}
	for ; at < len(p.Bars); at++ {
		order = append(order, at)
	}
	return order
}

// EndTick is where the last bar ends.
func (p Piece) EndTick() int {
	last := p.Bars[len(p.Bars)-1]
	return last.At + last.Ticks
}

// barAt is the index of the bar that holds tick.
func (p Piece) barAt(tick int) int {
	return max(0, sort.Search(len(p.Bars), func(i int) bool { return p.Bars[i].At > tick })-1)
}
