package engrave

import (
	"bytes"
	"compress/gzip"
	"context"
	"embed"
	"encoding/json"
	"errors"
	"fmt"
	"io"
	"path/filepath"
	"sync"
	"time"

	"github.com/tetratelabs/wazero"
	"github.com/tetratelabs/wazero/api"
)

//go:generate node ../../scripts/engraver/build.mjs assets

// assets holds the engraving library and the text font where `make assets` has run before the
// program was built, and else a README.
//
//go:embed assets
var assets embed.FS

// What can go wrong apart from the score. The text of each says what to do.
var (
	ErrNoLibrary = errors.New("this program was built without the engraving library: run make assets, then build it again")
	ErrTrapped   = errors.New("the engraving library gave up on this score")
	ErrTooLong   = errors.New("the engraving library took too long over this score")
)

// manifest is what the build script says of what it made.
type manifest struct {
	Version string `json:"version"`
	Sum     string `json:"wasm_sha256"`
	Names   struct {
		Imports map[string]string `json:"imports"`
		Exports map[string]string `json:"exports"`
	} `json:"names"`
}

// library is the engraving library, compiled once, and the instances of it that are ready for work.
type library struct {
	names     manifest
	wasm      []byte
	cache     wazero.CompilationCache
	pages     uint32        // of 64 KB, that one instance may have
	patience  time.Duration // with one score
	slots     chan struct{} // as many as instances may be at work
	mu        sync.Mutex
	idle      []*instance
	resources *files // the library's own data, the same for all instances
}

// Available reports whether this program was built with the engraving library.
func Available() bool {
	_, err := assets.Open("assets/engine.json")
	return err == nil
}

// asset is one embedded file, unpacked.
func asset(name string) ([]byte, error) {
	packed, err := assets.ReadFile("assets/" + name + ".gz")
	if err != nil {
		return nil, ErrNoLibrary
	}
	r, err := gzip.NewReader(bytes.NewReader(packed))
	if err != nil {
		return nil, fmt.Errorf("the embedded %s is damaged (%w): run make assets, then build again", name, err)
	}
	data, err := io.ReadAll(r)
	if err != nil {
		return nil, fmt.Errorf("the embedded %s is damaged (%w): run make assets, then build again", name, err)
	}
	return data, nil
}

func openLibrary(o Settings) (*library, error) {
	l := &library{patience: o.Patience, pages: uint32(o.MemoryMB) * (1 << 20 / pageBytes), slots: make(chan struct{}, o.Instances)}
	said, err := assets.ReadFile("assets/engine.json")
	if err != nil {
		return nil, ErrNoLibrary
	}
	if err := json.Unmarshal(said, &l.names); err != nil {
		return nil, fmt.Errorf("the embedded engine.json is damaged (%w): run make assets, then build again", err)
	}
	if l.wasm = o.Library; l.wasm != nil {
		if o.Manifest != nil {
			l.names = manifest{}
			if err := json.Unmarshal(o.Manifest, &l.names); err != nil {
				return nil, fmt.Errorf("the engine.json beside the engraving library cannot be read (%w): give what scripts/engraver wrote", err)
			}
		}
		l.names.Sum = sumOf(l.wasm)
	}
	if o.CacheDir != "" {
		if l.cache, err = wazero.NewCompilationCacheWithDir(o.CacheDir); err != nil {
			return nil, fmt.Errorf("the folder %s cannot be used to keep what is compiled (%w): choose another", o.CacheDir, err)
		}
	} else {
		l.cache = wazero.NewCompilationCache()
	}
	return l, nil
}

func (l *library) close(ctx context.Context) error {
	l.mu.Lock()
	defer l.mu.Unlock()
	var errs []error
	for _, in := range l.idle {
		errs = append(errs, in.runtime.Close(ctx))
	}
	l.idle = nil
	return errors.Join(append(errs, l.cache.Close(ctx))...)
}

// use lends an instance to work. One that trapped, ran out of time or whose work panicked is thrown
// away; the next score gets a fresh one.
func (l *library) use(ctx context.Context, work func(*instance) error) (err error) {
	select {
	case l.slots <- struct{}{}:
	case <-ctx.Done():
		return ctx.Err()
	}
	defer func() { <-l.slots }()
	in, err := l.take(ctx)
	if err != nil {
		return err
	}
	limited, cancel := context.WithTimeout(ctx, l.patience)
	defer cancel()
	in.ctx = limited
	defer context.AfterFunc(limited, in.stop)()
	sound := false
	defer func() {
		if !sound {
			in.runtime.Close(context.WithoutCancel(ctx))
			return
		}
		l.mu.Lock()
		defer l.mu.Unlock()
		l.idle = append(l.idle, in)
	}()
	err = work(in)
	switch {
	case err == nil:
		sound = true
	case ctx.Err() != nil:
		return ctx.Err()
	case limited.Err() != nil:
		return fmt.Errorf("%w (more than %v)", ErrTooLong, l.patience)
	case errors.Is(err, errRefused):
		sound = true // it said no and is well
	}
	return err
}

func (l *library) take(ctx context.Context) (*instance, error) {
	l.mu.Lock()
	if n := len(l.idle); n > 0 {
		in := l.idle[n-1]
		l.idle = l.idle[:n-1]
		l.mu.Unlock()
		return in, nil
	}
	l.mu.Unlock()
	return l.start(ctx)
}

// stopName is the global that the build script adds to the library. A build without it is stopped in
// wazero's own way, which makes it six times as slow.
const stopName = "stop"

// pageBytes is the unit in which WebAssembly has its memory.
const pageBytes = 65536

// start makes a fresh instance. The first one on a machine waits for the compiler.
func (l *library) start(ctx context.Context) (*instance, error) {
	wasm, err := l.module()
	if err != nil {
		return nil, err
	}
	stoppable := bytes.Contains(wasm, []byte("\x04"+stopName+"\x03")) // its entry among the exports
	r := wazero.NewRuntimeWithConfig(ctx, wazero.NewRuntimeConfigCompiler().
		WithCompilationCache(l.cache).WithMemoryLimitPages(l.pages).
		WithCloseOnContextDone(!stoppable).WithCoreFeatures(api.CoreFeaturesV2))
	in, err := l.instantiate(ctx, r, wasm)
	if err != nil {
		r.Close(context.WithoutCancel(ctx))
		return nil, err
	}
	return in, nil
}

// module is the library's code, unpacked when it is first needed: a drawing from the cache does without.
func (l *library) module() ([]byte, error) {
	l.mu.Lock()
	defer l.mu.Unlock()
	if l.wasm == nil {
		wasm, err := asset("engine.wasm")
		if err != nil {
			return nil, err
		}
		l.wasm = wasm
	}
	return l.wasm, nil
}

func (l *library) instantiate(ctx context.Context, r wazero.Runtime, wasm []byte) (*instance, error) {
	compiled, err := r.CompileModule(ctx, wasm)
	if err != nil {
		return nil, fmt.Errorf("the engraving library is not as expected (%w): give one that scripts/engraver built", err)
	}
	h := &host{fds: map[int32]*handle{}}
	l.mu.Lock()
	h.files, h.known = l.resources, l.resources != nil
	l.mu.Unlock()
	if h.files == nil {
		h.files = &files{data: map[string][]byte{}, dirs: map[string]map[string]bool{}}
	}
	if err := h.export(ctx, r, compiled, l.names.Names.Imports); err != nil {
		return nil, err
	}
	mod, err := r.InstantiateModule(ctx, compiled, wazero.NewModuleConfig().WithStartFunctions())
	if err != nil {
		return nil, fmt.Errorf("the engraving library does not start (%w)", err)
	}
	in := &instance{runtime: r, mod: mod, names: l.names.Names.Exports, ctx: ctx}
	if _, err := in.call("constructors"); err != nil {
		return nil, err
	}
	tk, err := in.call("constructor")
	if err != nil {
		return nil, err
	}
	in.toolkit = tk
	if _, err := in.call("enableLog", 0); err != nil {
		return nil, err
	}
	l.mu.Lock()
	l.resources = h.files
	l.mu.Unlock()
	return in, nil
}

// warm reports whether the library was compiled on this machine before: a cache folder keeps one file
// for each build.
func (l *library) warm(dir string) bool {
	found, err := filepath.Glob(filepath.Join(dir, "wazero-*", "*"))
	return err == nil && len(found) > 0
}
