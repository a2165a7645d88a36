// Package sounds makes the sounds that pages play, on demand, and keeps them as files within bounds.
//
// A sound is made once whoever asks, one at a time, and can be made again at any time: the files are no
// data of the studio. Who waits to play comes before a phone that keeps sounds for later. It does not know what is played or who may hear it; its callers decide that first.
package sounds

import (
	"context"
	"errors"
	"fmt"
	"log/slog"
	"net/http"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"time"
	"unicode"

	"antiphon/internal/sound"
	"antiphon/internal/studio"
	"antiphon/internal/web/errand"
	"antiphon/internal/web/page"
)

// Options of a Shelf. The zero value works.
type Options struct {
	MostBytes int64         // kept; the sounds that were not heard for longest go first. 0 means 1 GB
	Patience  time.Duration // a player waits so long for a sound; 0 means 90 s
	Log       *slog.Logger  // nil means discard
}

const (
	usualBytes    = 1 << 30
	usualPatience = 90 * time.Second // a player waits longer than a reader
	longest       = 3 * time.Minute  // of one sound's making
	remembered    = 200
)

// Shelf is a folder of made sounds. It is safe for several goroutines.
type Shelf struct {
	dir    string
	o      Options
	making *errand.Errands[string] // the name of the file
}

// Open makes a shelf in a folder of its own, which is made when the first sound is.
func Open(dir string, o Options) *Shelf {
	if o.MostBytes <= 0 {
		o.MostBytes = usualBytes
	}
	if o.Patience <= 0 {
		o.Patience = usualPatience
	}
	if o.Log == nil {
		o.Log = slog.New(slog.DiscardHandler)
	}
	return &Shelf{dir, o, errand.New[string](1, remembered, longest)}
}

// End waits for what was begun; call it when the last request was answered.
func (s *Shelf) End() { s.making.End() }

// Serve answers with the sound that has this key, a word of letters and digits, and makes it first where it is
// not there. Where it takes too long the answer says when to ask again.
func (s *Shelf) Serve(w http.ResponseWriter, r *http.Request, key string, play func(context.Context) (*sound.Audio, error)) error {
	file := filepath.Join(s.dir, key+".m4a")
	if _, err := os.Stat(file); err != nil {
		_, ready, err := s.making.GetFor(r.Context(), asker(r), key, s.o.Patience, func(ctx context.Context) (string, error) {
			made, err := play(ctx)
			if err != nil {
				return "", Refusal(err)
			}
			return file, s.keep(ctx, made, file)
		})
		if crowded := errors.Is(err, errand.ErrCrowded); err != nil && !crowded {
			return err
		}
		if !ready {
			w.Header().Set("Retry-After", "20")
			return &studio.Problem{Kind: page.TooMany, Say: "The sound is still being made. Press play again in half a minute."}
		}
	}
	f, err := os.Open(file)
	if err != nil {
		return fmt.Errorf("a sound that was made: %w", err)
	}
	defer f.Close()
	now := time.Now()
	if err := os.Chtimes(file, now, now); err != nil { // it was heard: it is kept longer
		s.o.Log.Info("made sounds", "error", err)
	}
	w.Header().Set("Content-Type", "audio/mp4")
	w.Header().Set("ETag", `"`+key+`"`)
	http.ServeContent(w, r, "", time.Time{}, f)
	return nil
}

// asker is the household that a sound is made for; the teacher is one.
func asker(r *http.Request) errand.Asker {
	v := page.Viewer(r)
	return errand.Asker{Name: string(v.Role) + " " + string(v.Family), Ahead: page.Ahead(r)}
}

// Refusal makes a sentence of why there is no sound.
func Refusal(err error) error {
	e, ok := errors.AsType[*sound.Error](err)
	if !ok {
		return err
	}
	switch e.Kind {
	case sound.NoNotes, sound.BadOption, sound.NoSuchBar, sound.NoVoice, sound.TooLong:
		say := []rune(e.Say + ".")
		say[0] = unicode.ToUpper(say[0])
		return &studio.Problem{Kind: studio.Invalid, Say: string(say), Err: err}
	}
	return err
}

// keep writes a sound beside its name and then puts it there: whoever looks sees it whole or not.
func (s *Shelf) keep(ctx context.Context, made *sound.Audio, file string) error {
	if err := os.MkdirAll(s.dir, 0o700); err != nil {
		return fmt.Errorf("the folder of sounds: %w", err)
	}
	f, err := os.CreateTemp(s.dir, "making-*")
	if err != nil {
		return fmt.Errorf("a new sound: %w", err)
	}
	err = made.Write(ctx, f, sound.AAC)
	if closed := f.Close(); err == nil {
		err = closed
	}
	if err == nil {
		err = os.Rename(f.Name(), file)
	}
	if err != nil {
		return errors.Join(Refusal(err), os.Remove(f.Name()))
	}
	s.makeRoom()
	return nil
}

// makeRoom removes the sounds that were not heard for longest, until those left are within bounds, and what a
// kill left half made. They can be made again, so faults cost only room.
func (s *Shelf) makeRoom() {
	type kept struct {
		name  string
		bytes int64
		heard time.Time
	}
	var all []kept
	var total int64
	entries, err := os.ReadDir(s.dir)
	if err != nil {
		s.o.Log.Info("made sounds", "error", err)
		return
	}
	for _, e := range entries {
		info, err := e.Info()
		if err != nil || !info.Mode().IsRegular() {
			continue
		}
		name := filepath.Join(s.dir, e.Name())
		switch {
		case strings.HasSuffix(e.Name(), ".m4a"):
			all = append(all, kept{name, info.Size(), info.ModTime()})
			total += info.Size()
		case strings.HasPrefix(e.Name(), "making-") && time.Since(info.ModTime()) > 2*longest:
			_ = os.Remove(name)
		}
	}
	slices.SortFunc(all, func(a, b kept) int { return a.heard.Compare(b.heard) })
	for _, k := range all {
		if total <= s.o.MostBytes {
			return
		}
		if os.Remove(k.name) == nil {
			total -= k.bytes
		}
	}
}
