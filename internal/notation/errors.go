package notation

import (
	"errors"
	"fmt"
)

// Kind of a ReadError, for the program.
type Kind string

const (
	Unreadable Kind = "unreadable"  // no such file, or it may not be opened
	Empty      Kind = "empty"       // nothing in it
	NotAScore  Kind = "not-a-score" // something else than a score
	IllFormed  Kind = "ill-formed"  // begins as a score and stops making sense
	TooLarge   Kind = "too-large"   // beyond the Limits
	Hostile    Kind = "hostile"     // entities, path tricks, bombs
)

// What a ReadError wraps.
var (
	ErrEmpty     = errors.New("empty file")
	ErrNotAScore = errors.New("not a score")
	ErrIllFormed = errors.New("ill-formed score")
	ErrTooLarge  = errors.New("more than a score may hold")
	ErrEntity    = errors.New("the file declares or uses entities")
	ErrBomb      = errors.New("the compressed file unpacks to far more than it should")
	ErrPath      = errors.New("the compressed file names a path outside itself")
)

// ReadError says what is wrong with a file, where, and what to do.
type ReadError struct {
	Name string // of the file, as given to Read
	Kind Kind
	Line int    // 0 unknown
	Bar  string // as printed; "" unknown
	Say  string // one sentence for a person
	Err  error  // the cause; wraps one of the errors above
}

func (e *ReadError) Error() string {
	at := ""
	switch {
	case e.Bar != "" && e.Line > 0:
		at = fmt.Sprintf(", bar %s, line %d", printable(e.Bar), e.Line)
	case e.Bar != "":
		at = ", bar " + printable(e.Bar)
	case e.Line > 0:
		at = fmt.Sprintf(", line %d", e.Line)
	}
	name := "score"
	if e.Name != "" {
		name = printable(e.Name)
	}
	return name + at + ": " + e.Say
}

func (e *ReadError) Unwrap() error { return e.Err }

func tooLarge(format string, args ...any) *ReadError {
	return &ReadError{Kind: TooLarge, Say: fmt.Sprintf(format, args...) + "; send a smaller score, or one piece at a time", Err: ErrTooLarge}
}

func illFormed(line int, bar, say string, cause error) *ReadError {
	err := ErrIllFormed
	if cause != nil {
		err = fmt.Errorf("%w: %w", ErrIllFormed, cause)
	}
	return &ReadError{Kind: IllFormed, Line: line, Bar: bar, Say: say + "; export the score again", Err: err}
}
