package engrave

import (
	"context"
	"encoding/binary"
	"fmt"
	"maps"
	"path"
	"slices"

	"github.com/tetratelabs/wazero"
	"github.com/tetratelabs/wazero/api"
)

// host answers the calls that the engraving library makes to what it takes for its operating system:
// a read-only file system of its own data, a clock that stands still, no network, nothing else.
type host struct {
	files *files
	known bool // files is complete: another instance has filled it
	fds   map[int32]*handle
	last  int32
}

type files struct {
	data map[string][]byte
	dirs map[string]map[string]bool
}

// handle is an open file or folder.
type handle struct {
	data []byte
	dir  []string
	pos  int64
}

func (f *files) add(name string, data []byte) {
	name = path.Clean("/" + name)
	f.data[name] = data
	for at := name; at != "/"; at = path.Dir(at) {
		up := path.Dir(at)
		if f.dirs[up] == nil {
			f.dirs[up] = map[string]bool{}
		}
		f.dirs[up][path.Base(at)] = true
	}
}

// WASI and Linux error numbers, as the library's C library knows them.
const (
	badFile      = 8
	noSuchFile   = 44
	noTerminal   = 59
	direntBytes  = 280
	firstFD      = 10
	direntIsFile = 8
)

func failed(errno int32) uint64 { return uint64(uint32(-errno)) }

// call is one host function: its arguments stand in s, its result goes to s[0].
type call func(m api.Memory, s []uint64)

// export gives the module every function that it imports, under the short names that it has for them.
func (h *host) export(ctx context.Context, r wazero.Runtime, compiled wazero.CompiledModule, names map[string]string) error {
	h.last = firstFD
	calls := map[string]call{}
	for long, f := range h.calls() {
		calls[names[long]] = f
	}
	builder, module := r.NewHostModuleBuilder("a"), "a"
	for _, imported := range compiled.ImportedFunctions() {
		from, name, _ := imported.Import()
		f := calls[name]
		if f == nil || from != module {
			return fmt.Errorf("the engraving library asks for an unknown function %s.%s: give one that scripts/engraver built", from, name)
		}
		builder.NewFunctionBuilder().WithGoModuleFunction(api.GoModuleFunc(func(_ context.Context, m api.Module, s []uint64) {
			f(m.Memory(), s)
		}), imported.ParamTypes(), imported.ResultTypes()).Export(name)
	}
	_, err := builder.Instantiate(ctx)
	return err
}

func (h *host) calls() map[string]call {
	zero := func(_ api.Memory, s []uint64) { s[0] = 0 }
	stop := func(api.Memory, []uint64) { panic("the library stopped itself") }
	return map[string]call{
		"_emscripten_asm_const_int":           zero, // a line for the log
		"_emscripten_date_now":                zero, // the same score, the same bytes
		"_environ_get":                        zero,
		"_environ_sizes_get":                  emptyEnvironment,
		"__mktime_js":                         zero,
		"__localtime_js":                      epoch,
		"__tzset_js":                          func(api.Memory, []uint64) {},
		"__abort_js":                          stop,
		"_exit":                               stop,
		"___assert_fail":                      stop,
		"_random_get":                         notRandom,
		"_emscripten_resize_heap":             grow,
		"___syscall_fcntl64":                  zero,
		"___syscall_ioctl":                    func(_ api.Memory, s []uint64) { s[0] = failed(noTerminal) },
		"___syscall_openat":                   h.open,
		"___syscall_getdents64":               h.list,
		"_fd_close":                           func(_ api.Memory, s []uint64) { delete(h.fds, int32(s[0])); s[0] = 0 },
		"_fd_seek":                            h.seek,
		"_fd_read":                            h.read,
		"_fd_write":                           swallow,
		"__emscripten_fs_load_embedded_files": h.load,
	}
}

func emptyEnvironment(m api.Memory, s []uint64) {
	m.WriteUint32Le(uint32(s[0]), 0)
	m.WriteUint32Le(uint32(s[1]), 0)
	s[0] = 0
}

// epoch is 1 January 1970, a Thursday, whatever time is asked for.
func epoch(m api.Memory, s []uint64) {
	for i, v := range []uint32{0, 0, 0, 1, 0, 70, 4, 0, 0, 0} {
		m.WriteUint32Le(uint32(s[1])+uint32(4*i), v)
	}
	if len(s) > 0 {
		s[0] = 0
	}
}

func notRandom(m api.Memory, s []uint64) {
	if b, ok := m.Read(uint32(s[0]), uint32(s[1])); ok {
		for i := range b {
			b[i] = byte(i*31 + 7)
		}
	}
	s[0] = 0
}

// grow gives the memory asked for, or a fifth more than there is so as not to be asked too often.
func grow(m api.Memory, s []uint64) {
	want := max(uint64(uint32(s[0])), uint64(m.Size())+uint64(m.Size())/5)
	_, ok := m.Grow(uint32((want - uint64(m.Size()) + pageBytes - 1) / pageBytes))
	if !ok {
		_, ok = m.Grow(uint32((uint64(uint32(s[0])) - uint64(m.Size()) + pageBytes - 1) / pageBytes))
	}
	s[0] = 0
	if ok {
		s[0] = 1
	}
}

// swallow takes what the library would print.
func swallow(m api.Memory, s []uint64) {
	var total uint32
	for k := range uint32(s[2]) {
		n, ok := m.ReadUint32Le(uint32(s[1]) + 8*k + 4)
		if !ok {
			break
		}
		total += n
	}
	m.WriteUint32Le(uint32(s[3]), total)
	s[0] = 0
}

func (h *host) open(m api.Memory, s []uint64) {
	name := path.Clean("/" + cString(m, uint32(s[1])))
	f := &handle{}
	if data, ok := h.files.data[name]; ok {
		f.data = data
	} else if inside, ok := h.files.dirs[name]; ok {
		f.dir = slices.Sorted(maps.Keys(inside))
	} else {
		s[0] = failed(noSuchFile)
		return
	}
	h.last++
	h.fds[h.last] = f
	s[0] = uint64(uint32(h.last))
}

func (h *host) list(m api.Memory, s []uint64) {
	f := h.fds[int32(s[0])]
	if f == nil {
		s[0] = failed(badFile)
		return
	}
	var filled uint32
	for int(f.pos) < len(f.dir) && filled+direntBytes <= uint32(s[2]) {
		var e [direntBytes]byte
		binary.LittleEndian.PutUint64(e[0:], uint64(f.pos+1))
		binary.LittleEndian.PutUint64(e[8:], uint64(f.pos+1)*direntBytes)
		binary.LittleEndian.PutUint16(e[16:], direntBytes)
		e[18] = direntIsFile
		copy(e[19:direntBytes-1], f.dir[f.pos])
		m.Write(uint32(s[1])+filled, e[:])
		filled += direntBytes
		f.pos++
	}
	s[0] = uint64(filled)
}

func (h *host) seek(m api.Memory, s []uint64) {
	f := h.fds[int32(s[0])]
	if f == nil {
		s[0] = badFile
		return
	}
	to := int64(s[1])
	switch uint32(s[2]) {
	case 1:
		to += f.pos
	case 2:
		to += int64(len(f.data))
	}
	f.pos = max(to, 0)
	m.WriteUint64Le(uint32(s[3]), uint64(f.pos))
	s[0] = 0
}

func (h *host) read(m api.Memory, s []uint64) {
	f := h.fds[int32(s[0])]
	if f == nil {
		s[0] = badFile
		return
	}
	var total uint32
	for k := range uint32(s[2]) {
		to, _ := m.ReadUint32Le(uint32(s[1]) + 8*k)
		room, ok := m.ReadUint32Le(uint32(s[1]) + 8*k + 4)
		if !ok || f.pos >= int64(len(f.data)) {
			break
		}
		chunk := f.data[f.pos:min(int64(len(f.data)), f.pos+int64(room))]
		m.Write(to, chunk)
		f.pos += int64(len(chunk))
		total += uint32(len(chunk))
	}
	m.WriteUint32Le(uint32(s[3]), total)
	s[0] = 0
}

// load takes the library's own data out of its memory: name, length and place in turn, up to a zero.
func (h *host) load(m api.Memory, s []uint64) {
	if h.known {
		return
	}
	for at := uint32(s[0]); ; at += 12 {
		name, ok := m.ReadUint32Le(at)
		if !ok || name == 0 {
			return
		}
		size, _ := m.ReadUint32Le(at + 4)
		from, _ := m.ReadUint32Le(at + 8)
		if data, ok := m.Read(from, size); ok {
			h.files.add(cString(m, name), slices.Clone(data))
		}
	}
}

// cString reads a text that ends with a zero byte.
func cString(m api.Memory, at uint32) string {
	var out []byte
	for {
		b, ok := m.ReadByte(at)
		if !ok || b == 0 {
			return string(out)
		}
		out = append(out, b)
		at++
	}
}
