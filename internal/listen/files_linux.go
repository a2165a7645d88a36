package listen

import (
	"errors"
	"os"

	"golang.org/x/sys/unix"
)

// written says whether somebody has the file open for writing: then the kernel grants no lease on it
// (fcntl(2), F_SETLEASE). Where it grants none for other reasons, nothing is known, and the file's having
// stopped to change must do.
func written(f *os.File) bool {
	c, err := f.SyscallConn()
	if err != nil {
		return false
	}
	busy := false
	cerr := c.Control(func(fd uintptr) {
		_, err := unix.FcntlInt(fd, unix.F_SETLEASE, unix.F_RDLCK)
		busy = errors.Is(err, unix.EAGAIN)
		if err == nil {
			_, _ = unix.FcntlInt(fd, unix.F_SETLEASE, unix.F_UNLCK) // the lease ends with the file anyway
		}
	})
	return cerr == nil && busy
}

// hold takes the lock on a file; false where somebody else has it. It ends when the file is closed.
func hold(f *os.File) (bool, error) {
	err := unix.Flock(int(f.Fd()), unix.LOCK_EX|unix.LOCK_NB)
	if errors.Is(err, unix.EWOULDBLOCK) {
		return false, nil
	}
	return err == nil, err
}
