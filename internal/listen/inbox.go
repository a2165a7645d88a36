package listen

import (
	"context"
	"errors"
	"fmt"
	"io/fs"
	"log/slog"
	"os"
	"path/filepath"
	"strings"
	"time"

	"antiphon/internal/media"
	"antiphon/internal/studio"
)

// Inbox watches a folder into which recordings are put by other means: a phone's own backup, a mail
// program, a cable. What is complete goes to the studio as a file without a name, and then into the
// folder taken beside it; what cannot be heard goes into refused, with the reason in a text beside it.
// Nothing is deleted, and nothing is taken twice, also not after a kill: the studio knows bytes again.
type Inbox struct {
	Desk   *studio.Desk
	Dir    string
	Every  time.Duration // between two looks; 0 means 2 seconds
	Steady time.Duration // a file that did not change for so long is complete; 0 means 5 seconds
	Media  media.Options // limits on a recording
	Now    func() time.Time
	Log    *slog.Logger // nil means discard

	seen map[string]glance
}

// glance is a file as it was when it was last seen to change.
type glance struct {
	bytes   int64
	changed time.Time
	since   time.Time
}

const (
	takenFolder   = "taken"
	refusedFolder = "refused"
)

// unfinished are endings that programs give to files which they are still writing.
var unfinished = []string{".part", ".partial", ".crdownload", ".download", ".tmp", ".filepart", "~"}

// Watch looks into the folder until ctx ends. It makes the folder if it is not there.
func (in *Inbox) Watch(ctx context.Context) error {
	if err := in.ready(); err != nil {
		return err
	}
	every := in.Every
	if every == 0 {
		every = 2 * time.Second
	}
	tick := time.NewTicker(every)
	defer tick.Stop()
	for {
		if err := in.look(ctx); err != nil && ctx.Err() == nil {
			in.Log.ErrorContext(ctx, "the inbox folder could not be emptied; it is tried again", "err", err)
		}
		select {
		case <-ctx.Done():
			return nil
		case <-tick.C:
		}
	}
}

func (in *Inbox) ready() error {
	if in.Now == nil {
		in.Now = time.Now
	}
	if in.Log == nil {
		in.Log = slog.New(slog.DiscardHandler)
	}
	if in.Steady == 0 {
		in.Steady = 5 * time.Second
	}
	if in.seen == nil {
		in.seen = map[string]glance{}
	}
	for _, dir := range []string{takenFolder, refusedFolder} {
		if err := os.MkdirAll(filepath.Join(in.Dir, dir), 0o700); err != nil {
			return fmt.Errorf("opening the inbox folder: %w", err)
		}
	}
	return nil
}

// look takes every file that is complete.
func (in *Inbox) look(ctx context.Context) error {
	st, there, err := in.Desk.Home(ctx)
	if err != nil || !there {
		return err
	}
	files, err := os.ReadDir(in.Dir)
	if err != nil {
		return fmt.Errorf("reading the inbox folder: %w", err)
	}
	var all error
	now := map[string]glance{}
	for _, f := range files {
		if ctx.Err() != nil {
			return ctx.Err()
		}
		if !f.Type().IsRegular() || skipped(f.Name()) {
			continue
		}
		g, complete := in.glance(f)
		now[f.Name()] = g
		if !complete {
			continue
		}
		if err := in.take(ctx, st.ID, f.Name()); err != nil {
			all = errors.Join(all, fmt.Errorf("%q: %w", f.Name(), err))
			g.since = in.Now() // not in every look
			now[f.Name()] = g
		}
	}
	in.seen = now
	return all
}

func skipped(name string) bool {
	if strings.HasPrefix(name, ".") {
		return true
	}
	for _, end := range unfinished {
		if strings.HasSuffix(strings.ToLower(name), end) {
			return true
		}
	}
	return false
}

// glance says whether a file has stopped changing.
func (in *Inbox) glance(f fs.DirEntry) (glance, bool) {
	st, err := f.Info()
	if err != nil {
		return glance{}, false // gone meanwhile
	}
	was, known := in.seen[f.Name()]
	if !known || was.bytes != st.Size() || !was.changed.Equal(st.ModTime()) {
		return glance{st.Size(), st.ModTime(), in.Now()}, false
	}
	return was, in.Now().Sub(was.since) >= in.Steady
}

// take gives one file to the studio and files it away.
func (in *Inbox) take(ctx context.Context, id studio.StudioID, name string) error {
	path := filepath.Join(in.Dir, name)
	f, err := os.Open(path)
	if err != nil {
		return err
	}
	defer f.Close()
	if written(f) {
		return nil // somebody is not done with it
	}
	if st, err := f.Stat(); err != nil || !st.Mode().IsRegular() {
		return err
	}
	why, err := in.drop(ctx, id, name, path, f)
	if err != nil {
		return err
	}
	if why == "" {
		return in.file(name, takenFolder)
	}
	to := in.free(name, refusedFolder)
	if err := os.WriteFile(to+".txt", []byte(why+"\n"), 0o600); err != nil {
		return err
	}
	return os.Rename(path, to)
}

// drop gives a file to the studio; why is the reason where it is refused for good.
func (in *Inbox) drop(ctx context.Context, id studio.StudioID, name, path string, f *os.File) (why string, err error) {
	t, err := media.Examine(ctx, path, in.Media)
	if say := blame(err); say != "" {
		return say, nil
	}
	if err != nil {
		return "", err
	}
	if t.Sound == "" {
		return "There is no sound in this recording: the microphone was off or not allowed.", nil
	}
	_, err = in.Desk.Drop(ctx, studio.Viewer{Studio: id, Role: studio.Ear}, name, t.Type(), f)
	if p, ok := errors.AsType[*studio.Problem](err); ok && !passing(p.Kind) {
		return p.Say, nil
	}
	return "", err
}

// passing says whether what is refused now may be taken later.
func passing(k studio.Kind) bool {
	return k == studio.Internal || k == studio.TooMany || k == studio.Full
}

// file moves a file into a folder beside, under a name that is free there.
func (in *Inbox) file(name, folder string) error {
	return os.Rename(filepath.Join(in.Dir, name), in.free(name, folder))
}

func (in *Inbox) free(name, folder string) string {
	ext := filepath.Ext(name)
	for n := 1; ; n++ {
		to := name
		if n > 1 {
			to = fmt.Sprintf("%s (%d)%s", strings.TrimSuffix(name, ext), n, ext)
		}
		to = filepath.Join(in.Dir, folder, to)
		if _, err := os.Lstat(to); errors.Is(err, fs.ErrNotExist) {
			return to
		}
	}
}
