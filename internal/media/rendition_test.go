package media

import (
	"bytes"
	"image/jpeg"
	"math"
	"os"
	"path/filepath"
	"testing"
)

func TestRendition(t *testing.T) {
	dir := t.TempDir()
	starts := []float64{0.3, 1.5, 2.4456}
	sound := wav(t, filepath.Join(dir, "in.wav"), 44100, strokes(44100, 3, starts...))
	for _, c := range []struct {
		name          string
		args          []string
		typ           string
		width, height int
		as            bool // plays everywhere as it came
	}{
		{"large.mp4", []string{"-f", "lavfi", "-i", "testsrc=size=1920x1080:rate=10:duration=3", "-map", "1:v", "-map", "0:a", "-c:v", "libx264", "-preset", "ultrafast", "-pix_fmt", "yuv420p", "-c:a", "aac"}, "video/mp4", 1280, 720, true},
		{"small.webm", []string{"-f", "lavfi", "-i", "testsrc=size=322x240:rate=15:duration=3", "-map", "1:v", "-map", "0:a", "-c:v", "libvpx", "-c:a", "libopus"}, "video/mp4", 322, 240, false},
		{"odd.mkv", []string{"-f", "lavfi", "-i", "testsrc=size=323x241:rate=15:duration=3", "-map", "1:v", "-map", "0:a", "-c:v", "ffv1", "-c:a", "flac"}, "video/mp4", 320, 240, false},
		{"memo.m4a", []string{"-c:a", "aac"}, "audio/mp4", 0, 0, true},
		{"voice.ogg", []string{"-c:a", "libopus"}, "audio/mp4", 0, 0, false},
	} {
		t.Run(c.name, func(t *testing.T) {
			in := convert(t, sound, c.name, c.args...)
			tr, err := Examine(t.Context(), in, Options{})
			if err != nil {
				t.Fatal(err)
			}
			if tr.PlaysEverywhere() != c.as {
				t.Errorf("%+v plays everywhere: %v", tr, tr.PlaysEverywhere())
			}
			out := t.TempDir()
			r, err := Rendition(t.Context(), in, out, tr, Options{})
			if err != nil {
				t.Fatal(err)
			}
			if r.Type != c.typ || !r.Tracks.PlaysEverywhere() || !r.Tracks.Light() || r.Tracks.Height != c.height || math.Abs(float64(r.Tracks.Width-c.width)) > 2 {
				t.Errorf("%s, %+v", r.Type, r.Tracks)
			}
			b, err := os.ReadFile(r.Path)
			if err != nil {
				t.Fatal(err)
			}
			if moov, mdat := bytes.Index(b, []byte("moov")), bytes.Index(b, []byte("mdat")); moov < 0 || moov > mdat {
				t.Errorf("its table is not in front: moov at %d, mdat at %d", moov, mdat)
			}
			was, _ := decoded(t, in)
			is, _ := decoded(t, r.Path)
			for _, s := range starts {
				if lag, like := lagS(is.Samples, was.Samples, s); !(math.Abs(lag) < 0.001) || like < 0.5 {
					t.Errorf("the note at %.3f s moved by %.2f ms (likeness %.2f)", s, lag*1000, like)
				}
			}
			poster, err := Poster(t.Context(), in, out, tr, 1, Options{})
			if err != nil || (poster != nil) != (c.height > 0) {
				t.Fatalf("poster of %d bytes, %v", len(poster), err)
			}
			if poster != nil {
				if p, err := jpeg.Decode(bytes.NewReader(poster)); err != nil || p.Bounds().Dy() != min(540, c.height) {
					t.Errorf("poster: %v", err)
				}
			}
		})
	}
}

func TestHeavy(t *testing.T) {
	for _, c := range []struct {
		t    Tracks
		want bool
	}{
		{Tracks{Video: "h264", Width: 1280, Height: 720, BitsPerS: 2e6}, true},
		{Tracks{Video: "h264", Width: 720, Height: 1280, BitsPerS: 2e6}, true},
		{Tracks{Video: "h264", Width: 1920, Height: 1080, BitsPerS: 2e6}, false},
		{Tracks{Video: "h264", Width: 640, Height: 360, BitsPerS: 2e7}, false},
		{Tracks{Sound: "aac", BitsPerS: 256e3}, true},
		{Tracks{Sound: "pcm_s16le", BitsPerS: 1411e3}, false},
	} {
		if got := c.t.Light(); got != c.want {
			t.Errorf("%+v: light %v", c.t, got)
		}
	}
}
