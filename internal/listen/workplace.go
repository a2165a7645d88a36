package listen

import (
	"cmp"
	"errors"
	"fmt"
	"os"
	"path/filepath"
	"time"
)

// A workplace is a folder for one job, with copies of a child's recording in it. Its job holds a lock on
// a file in it, which ends with the program however that ends: what nobody holds was left by a kill.
const (
	workplaces = "antiphon-listen-"
	heldFile   = "held"
	leftFor    = time.Minute // a younger one may be about to be held
)

// workplace makes one. done removes it.
func (h *Hands) workplace() (dir string, done func(), err error) {
	dir, err = os.MkdirTemp(h.o.Dir, workplaces)
	if err != nil {
		return "", nil, fmt.Errorf("making room for a recording: %w", err)
	}
	held, err := os.OpenFile(filepath.Join(dir, heldFile), os.O_CREATE|os.O_RDWR, 0o600)
	if err == nil {
		_, err = hold(held)
	}
	if err != nil {
		return "", nil, errors.Join(fmt.Errorf("making room for a recording: %w", err), os.RemoveAll(dir))
	}
	return dir, func() {
		if err := errors.Join(os.RemoveAll(dir), held.Close()); err != nil {
			h.o.Log.Error("a copy of a recording could not be removed", "folder", dir, "err", err)
		}
	}, nil
}

// clearLeft removes the workplaces in a folder, "" for the system's, that nobody holds and that are old enough.
func clearLeft(folder string, old time.Duration, now time.Time) error {
	left, err := filepath.Glob(filepath.Join(cmp.Or(folder, os.TempDir()), workplaces+"*"))
	if err != nil {
		return err
	}
	var all error
	for _, dir := range left {
		st, err := os.Lstat(dir)
		if err != nil || !st.IsDir() || now.Sub(st.ModTime()) < old {
			continue
		}
		f, err := os.OpenFile(filepath.Join(dir, heldFile), os.O_RDWR, 0)
		free := errors.Is(err, os.ErrNotExist)
		if err == nil {
			if free, err = hold(f); err != nil {
				free = false // not to be known here
			}
		}
		if free {
			all = errors.Join(all, os.RemoveAll(dir))
		}
		if f != nil {
			all = errors.Join(all, f.Close())
		}
	}
	return all
}
