package engrave

import (
	"bytes"
	"cmp"
	"compress/gzip"
	"encoding/json"
	"io"
	"os"
	"path/filepath"
	"slices"
	"sync"
)

// shelf keeps what the library drew, by what it was asked to draw: the last few drawings in memory,
// and all on disk where there is a folder. Losing any of it costs time only, so faults are no errors.
type shelf struct {
	mu   sync.Mutex
	last []shelved
	dir  string
}

type shelved struct {
	key   string
	pages []string
}

const (
	keptInMemory = 32
	keptOnDisk   = 400      // drawings, some 20 to 100 KB each
	mostShelved  = 64 << 20 // bytes that one drawing may have when it is unpacked
)

func newShelf(cache string) *shelf {
	s := &shelf{}
	if cache != "" {
		s.dir = filepath.Join(cache, "drawings")
		if os.MkdirAll(s.dir, 0o700) != nil {
			s.dir = ""
		}
	}
	return s
}

func (s *shelf) get(key string) ([]string, bool) {
	s.mu.Lock()
	i := slices.IndexFunc(s.last, func(d shelved) bool { return d.key == key })
	if i >= 0 {
		d := s.last[i]
		s.last = append(slices.Delete(s.last, i, i+1), d)
		s.mu.Unlock()
		return d.pages, true
	}
	s.mu.Unlock()
	if s.dir == "" {
		return nil, false
	}
	pages, ok := s.read(key)
	if ok {
		s.remember(key, pages)
	}
	return pages, ok
}

func (s *shelf) read(key string) (pages []string, ok bool) {
	f, err := os.Open(filepath.Join(s.dir, key))
	if err != nil {
		return nil, false
	}
	defer f.Close()
	z, err := gzip.NewReader(f)
	if err != nil {
		return nil, false
	}
	d := json.NewDecoder(io.LimitReader(z, mostShelved))
	if d.Decode(&pages) != nil || len(pages) == 0 {
		return nil, false
	}
	return pages, true
}

func (s *shelf) put(key string, pages []string) {
	s.remember(key, pages)
	if s.dir == "" {
		return
	}
	var b bytes.Buffer
	z, _ := gzip.NewWriterLevel(&b, gzip.BestSpeed) // the level is a valid one
	if json.NewEncoder(z).Encode(pages) != nil || z.Close() != nil {
		return
	}
	f, err := os.CreateTemp(s.dir, ".part-*")
	if err != nil {
		return
	}
	defer os.Remove(f.Name())
	_, err = f.Write(b.Bytes())
	if f.Close() == nil && err == nil {
		os.Rename(f.Name(), filepath.Join(s.dir, key)) // a reader finds all of it or nothing
	}
	s.prune()
}

// prune throws the older half away when there are too many.
func (s *shelf) prune() {
	list, err := os.ReadDir(s.dir)
	if err != nil || len(list) <= keptOnDisk {
		return
	}
	age := map[string]int64{}
	for _, f := range list {
		if info, err := f.Info(); err == nil {
			age[f.Name()] = info.ModTime().UnixNano()
		}
	}
	slices.SortFunc(list, func(a, b os.DirEntry) int { return cmp.Compare(age[a.Name()], age[b.Name()]) })
	for _, f := range list[:len(list)-keptOnDisk/2] {
		os.Remove(filepath.Join(s.dir, f.Name()))
	}
}

func (s *shelf) remember(key string, pages []string) {
	s.mu.Lock()
	defer s.mu.Unlock()
	if s.last = append(s.last, shelved{key, pages}); len(s.last) > keptInMemory {
		s.last = slices.Delete(s.last, 0, 1)
	}
}
