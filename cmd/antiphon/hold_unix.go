//go:build unix

package main

import (
	"errors"
	"fmt"
	"os"
	"path/filepath"

	"golang.org/x/sys/unix"
)

// hold keeps a data folder for one program that answers: half recordings and the jobs that a kill left
// are taken up by whoever opens it, so two would take each other's. It lets go when the program ends, also
// when it is killed.
func hold(data string) (letGo func(), err error) {
	dir := filepath.Join(data, makingFolder)
	if err := os.MkdirAll(dir, 0o700); err != nil {
		return nil, fmt.Errorf("the folder %s cannot be made (%w): make room, check its permissions, or choose another --data", dir, cause(err))
	}
	f, err := os.Open(dir)
	if err != nil {
		return nil, fmt.Errorf("the folder %s cannot be opened (%w): check its permissions", dir, cause(err))
	}
	err = unix.Flock(int(f.Fd()), unix.LOCK_EX|unix.LOCK_NB)
	switch {
	case errors.Is(err, unix.EWOULDBLOCK):
		f.Close()
		return nil, fmt.Errorf("another antiphon answers for the studio in %s already: stop that one, or choose another --data", data)
	case err != nil && !errors.Is(err, unix.ENOTSUP) && !errors.Is(err, unix.ENOLCK): // some network folders have no locks
		f.Close()
		return nil, fmt.Errorf("the folder %s cannot be held (%w): choose another --data", dir, err)
	}
	return func() { f.Close() }, nil
}
