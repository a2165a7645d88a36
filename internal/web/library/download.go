package library

import (
	"bytes"
	"errors"
	"mime"
	"net/http"
	"path"
	"strings"
	"time"
	"unicode"

	"antiphon/internal/engrave"
	"antiphon/internal/notation"
	"antiphon/internal/studio"
	"antiphon/internal/web/page"
)

// download gives the score as a file. GET /library/works/{work}/score.musicxml, .mid, .pdf
func (l *library) download(w http.ResponseWriter, r *http.Request) error {
	one, err := l.desk().Work(r.Context(), page.Viewer(r), workID(r))
	if err != nil {
		return err
	}
	s, err := scoreOf(one)
	if err != nil {
		return err
	}
	var b bytes.Buffer
	kind, ending := "", path.Ext(r.URL.Path)
	switch ending {
	case ".mid":
		kind, err = "audio/midi", notation.WriteMIDI(&b, s)
	case ".pdf":
		kind, err = "application/pdf", l.o.Engraver.PDF(r.Context(), &b, s, engrave.Options{Made: l.f.Now()})
	default:
		kind, err = "application/vnd.recordare.musicxml+xml", notation.WriteMusicXML(&b, s)
	}
	if err != nil {
		return unprinted(err)
	}
	w.Header().Set("Content-Type", kind)
	w.Header().Set("Content-Disposition", mime.FormatMediaType("attachment", map[string]string{"filename": fileName(one.Title) + ending}))
	http.ServeContent(w, r, "", time.Time{}, bytes.NewReader(b.Bytes()))
	return nil
}

// unprinted says why a score cannot be put on paper, where it is the score's fault.
func unprinted(err error) error {
	for _, known := range []error{engrave.ErrTooLarge, engrave.ErrTooLong, engrave.ErrTrapped, notation.ErrUnwritable} {
		if errors.Is(err, known) {
			return &studio.Problem{Kind: studio.Invalid, Say: sentence("This score cannot be written down so: " + err.Error()), Err: err}
		}
	}
	return err
}

// fileName makes a name that every system takes of a title.
func fileName(title string) string {
	name := strings.Map(func(r rune) rune {
		switch {
		case unicode.IsLetter(r), unicode.IsDigit(r), r == '-', r == '_':
			return r
		case unicode.IsSpace(r):
			return '-'
		}
		return -1
	}, title)
	if name = clipped(strings.Trim(name, "-"), 80); name == "" {
		return "score"
	}
	return name
}
