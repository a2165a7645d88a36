package library

import (
	"bytes"
	"crypto/sha256"
	"encoding/hex"
	"errors"
	"fmt"
	"io"
	"path"
	"strings"

	"antiphon/internal/music"
	"antiphon/internal/notation"
	"antiphon/internal/studio"
)

// limits of a score that a page takes in: more than this cannot be engraved at once.
func limits() notation.Limits {
	return notation.Limits{Bytes: 20 << 20, UnzippedBytes: 40 << 20, Notes: 40_000, Bars: 2000, Elements: 2_000_000}
}

// reading is a score that came in, with what was forgiven.
type reading struct {
	score    *music.Score
	xml      string
	forgiven []string
}

// take reads a score in any format that the house knows. The error is a *studio.Problem.
func take(r io.Reader, name string) (reading, error) {
	s, forgiven, err := notation.Read(r, name, limits())
	if err != nil {
		return reading{}, unread(err)
	}
	out := reading{score: s}
	for _, f := range forgiven {
		out.forgiven = append(out.forgiven, f.String())
	}
	if out.xml, err = written(s); err != nil {
		return reading{}, &studio.Problem{Kind: studio.Invalid, Say: "The score was read and cannot be written down again (" + err.Error() + "). Export it from where it was written as MusicXML and send that.", Err: err}
	}
	return out, nil
}

// unread makes one sentence of why a file is no score for us. The name of the file stands beside it.
func unread(err error) error {
	p := &studio.Problem{Kind: studio.Invalid, Err: err}
	re, ok := errors.AsType[*notation.ReadError](err)
	if !ok {
		p.Say = "It could not be read to its end. Send it again."
		return p
	}
	at := ""
	switch {
	case re.Bar != "" && re.Line > 0:
		at = fmt.Sprintf("Bar %s, line %d: ", re.Bar, re.Line)
	case re.Bar != "":
		at = "Bar " + re.Bar + ": "
	case re.Line > 0:
		at = fmt.Sprintf("Line %d: ", re.Line)
	}
	p.Say = sentence(at + re.Say)
	return p
}

func written(s *music.Score) (string, error) {
	var b bytes.Buffer
	if err := notation.WriteMusicXML(&b, s); err != nil {
		return "", err
	}
	return b.String(), nil
}

// scoreOf reads the score that a work has. Each call gives a new one, which the caller may write into.
func scoreOf(w studio.Work) (*music.Score, error) {
	if w.Score == "" {
		return nil, &studio.Problem{Kind: studio.NotFound, Say: "There is no score for " + w.Title + " yet."}
	}
	s, _, err := notation.Read(strings.NewReader(w.Score), w.Title, notation.Limits{})
	if err != nil {
		return nil, fmt.Errorf("the score of work %s: %w", w.ID, err)
	}
	s.Title, s.Composer = w.Title, w.Composer
	return s, nil
}

// sum is a short name of a score's state.
func sum(score string) string {
	s := sha256.Sum256([]byte(score))
	return hex.EncodeToString(s[:10])
}

// called is a title made of a file's name: no folder, no ending.
func called(file string) string {
	file = path.Base(strings.ReplaceAll(file, `\`, "/"))
	if file == "." || file == "/" {
		return ""
	}
	return strings.TrimSpace(strings.TrimSuffix(file, path.Ext(file)))
}

// sentence begins with a capital and ends with a full stop.
func sentence(s string) string {
	s = strings.TrimSpace(s)
	if s == "" {
		return ""
	}
	r := []rune(s)
	r[0] = []rune(strings.ToUpper(string(r[0])))[0]
	s = string(r)
	if !strings.ContainsRune(".!?…”", r[len(r)-1]) {
		s += "."
	}
	return s
}
