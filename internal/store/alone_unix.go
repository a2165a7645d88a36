//go:build unix

package store

import (
	"errors"
	"fmt"
	"os"

	"golang.org/x/sys/unix"
)

// alone does what only one program may do in a folder at a time: two that start at once on a new
// database would both want to make its tables. The lock is the folder's own, so that no file is added.
func alone(folder string, do func() error) error {
	f, err := os.Open(folder)
	if err != nil {
		return fmt.Errorf("waiting for the folder: %w", err)
	}
	defer f.Close() // the lock goes with it, also when the program is killed
	for {
		err = unix.Flock(int(f.Fd()), unix.LOCK_EX)
		if !errors.Is(err, unix.EINTR) {
			break
		}
	}
	if err != nil && !errors.Is(err, unix.ENOTSUP) && !errors.Is(err, unix.ENOLCK) { // some network folders have no locks
		return fmt.Errorf("waiting for the folder: %w", err)
	}
	return do()
}
