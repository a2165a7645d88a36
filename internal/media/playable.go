package media

import (
	"context"
	"encoding/binary"
	"fmt"
	"io"
	"math"
	"os"
	"path/filepath"
	"time"

	"antiphon/internal/cage"
)

// PlayableType is the media type of what Playable makes.
const PlayableType = "audio/mp4"

// Playable encodes decoded sound for a web page: AAC in MP4, which every browser plays, without
// metadata, and with the encoder's delay stated so that second 12 of the page is second 12 of the
// take. About 0.5 MB a minute. The error is an *Error.
func Playable(ctx context.Context, p PCM) ([]byte, error) {
	if len(p.Samples) == 0 || p.RateHz <= 0 {
		return nil, problem(NoSound, "", nil, "there is no sound to put on the page")
	}
	// The container's table is written last and moved to the front, which a pipe cannot do.
	dir, err := os.MkdirTemp("", "antiphon-")
	if err != nil {
		return nil, problem(Internal, "", err, "the sound for the page cannot be made (%v): make room for temporary files", err)
	}
	defer os.RemoveAll(dir)
	out := filepath.Join(dir, "take.m4a")
	_, err = cage.Job{
		Program: "ffmpeg",
		Args: []string{"-nostdin", "-hide_banner", "-v", "error", "-threads", "1",
			"-f", "f32le", "-ar", fmt.Sprint(p.RateHz), "-ac", "1", "-i", "pipe:0",
			"-c:a", "aac", "-b:a", "64k", "-map_metadata", "-1", "-fflags", "+bitexact", "-flags:a", "+bitexact",
			"-movflags", "+faststart", "file:" + out},
		Stdin:  &floats{left: p.Samples},
		Write:  []string{dir},
		Limits: cage.Limits{Wall: 5 * time.Minute, MemoryBytes: 1 << 30, OutputBytes: 1 << 30},
	}.Run(ctx)
	if err != nil {
		return nil, explain(ctx, err, "", "the sound for the page")
	}
	b, err := os.ReadFile(out)
	if err != nil {
		return nil, problem(Internal, "", err, "the sound for the page was not made (%v): try again", err)
	}
	return b, nil
}

// floats reads samples as little-endian bytes.
type floats struct{ left []float32 }

func (f *floats) Read(b []byte) (int, error) {
	if len(f.left) == 0 {
		return 0, io.EOF
	}
	n := min(len(f.left), len(b)/4)
	if n == 0 && len(b) > 0 {
		return 0, io.ErrShortBuffer
	}
	for i, v := range f.left[:n] {
		binary.LittleEndian.PutUint32(b[4*i:], math.Float32bits(v))
	}
	f.left = f.left[n:]
	return 4 * n, nil
}
