package sound

import (
	"context"
	"encoding/binary"
	"errors"
	"fmt"
	"io"
	"math"
	"os"
	"path/filepath"
	"time"

	"antiphon/internal/cage"
)

// channels is one for a sound with a mark, whose players are put side by side where it is played.
func (a *Audio) channels() int {
	if a.opt.Mark {
		return 1
	}
	return 2
}

// coderArgs choose the coder. All of them state their delay in the file, so that second 12 of the
// music is second 12 of a player: AAC by an edit list, Opus by its pre-skip; FLAC has none.
func coderArgs(f FileFormat, channels int) []string {
	switch f {
	case AAC:
		return []string{"-c:a", "aac", "-b:a", fmt.Sprint(80*channels, "k"), "-movflags", "+faststart", "-f", "ipod"}
	case Opus:
		return []string{"-c:a", "libopus", "-b:a", fmt.Sprint(56*channels, "k"), "-vbr", "on", "-f", "ogg"}
	}
	return []string{"-c:a", "flac", "-sample_fmt", "s16", "-f", "flac"}
}

// code makes a file of the sound through ffmpeg, in a cage.
func code(ctx context.Context, a *Audio, f FileFormat) ([]byte, error) {
	dir, err := os.MkdirTemp("", "antiphon-")
	if err != nil {
		return nil, problem(Internal, err, "the sound cannot be coded (%v): make room for temporary files", err)
	}
	defer os.RemoveAll(dir)
	out := filepath.Join(dir, "sound")
	in, kind := io.Reader(&floats{a: a}), "f32le"
	if f == FLAC {
		in, kind = a.pcm16(), "s16le"
	}
	args := []string{"-nostdin", "-hide_banner", "-v", "error", "-threads", "1", "-f", kind, "-ar", fmt.Sprint(RateHz), "-ac", fmt.Sprint(a.channels()), "-i", "pipe:0",
		"-map_metadata", "-1", "-fflags", "+bitexact", "-flags:a", "+bitexact"}
	_, err = cage.Job{
		Program: "ffmpeg",
		Args:    append(append(args, coderArgs(f, a.channels())...), "file:"+out),
		Stdin:   in,
		Write:   []string{dir},
		Limits:  cage.Limits{Wall: 5 * time.Minute, MemoryBytes: 1 << 30, OutputBytes: 1 << 30},
	}.Run(ctx)
	if err != nil {
		return nil, coding(ctx, err, f)
	}
	data, err := os.ReadFile(out)
	if err != nil {
		return nil, problem(Internal, err, "the sound was not coded (%v): try again", err)
	}
	return data, nil
}

// decode gives the sound of a coded file as a player hears it; about is how long it should be. One channel
// is given as both.
func decode(ctx context.Context, data []byte, f FileFormat, channels, about int) (left, right []float32, err error) {
	dir, err := os.MkdirTemp("", "antiphon-")
	if err != nil {
		return nil, nil, problem(Internal, err, "the coded sound cannot be measured (%v): make room for temporary files", err)
	}
	defer os.RemoveAll(dir)
	in := filepath.Join(dir, "sound")
	if err := os.WriteFile(in, data, 0o600); err != nil {
		return nil, nil, problem(Internal, err, "the coded sound cannot be measured (%v): make room for temporary files", err)
	}
	raw := &frames{channels: channels, left: make([]float32, 0, about+4096), right: make([]float32, 0, about+4096)}
	_, err = cage.Job{
		Program: "ffmpeg",
		Args:    []string{"-nostdin", "-hide_banner", "-v", "error", "-threads", "1", "-i", "file:" + in, "-f", "f32le", "-ar", fmt.Sprint(RateHz), "-ac", fmt.Sprint(channels), "pipe:1"},
		Stdout:  raw,
		Read:    []string{in},
		Limits:  cage.Limits{Wall: 5 * time.Minute, MemoryBytes: 1 << 30, OutputBytes: 2 << 30},
	}.Run(ctx)
	if err != nil {
		return nil, nil, coding(ctx, err, f)
	}
	return raw.left, raw.right, nil
}

// frames takes little-endian floats apart, left and right in turn.
type frames struct {
	channels    int
	left, right []float32
	rest        []byte
}

func (f *frames) Write(b []byte) (int, error) {
	n := len(b)
	if len(f.rest) > 0 {
		b = append(f.rest, b...)
	}
	size := 4 * f.channels
	for ; len(b) >= size; b = b[size:] {
		f.left = append(f.left, math.Float32frombits(binary.LittleEndian.Uint32(b)))
		f.right = append(f.right, math.Float32frombits(binary.LittleEndian.Uint32(b[size-4:])))
	}
	f.rest = append(f.rest[:0:0], b...)
	return n, nil
}

func coding(ctx context.Context, err error, f FileFormat) *Error {
	switch {
	case errors.Is(err, cage.ErrNotInstalled):
		return problem(NoTool, err, "ffmpeg is not installed, so no .%s can be made: run apt-get install ffmpeg, or choose .wav", f)
	case ctx.Err() != nil:
		return problem(Internal, err, "stopped while the sound was coded")
	}
	return problem(Internal, err, "ffmpeg cannot make a .%s of it (%v): choose .wav", f, err)
}
