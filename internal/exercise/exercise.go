// Package exercise composes short exercises as fingered scores: from a recipe that a teacher can
// read and write, and from a fault that was heard in a passage.
//
// The same recipe gives the same score, byte for byte. It composes; it does not judge what a student
// needs, and it knows no student. What hands cannot play it refuses with a *Problem that says what to
// change; it never hands out an exercise that breaks one of its own rules.
package exercise

import (
	"errors"
	"fmt"

	"antiphon/internal/music"
)

// Recipe says what to compose. The zero value of every field but Pattern works; the comment of each
// is what a recipe may say there. Lines of a recipe and flags of the command carry the names of
// Fields.
type Recipe struct {
	Title  string // "" is made from the rest
	Trains string // one sentence: what the hands learn; "" is made from the rest

	Pattern   string   // scale, degrees, thirds … tenths, arpeggio, chromatic, open strings, chords
	Key       string   // "G major", "F# harmonic minor"; "" C major
	Degrees   []int    // of pattern degrees: a figure that climbs the scale step by step
	Chords    []string // of pattern chords: "C", "G7", or a shape such as "x32010"
	Strings   []int    // of open strings and chromatic: in this order; nil the usual ones
	Together  bool     // of thirds … tenths: both notes at once
	Octaves   int      // 0 as many as the position holds, at most 2
	Above     int      // degrees beyond the upper keynote
	Below     int      // degrees below the lower keynote
	Direction string   // up, down, up-down, down-up, of degrees also once; "" up-down
	Start     string   // of the lower keynote: "6/3" (string/fret), "string 5", "G2"
	Position  string   // "1" to "12", or "free" for a hand that may move; "" 1 or what the start asks
	Each      string   // how often each note comes: "1" to "16", or "rhythm" for one whole rhythm a note

	RightHand string // "i m", "p i m a", "p5 i3 (m2a1)", "auto", "none"
	Bass      string // "held": what p plucks sounds on, in a voice of its own
	Stroke    string // "rest", "free", "p free, i m rest"
	Rhythm    string // "eighths", "quarter eighth eighth", "long-short"
	Time      string // "4/4"
	Tempo     float64
	Goal      float64
	Dynamics  string  // "f", "terraced f p every 2 bars", "echo f p", "crescendo p f"
	Accents   string  // "beats", "bars", "every 3"
	Tone      string  // "over the neck", "over the hole, near the bridge every 2 bars"
	Rounds    int     // times the pattern is written out; 0 once
	Repeat    int     // times the whole is played, by a repeat sign
	Without   string  // not learnt yet: "fourth finger, barre, stretch, a"
	ScaleMm   float64 // of the guitar; 0 650
	SpanMm    float64 // of the left hand; 0 a grown-up's
	Names     string  // letters, do-re-mi: under the notes, for saying aloud
	Variants  []string

	name  string         // of the file it was read from
	lines map[string]int // where each key stands in that file
}

// Limits on what is composed. A page holds about forty bars; a longer exercise is not practised.
const (
	maxBars   = 128
	maxEvents = 2048
)

// Compose makes the score of a recipe.
func Compose(r Recipe) (*music.Score, error) {
	s, err := r.sheet()
	if err != nil {
		return nil, r.placed(err)
	}
	score, err := s.finish()
	if err != nil {
		return nil, r.placed(err)
	}
	return score, nil
}

// placed gives a problem the line of the recipe that it is about.
func (r Recipe) placed(err error) error {
	if p, ok := errors.AsType[*Problem](err); ok {
		q := *p
		if q.Line == 0 {
			q.Line = r.lines[q.Key]
		}
		if q.Name == "" {
			q.Name = r.name
		}
		return &q
	}
	return fmt.Errorf("compose %q: %w", clip(r.Title), err)
}

// finish writes a sheet out and checks what came of it.
func (s *sheet) finish() (*music.Score, error) {
	score, err := s.lay()
	if err != nil {
		return nil, err
	}
	return score, s.checked(score)
}
