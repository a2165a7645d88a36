package main

import (
	"bufio"
	"encoding/binary"
	"encoding/json"
	"fmt"
	"io"
	"math"
	"os"
	"path/filepath"
	"slices"

	"antiphon/internal/ear"
)

// decisions are those of the ear, in the order in which it keeps their models.
var decisions = [...]string{ear.Begins: "begins", ear.Written: "written", ear.Stranger: "stranger", ear.Onset: "onset",
	ear.WrittenAgain: "written-again", ear.StrangerAgain: "stranger-again"}

// shelf is a folder of rows that were heard: a file for each decision, so that only one has to fit into
// memory, and what they are in heard.json. In a file, a row is 32-bit floats, little-endian: the number
// of its take and of its instrument, what the ear said, what was true, and the inputs.
type shelf struct {
	dir         string
	From        string   // what was heard
	Takes       int      // in which the ear took decisions
	Instruments []string // of two guitars, the first
	Widths      [len(decisions)]int
	Rows        [len(decisions)]int

	files [len(decisions)]*os.File
	out   [len(decisions)]*bufio.Writer
}

const rowHead = 4 // numbers before the inputs

func (s *shelf) path(of int) string { return filepath.Join(s.dir, decisions[of]+".rows") }
func (s *shelf) list() string       { return filepath.Join(s.dir, "heard.json") }

// newShelf opens an empty one; it counts only once it is closed.
func newShelf(dir, from string) (*shelf, error) {
	s := &shelf{dir: dir, From: from}
	if err := os.MkdirAll(dir, 0o755); err != nil {
		return nil, err
	}
	if err := os.Remove(s.list()); err != nil && !os.IsNotExist(err) {
		return nil, err
	}
	for i := range s.files {
		f, err := os.Create(s.path(i))
		if err != nil {
			return nil, err
		}
		s.files[i], s.out[i] = f, bufio.NewWriterSize(f, 1<<20)
	}
	return s, nil
}

// openShelf finds one that was closed; an error that is os.ErrNotExist says that there is none.
func openShelf(dir string) (*shelf, error) {
	s := &shelf{dir: dir}
	return s, readJSON(s.list(), s)
}

// put adds the rows of one take.
func (s *shelf) put(take int, instrument string, heard [len(decisions)][]row) error {
	of := slices.Index(s.Instruments, instrument)
	if of < 0 {
		of = len(s.Instruments)
		s.Instruments = append(s.Instruments, instrument)
	}
	if len(heard[ear.Written]) > 0 {
		s.Takes++
	}
	for d, rows := range heard {
		for _, r := range rows {
			if s.Rows[d]++; s.Rows[d] == 1 {
				s.Widths[d] = len(r.inputs)
			} else if s.Widths[d] != len(r.inputs) {
				return fmt.Errorf("%s: the ear gave %d inputs, then %d", decisions[d], s.Widths[d], len(r.inputs))
			}
			head := [rowHead]float32{float32(take), float32(of), r.said, r.target}
			for _, v := range [][]float32{head[:], r.inputs} {
				if err := binary.Write(s.out[d], binary.LittleEndian, v); err != nil {
					return err
				}
			}
		}
	}
	return nil
}

func (s *shelf) close() error {
	for i, w := range s.out {
		if err := w.Flush(); err != nil {
			return err
		}
		if err := s.files[i].Close(); err != nil {
			return err
		}
	}
	data, err := json.Marshal(s)
	if err != nil {
		return err
	}
	return os.WriteFile(s.list(), data, 0o644)
}

// rows are those of one decision.
type rows struct {
	width            int
	x                []float32 // row by row
	said, target     []float32
	take, instrument []int
}

func (r *rows) of(i int) []float32 { return r.x[i*r.width : (i+1)*r.width] }

// read takes the rows of one decision off the shelf.
func (s *shelf) read(of int) (*rows, error) {
	f, err := os.Open(s.path(of))
	if err != nil {
		return nil, err
	}
	defer f.Close()
	n, width := s.Rows[of], s.Widths[of]
	stride := 4 * (rowHead + width)
	if info, err := f.Stat(); err != nil || info.Size() != int64(n)*int64(stride) {
		return nil, fmt.Errorf("%s does not hold the %d rows of %d inputs that %s tells of: hear the takes again", s.path(of), n, width, s.list())
	}
	r := &rows{width: width, x: make([]float32, n*width), said: make([]float32, n), target: make([]float32, n), take: make([]int, n), instrument: make([]int, n)}
	in, raw := bufio.NewReaderSize(f, 1<<20), make([]byte, stride)
	float := func(k int) float32 { return math.Float32frombits(binary.LittleEndian.Uint32(raw[4*k:])) }
	for i := range n {
		if _, err := io.ReadFull(in, raw); err != nil {
			return nil, err
		}
		r.take[i], r.instrument[i], r.said[i], r.target[i] = int(float(0)), int(float(1)), float(2), float(3)
		if r.instrument[i] < 0 || r.instrument[i] >= len(s.Instruments) {
			return nil, fmt.Errorf("row %d of %s is of instrument %d of %d: hear the takes again", i+1, s.path(of), r.instrument[i], len(s.Instruments))
		}
		x := r.of(i)
		for k := range x {
			x[k] = float(rowHead + k)
		}
	}
	return r, nil
}

// split says which rows to learn from and which to keep for the figures. One take of ten is kept; which
// of the ten moves on, since takes come in kinds of thirty in turn.
func (r *rows) split() (learn, keep []int) {
	for i, take := range r.take {
		if (take+take/30)%10 == 0 {
			keep = append(keep, i)
		} else {
			learn = append(learn, i)
		}
	}
	return learn, keep
}

func readJSON(path string, v any) error {
	data, err := os.ReadFile(path)
	if err != nil {
		return err
	}
	if err := json.Unmarshal(data, v); err != nil {
		return fmt.Errorf("%s: %w: make it again", path, err)
	}
	return nil
}
