// Package grip knows what one left hand can take hold of and what it costs to move from grip to grip:
// it lays a piece out as slices (moments where something is struck), lists the grips of each slice,
// and finds the best and the nearly best ways through all of them.
//
// A way is scored by a log-linear model over places, shapes and moves; its weights are learned from
// printed fingerings (package main in ../learn). It reads no scores and explains nothing in words.
package grip

import (
	"math"

	"antiphon/internal/guitar"
)

// MaxStrings bounds the instruments that can be fingered.
const MaxStrings = 12

// maxFret bounds the tables.
const maxFret = 36

// Stop is one note's place and finger. Finger 0 is the open string; String 0 says that the note is
// not played.
type Stop struct{ String, Fret, Finger int8 }

// Ask is what is asked of one note; -1 where nothing is.
type Ask struct{ String, Fret, Finger int8 }

// Free asks nothing.
func Free() Ask { return Ask{-1, -1, -1} }

// Note is one note to be fingered.
type Note struct {
	AtQ, EndQ float64 // at 100 quarters a minute, whatever the tempo: the unit is 0.6 s
	Midi      int
	Voice     int // notes of one voice follow each other
	Ask       Ask
	Forbid    []Stop  // string and finger; a finger of -1 forbids the string, a string of 0 the finger
	SlurFrom  int     // 1 + the note that this one is slurred from without a pluck; 0 none
	SPerQ     float64 // seconds in a quarter where the score states a tempo; 0 where it does not
}

// Limits are what the player does not do yet.
type Limits struct {
	NoFourth, NoBarre, FirstPosition, NoStretch bool
}

// Neck is the instrument and the hand on it, with its distances tabled.
type Neck struct {
	strings, frets int
	open           [MaxStrings + 1]int
	fretMm         [maxFret + 1]float64
	spacing        [maxFret + 1]float64
	reach, easy    [5][5]float64
}

// NewNeck tables the distances of a guitar that passed its Check.
func NewNeck(in guitar.Instrument, hand guitar.Hand) *Neck {
	hand = hand.OrAdult()
	n := &Neck{strings: in.Strings(), frets: min(in.Highest(), maxFret)}
	for s := 1; s <= n.strings; s++ {
		n.open[s] = in.Pitch(s, 0)
	}
	for f := 0; f <= n.frets; f++ {
		n.fretMm[f] = in.FretMm(f)
		n.spacing[f] = in.SpacingMm(f)
	}
	for a := 1; a <= 4; a++ {
		for b := 1; b <= 4; b++ {
			n.reach[a][b], n.easy[a][b] = hand.Reach(a, b)
		}
	}
	return n
}

// tips is the straight distance of two fingertips.
func (n *Neck) tips(a, b Stop) float64 {
	mid := (int(a.Fret) + int(b.Fret)) / 2
	return math.Hypot(n.fretMm[a.Fret]-n.fretMm[b.Fret], n.spacing[mid]*float64(a.String-b.String))
}

// alongMm is how far two frets lie apart.
func (n *Neck) alongMm(a, b int) float64 {
	return math.Abs(n.fretMm[min(max(a, 0), n.frets)] - n.fretMm[min(max(b, 0), n.frets)])
}

// fault says why two stops cannot be held at the same time by one hand.
type fault uint8

const (
	fine fault = iota
	sameString
	sameFinger
	crossed
	tooFar
)

// together reports whether two stops can be held at the same time.
func (n *Neck) together(a, b Stop) fault {
	if a.String == b.String {
		return sameString
	}
	if a.Finger == 0 || b.Finger == 0 {
		return fine // an open string under a barre is looked at where all stops are known
	}
	if a.Finger == b.Finger {
		if a.Finger == 1 && a.Fret == b.Fret {
			return fine
		}
		return sameFinger
	}
	if a.Finger > b.Finger {
		a, b = b, a
	}
	if a.Fret > b.Fret {
		return crossed
	}
	if n.tips(a, b) > n.reach[a.Finger][b.Finger] {
		return tooFar
	}
	return fine
}
