package cage

import (
	"errors"
	"os"
	"os/exec"
	"path/filepath"
	"syscall"

	"golang.org/x/sys/unix"
)

// start restricts the calling thread, which must be locked and not used for anything afterwards,
// and starts the program with as many guards as the kernel gives.
func start(command func() *exec.Cmd, j Job, path string) (*exec.Cmd, []Guard, error) {
	var missing []Guard
	if err := landlock(j, path); err != nil {
		missing = append(missing, Files)
	}
	const apart = unix.CLONE_NEWNET | unix.CLONE_NEWPID | unix.CLONE_NEWIPC
	tries := []uintptr{apart, apart | unix.CLONE_NEWUSER, 0} // as root; as anyone; not allowed here
	if os.Geteuid() != 0 {
		tries = tries[1:]
	}
	for _, flags := range tries {
		cmd := command()
		cmd.SysProcAttr = &syscall.SysProcAttr{Setpgid: true, Pdeathsig: syscall.SIGKILL, Cloneflags: flags}
		err := cmd.Start()
		if err != nil && flags != 0 && !errors.Is(err, os.ErrNotExist) {
			continue
		}
		if err != nil {
			return nil, missing, err
		}
		if flags == 0 {
			missing = append(missing, Network, Children)
		}
		return cmd, missing, nil
	}
	panic("unreachable: the last try returns")
}

// kill ends the program's process group; with a process namespace its first process takes all others along.
func kill(cmd *exec.Cmd) {
	syscall.Kill(-cmd.Process.Pid, syscall.SIGKILL) // an error means that nothing is left
}

// widen makes a pipe hold 1 MiB, so that the program seldom waits for us. A refusal does no harm.
func widen(f *os.File) {
	c, err := f.SyscallConn()
	if err != nil {
		return
	}
	c.Control(func(fd uintptr) { unix.FcntlInt(fd, unix.F_SETPIPE_SZ, 1<<20) })
}

// system is what any program needs to start: itself, the libraries, the linker's cache.
func system(path string) []string {
	real, err := filepath.EvalSymlinks(path)
	if err != nil {
		real = path
	}
	return []string{real, "/usr", "/bin", "/lib", "/lib32", "/lib64", "/libx32",
		"/etc/ld.so.cache", "/etc/ld.so.conf", "/etc/ld.so.conf.d", "/etc/alternatives", "/dev/urandom", "/dev/zero"}
}
