package studio

import (
	"errors"
	"fmt"
	"strings"
	"unicode"
)

// What a store answers; problemOf makes sentences of them.
var (
	ErrNotFound = errors.New("not there")        // or not in the scope that was asked
	ErrConflict = errors.New("changed meantime") // the row is not in the state that was expected
	ErrTooLarge = errors.New("larger than allowed")
	ErrFull     = errors.New("no room on the disk")
)

// Kind of a problem, for a program.
type Kind string

const (
	Invalid    Kind = "invalid"     // what was sent makes no sense
	NotFound   Kind = "not-found"   // is not there, or not for this viewer: the two are not told apart
	NotAllowed Kind = "not-allowed" // this viewer never may
	Conflict   Kind = "conflict"    // somebody else was quicker
	Gone       Kind = "gone"        // a link that was used or has expired
	TooLarge   Kind = "too-large"
	TooMany    Kind = "too-many" // at once; later it may be allowed
	Full       Kind = "full"     // the disk of the studio
	Internal   Kind = "internal"
)

// Problem is what every use-case answers when it refuses: a kind for the program, a cause for the
// log, and one sentence for a person.
type Problem struct {
	Kind Kind
	Say  string
	Err  error // may be nil; never shown to a person
}

func (p *Problem) Error() string {
	if p.Err != nil {
		return fmt.Sprintf("%s: %s (%v)", p.Kind, p.Say, p.Err)
	}
	return fmt.Sprintf("%s: %s", p.Kind, p.Say)
}

func (p *Problem) Unwrap() error { return p.Err }

func invalid(format string, a ...any) *Problem {
	return &Problem{Kind: Invalid, Say: fmt.Sprintf(format, a...)}
}

// problemOf makes a Problem of any error, and nothing of none.
func problemOf(err error) error {
	if err == nil {
		return nil
	}
	if p, ok := errors.AsType[*Problem](err); ok {
		return p
	}
	switch {
	case errors.Is(err, ErrNotFound):
		return &Problem{NotFound, "This is not here, or not for you to see.", err}
	case errors.Is(err, ErrConflict):
		return &Problem{Conflict, "This was changed in the meantime. Open it again and repeat your change.", err}
	case errors.Is(err, ErrTooLarge):
		return &Problem{TooLarge, "This recording is larger than the studio takes. Send a shorter one, or sound without the picture.", err}
	case errors.Is(err, ErrFull):
		return full(err)
	}
	return &Problem{Internal, "Something broke on our side. What was sent before is safe; try again.", err}
}

func full(err error) *Problem {
	return &Problem{Full, "The studio's disk is full, so this was not kept. Nothing that was sent before is lost: keep this, and send it again when the teacher has made room.", err}
}

// tidy makes one line of what a person typed: no control signs, nothing that turns the letters round or
// cannot be seen, no space round it.
func tidy(s string) string {
	s = strings.Map(func(r rune) rune {
		if unicode.IsControl(r) {
			return ' '
		}
		return visible(r)
	}, strings.ToValidUTF8(s, ""))
	return strings.Join(strings.Fields(s), " ")
}

// What a page can show of a name and of a title, in letters.
const (
	longestName  = 120
	longestTitle = 300
)

// named is a name, or a title, as a page can show it: one line, and no longer than that.
func named(s string, longest int) string {
	s = tidy(s)
	if r := []rune(s); len(r) > longest {
		s = strings.TrimSpace(string(r[:longest]))
	}
	return s
}

// visible drops what changes the direction of writing or takes no room (Unicode's category Cf), but for
// the two joiners that some scripts need.
func visible(r rune) rune {
	if unicode.Is(unicode.Cf, r) && r != '\u200c' && r != '\u200d' {
		return -1
	}
	return r
}
