package rehearse

import (
	"math"
	"math/rand/v2"
	"os"
	"os/exec"
	"path/filepath"
	"testing"
)

// Each stroke's sound rises where its truth says: firstRise on single strokes, for every instrument
// that is installed. 2 ms is what the shared takes promise.
func TestOnsetsAreWhereTheTruthSays(t *testing.T) {
	banks := &Banks{Cache: t.TempDir(), NPM: filepath.Join("..", "..", "scripts", "peers")}
	for _, source := range []string{"own-nylon", "own-steel", "timgm-nylon"} {
		if source == "timgm-nylon" {
			if _, err := os.Stat(fontDir + "TimGM6mb.sf2"); err != nil {
				t.Log("timgm6mb-soundfont is not installed")
				continue
			}
		}
		rng := rand.New(rand.NewPCG(5, 6))
		voice, err := banks.voice(source, rng)
		if err != nil {
			t.Fatal(err)
		}
		for _, midi := range []int{40, 45, 52, 59, 64, 71, 76} {
			onset := 0.1 + 0.01*rng.Float64()
			x := voice.Play([]Pluck{{OnsetS: onset, OffsetS: 1, Midi: float64(midi), String: nearString(midi, 0), Part: 1}}, Tuning{A4Hz: 440}, 0.8, rng)
			pcm := make([]int16, len(x))
			for i, v := range x {
				pcm[i] = int16(clamp(float64(v), 1) * 30000)
			}
			if d := 1000 * (float64(firstRise(pcm))/RateHz - onset); math.Abs(d) > 2 {
				t.Errorf("%s, MIDI %d: sounds %.1f ms from its truth", source, midi, d)
			}
		}
	}
}

func TestStringStopsItsOwnNote(t *testing.T) {
	v := stringedVoice{}
	rng := rand.New(rand.NewPCG(1, 1))
	x := v.Play([]Pluck{{OnsetS: 0.1, OffsetS: 0.6, Midi: 57, String: 3, Part: 1}}, Tuning{A4Hz: 440}, 2, rng)
	before, after := loudness(x[RateHz/2:6*RateHz/10]), loudness(x[17*RateHz/10:18*RateHz/10])
	if after > before/10 {
		t.Errorf("1.1 s after it was stopped a note still sounds at %.3f of %.3f", after, before)
	}
}

func TestMixAddsAndRoomKeepsTime(t *testing.T) {
	a := []float32{1, 2, 3}
	mix(a, []float32{1, 1, 1, 1})
	if a[0] != 2 || a[2] != 4 {
		t.Errorf("mixed to %v", a)
	}
	x := make([]float32, RateHz)
	x[1000] = 1
	y := Room{DecayS: 0.4, Wet: 0.4, SizeM: 3}.play(x, rand.New(rand.NewPCG(1, 2)))
	for i := 0; i < 1000; i++ {
		if y[i] != 0 {
			t.Fatalf("the room answers before it is asked, at %d", i)
		}
	}
	if y[1000] != 1 {
		t.Errorf("the direct sound is %v, want 1", y[1000])
	}
	early, late := 0.0, 0.0 // 60 dB in 0.4 s is 30 dB in 0.2 s
	for i := 0; i < RateHz/20; i++ {
		e, l := float64(y[1000+RateHz/20+i]), float64(y[1000+RateHz/4+i])
		early, late = early+e*e, late+l*l
	}
	if fall := 10 * math.Log10(early/late); fall < 22 || fall > 60 {
		t.Errorf("the tail falls %.0f dB in 0.2 s, want 30 or, as it darkens, somewhat more", fall)
	}
}

// The codec's delay is found: a known shift is read back, and every codec that this ffmpeg has comes
// back within 2 ms of what is said of it.
func TestCodecDelays(t *testing.T) {
	rng := rand.New(rand.NewPCG(9, 9))
	x := stringedVoice{noise: 0.2}.Play([]Pluck{{OnsetS: 0.3, OffsetS: 2, Midi: 52, String: 4, Part: 1}, {OnsetS: 0.9, OffsetS: 2, Midi: 64, String: 1, Part: 1},
		{OnsetS: 1.4, OffsetS: 3, Midi: 57, String: 3, Part: 1}, {OnsetS: 2.2, OffsetS: 3, Midi: 45, String: 5, Part: 1}}, Tuning{A4Hz: 440}, 3.2, rng)
	y := append(make([]float32, 777), x...)
	if got := lag(x, y); math.Abs(got-777.0/RateHz) > 0.0001 {
		t.Errorf("a shift of 17.6 ms reads as %.2f ms", 1000*got)
	}
	if _, err := exec.LookPath("ffmpeg"); err != nil {
		t.Skip("ffmpeg is not installed")
	}
	z := Phone{LowHz: 60, HighHz: 12000, Peak: 0.7}.record(x)
	for _, c := range codecs {
		path := filepath.Join(t.TempDir(), "take."+c.Ext)
		said, err := c.encode(z, 1, path)
		if err != nil {
			t.Errorf("%s: %v", c.Name, err)
			continue
		}
		heard, err := decode(path)
		if err != nil {
			t.Fatal(err)
		}
		pcm := make([]int16, len(heard))
		for i, v := range heard {
			pcm[i] = int16(30000 * clamp(float64(v), 1))
		}
		// The first stroke, found by its own rise, which is another way than correlation.
		if d := 1000 * (float64(firstRise(pcm[:RateHz/2]))/RateHz - 0.3 - said); math.Abs(d) > 3 {
			t.Errorf("%s: the first stroke is %.1f ms from where the stated delay puts it", c.Name, d)
		}
	}
}
