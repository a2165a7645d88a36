package sound

import (
	"context"
	"encoding/binary"
	"errors"
	"io"
	"math"
	"math/rand/v2"
	"path/filepath"
	"strings"

	"antiphon/internal/dsp"
)

// FileFormat is a kind of file that sound is written to.
type FileFormat string

const (
	WAV  FileFormat = "wav"
	FLAC FileFormat = "flac"
	AAC  FileFormat = "m4a"
	Opus FileFormat = "opus"
	MIDI FileFormat = "mid"
)

// FormatOf tells the format by the name's ending.
func FormatOf(path string) (FileFormat, error) {
	switch ext := strings.ToLower(filepath.Ext(path)); ext {
	case ".wav", ".wave":
		return WAV, nil
	case ".flac":
		return FLAC, nil
	case ".m4a", ".mp4":
		return AAC, nil
	case ".opus", ".ogg":
		return Opus, nil
	case ".mid", ".midi":
		return MIDI, nil
	}
	return "", problem(Format, nil, "%s: this kind of file is not made: name it .wav, .flac, .m4a, .opus or .mid", path)
}

// Lossy reports whether the format changes the sound, so that it is decoded and measured once more.
func (f FileFormat) Lossy() bool { return f == AAC || f == Opus }

// Write writes the sound. For AAC and Opus, which move peaks, the file is decoded again, and made
// softer until its true peak is where it was promised; a.Loudness then is that of the file.
// The error is an *Error, or the writer's own.
func (a *Audio) Write(ctx context.Context, w io.Writer, f FileFormat) error {
	switch f {
	case MIDI:
		return a.writeMIDI(w)
	case WAV:
		return a.writeWAV(w)
	}
	data, err := a.encode(ctx, f)
	if err != nil {
		return err
	}
	_, err = w.Write(data)
	return err
}

// pcm16 are the samples as 16-bit integers, left and right in turn, with a triangular dither of one
// step that is the same each time.
func (a *Audio) pcm16() *steps { return &steps{a: a, rng: rand.New(rand.NewPCG(1770, 3341))} }

type steps struct {
	a    *Audio
	rng  *rand.Rand
	at   int
	rest []byte
}

// Read gives the next samples as little-endian bytes.
func (s *steps) Read(b []byte) (int, error) {
	if len(s.rest) == 0 {
		if s.at == len(s.a.Left) {
			return 0, io.EOF
		}
		to := min(s.at+4096, len(s.a.Left))
		for ; s.at < to; s.at++ {
			for _, v := range [2]float32{s.a.Left[s.at], s.a.Right[s.at]} {
				x := math.Round(float64(v)*32767 + s.rng.Float64() - s.rng.Float64())
				s.rest = binary.LittleEndian.AppendUint16(s.rest, uint16(int16(min(max(x, -32768), 32767))))
			}
		}
	}
	n := copy(b, s.rest)
	if s.rest = s.rest[n:]; len(s.rest) == 0 {
		s.rest = nil
	}
	return n, nil
}

// writeWAV writes 16-bit PCM. A loop says so in a "smpl" chunk, which samplers and players of loops read.
func (a *Audio) writeWAV(w io.Writer) error {
	const bytesAFrame = 4
	size := uint32(len(a.Left) * bytesAFrame)
	var smpl []byte
	if a.Looped {
		smpl = append(smpl, "smpl"...)
		for _, v := range []uint32{60, 0, 0, 1_000_000_000 / RateHz, 60, 0, 0, 0, 1, 0, 0, 0, 0, uint32(len(a.Left) - 1), 0, 0} {
			smpl = binary.LittleEndian.AppendUint32(smpl, v)
		}
	}
	head := append([]byte("RIFF"), 0, 0, 0, 0)
	binary.LittleEndian.PutUint32(head[4:], 36+size+uint32(len(smpl)))
	head = append(head, "WAVEfmt "...)
	head = binary.LittleEndian.AppendUint32(head, 16)
	for _, v := range []uint16{1, 2} { // PCM, two channels
		head = binary.LittleEndian.AppendUint16(head, v)
	}
	head = binary.LittleEndian.AppendUint32(head, RateHz)
	head = binary.LittleEndian.AppendUint32(head, RateHz*bytesAFrame)
	head = binary.LittleEndian.AppendUint16(head, bytesAFrame)
	head = binary.LittleEndian.AppendUint16(head, 16)
	head = append(head, "data"...)
	head = binary.LittleEndian.AppendUint32(head, size)
	if _, err := w.Write(head); err != nil {
		return err
	}
	if _, err := io.Copy(w, a.pcm16()); err != nil {
		return err
	}
	_, err := w.Write(smpl)
	return err
}

// floats reads the samples as little-endian floats, left and right in turn, or both as one.
type floats struct {
	a    *Audio
	at   int
	rest []byte
}

func (f *floats) Read(b []byte) (int, error) {
	if len(f.rest) == 0 {
		if f.at == len(f.a.Left) {
			return 0, io.EOF
		}
		to := min(f.at+4096, len(f.a.Left))
		one := f.a.channels() == 1
		for ; f.at < to; f.at++ {
			both := [2]float32{f.a.Left[f.at], f.a.Right[f.at]}
			if one {
				both[0] = (both[0] + both[1]) / 2
			}
			for _, v := range both[:f.a.channels()] {
				f.rest = binary.LittleEndian.AppendUint32(f.rest, math.Float32bits(v))
			}
		}
	}
	n := copy(b, f.rest)
	if f.rest = f.rest[n:]; len(f.rest) == 0 {
		f.rest = nil
	}
	return n, nil
}

// Coding moves peaks by some tenths of a decibel: they are first limited this far below the promise,
// and further if that was not enough.
const (
	codingRoomDb = 0.8
	mostTries    = 4
)

func (a *Audio) encode(ctx context.Context, f FileFormat) ([]byte, error) {
	if !f.Lossy() {
		return code(ctx, a, f)
	}
	room := codingRoomDb
	for range mostTries {
		limit([][]float32{a.Left, a.Right}, gain(PromisedPeak-room), a.Looped)
		data, err := code(ctx, a, f)
		if err != nil {
			return nil, err
		}
		left, right, err := decode(ctx, data, f, a.channels(), len(a.Left))
		if err != nil {
			return nil, err
		}
		l, err := dsp.MeasureLoudness([][]float32{left, right}, RateHz)
		if err != nil {
			return nil, problem(Internal, err, "the coded sound cannot be measured (%v): report it", err)
		}
		over := l.TruePeakDb - PromisedPeak
		if over <= 0 {
			a.Loudness = l
			return data, nil
		}
		room += over + 0.1
	}
	return nil, problem(Internal, errPeak, "the coded sound keeps a peak above %.0f dB: choose .flac or .wav", PromisedPeak)
}

var errPeak = errors.New("true peak above the promised one")
