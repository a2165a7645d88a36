// Package disk keeps the studio's files in a folder: one folder a studio, in it one a family.
//
// A file is there wholly or not at all, also after a kill or a power cut. It knows no names from
// outside: a key is three ids, and anything else is refused. It cleans nothing up by itself.
package disk

import (
	"context"
	"crypto/sha256"
	"encoding/hex"
	"errors"
	"fmt"
	"io"
	"io/fs"
	"os"
	"path/filepath"
	"strings"
	"syscall"
	"time"

	"antiphon/internal/studio"
)

// Blobs implements studio.Blobs. Everything happens inside its folder, symbolic links included.
type Blobs struct{ root *os.Root }

// Open makes the folder if it is not there.
func Open(folder string) (*Blobs, error) {
	if err := os.MkdirAll(folder, 0o700); err != nil {
		return nil, fmt.Errorf("opening the folder of recordings: %w", err)
	}
	root, err := os.OpenRoot(folder)
	if err != nil {
		return nil, fmt.Errorf("opening the folder of recordings: %w", err)
	}
	if err := root.MkdirAll(half, 0o700); err != nil {
		return nil, errors.Join(fmt.Errorf("opening the folder of recordings: %w", err), root.Close())
	}
	return &Blobs{root}, nil
}

func (b *Blobs) Close() error { return b.root.Close() }

// ClearHalf removes what a killed program left half written. It is for the start, before any Put:
// one that is under way would fail.
func (b *Blobs) ClearHalf() error {
	if err := errors.Join(b.root.RemoveAll(half), b.root.MkdirAll(half, 0o700)); err != nil {
		return fmt.Errorf("clearing half recordings: %w", err)
	}
	return nil
}

// half is where files are while they are written. It can be no studio's: an id has 26 signs.
const half = "half"

func place(k studio.BlobKey) (folder, file string, err error) {
	if !studio.IsID(k.Studio) || !studio.IsID(k.Family) || !studio.IsID(k.Media) {
		return "", "", fmt.Errorf("%q/%q/%q names no file: %w", k.Studio, k.Family, k.Media, studio.ErrNotFound)
	}
	folder = filepath.Join(string(k.Studio), string(k.Family))
	return folder, filepath.Join(folder, string(k.Media)), nil
}

// Put writes beside, syncs, renames, and syncs the folders: a name exists only with all its bytes.
func (b *Blobs) Put(ctx context.Context, key studio.BlobKey, r io.Reader, limit int64) (n int64, sum string, err error) {
	folder, file, err := place(key)
	if err != nil {
		return 0, "", err
	}
	tmp := filepath.Join(half, string(key.Media))
	f, err := b.root.OpenFile(tmp, os.O_CREATE|os.O_EXCL|os.O_WRONLY, 0o600)
	if err != nil {
		return 0, "", full(fmt.Errorf("keeping a recording: %w", err))
	}
	defer func() {
		if err != nil {
			err = full(errors.Join(err, gone(b.root.Remove(tmp))))
		}
	}()
	h := sha256.New()
	n, err = io.Copy(io.MultiWriter(f, h), &patient{ctx, io.LimitReader(r, limit+1)})
	if err == nil && n > limit {
		err = fmt.Errorf("more than %d bytes: %w", limit, studio.ErrTooLarge)
	}
	if err == nil {
		err = f.Sync()
	}
	if err = errors.Join(err, f.Close()); err != nil {
		return 0, "", fmt.Errorf("keeping a recording: %w", err)
	}
	if err := b.root.MkdirAll(folder, 0o700); err != nil {
		return 0, "", fmt.Errorf("keeping a recording: %w", err)
	}
	if err := b.root.Rename(tmp, file); err != nil {
		return 0, "", fmt.Errorf("keeping a recording: %w", err)
	}
	for _, dir := range []string{folder, string(key.Studio), "."} {
		if err := b.sync(dir); err != nil {
			return 0, "", fmt.Errorf("keeping a recording: %w", errors.Join(err, b.root.Remove(file)))
		}
	}
	return n, hex.EncodeToString(h.Sum(nil)), nil
}

// patient stops reading when the context ends.
type patient struct {
	ctx context.Context
	r   io.Reader
}

func (p *patient) Read(b []byte) (int, error) {
	if err := p.ctx.Err(); err != nil {
		return 0, err
	}
	return p.r.Read(b)
}

func (b *Blobs) sync(dir string) error {
	d, err := b.root.Open(dir)
	if err != nil {
		return err
	}
	return errors.Join(d.Sync(), d.Close())
}

func (b *Blobs) Open(_ context.Context, key studio.BlobKey) (io.ReadSeekCloser, error) {
	_, file, err := place(key)
	if err != nil {
		return nil, err
	}
	f, err := b.root.Open(file)
	if errors.Is(err, fs.ErrNotExist) {
		return nil, fmt.Errorf("opening a recording: %w: %w", studio.ErrNotFound, err)
	}
	if err != nil {
		return nil, fmt.Errorf("opening a recording: %w", err)
	}
	return f, nil
}

func (b *Blobs) Remove(_ context.Context, key studio.BlobKey) error {
	_, file, err := place(key)
	if err != nil {
		return err
	}
	if err := gone(b.root.Remove(file)); err != nil {
		return fmt.Errorf("removing a recording: %w", err)
	}
	return nil
}

func (b *Blobs) RemoveFamily(_ context.Context, s studio.StudioID, f studio.FamilyID) error {
	if !studio.IsID(s) || !studio.IsID(f) {
		return fmt.Errorf("%q/%q names no family: %w", s, f, studio.ErrNotFound)
	}
	if err := b.root.RemoveAll(filepath.Join(string(s), string(f))); err != nil {
		return fmt.Errorf("removing a family's recordings: %w", err)
	}
	return nil
}

func (b *Blobs) Each(ctx context.Context, s studio.StudioID, do func(studio.BlobKey, time.Time) error) error {
	if !studio.IsID(s) {
		return fmt.Errorf("%q names no studio: %w", s, studio.ErrNotFound)
	}
	return fs.WalkDir(b.root.FS(), string(s), func(path string, e fs.DirEntry, err error) error {
		if err = errors.Join(gone(err), ctx.Err()); err != nil || e == nil || e.IsDir() {
			return err
		}
		part := strings.Split(path, "/")
		if len(part) != 3 {
			return nil // not ours
		}
		key := studio.BlobKey{Studio: s, Family: studio.FamilyID(part[1]), Media: studio.MediaID(part[2])}
		if _, _, err := place(key); err != nil {
			return nil // not ours
		}
		i, err := e.Info()
		if errors.Is(err, fs.ErrNotExist) {
			return nil // removed meanwhile
		}
		if err != nil {
			return fmt.Errorf("listing recordings: %w", err)
		}
		return do(key, i.ModTime())
	})
}

// full says in the studio's own word that there is no room, or none for this user.
func full(err error) error {
	if errors.Is(err, syscall.ENOSPC) || errors.Is(err, syscall.EDQUOT) {
		return fmt.Errorf("%w: %w", studio.ErrFull, err)
	}
	return err
}

// gone takes a file that is not there for removed.
func gone(err error) error {
	if errors.Is(err, fs.ErrNotExist) {
		return nil
	}
	return err
}
