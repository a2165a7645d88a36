package cage

import (
	"errors"
	"io/fs"
	"os"
	"runtime"
	"unsafe"

	"golang.org/x/sys/unix"
)

// Access rights of Landlock, by what the kernel's documentation (userspace-api/landlock) allows for
// files and for folders.
const (
	readFile  = unix.LANDLOCK_ACCESS_FS_EXECUTE | unix.LANDLOCK_ACCESS_FS_READ_FILE
	readTree  = readFile | unix.LANDLOCK_ACCESS_FS_READ_DIR
	writeTree = readTree | unix.LANDLOCK_ACCESS_FS_WRITE_FILE | unix.LANDLOCK_ACCESS_FS_TRUNCATE |
		unix.LANDLOCK_ACCESS_FS_REMOVE_DIR | unix.LANDLOCK_ACCESS_FS_REMOVE_FILE |
		unix.LANDLOCK_ACCESS_FS_MAKE_DIR | unix.LANDLOCK_ACCESS_FS_MAKE_REG
	everything1 = 1<<13 - 1 // rights of the first version
)

// landlock restricts the calling thread, and all it will start, to the files of the job. There is
// no way back.
func landlock(j Job, path string) error {
	version, _, errno := unix.Syscall(unix.SYS_LANDLOCK_CREATE_RULESET, 0, 0, unix.LANDLOCK_CREATE_RULESET_VERSION)
	if errno != 0 {
		return errno
	}
	attr := unix.LandlockRulesetAttr{Handled_access_fs: everything1}
	size := unsafe.Sizeof(attr.Handled_access_fs)
	if version >= 2 {
		attr.Handled_access_fs |= unix.LANDLOCK_ACCESS_FS_REFER
	}
	if version >= 3 {
		attr.Handled_access_fs |= unix.LANDLOCK_ACCESS_FS_TRUNCATE
	}
	if version >= 4 { // no rule follows, so no TCP port can be used
		attr.Handled_access_net = unix.LANDLOCK_ACCESS_NET_BIND_TCP | unix.LANDLOCK_ACCESS_NET_CONNECT_TCP
		size = unsafe.Offsetof(attr.Handled_access_net) + unsafe.Sizeof(attr.Handled_access_net)
	}
	if version >= 5 {
		attr.Handled_access_fs |= unix.LANDLOCK_ACCESS_FS_IOCTL_DEV
	}
	fd, _, errno := unix.Syscall(unix.SYS_LANDLOCK_CREATE_RULESET, uintptr(unsafe.Pointer(&attr)), size, 0)
	runtime.KeepAlive(&attr)
	if errno != 0 {
		return errno
	}
	ruleset := int(fd)
	defer unix.Close(ruleset)

	add := func(paths []string, rights uint64) error {
		for _, p := range paths {
			if err := allow(ruleset, p, rights&attr.Handled_access_fs); err != nil && !errors.Is(err, fs.ErrNotExist) {
				return err
			}
		}
		return nil
	}
	err := errors.Join(
		add(system(path), readTree),
		add(j.Read, readTree&^unix.LANDLOCK_ACCESS_FS_EXECUTE),
		add([]string{os.DevNull}, unix.LANDLOCK_ACCESS_FS_READ_FILE|unix.LANDLOCK_ACCESS_FS_WRITE_FILE),
		add(j.Write, writeTree),
		unix.Prctl(unix.PR_SET_NO_NEW_PRIVS, 1, 0, 0, 0),
	)
	if err != nil {
		return err
	}
	if _, _, errno := unix.Syscall(unix.SYS_LANDLOCK_RESTRICT_SELF, fd, 0, 0); errno != 0 {
		return errno
	}
	return nil
}

// allow adds one file or folder to the ruleset. Rights that only folders have are dropped for a file.
func allow(ruleset int, path string, rights uint64) error {
	fd, err := unix.Open(path, unix.O_PATH|unix.O_CLOEXEC, 0)
	if err != nil {
		return err
	}
	defer unix.Close(fd)
	var st unix.Stat_t
	if err := unix.Fstat(fd, &st); err != nil {
		return err
	}
	if st.Mode&unix.S_IFMT != unix.S_IFDIR {
		rights &= readFile | unix.LANDLOCK_ACCESS_FS_WRITE_FILE | unix.LANDLOCK_ACCESS_FS_TRUNCATE
	}
	rule := unix.LandlockPathBeneathAttr{Allowed_access: rights, Parent_fd: int32(fd)}
	_, _, errno := unix.Syscall6(unix.SYS_LANDLOCK_ADD_RULE, uintptr(ruleset), unix.LANDLOCK_RULE_PATH_BENEATH,
		uintptr(unsafe.Pointer(&rule)), 0, 0, 0)
	runtime.KeepAlive(&rule)
	if errno != 0 {
		return errno
	}
	return nil
}
