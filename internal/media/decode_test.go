package media

import (
	"errors"
	"math"
	"os"
	"os/exec"
	"path/filepath"
	"strings"
	"testing"
	"time"
)

func decoded(t *testing.T, path string) (PCM, Info) {
	t.Helper()
	p, info, err := Decode(t.Context(), path, Options{})
	if err != nil {
		t.Fatalf("%s: %v", filepath.Base(path), err)
	}
	return p, info
}

// levelAt is the amplitude of one frequency over the whole sound (a single bin of a Fourier transform).
func levelAt(x []float32, rateHz int, hz float64) float64 {
	var re, im float64
	for i, v := range x {
		s, c := math.Sincos(2 * math.Pi * hz * float64(i) / float64(rateHz))
		re += float64(v) * c
		im += float64(v) * s
	}
	return 2 * math.Hypot(re, im) / float64(len(x))
}

// TestTone: 440 Hz for 3 s at amplitude 0.5 comes back as that, whatever carries it.
func TestTone(t *testing.T) {
	dir := t.TempDir()
	src := wav(t, filepath.Join(dir, "tone.wav"), 48000, tone(48000, 440, 3, 0.5))
	video := []string{"-f", "lavfi", "-i", "testsrc=size=64x48:rate=10:duration=3", "-shortest", "-c:v", "mpeg4"}
	with := func(args ...string) []string { return append(append([]string{}, video...), args...) }
	for _, c := range []struct {
		name  string
		args  []string
		video bool
	}{
		{"phone.m4a", []string{"-c:a", "aac"}, false},
		{"phone.mp4", with("-c:a", "aac"), true},
		{"rotated.mov", with("-c:a", "aac", "-metadata:s:v", "rotate=90"), true},
		{"uneven.mp4", with("-c:a", "aac", "-vf", "select='not(eq(mod(n,3),1))'", "-vsync", "vfr"), true},
		{"browser.webm", []string{"-c:a", "libopus"}, false},
		{"video.webm", []string{"-f", "lavfi", "-i", "testsrc=size=64x48:rate=10:duration=3", "-shortest", "-c:v", "libvpx", "-c:a", "libopus"}, true},
		{"cover.m4a", []string{"-f", "lavfi", "-i", "testsrc=size=64x48:rate=1:duration=1", "-map", "0", "-map", "1", "-c:a", "aac", "-c:v", "mjpeg", "-disposition:v", "attached_pic", "-frames:v", "1"}, false},
		{"old.wav", []string{"-ar", "8000"}, false},
		{"studio.wav", []string{"-ar", "96000", "-c:a", "pcm_s24le"}, false},
		{"surround.wav", []string{"-ac", "6"}, false},
		{"stereo.flac", []string{"-ac", "2"}, false},
		{"old.mp3", []string{"-c:a", "libmp3lame", "-b:a", "64k"}, false},
	} {
		p, info := decoded(t, convert(t, src, c.name, c.args...))
		if p.RateHz != 22050 || math.Abs(p.Seconds()-3) > 0.001 {
			t.Errorf("%s: %.4f s at %d Hz, want 3 s at 22050", c.name, p.Seconds(), p.RateHz)
		}
		if info.HasVideo != c.video || info.Truncated || info.Damaged || len(info.Notes) > 0 || p.ClippedShare != 0 {
			t.Errorf("%s: %+v clipped %v", c.name, info, p.ClippedShare)
		}
		got := levelAt(p.Samples, p.RateHz, 440)
		if c.name == "surround.wav" || c.name == "stereo.flac" { // ffmpeg spreads mono at −3 dB on each side
			got *= math.Sqrt2
		}
		if math.Abs(got-0.5) > 0.03 || // LAME scales by 0.95
			levelAt(p.Samples, p.RateHz, 438) > 0.03 || levelAt(p.Samples, p.RateHz, 442) > 0.03 {
			t.Errorf("%s: level %.3f at 440 Hz, %.3f two Hz lower, %.3f two Hz higher; want 0.5, 0, 0", c.name,
				got, levelAt(p.Samples, p.RateHz, 438), levelAt(p.Samples, p.RateHz, 442))
		}
	}
}

// TestChannels: two strokes must come back alone and once, however badly the second channel treats them.
func TestChannels(t *testing.T) {
	const rate = 44100
	dir := t.TempDir()
	x := strokes(rate, 3, 0.5, 1.2, 1.9, 2.3)
	other := strokes(rate, 3, 0.3, 0.9, 2.1) // a second guitar
	late := func(s float64) []float64 {
		return append(make([]float64, int(s*rate)), x...)[:len(x)]
	}
	times := func(k float64, x []float64) []float64 {
		y := make([]float64, len(x))
		for i := range x {
			y[i] = k * x[i]
		}
		return y
	}
	noise := make([]float64, len(x))
	for i := range noise { // hum 54 dB down
		noise[i] = 0.002 * math.Sin(2*math.Pi*50*float64(i)/rate)
	}
	mono, _ := decoded(t, wav(t, filepath.Join(dir, "mono.wav"), rate, x))
	for _, c := range []struct {
		name string
		l, r []float64
		note string // part of the remark
		gain float64
	}{
		{"both", x, x, "", 1},
		{"dead-right", x, times(0, x), "left", 1},
		{"dead-left", times(0, x), x, "right", 1},
		{"humming-left", noise, x, "right", 1},
		{"inverted", x, times(-1, x), "left", 1},
		{"inverted-louder", times(0.5, x), times(-1, x), "right", -1},
		{"late-right", x, late(0.012), "left", 1},
		{"late-left", late(0.012), x, "right", 1},
		{"inverted-late", x, times(-1, late(0.005)), "left", 1},
		{"softer-right", x, times(0.3, x), "", 0.65},
	} {
		p, info := decoded(t, wav(t, filepath.Join(dir, c.name+".wav"), rate, c.l, c.r))
		if said := strings.Join(info.Notes, " "); (c.note == "") != (said == "") || !strings.Contains(said, c.note) {
			t.Errorf("%s: the remark is %q, want one with %q", c.name, said, c.note)
		}
		var off, all float64
		for i := range min(len(p.Samples), len(mono.Samples)) {
			off += math.Pow(float64(p.Samples[i])-c.gain*float64(mono.Samples[i]), 2)
			all += math.Pow(float64(mono.Samples[i]), 2)
		}
		if len(p.Samples) != len(mono.Samples) || off > 1e-6*all {
			t.Errorf("%s: differs from the mono take by %.1f dB, %d of %d samples", c.name, 10*math.Log10(off/all), len(p.Samples), len(mono.Samples))
		}
	}
	p, info := decoded(t, wav(t, filepath.Join(dir, "duo.wav"), rate, x, other))
	if len(info.Notes) > 0 {
		t.Errorf("two guitars, one on each side, are both wanted: %q", info.Notes)
	}
	if e := energy(p.Samples[6615:9922]); e == 0 {
		t.Error("the second guitar is gone")
	}
}

func energy(x []float32) (e float64) {
	for _, v := range x {
		e += float64(v * v)
	}
	return e
}

// TestLateSound: a sound track that starts 0.6 s after the picture keeps its place, as does sound
// after a hole in the file.
func TestLateSound(t *testing.T) {
	dir := t.TempDir()
	src := wav(t, filepath.Join(dir, "s.wav"), 48000, strokes(48000, 2, 0.25, 1.25))
	want, _ := decoded(t, src)
	late := filepath.Join(dir, "late.mp4")
	ffmpeg(t, "-f", "lavfi", "-i", "testsrc=size=64x48:rate=10:duration=3", "-itsoffset", "0.6", "-i", src, "-c:v", "mpeg4", "-c:a", "aac", late)
	p, _ := decoded(t, late)
	shifted := append(make([]float32, int(0.6*22050)), want.Samples...)
	for _, s := range []float64{0.85, 1.85} {
		if lag, _ := lagS(p.Samples, shifted, s); !(math.Abs(lag) < 0.001) {
			t.Errorf("late sound track: %.2f ms off at %.2f s", lag*1000, s)
		}
	}
	hole := filepath.Join(dir, "hole.webm") // the second second is missing, as when a browser's tab slept
	ffmpeg(t, "-i", src, "-af", "asetpts='PTS+if(gte(T,1),1/TB,0)'", "-c:a", "libopus", hole)
	p, _ = decoded(t, hole)
	after := append(append(append([]float32{}, want.Samples[:22050]...), make([]float32, 22050)...), want.Samples[22050:]...)
	for _, s := range []float64{0.25, 2.25} {
		if lag, _ := lagS(p.Samples, after, s); !(math.Abs(lag) < 0.003) {
			t.Errorf("sound after a hole: %.2f ms off at %.2f s", lag*1000, s)
		}
	}
}

func TestClippedShare(t *testing.T) {
	x := tone(44100, 100, 2, 1.5)
	clipped := 0.0
	for _, v := range x {
		if math.Abs(v) >= 32393.0/32767 {
			clipped++
		}
	}
	p, _ := decoded(t, wav(t, filepath.Join(t.TempDir(), "loud.wav"), 44100, x))
	if want := clipped / float64(len(x)); math.Abs(p.ClippedShare-want) > 1e-4 {
		t.Errorf("clipped share %.5f, counted %.5f", p.ClippedShare, want)
	}
}

func TestUnknownLength(t *testing.T) {
	dir := t.TempDir()
	src := wav(t, filepath.Join(dir, "s.wav"), 8000, tone(8000, 440, 120, 0.5))
	live := filepath.Join(dir, "live.webm") // as a browser records it: written to a pipe, so no length in front
	out, err := exec.Command("ffmpeg", "-nostdin", "-v", "error", "-i", src, "-c:a", "libopus", "-b:a", "16k", "-f", "webm", "-").Output()
	if err != nil {
		t.Fatal(err)
	}
	if err := os.WriteFile(live, out, 0o644); err != nil {
		t.Fatal(err)
	}
	var told []float64
	p, info, err := Decode(t.Context(), live, Options{Progress: func(s, total float64) { told = append(told, s) }})
	if err != nil || info.ClaimedS != 0 || math.Abs(p.Seconds()-120) > 0.05 || len(told) < 5 {
		t.Errorf("%v, claimed %v, %v s, progress %v", err, info.ClaimedS, p.Seconds(), told)
	}
	if lvl := levelAt(p.Samples, p.RateHz, 440); math.Abs(lvl-0.5) > 0.05 {
		t.Errorf("level %.3f: pieces are not joined", lvl)
	}
	_, _, err = Decode(t.Context(), live, Options{MaxDuration: time.Minute})
	if me, ok := errors.AsType[*Error](err); !ok || me.Kind != TooLong {
		t.Errorf("longer than its limit, with no header to tell: %v", err)
	}
}
