package main

import (
	"context"
	"errors"
	"fmt"
	"io"
	"log/slog"
	"os"
	"path/filepath"
	"strings"
	"time"

	"antiphon/internal/engrave"
	"antiphon/internal/jobs"
	"antiphon/internal/notation"
	"antiphon/internal/store"
	"antiphon/internal/studio"
)

// studioFlags say where a studio's facts and recordings are.
type studioFlags struct {
	Data     string `help:"Folder of the studio: its database, its recordings, and what can be made again." default:"antiphon-data" placeholder:"FOLDER"`
	Files    string `help:"S3-compatible storage instead of the folder's recordings: s3://BUCKET?endpoint=https://HOST&region=NAME, with its key in AWS_ACCESS_KEY_ID and AWS_SECRET_ACCESS_KEY." placeholder:"URL"`
	Database string `help:"A PostgreSQL database instead of the one in the folder." placeholder:"URL"`
}

// Names in the data folder. The first two are the studio; the others can be made again.
const (
	databaseFile = "studio.db"
	filesFolder  = "files"
	makingFolder = "making"
	certsFolder  = "certificates"
)

// opened is a studio whose parts are in hand.
type opened struct {
	store *store.Store
	blobs studio.Blobs
	queue *jobs.Queue
	desk  *studio.Desk
	dir   string
}

// open opens the studio, or makes it.
func (f *studioFlags) open(ctx context.Context, q jobs.Options) (*opened, error) {
	if err := os.MkdirAll(f.Data, 0o700); err != nil {
		return nil, fmt.Errorf("the folder %s cannot be made (%w): choose another --data", f.Data, cause(err))
	}
	o := &opened{dir: f.Data}
	if err := f.openParts(ctx, o, q); err != nil {
		return nil, errors.Join(err, o.close())
	}
	return o, nil
}

// openParts opens one after the other; after an error those before it are open.
func (f *studioFlags) openParts(ctx context.Context, o *opened, q jobs.Options) (err error) {
	if f.Database != "" {
		if o.store, err = store.OpenPostgres(ctx, f.Database); err == nil {
			o.queue, err = jobs.OpenPostgres(ctx, o.store.DB(), f.Database, q)
		}
		if err != nil {
			return fmt.Errorf("the database cannot be opened (%w): check --database, and that the server runs", err)
		}
	} else {
		path := filepath.Join(f.Data, databaseFile)
		if o.store, err = store.OpenSQLite(ctx, path); err == nil {
			o.queue, err = jobs.OpenSQLite(ctx, o.store.DB(), q)
		}
		if err != nil {
			return fmt.Errorf("%s cannot be opened (%w): check that it is a studio of this program and that the folder can be written", path, err)
		}
	}
	if o.blobs, err = f.openFiles(ctx, q.Alone, time.Now()); err != nil {
		return err
	}
	folders := []string{f.Data} // half recordings lie here also where the whole ones are in a bucket
	if f.Files == "" {
		folders = append(folders, filepath.Join(f.Data, filesFolder)) // may be another disk's
	}
	o.desk = studio.NewDesk(o.store, o.blobs, o.queue, studio.DeskOptions{Free: room(folders...), Log: q.Log})
	return nil
}

// hearings are takes heard at once: one take uses one core.
const hearings = 2

func (o *opened) close() error {
	if o.queue != nil {
		o.queue.Close()
	}
	if o.store != nil {
		return o.store.Close()
	}
	return nil
}

// making is the folder for what can be made again.
func (o *opened) making() (string, error) {
	dir := filepath.Join(o.dir, makingFolder)
	if err := os.MkdirAll(dir, 0o700); err != nil {
		return "", fmt.Errorf("the folder %s cannot be made (%w): make room or check its permissions", dir, cause(err))
	}
	return dir, nil
}

// newEngraver keeps what was engraved in the making folder.
func newEngraver(making string) (*engrave.Engraver, error) {
	return engrave.New(engrave.Settings{CacheDir: filepath.Join(making, "engraved")})
}

// warm has the engraving library compiled before the first page waits for it.
func warm(ctx context.Context, e *engrave.Engraver) error {
	s, _, err := notation.Read(strings.NewReader("X:1\nT:one\nL:1/4\nK:C\nC|]\n"), "one.abc", notation.Limits{})
	if err == nil {
		_, err = e.SVG(ctx, s, engrave.Options{})
	}
	if err != nil && ctx.Err() == nil {
		return fmt.Errorf("the engraving library does not work (%w): run make assets, then build again", err)
	}
	return nil
}

// newLog writes what happens at that level and above as lines, for a person at a terminal with a short time.
func newLog(w io.Writer, terminal bool, least slog.Level) *slog.Logger {
	o := slog.HandlerOptions{Level: least}
	if terminal {
		o.ReplaceAttr = func(_ []string, a slog.Attr) slog.Attr {
			if a.Key == slog.TimeKey {
				a.Value = slog.StringValue(a.Value.Time().Format(time.TimeOnly))
			}
			return a
		}
	}
	return slog.New(slog.NewTextHandler(w, &o))
}
