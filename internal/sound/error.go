package sound

import "fmt"

// Kind says what stands in the way.
type Kind string

const (
	NoNotes   Kind = "no-notes"   // nothing that sounds is written, or all of it is muted
	BadOption Kind = "bad-option" // asked for what cannot be
	NoSuchBar Kind = "no-such-bar"
	NoVoice   Kind = "no-voice" // a voice to mute that the score does not have
	TooLong   Kind = "too-long"
	NoTool    Kind = "no-tool"  // FluidSynth, ffmpeg or a sound font is missing
	BadFont   Kind = "bad-font" // no guitar comes out of the sound font
	Format    Kind = "format"   // of a file that is not made here
	Internal  Kind = "internal"
)

// Error says in one sentence what is wrong and what to do.
type Error struct {
	Kind Kind
	Say  string
	Err  error // the cause, for a log; may be nil
}

func (e *Error) Error() string { return e.Say }
func (e *Error) Unwrap() error { return e.Err }

func problem(kind Kind, cause error, format string, args ...any) *Error {
	return &Error{kind, fmt.Sprintf(format, args...), cause}
}
