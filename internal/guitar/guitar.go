// Package guitar holds the instrument and the hand that plays it: where a pitch lies, how far apart
// two places are in millimetres on this neck, what a string pulls and how stiff it is, and how far
// one hand reaches.
//
// It knows no music and chooses nothing: which place or finger to take is the business of the
// packages above.
package guitar

import (
	"errors"
	"fmt"
	"math"
	"slices"
)

// DefaultScaleMm is the vibrating length of the open strings of a full-size classical guitar.
// Source: makers' common practice, no standard; 640 to 660 mm are also sold as full size.
const DefaultScaleMm = 650

// DefaultFrets is what classical guitars have on the first string. Common practice, no source.
const DefaultFrets = 19

// Instrument is one guitar as it is set up. The zero value is a full-size guitar in standard tuning
// without a capo.
type Instrument struct {
	Open    []int   // MIDI numbers of the open strings 1 (highest), 2, …, without capo; nil: E4 B3 G3 D3 A2 E2
	ScaleMm float64 // nut to bridge; 0: 650
	Capo    int     // the fret that it is clamped behind; 0: none. Frets are then counted from it
	Frets   int     // frets on the neck, counted from the nut; 0: 19

	// AsFingered says that with a capo the score is written as if the capo were the nut: Pitch then
	// leaves the capo out. Without it a score is taken to state what sounds (MusicXML's meaning of
	// capo: it raises the open strings).
	AsFingered bool

	NutMm, BridgeMm float64 // first to last string at nut and bridge; 0: about 43 and 58, less on short scales
}

// Standard is a full-size guitar in standard tuning.
func Standard() Instrument {
	return Instrument{Open: []int{64, 59, 55, 50, 45, 40}, ScaleMm: DefaultScaleMm, Frets: DefaultFrets}
}

// ErrInstrument is the cause of every error of Check.
var ErrInstrument = errors.New("no such guitar")

// Check refuses what cannot be a guitar.
func (in Instrument) Check() error {
	say := func(format string, args ...any) error {
		return fmt.Errorf("%w: %s", ErrInstrument, fmt.Sprintf(format, args...))
	}
	switch {
	case in.ScaleMm != 0 && !(in.ScaleMm >= 300 && in.ScaleMm <= 900): // NaN fails both
		return say("a scale of %v mm; guitars lie between 300 and 900 mm", in.ScaleMm)
	case in.Frets < 0 || in.Frets > 36:
		return say("%d frets; guitars have 1 to 36", in.Frets)
	case in.Capo < 0 || in.Capo >= in.frets():
		return say("a capo at fret %d of %d", in.Capo, in.frets())
	case len(in.Open) > 12:
		return say("%d strings; at most 12 can be fingered", len(in.Open))
	case in.NutMm < 0 || in.BridgeMm < 0:
		return say("strings that lie %v mm apart at the nut and %v mm at the bridge", in.NutMm, in.BridgeMm)
	}
	for i, m := range in.Open {
		if m < 12 || m > 100 {
			return say("string %d tuned to MIDI note %d; strings lie between 12 and 100", i+1, m)
		}
	}
	return nil
}

// Strings is the number of strings.
func (in Instrument) Strings() int { return len(in.open()) }

func (in Instrument) open() []int {
	if in.Open == nil {
		return []int{64, 59, 55, 50, 45, 40}
	}
	return in.Open
}

func (in Instrument) scaleMm() float64 {
	if in.ScaleMm == 0 {
		return DefaultScaleMm
	}
	return in.ScaleMm
}

func (in Instrument) frets() int {
	if in.Frets == 0 {
		return DefaultFrets
	}
	return in.Frets
}

// Highest is the last fret, counted from the capo where there is one.
func (in Instrument) Highest() int { return in.frets() - in.Capo }

// Place is where a note is stopped: string 1 is the highest, fret 0 the open string (or the capo).
type Place struct{ String, Fret int }

// Pitch is the MIDI number at a place; 0 where there is no such string or fret.
func (in Instrument) Pitch(str, fret int) int {
	open := in.open()
	if str < 1 || str > len(open) || fret < 0 || fret > in.Highest() {
		return 0
	}
	if in.AsFingered {
		return open[str-1] + fret
	}
	return open[str-1] + in.Capo + fret
}

// Places are all places of a pitch, from the lowest fret upwards, and of equal frets from the
// highest string downwards; nil where the guitar does not have it.
func (in Instrument) Places(midi int) []Place {
	var out []Place
	for s := 1; s <= in.Strings(); s++ {
		fret := midi - in.Pitch(s, 0)
		if fret >= 0 && fret <= in.Highest() {
			out = append(out, Place{s, fret})
		}
	}
	slices.SortFunc(out, func(a, b Place) int {
		if a.Fret != b.Fret {
			return a.Fret - b.Fret
		}
		return a.String - b.String
	})
	return out
}

// FretMm is the distance from the nut, or from the capo, to a fret counted from there.
// Equal temperament: x_n = L(1 - 2^(-n/12)).
func (in Instrument) FretMm(fret int) float64 {
	c := float64(in.Capo)
	return in.scaleMm() * (math.Exp2(-c/12) - math.Exp2(-(c+float64(fret))/12))
}

// SpacingMm is the distance between neighbouring strings at a fret counted from the capo.
func (in Instrument) SpacingMm(fret int) float64 {
	gaps := float64(in.Strings() - 1)
	if gaps < 1 {
		return 0
	}
	along := 1 - math.Exp2(-float64(in.Capo+fret)/12)
	nut, bridge := in.widthsMm()
	return (nut + (bridge-nut)*along) / gaps
}

// widthsMm from first to last string. A six-string classical guitar has about 43 mm at the nut and
// 58 mm at the bridge (common practice, no source); necks of small guitars are narrower, but by less
// than they are shorter: half of the shortening is our choice.
func (in Instrument) widthsMm() (nut, bridge float64) {
	small := (1 + in.scaleMm()/DefaultScaleMm) / 2 * float64(in.Strings()-1) / 5
	nut, bridge = in.NutMm, in.BridgeMm
	if nut == 0 {
		nut = 43 * small
	}
	if bridge == 0 {
		bridge = 58 * small
	}
	return nut, bridge
}

// AlongMm is how far two places lie apart along the neck, fret wire to fret wire. Fingers stand just
// behind the wires, so it is also the distance of the fingers.
func (in Instrument) AlongMm(a, b Place) float64 {
	return math.Abs(in.FretMm(a.Fret) - in.FretMm(b.Fret))
}

// TipsMm is the straight line between two fingertips that stop a and b.
func (in Instrument) TipsMm(a, b Place) float64 {
	mid := (a.Fret + b.Fret) / 2
	return math.Hypot(in.AlongMm(a, b), in.SpacingMm(mid)*float64(a.String-b.String))
}
