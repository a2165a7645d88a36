package findings

import (
	"math"
	"math/rand/v2"
	"os/exec"
	"path/filepath"
	"testing"

	"antiphon/internal/media"
)

const testRate = 22050

// plucked is a scale of decaying strings with eight partials.
func plucked(seconds, gain float64) media.PCM {
	p := media.PCM{RateHz: testRate, Samples: make([]float32, int(seconds*testRate))}
	scale := []float64{130.8, 146.8, 164.8, 174.6, 196, 220, 246.9, 261.6}
	for n := 0; n < int(2*seconds); n++ {
		from := n * testRate / 2
		for i := from; i < min(len(p.Samples), from+testRate); i++ {
			s := float64(i-from) / testRate
			for k := 1.0; k <= 8; k++ {
				p.Samples[i] += float32(gain * math.Exp(-3*s*math.Sqrt(k)) / k * math.Sin(2*math.Pi*k*scale[n%8]*s))
			}
		}
	}
	return p
}

// gliding is a voice reduced to what matters here: a buzz whose pitch never rests.
func gliding(seconds float64) media.PCM {
	p := media.PCM{RateHz: testRate, Samples: make([]float32, int(seconds*testRate))}
	phase := 0.0
	for i := range p.Samples {
		s := float64(i) / testRate
		phase += (130 + 25*math.Sin(2*math.Pi*1.7*s) + 10*math.Sin(2*math.Pi*4.1*s)) / testRate
		for k := 1.0; k <= 8; k++ {
			p.Samples[i] += float32(0.1 / k * math.Sin(2*math.Pi*k*phase) * math.Abs(math.Sin(2*math.Pi*2*s)))
		}
	}
	return p
}

func noise(seconds, gain float64) media.PCM {
	rng := rand.New(rand.NewPCG(1, 2))
	p := media.PCM{RateHz: testRate, Samples: make([]float32, int(seconds*testRate))}
	for i := range p.Samples {
		p.Samples[i] = float32(gain * rng.NormFloat64())
	}
	return p
}

func TestListen(t *testing.T) {
	for _, c := range []struct {
		name string
		pcm  media.PCM
		want Sound
	}{
		{"nothing", media.PCM{}, Silent},
		{"a blink", noise(0.1, 0.1), Silent},
		{"zeros", noise(5, 0), Silent},
		{"hiss", noise(5, 0.0005), Silent},
		{"loud noise", noise(5, 0.1), Noise},
		{"strings", plucked(8, 0.2), Tones},
		{"soft strings", plucked(8, 0.02), Tones},
		{"gliding voice", gliding(8), Talk},
	} {
		got, err := Listen(c.pcm)
		if m, _ := measure(c.pcm); err != nil || got != c.want {
			t.Errorf("%s: %q, want %q (%+v, %v)", c.name, got, c.want, m, err)
		}
	}
}

// TestListenToAVoice: espeak-ng (Debian) in four voices is talk.
func TestListenToAVoice(t *testing.T) {
	if _, err := exec.LookPath("espeak-ng"); err != nil {
		t.Skip("espeak-ng is not installed")
	}
	for _, voice := range []string{"en", "en-us+f3", "de", "fr+f2"} {
		path := filepath.Join(t.TempDir(), "said.wav")
		if out, err := exec.Command("espeak-ng", "-v", voice, "-w", path, "Good morning. We did not find the time to play this week, but on Saturday we will. Until then, and thank you.").CombinedOutput(); err != nil {
			t.Fatalf("%v: %s", err, out)
		}
		pcm, _, err := media.Decode(t.Context(), path, media.Options{})
		if err != nil {
			t.Fatal(err)
		}
		if got, err := Listen(pcm); got != Talk || err != nil {
			m, _ := measure(pcm)
			t.Errorf("%s: %q (%+v, %v)", voice, got, m, err)
		}
	}
}
