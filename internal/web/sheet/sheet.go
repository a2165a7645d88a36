// Package sheet puts engraved music into pages: one address that draws a work at the width of the
// reader's screen, an element to place it with, and the same music in words for a screen reader.
//
// It draws only what the viewer may see and keeps what was drawn in memory, by the score and how it was
// asked for. It changes no score, and knows nothing of takes: a page that shows evidence asks for room
// under the systems and draws there by itself.
//
// A page places music with Place and gets this, which works without a script as a still picture:
//
//	<div class="sheet" data-island="sheet" data-work="…" data-from="3" data-until="8">…</div>
package sheet

import (
	"bytes"
	"compress/gzip"
	"context"
	"crypto/sha256"
	"encoding/hex"
	"encoding/json"
	"errors"
	"fmt"
	"net/http"
	"strings"

	"antiphon/internal/engrave"
	"antiphon/internal/music"
	"antiphon/internal/notation"
	"antiphon/internal/studio"
	"antiphon/internal/web/page"
	"antiphon/internal/web/tongue"
)

// Sheets draws music for pages. It is safe for several goroutines.
type Sheets struct {
	engraver *engrave.Engraver
	f        *page.Frame
	drawn    *shelf
	scores   *shelf
}

// What is kept in memory: a sheet has some 60 KB, and a tenth of that packed. Our choice; no source.
const (
	mostSheets = 400
	mostScores = 60
)

// New makes Sheets. Give the engraver a cache folder, or the first sheet after every start waits
// seconds for the engraving library to be compiled.
func New(e *engrave.Engraver, f *page.Frame) *Sheets {
	return &Sheets{engraver: e, f: f, drawn: newShelf(mostSheets), scores: newShelf(mostScores)}
}

// Routes registers GET /sheets/{work}: the music as SVG for an <img>, or for a script that accepts JSON
// a Sheet. The query is that of Look, with the student that it is for.
func (s *Sheets) Routes(mux *http.ServeMux) {
	mux.Handle("GET /sheets/{work}", s.f.Known(s.work))
}

// Sheet is engraved music with its words.
type Sheet struct {
	SVG  string             `json:"svg"`
	Bars []engrave.BarWords `json:"bars"`
	Lang string             `json:"lang"` // in which the bars are read
}

// work answers with the music of a work: the teacher's any, a family's those that were asked of it. With for
// it has the fingers of that student, with own those of one fingering that was kept for the student. What an address says
// of the state of its music is not read: it is what stands now.
func (s *Sheets) work(w http.ResponseWriter, r *http.Request) error {
	look, err := LookOf(r.URL.Query())
	if err != nil {
		return err
	}
	q := r.URL.Query()
	work, err := s.f.Desk().WorkIn(r.Context(), page.Viewer(r), studio.StudentID(q.Get("for")), studio.WorkID(r.PathValue("work")), studio.FingeringID(q.Get("own")))
	if err != nil {
		return err
	}
	return s.Serve(w, r, work.Score, look)
}

// Serve answers a request for a score that the caller has the right to show: as JSON to a script that
// accepts it, else as a picture.
func (s *Sheets) Serve(w http.ResponseWriter, r *http.Request, musicXML string, look Look) error {
	d, err := s.draw(r.Context(), musicXML, look)
	if err != nil {
		return err
	}
	h := w.Header()
	h.Set("Cache-Control", "private, no-cache") // kept by the browser, asked for again: who may see it may change
	h.Set("Vary", "Accept, Accept-Encoding, Cookie")
	asJSON := strings.Contains(r.Header.Get("Accept"), "application/json")
	tag := `"` + d.sum[:20] + `"`
	h.Set("Content-Type", "image/svg+xml")
	if asJSON {
		tag = `"` + d.sum[:20] + `j"`
		h.Set("Content-Type", "application/json")
	}
	h.Set("ETag", tag)
	if r.Header.Get("If-None-Match") == tag {
		w.WriteHeader(http.StatusNotModified)
		return nil
	}
	if !asJSON {
		_, err = w.Write([]byte(d.sheet.SVG))
		return err
	}
	if strings.Contains(r.Header.Get("Accept-Encoding"), "gzip") {
		h.Set("Content-Encoding", "gzip")
		_, err = w.Write(d.packed)
		return err
	}
	return json.NewEncoder(w).Encode(d.sheet)
}

// Draw engraves a score that is kept as MusicXML.
func (s *Sheets) Draw(ctx context.Context, musicXML string, look Look) (Sheet, error) {
	d, err := s.draw(ctx, musicXML, look)
	return d.sheet, err
}

// drawing is a sheet as it is kept.
type drawing struct {
	sheet  Sheet
	sum    string // of the score and the look
	packed []byte // its JSON, gzipped
}

func (s *Sheets) draw(ctx context.Context, musicXML string, look Look) (drawing, error) {
	sum := sha256.Sum256(fmt.Appendf([]byte(musicXML), "\n%+v", look))
	key := hex.EncodeToString(sum[:])
	return get(s.drawn, key, func() (drawing, error) {
		score, err := s.Score(musicXML)
		if err != nil {
			return drawing{}, err
		}
		// Others may wait for it: who asked first and went away does not take it from them.
		sheet, err := s.DrawScore(context.WithoutCancel(ctx), score, look)
		if err != nil {
			return drawing{}, err
		}
		d := drawing{sheet: sheet, sum: key}
		var b bytes.Buffer
		z := gzip.NewWriter(&b)
		if err := errors.Join(json.NewEncoder(z).Encode(sheet), z.Close()); err != nil {
			return drawing{}, err
		}
		d.packed = b.Bytes()
		return d, nil
	})
}

// Score reads a score that is kept as MusicXML. Callers share it and do not change it.
func (s *Sheets) Score(musicXML string) (*music.Score, error) {
	if musicXML == "" {
		return nil, &studio.Problem{Kind: studio.NotFound, Say: "This work has no score yet. Add one in the library."}
	}
	sum := sha256.Sum256([]byte(musicXML))
	return get(s.scores, hex.EncodeToString(sum[:]), func() (*music.Score, error) {
		score, _, err := notation.Read(strings.NewReader(musicXML), "score.musicxml", notation.Limits{})
		if err != nil {
			return nil, &studio.Problem{Kind: studio.Invalid, Say: "The score of this work cannot be read any more. Import it again in the library.", Err: err}
		}
		return score, nil
	})
}

// DrawScore engraves a score that is not kept yet, such as another fingering or an import. It is not
// cached here.
func (s *Sheets) DrawScore(ctx context.Context, score *music.Score, look Look) (Sheet, error) {
	o, err := look.options(score)
	if err != nil {
		return Sheet{}, err
	}
	svg, err := s.engraver.SVG(ctx, score, o)
	switch {
	case errors.Is(err, engrave.ErrTooLarge), errors.Is(err, engrave.ErrTooLong), errors.Is(err, engrave.ErrTrapped):
		return Sheet{}, &studio.Problem{Kind: studio.TooLarge, Say: "This score could not be engraved in one piece. Choose a passage of it.", Err: err}
	case err != nil:
		return Sheet{}, err
	}
	in, err := speechOf(tongue.Of(look.In))
	return Sheet{SVG: svg, Bars: engrave.Words(score, o.From, o.Until, in), Lang: tongue.Of(look.In).Code}, err
}
