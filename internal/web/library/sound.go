package library

import (
	"context"
	"errors"
	"fmt"
	"math"
	"net/http"
	"net/url"
	"os"
	"path/filepath"
	"slices"
	"strconv"
	"strings"
	"time"

	"antiphon/internal/sound"
	"antiphon/internal/studio"
	"antiphon/internal/web/page"
)

// The tempos that a page offers, in beats a minute.
const (
	slowestBpm = 20
	fastestBpm = 300
)

// longestSound keeps one page from taking the machine: half an hour would take 2.4 GB.
const longestSound = 8 * time.Minute

// mostSounds is how many bytes of made sounds are kept; the ones that were not heard for longest go first.
const mostSounds = 1 << 30

// sound plays a work, or a passage of it. GET /library/works/{work}/sound
func (l *library) sound(w http.ResponseWriter, r *http.Request) error {
	one, err := l.desk().Work(r.Context(), page.Viewer(r), workID(r))
	if err != nil {
		return err
	}
	opt, err := soundOptions(r.URL.Query())
	if err != nil {
		return err
	}
	s, err := scoreOf(one)
	if err != nil {
		return err
	}
	if opt.Loop != nil { // said before the work begins
		first, last, err := barsOf(s, opt.Loop.From, opt.Loop.To)
		if err != nil {
			return err
		}
		opt.Loop.From, opt.Loop.To = s.Bars[first].Number, s.Bars[last].Number
	}
	key := sum(fmt.Sprint(one.Score, "\n", opt.Bpm, opt.Click, opt.CountIn, opt.Loop))
	file := filepath.Join(l.o.CacheDir, key+".m4a")
	if _, err := os.Stat(file); err != nil {
		_, ready, err := l.sounds.get(r.Context(), key, soundPatience, func(ctx context.Context) (string, error) {
			made, err := sound.Render(ctx, s, opt)
			if err != nil {
				return "", unsounded(err)
			}
			return file, l.keepSound(ctx, made, file)
		})
		if err != nil {
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
		l.f.Log().Info("the library's sounds", "error", err)
	}
	w.Header().Set("Content-Type", "audio/mp4")
	w.Header().Set("ETag", `"`+key+`"`)
	http.ServeContent(w, r, "", time.Time{}, f)
	return nil
}

func soundOptions(q url.Values) (sound.Options, error) {
	opt := sound.Options{Click: q.Get("click") != "", LongestS: longestSound.Seconds()}
	if text := q.Get("bpm"); text != "" {
		bpm, err := strconv.ParseFloat(text, 64)
		if err != nil || !(bpm >= slowestBpm && bpm <= fastestBpm) {
			return opt, invalid("%s is no tempo. Give %d to %d beats a minute.", clipped(text, 12), slowestBpm, fastestBpm)
		}
		opt.Bpm = roundTo(bpm, 1)
	}
	from, to := q.Get("from"), q.Get("to")
	if from != "" || to != "" {
		opt.Loop = &sound.Loop{From: from, To: to}
	} else if opt.Click {
		opt.CountIn = 1
	}
	return opt, nil
}

func roundTo(v float64, places int) float64 {
	p := math.Pow10(places)
	return math.Round(v*p) / p
}

// unsounded makes a sentence of why there is no sound.
func unsounded(err error) error {
	e, ok := errors.AsType[*sound.Error](err)
	if !ok {
		return err
	}
	switch e.Kind {
	case sound.NoNotes, sound.BadOption, sound.NoSuchBar, sound.NoVoice, sound.TooLong:
		return &studio.Problem{Kind: studio.Invalid, Say: sentence(e.Say), Err: err}
	}
	return err
}

// keepSound writes a sound beside its name and then puts it there: whoever looks sees it whole or not.
func (l *library) keepSound(ctx context.Context, made *sound.Audio, file string) error {
	if err := os.MkdirAll(l.o.CacheDir, 0o700); err != nil {
		return fmt.Errorf("the folder of sounds: %w", err)
	}
	f, err := os.CreateTemp(l.o.CacheDir, "making-*")
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
		return errors.Join(unsounded(err), os.Remove(f.Name()))
	}
	l.makeRoom(mostSounds)
	return nil
}

// makeRoom removes the sounds that were not heard for longest, until those left are within most bytes,
// and what a kill left half made. They can be made again, so faults cost only room.
func (l *library) makeRoom(most int64) {
	type kept struct {
		name  string
		bytes int64
		heard time.Time
	}
	var all []kept
	var total int64
	entries, err := os.ReadDir(l.o.CacheDir)
	if err != nil {
		l.f.Log().Info("the library's sounds", "error", err)
		return
	}
	for _, e := range entries {
		info, err := e.Info()
		if err != nil || !info.Mode().IsRegular() {
			continue
		}
		name := filepath.Join(l.o.CacheDir, e.Name())
		switch {
		case strings.HasSuffix(e.Name(), ".m4a"):
			all = append(all, kept{name, info.Size(), info.ModTime()})
			total += info.Size()
		case strings.HasPrefix(e.Name(), "making-") && time.Since(info.ModTime()) > 2*soundTime:
			_ = os.Remove(name)
		}
	}
	slices.SortFunc(all, func(a, b kept) int { return a.heard.Compare(b.heard) })
	for _, k := range all {
		if total <= most {
			return
		}
		if os.Remove(k.name) == nil {
			total -= k.bytes
		}
	}
}
