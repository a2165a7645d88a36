package page

import (
	"bufio"
	"errors"
	"io"
	"mime"
	"net/http"
	"strings"

	"antiphon/internal/studio"
)

// Recording finds the recording in a form of one file called "file": its media type, as the browser says or where it does
// not know by its first bytes, and the bytes as they come.
func Recording(r *http.Request) (kind string, body io.Reader, err error) {
	parts, err := r.MultipartReader()
	if err != nil {
		return "", nil, &studio.Problem{Kind: studio.Invalid, Say: "No recording came. Choose it again and send it.", Err: err}
	}
	for {
		part, err := parts.NextPart()
		switch {
		case errors.Is(err, io.EOF):
			return "", nil, &studio.Problem{Kind: studio.Invalid, Say: "No recording was chosen. Choose one and send it."}
		case err != nil:
			return "", nil, &studio.Problem{Kind: studio.Invalid, Say: "The recording did not arrive whole. Send it again.", Err: err}
		case part.FormName() != "file" || part.FileName() == "":
			continue
		}
		body := bufio.NewReader(part)
		return kindOf(part.Header.Get("Content-Type"), body), body, nil
	}
}

func kindOf(said string, body *bufio.Reader) string {
	kind, _, err := mime.ParseMediaType(said)
	if err == nil && (strings.HasPrefix(kind, "audio/") || strings.HasPrefix(kind, "video/")) {
		return kind
	}
	first, _ := body.Peek(512) // a file may be shorter
	kind, _, _ = mime.ParseMediaType(http.DetectContentType(first))
	if kind == "application/ogg" {
		return "audio/ogg"
	}
	return kind
}
