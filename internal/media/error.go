package media

import "fmt"

// Kind says what was wrong with a recording, for the program.
type Kind string

// The kinds of Error.
const (
	NoFile     Kind = "no-file"
	IsFolder   Kind = "is-folder"
	Unreadable Kind = "unreadable"
	Empty      Kind = "empty"
	NotMedia   Kind = "not-media" // also a playlist, a text, an unknown kind of file
	Broken     Kind = "broken"    // cut off or damaged so that nothing can be heard
	NoSound    Kind = "no-sound"  // pictures only, or a sound track without samples
	TooLong    Kind = "too-long"
	TooLarge   Kind = "too-large"
	TooSlow    Kind = "too-slow"
	NoTool     Kind = "no-tool" // ffmpeg or ffprobe is missing
	Stopped    Kind = "stopped" // the context ended
	Internal   Kind = "internal"
)

// Error is a recording that cannot be heard.
type Error struct {
	Kind Kind
	Path string
	Say  string // one sentence for a person: what, where, what to do
	Err  error  // the cause, for the log; may be nil
}

func (e *Error) Error() string { return e.Say }

func (e *Error) Unwrap() error { return e.Err }

func problem(k Kind, path string, cause error, format string, args ...any) *Error {
	return &Error{Kind: k, Path: path, Say: fmt.Sprintf(format, args...), Err: cause}
}
