package media

import (
	"bytes"
	"errors"
	"fmt"
	"math"
	"os"
	"path/filepath"
	"testing"
)

// TestClip: the sound between two moments is that of the recording, sample for sample within what the
// coder keeps, as long as asked, and soft at its edges.
func TestClip(t *testing.T) {
	dir := t.TempDir()
	const rate = 48000
	steady := tone(rate, 300, 4, 0.3)
	x := strokes(rate, 4, 0.5, 1.31, 2.2, 3.0)
	for i := range x {
		x[i] = 0.7*x[i] + 0.3*steady[i]
	}
	sound := wav(t, filepath.Join(dir, "in.wav"), rate, x)
	for _, c := range []struct {
		name     string
		args     []string
		from, to float64
		typ      string
	}{
		{"a.m4a", append([]string{"-c:a", "aac", "-b:a", "192k"}, told()...), 1.2003, 2.9118, "audio/mp4"},
		{"b.ogg", []string{"-c:a", "libopus", "-b:a", "128k"}, 0, 0.75, "audio/mp4"},
		{"c.mp4", append(append(flash("640x360", 4), "-c:v", "libx264", "-preset", "ultrafast", "-pix_fmt", "yuv420p", "-c:a", "aac"), told()...), 0.4, 1.9, "video/mp4"},
		{"d.webm", append(flash("320x240", 4), "-c:v", "libvpx", "-c:a", "libopus"), 0.4, 3.5, "video/mp4"},
	} {
		in := convert(t, sound, c.name, c.args...)
		tr, err := Examine(t.Context(), in, Options{})
		if err != nil {
			t.Fatal(err)
		}
		r, err := Clip(t.Context(), in, t.TempDir(), c.from, c.to, tr, Options{})
		if err != nil {
			t.Fatal(err)
		}
		if r.Type != c.typ || !r.Tracks.PlaysEverywhere() {
			t.Errorf("%s: %s, %+v", c.name, r.Type, r.Tracks)
		}
		b, err := os.ReadFile(r.Path)
		if err != nil || bytes.Contains(b, []byte(secret)) {
			t.Errorf("%s: it tells what the recording told (%v)", c.name, err)
		}
		if c.typ == PlayableType { // a picture names the coder that made it here
			onlyPlainTags(t, r.Path)
		}
		at := Options{RateHz: rate}
		was, _, err := Decode(t.Context(), in, at)
		if err != nil {
			t.Fatal(err)
		}
		is, _, err := Decode(t.Context(), r.Path, at)
		if err != nil {
			t.Fatal(err)
		}
		from, to := int(math.Round(c.from*rate)), int(math.Round(c.to*rate))
		if d := len(is.Samples) - (to - from); d < -1 || d > 1 {
			t.Errorf("%s: %d samples, want %d", c.name, len(is.Samples), to-from)
		}
		shift := 0
		best := math.Inf(1)
		for lag := -40; lag <= 40; lag++ { // the shift at which the two differ least
			sum := 0.0
			for i := 1000; i < to-from-1000; i++ {
				if j := from + i + lag; j >= 0 && j < len(was.Samples) {
					d := float64(is.Samples[i] - was.Samples[j])
					sum += d * d
				}
			}
			if sum < best {
				best, shift = sum, lag
			}
		}
		if rms := math.Sqrt(best / float64(to-from)); shift != 0 || rms > 0.02 {
			t.Errorf("%s: the sound lies %d samples off, and differs by %.4f", c.name, shift, rms)
		}
		edge := int(clipEdgeS * rate / 8)
		for _, i := range []int{0, edge, len(is.Samples) - 1 - edge, len(is.Samples) - 1} {
			if math.Abs(float64(is.Samples[i])) > 0.06 {
				t.Errorf("%s: at its edge, sample %d, it is %.3f", c.name, i, is.Samples[i])
			}
		}
		if c.typ == "video/mp4" {
			if w := whiteFrom(t, r.Path, 0); w < int(math.Round((1-c.from)*30))-1 || w > int(math.Round((1-c.from)*30))+1 {
				t.Errorf("%s: the picture changes at %v s, want %v", c.name, float64(w)/30, 1-c.from)
			}
			if d := number(t, ffprobed(t, r.Path).Streams[0].Duration); math.Abs(d-(c.to-c.from)) > 1.01/30 {
				t.Errorf("%s: the picture is %v s long, want %v", c.name, d, c.to-c.from)
			}
		}
	}
}

func TestClipRefuses(t *testing.T) {
	in := wav(t, filepath.Join(t.TempDir(), "in.wav"), 22050, tone(22050, 440, 2, 0.5))
	tr, err := Examine(t.Context(), in, Options{})
	if err != nil {
		t.Fatal(err)
	}
	for _, c := range []struct {
		from, to float64
		kind     Kind
	}{{-1, 1, TooLong}, {1, 1, TooLong}, {1, 0.5, TooLong}, {0, 500, TooLong}, {math.NaN(), 1, TooLong}, {0, math.Inf(1), TooLong}, {5, 6, NoSound}} {
		dir := t.TempDir()
		_, err := Clip(t.Context(), in, dir, c.from, c.to, tr, Options{})
		if me, ok := errors.AsType[*Error](err); !ok || me.Kind != c.kind {
			t.Errorf("%v to %v: %v", c.from, c.to, err)
		}
		if l, err := os.ReadDir(dir); err != nil || len(l) != 0 {
			t.Errorf("left %v, %v", l, err)
		}
	}
	// What ends within the clip is kept as far as it goes.
	r, err := Clip(t.Context(), in, t.TempDir(), 1.5, 4, tr, Options{})
	if err != nil || fmt.Sprintf("%.1f", r.Tracks.LengthS) != "0.5" {
		t.Errorf("%+v, %v", r, err)
	}
}
