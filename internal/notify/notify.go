// Package notify carries short notices out of the house: to browsers by web push (RFC 8030, 8291, 8292)
// and by e-mail through the studio's own mail server.
//
// A notice says that something is there, and where; it names no child, carries nothing of a lesson or a
// recording, and does not tell whether it was opened. It is written in the reader's language. What to send
// and to whom is the studio's affair; a sender here tries once and says how it went.
package notify

import (
	"errors"
	"fmt"
	"net/url"
	"strings"
	"time"
	"unicode"
)

// Kind is what a notice is about.
type Kind string

// The kinds of notice: the first three go to families, the next three to the teacher, Confirm to an address
// that is to be confirmed.
const (
	Lesson   Kind = "lesson" // an answer is here
	Nudge    Kind = "nudge"  // the teacher wrote a few words
	Letter   Kind = "letter" // a letter about a term
	Take     Kind = "take"
	Question Kind = "question"
	Hurt     Kind = "hurt"
	Confirm  Kind = "confirm"
	Test     Kind = "test" // somebody wants to see whether notices arrive
)

// Notice is one message to one person.
type Notice struct {
	ID       string // letters and digits: a mail that is sent twice is the same mail (RFC 5322, 3.6.4), and mailboxes may show one; "" draws one
	Kind     Kind
	Language string // of the reader: "en", "es"; others are English
	Studio   string // its name, as the sender
	Link     string // where to go, https://studio.example.org/week
	Off      string // address of a page that stops these mails at one touch; "" only for Confirm and Test
}

// Errors of sending. Anything else may be tried again.
var (
	ErrGone    = errors.New("nobody is there any more: the address can be forgotten")
	ErrRefused = errors.New("it is refused for good, and trying again would not help")
	// ErrUnfit comes with ErrRefused where it is the address that is refused: nothing will ever reach it.
	ErrUnfit = errors.New("the address is of no use and has to be given anew")
)

// LaterError is a refusal for now that says how long to wait.
type LaterError struct {
	AfterS float64 // 0 unknown
	Err    error
}

func (e *LaterError) Error() string { return "not now: " + e.Err.Error() }

func (e *LaterError) Unwrap() error { return e.Err }

// Wait is AfterS as whoever tries again wants it.
func (e *LaterError) Wait() time.Duration { return time.Duration(e.AfterS * float64(time.Second)) }

// check refuses links that could break out of where they stand.
func (n Notice) check() error {
	for _, l := range []string{n.Link, n.Off} {
		u, err := url.Parse(l)
		if l != "" && (err != nil || u.Scheme != "https" && u.Scheme != "http" || u.Host == "" || len(l) > 900 ||
			strings.ContainsFunc(l, func(r rune) bool { return r == '<' || r == '>' || unicode.IsSpace(r) || r > unicode.MaxASCII })) {
			return fmt.Errorf("%w: %q is no link", ErrRefused, l)
		}
	}
	if n.Link == "" && n.Kind != Test {
		return fmt.Errorf("%w: a notice %q leads nowhere", ErrRefused, n.Kind)
	}
	return nil
}

// oneLine keeps foreign text from opening a second line in a header.
func oneLine(s string) string { return strings.Join(strings.Fields(strings.ToValidUTF8(s, "")), " ") }
