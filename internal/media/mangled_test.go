package media

import (
	"errors"
	"fmt"
	"math"
	"math/rand/v2"
	"os"
	"path/filepath"
	"strings"
	"testing"
)

// TestMangled breaks whole files in many ways. Whatever comes of it is sound of a sane size and
// level, or one *Error of one sentence.
func TestMangled(t *testing.T) {
	dir := t.TempDir()
	src := wav(t, filepath.Join(dir, "tone.wav"), 16000, tone(16000, 440, 2, 0.5))
	rng := rand.New(rand.NewPCG(2, 10))
	for _, c := range []struct {
		name string
		args []string
	}{
		{"a.m4a", []string{"-c:a", "aac"}},
		{"a.webm", []string{"-c:a", "libopus"}},
		{"a.ogg", []string{"-c:a", "libvorbis"}},
		{"a.mp3", []string{"-c:a", "libmp3lame"}},
		{"a.flac", nil},
		{"a.wav", nil},
	} {
		whole, err := os.ReadFile(convert(t, src, c.name, c.args...))
		if err != nil {
			t.Fatal(err)
		}
		for round := range 5 {
			b := append([]byte(nil), whole...)
			switch round {
			case 0: // the header
				for range 8 {
					b[rng.IntN(200)] = byte(rng.Uint32())
				}
			case 1: // sizes turned huge
				at := rng.IntN(len(b) - 4)
				copy(b[at%400:], []byte{0xff, 0xff, 0xff, 0xff})
			case 2: // everywhere
				for range 1 + len(b)/200 {
					b[rng.IntN(len(b))] ^= 1 << rng.IntN(8)
				}
			case 3: // a hole
				at := rng.IntN(len(b) / 2)
				b = append(b[:at], b[at+len(b)/4:]...)
			case 4: // the end again and again
				b = append(b, b[len(b)/2:]...)
				b = append(b, b[len(b)/3:]...)
			}
			path := write(t, filepath.Join(dir, fmt.Sprint(round, c.name)), string(b))
			p, info, err := Decode(t.Context(), path, Options{})
			if err != nil {
				me, ok := errors.AsType[*Error](err)
				if !ok || me.Kind == Internal || me.Kind == TooSlow || strings.Count(me.Say, "\n") != 0 {
					t.Errorf("%s, round %d: %v", c.name, round, err)
				}
				continue
			}
			for i, v := range p.Samples {
				if math.IsNaN(float64(v)) || math.Abs(float64(v)) > 8 {
					t.Errorf("%s, round %d: sample %d is %v", c.name, round, i, v)
					break
				}
			}
			if p.RateHz != 22050 || len(p.Samples) == 0 || p.Seconds() > 3600 || p.ClippedShare < 0 || p.ClippedShare > 1 {
				t.Errorf("%s, round %d: %v s at %d Hz, %+v", c.name, round, p.Seconds(), p.RateHz, info)
			}
		}
	}
}

func TestNoTool(t *testing.T) {
	src := wav(t, filepath.Join(t.TempDir(), "tone.wav"), 8000, tone(8000, 440, 1, 0.5))
	t.Setenv("PATH", t.TempDir())
	_, _, err := Decode(t.Context(), src, Options{})
	if me, ok := errors.AsType[*Error](err); !ok || me.Kind != NoTool || !strings.Contains(me.Say, "apt-get install ffmpeg") {
		t.Error(err)
	}
}
