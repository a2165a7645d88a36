package exercise

import (
	"errors"
	"fmt"
	"strings"
)

// Kind of a Problem, for the program.
type Kind string

const (
	BadRecipe  Kind = "bad-recipe"   // it cannot be read, or two of its lines contradict each other
	OutOfRange Kind = "out-of-range" // the guitar, or the position, does not have a note
	Unplayable Kind = "unplayable"   // hands cannot do it
	NoSuchBars Kind = "no-such-bars" // the score does not have the passage
	NotThere   Kind = "not-there"    // the passage has nothing that this fault could be about
)

// What a Problem wraps.
var (
	ErrBadRecipe  = errors.New("the recipe cannot be used")
	ErrOutOfRange = errors.New("a note lies outside the range")
	ErrUnplayable = errors.New("it cannot be played")
	ErrNoSuchBars = errors.New("there are no such bars")
	ErrNotThere   = errors.New("there is nothing to practise")
)

// Problem says what is wrong with a recipe or a request, where, and what to do.
type Problem struct {
	Name string // of the recipe's file; "" none
	Kind Kind
	Line int    // in the recipe; 0 unknown
	Key  string // the line of the recipe that it is about; "" none
	Say  string // one sentence for a person
	Err  error  // the cause; wraps one of the errors above
}

func (p *Problem) Error() string {
	var at []string
	if p.Name != "" {
		at = append(at, p.Name)
	}
	if p.Line > 0 {
		at = append(at, fmt.Sprintf("line %d", p.Line))
	}
	if p.Key != "" {
		at = append(at, p.Key)
	}
	if len(at) == 0 {
		return p.Say
	}
	return strings.Join(at, ", ") + ": " + p.Say
}

func (p *Problem) Unwrap() error { return p.Err }

func bad(key, format string, args ...any) *Problem {
	return &Problem{Kind: BadRecipe, Key: key, Say: fmt.Sprintf(format, args...), Err: ErrBadRecipe}
}

func outOfRange(key, format string, args ...any) *Problem {
	return &Problem{Kind: OutOfRange, Key: key, Say: fmt.Sprintf(format, args...), Err: ErrOutOfRange}
}

func unplayable(key, format string, args ...any) *Problem {
	return &Problem{Kind: Unplayable, Key: key, Say: fmt.Sprintf(format, args...), Err: ErrUnplayable}
}

func notThere(format string, args ...any) *Problem {
	return &Problem{Kind: NotThere, Say: fmt.Sprintf(format, args...), Err: ErrNotThere}
}
