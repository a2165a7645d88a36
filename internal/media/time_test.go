package media

import (
	"math"
	"path/filepath"
	"testing"
)

// lagS is where got is best laid over want, in seconds, positive when got is late. Both are at 22050 Hz;
// only the part around atS is compared.
func lagS(got, want []float32, atS float64) (lag, likeness float64) {
	const rate, reach, span = 22050, 1200, 1500 // ±54 ms is looked at over 68 ms of sound
	from := int(atS*rate) - 100
	at := func(x []float32, i int) float64 {
		if i < 0 || i >= len(x) {
			return 0
		}
		return float64(x[i])
	}
	corr := make([]float64, 2*reach+1)
	best := 0
	var ee float64
	for i := from; i < from+span; i++ {
		ee += at(want, i) * at(want, i)
	}
	for k := range corr {
		for i := from; i < from+span; i++ {
			corr[k] += at(want, i) * at(got, i+k-reach)
		}
		if corr[k] > corr[best] {
			best = k
		}
	}
	if best == 0 || best == len(corr)-1 {
		return math.NaN(), 0
	}
	a, b, c := corr[best-1], corr[best], corr[best+1]
	return (float64(best-reach) + (a-c)/(2*(a-2*b+c))) / rate, b / ee
}

// TestTimeSurvivesCodecs: an encoder puts a delay of its own in front (AAC 1024 or 2112 samples, MP3 1105,
// Opus 312) and the file says how much to take off. A note must come back where the WAV has it.
func TestTimeSurvivesCodecs(t *testing.T) {
	starts := []float64{0.05, 0.7123, 1.5, 2.9456}
	dir := t.TempDir()
	src := wav(t, filepath.Join(dir, "source.wav"), 48000, strokes(48000, 4, starts...))
	want, _, err := Decode(t.Context(), src, Options{})
	if err != nil {
		t.Fatal(err)
	}
	for _, c := range []struct {
		name   string
		within float64 // ms
		args   []string
	}{
		{"a.m4a", 0.5, []string{"-c:a", "aac", "-b:a", "96k"}},
		{"low.m4a", 0.5, []string{"-c:a", "aac", "-b:a", "32k", "-ac", "1"}},
		{"a-44.m4a", 0.5, []string{"-c:a", "aac", "-ar", "44100"}},
		{"a-fragmented.mp4", 0.5, []string{"-c:a", "aac", "-movflags", "frag_keyframe+delay_moov"}},
		{"a.mp3", 0.5, []string{"-c:a", "libmp3lame", "-b:a", "128k"}},
		{"a-22.mp3", 0.5, []string{"-c:a", "libmp3lame", "-ar", "22050"}},
		{"a.webm", 0.5, []string{"-c:a", "libopus", "-b:a", "48k"}},
		{"low.webm", 0.5, []string{"-c:a", "libopus", "-b:a", "24k"}},
		{"a.opus", 0.5, []string{"-c:a", "libopus"}},
		{"a.ogg", 0.5, []string{"-c:a", "libvorbis"}},
		{"a.flac", 0.1, []string{"-c:a", "flac"}},
		{"a.mov", 0.5, []string{"-c:a", "aac"}},
		{"pcm.mov", 0.1, []string{"-c:a", "pcm_s16be"}},
		{"alac.m4a", 0.1, []string{"-c:a", "alac"}},
		{"a.caf", 0.1, []string{"-c:a", "pcm_s16be"}},
		{"a.aiff", 0.1, []string{"-c:a", "pcm_s16be"}},
		{"8k.wav", 0.2, []string{"-ar", "8000"}},
		{"96k.wav", 0.1, []string{"-ar", "96000"}},
		{"float.wav", 0.1, []string{"-c:a", "pcm_f32le"}},
		{"stereo.m4a", 0.5, []string{"-c:a", "aac", "-ac", "2"}},
		// Nothing in these says what the encoder put in front, and players show them late too:
		// one AAC frame (1024 samples) and LAME's 576 + 529 samples, at 48 kHz.
		{"no-edit-list.mp4", 21.4, []string{"-c:a", "aac", "-movflags", "frag_keyframe+empty_moov"}},
		{"a.aac", 21.4, []string{"-c:a", "aac"}},
		{"no-xing.mp3", 23.1, []string{"-c:a", "libmp3lame", "-write_xing", "0"}},
	} {
		got, info, err := Decode(t.Context(), convert(t, src, c.name, c.args...), Options{})
		if err != nil {
			t.Errorf("%s: %v", c.name, err)
			continue
		}
		worst := 0.0
		for _, s := range starts {
			lag, like := lagS(got.Samples, want.Samples, s)
			if like < 0.5 {
				t.Errorf("%s: the note at %.3f s does not come back (%.2f)", c.name, s, like)
			}
			if math.Abs(lag) > math.Abs(worst) {
				worst = lag
			}
		}
		if len(info.Notes) > 0 {
			t.Errorf("%s: remarks on a sound file: %q", c.name, info.Notes)
		}
		if over := (got.Seconds() - 4) * 1000; c.within < 1 && math.Abs(over) > 1 {
			t.Errorf("%s: %.2f ms longer than the WAV", c.name, over)
		}
		if !(math.Abs(worst)*1000 <= c.within) {
			t.Errorf("%s: notes come back %.3f ms late, allowed %.1f", c.name, worst*1000, c.within)
		}
	}
}
