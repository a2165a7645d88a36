// Package pluck chooses the fingers of the right hand, p i m a, for the notes of a score, and says
// where a rest stroke may be played.
//
// It follows the trade's rules: fingers alternate, crossings go the hand's way, the thumb takes the
// basses, an arpeggio keeps one finger on each string, chords are taken in the order of the hand, a
// slurred note takes no finger. Marks that stand in the score, and a teacher's pattern, are kept.
// It does not choose strings: where it is told none it guesses the lowest position.
package pluck

import (
	"errors"
	"fmt"
	"slices"

	"antiphon/internal/guitar"
	"antiphon/internal/music"
)

// Options: the zero value chooses among p i m a, on a full-size guitar, without rest strokes.
type Options struct {
	Instrument guitar.Instrument
	NoA        bool              // the ring finger is not used yet
	Pattern    string            // the teacher's: "p i m a", "pimami", "p(im)a"; begins again in every bar. "" none
	From, To   string            // numbers of the first and last bar that the pattern is for; "" from the beginning, to the end
	Rest       bool              // melodies are played with rest strokes wherever these may land
	Fix        map[string]string // finger by note id, as a mark in the score would do
}

// Choice is what the right hand does with one note.
type Choice struct {
	ID      string       // of music.Sounding
	Finger  string       // "p", "i", "m", "a"; "" for a note that is not plucked
	Given   bool         // by a mark, the pattern or Options.Fix
	Stroke  music.Stroke // marked, or asked for by Options.Rest
	MayRest bool         // a rest stroke would land on a string that is quiet
	Why     string       // why it is not plucked, or why a rest stroke may not land; "" nothing to say
}

// Start says why a run of single notes starts with the finger that it starts with.
type Start struct {
	Note   string
	Finger string
	Reason string
}

// Plan is a right hand for a whole score.
type Plan struct {
	Notes  []Choice // one for each note of Score.Sounding, in its order
	Starts []Start
	marks  [][]music.NoteRef
}

// ErrPattern is the cause where a pattern cannot be read or does not fit the notes.
var ErrPattern = errors.New("the right-hand pattern does not fit")

// Assign chooses. Places are by note id; a note without one goes by its marks, else by a guess.
func Assign(s *music.Score, places map[string]guitar.Place, o Options) (*Plan, error) {
	if err := o.Instrument.Check(); err != nil {
		return nil, err
	}
	steps, err := ParsePattern(o.Pattern)
	if err != nil {
		return nil, err
	}
	first, last, err := bars(s, o.From, o.To)
	if err != nil {
		return nil, err
	}
	for id, f := range o.Fix {
		if fingerOf(f) == none {
			return nil, fmt.Errorf("%w: %q for note %s is no finger; use p, i, m or a", ErrPattern, f, id)
		}
	}
	sounding, written := s.Sounding(), s.Written()
	plan := &Plan{Notes: make([]Choice, len(sounding)), marks: written}
	for i, n := range sounding {
		plan.Notes[i].ID = n.ID
	}
	for _, parts := range s.Players() {
		l := layOut(s, parts, sounding, written, places, o)
		if err := l.setPattern(s, steps, first, last, o); err != nil {
			return nil, err
		}
		l.choose(weights())
		l.strokes(o)
		plan.take(l)
	}
	return plan, nil
}

func (p *Plan) take(l *layout) {
	for _, n := range l.all {
		c := &p.Notes[n.index]
		c.Given, c.Why, c.MayRest, c.Stroke = n.given, n.why, n.mayRest, n.stroke
		if n.finger != none {
			c.Finger = n.finger.String()
		}
		if n.little {
			c.Finger = "c"
		}
	}
	p.Starts = append(p.Starts, l.starts()...)
}

// isLetter reports whether a fingering is the right hand's, which some writers put among the left's.
func isLetter(text string) bool { return text == "c" || fingerOf(text) != none }

// Write puts the fingers, and the strokes where they were asked for, into the score the plan was made
// from. A note that is not plucked loses no mark.
func (p *Plan) Write(s *music.Score) {
	for i, c := range p.Notes {
		if i >= len(p.marks) || len(p.marks[i]) == 0 || c.Finger == "" {
			continue
		}
		ref := p.marks[i][0]
		n := &s.Parts[ref.Part].Notes[ref.Note]
		n.Plucks = []string{c.Finger}
		n.Fingers = slices.DeleteFunc(slices.Clone(n.Fingers), func(f music.Fingering) bool { return isLetter(f.Text) })
		if len(n.Fingers) == 0 {
			n.Fingers = nil
		}
		if c.Stroke != music.NoStroke {
			n.SetStroke(c.Stroke)
		}
	}
}
