package grip

import (
	"slices"
	"sort"
)

// Piece is the music laid out in slices.
type Piece struct {
	Notes  []Note // by onset, then pitch
	Truth  []Ask  // what is printed, for learning only
	neck   *Neck
	limits Limits
	tonic  int // pitch class of the likely key
	high   int // bucket of the highest note
	slices []slice
	sets   []noteFacts
}

// slice is one moment where notes are struck.
type slice struct {
	from, to int // notes
	at, next float64
	gap      int8     // bucket of the time since the slice before
	high     int8     // bucket of the highest note around
	number   uint16   // from 1, going round
	listed   []hold   // all grips
	grips    []hold   // those looked at
	cover    [14]int8 // bucket of the notes around that a position leaves out
	dropped  []int    // notes that no hand can take together with the others
	relaxed  relaxed
}

// relaxed tells which wishes had to be given up in a slice.
type relaxed uint8

const (
	gaveUpFourth relaxed = 1 << iota
	gaveUpBarre
	gaveUpFirst
	gaveUpStretch
	gaveUpAsk
)

// noteFacts is what the features need to know about a note, whatever its grip.
type noteFacts struct {
	role      int8 // single, top, bass, inner
	length    int8 // bucket
	into, out int8 // bucket of the interval from the note before in the voice, and to the next one
	before    int  // note before in the same voice, -1 none
	degree    int8
}

const (
	single = iota
	top
	bass
	inner
)

// sameQ is what two times may differ by and be taken for the same.
const sameQ = 1e-4

// NewPiece lays notes out; they must be sorted by onset, then pitch, and have no two of the same
// pitch at the same moment.
func NewPiece(notes []Note, neck *Neck, limits Limits) *Piece {
	p := &Piece{Notes: notes, neck: neck, limits: limits}
	p.tonic = tonic(notes)
	p.sets = make([]noteFacts, len(notes))
	last := map[int]int{}
	for i := 0; i < len(notes); {
		j := i
		for j < len(notes) && notes[j].AtQ-notes[i].AtQ < sameQ {
			j++
		}
		s := slice{from: i, to: j, at: notes[i].AtQ, next: 1e9}
		if k := len(p.slices); k > 0 {
			p.slices[k-1].next = s.at
			s.gap = gapBucket(s.at - p.slices[k-1].at)
		} else {
			s.gap = gapBucket(4)
		}
		p.slices = append(p.slices, s)
		for k := i; k < j; k++ {
			f := &p.sets[k]
			switch {
			case j-i == 1:
				f.role = single
			case k == j-1:
				f.role = top
			case k == i:
				f.role = bass
			default:
				f.role = inner
			}
			f.before = -1
			if b, ok := last[notes[k].Voice]; ok {
				f.before = b
			}
			f.length = lengthBucket(notes[k].EndQ - notes[k].AtQ)
			f.degree = int8(((notes[k].Midi-p.tonic)%12 + 12) % 12)
		}
		for k := i; k < j; k++ { // the highest note of a voice is the one that goes on
			last[notes[k].Voice] = k
		}
		i = j
	}
	for k := range notes {
		if b := p.sets[k].before; b >= 0 {
			p.sets[k].into = stepBucket(notes[k].Midi - notes[b].Midi)
		} else {
			p.sets[k].into = 0
		}
	}
	next := map[int]int{}
	for i := len(p.slices) - 1; i >= 0; i-- {
		s := &p.slices[i]
		for k := s.from; k < s.to; k++ {
			if n, ok := next[notes[k].Voice]; ok {
				p.sets[k].out = stepBucket(notes[n].Midi - notes[k].Midi)
			}
		}
		for k := s.from; k < s.to; k++ {
			next[notes[k].Voice] = k
		}
	}
	highest := 0
	for i := range p.slices {
		around := 0
		for k := max(0, i-aroundSlices); k < min(len(p.slices), i+aroundSlices+1); k++ {
			around = max(around, notes[p.slices[k].to-1].Midi)
		}
		highest = max(highest, around)
		p.slices[i].high = p.highBucket(around)
		p.slices[i].number = uint16(i%65535 + 1)
		p.listGrips(&p.slices[i])
		p.setCover(i)
	}
	p.high = int(p.highBucket(highest))
	return p
}

// aroundSlices before and after a moment are its surroundings.
const aroundSlices = 8

// highBucket of a pitch by the fret that it asks of the first string.
func (p *Piece) highBucket(midi int) int8 {
	switch fret := midi - p.neck.open[1]; {
	case fret <= 3:
		return 0
	case fret <= 4:
		return 1
	case fret <= 5:
		return 2
	case fret <= 7:
		return 3
	case fret <= 10:
		return 4
	}
	return 5
}

func gapBucket(q float64) int8 {
	switch {
	case q < 0.3:
		return 0
	case q < 0.6:
		return 1
	case q < 1.1:
		return 2
	}
	return 3
}

func lengthBucket(q float64) int8 {
	switch {
	case q < 0.45:
		return 0
	case q < 0.95:
		return 1
	}
	return 2
}

// stepBucket of an interval in semitones: 0 there is no note, 1 to 9 from far down to far up.
func stepBucket(d int) int8 {
	switch {
	case d < -4:
		return 1
	case d < -2:
		return 2
	case d == -2:
		return 3
	case d == -1:
		return 4
	case d == 0:
		return 5
	case d == 1:
		return 6
	case d == 2:
		return 7
	case d <= 4:
		return 8
	}
	return 9
}

// tonic guesses the key by the pitch classes that sound, weighted with their length: the major scale
// that holds most of them, with the tonic's own triad counted double. Our own rule of thumb.
func tonic(notes []Note) int {
	var heard [12]float64
	for _, n := range notes {
		heard[(n.Midi%12+12)%12] += min(n.EndQ-n.AtQ, 2) + 0.1
	}
	best, at := -1.0, 0
	for t := range 12 {
		sum := 0.0
		for _, d := range []int{0, 2, 4, 5, 7, 9, 11} {
			sum += heard[(t+d)%12]
		}
		for _, d := range []int{0, 4, 7} {
			sum += heard[(t+d)%12] / 4
		}
		if sum > best {
			best, at = sum, t
		}
	}
	return at
}

// sliceOf gives the slice that note i is struck in.
func (p *Piece) sliceOf(i int) int {
	return sort.Search(len(p.slices), func(k int) bool { return p.slices[k].to > i })
}

// Slices is the number of moments where something is struck.
func (p *Piece) Slices() int { return len(p.slices) }

// Dropped lists the notes that cannot be played together with the others of their moment.
func (p *Piece) Dropped() []int {
	var out []int
	for _, s := range p.slices {
		out = append(out, s.dropped...)
	}
	slices.Sort(out)
	return out
}

// GivenUp says, for the slice of note i, which limits and wishes its grips could not keep to.
func (p *Piece) GivenUp(i int) (asks, fourth, barre, first, stretch bool) {
	r := p.slices[p.sliceOf(i)].relaxed
	return r&gaveUpAsk != 0, r&gaveUpFourth != 0, r&gaveUpBarre != 0, r&gaveUpFirst != 0, r&gaveUpStretch != 0
}

// setCover works out for every position how many of the notes around it cannot be taken in it, one
// finger to a fret or open, against the position that leaves out fewest.
func (p *Piece) setCover(i int) {
	const before, after = 4, 9
	var missed [14]float64
	total := 0.0
	for k := max(0, i-before); k < min(len(p.slices), i+after+1); k++ {
		for n := p.slices[k].from; n < p.slices[k].to; n++ {
			total++
			for pos := range missed {
				found := false
				for s := 1; s <= p.neck.strings && !found; s++ {
					f := p.Notes[n].Midi - p.neck.open[s]
					found = f == 0 || f >= max(pos, 1) && f <= pos+3
				}
				if !found {
					missed[pos]++
				}
			}
		}
	}
	least := slices.Min(missed[1:])
	for pos := range missed {
		b := int8(0)
		switch r := (missed[pos] - least) / total; {
		case r <= 0:
		case r <= 0.1:
			b = 1
		case r <= 0.2:
			b = 2
		case r <= 0.35:
			b = 3
		case r <= 0.5:
			b = 4
		default:
			b = 5
		}
		p.slices[i].cover[pos] = b
	}
}
