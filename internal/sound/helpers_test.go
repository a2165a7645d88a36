package sound

import (
	"math"
	"os/exec"
	"strings"
	"testing"

	"antiphon/internal/dsp"
	"antiphon/internal/music"
	"antiphon/internal/notation"
)

// abc reads a score from ABC; most tests are written in it.
func abc(t testing.TB, text string) *music.Score {
	t.Helper()
	s, forgiven, err := notation.Read(strings.NewReader(text), "test.abc", notation.Limits{})
	if err != nil {
		t.Fatal(err)
	}
	if len(forgiven) > 0 {
		t.Logf("forgiven: %v", forgiven)
	}
	return s
}

func rendered(t testing.TB, s *music.Score, opt Options) *Audio {
	t.Helper()
	a, err := Render(t.Context(), s, opt)
	if err != nil {
		t.Fatal(err)
	}
	return a
}

// needs skips a test of something that is not installed here. `make test` installs it.
func needs(t testing.TB, program string) {
	t.Helper()
	if _, err := exec.LookPath(program); err != nil {
		t.Skipf("%s is not installed", program)
	}
}

func needsFont(t testing.TB) {
	t.Helper()
	needs(t, "fluidsynth")
	if findFont() == "" {
		t.Skip("no sound font is installed")
	}
}

func head(title, rest string) string { return "X:1\nT:" + title + "\n" + rest }

// spectrumHz finds the strongest frequency near hz by a long transform and a parabola through the
// logarithms of the three highest lines: another way than the one that tunes recorded notes.
func spectrumHz(t testing.TB, pcm []float32, hz float64) float64 {
	t.Helper()
	const n = 1 << 18
	plan, err := dsp.NewFFT(n)
	if err != nil {
		t.Fatal(err)
	}
	x := make([]float32, n) // zeroes after the sound
	m := min(n, len(pcm))
	for i := range m {
		x[i] = pcm[i] * float32(0.5-0.5*math.Cos(2*math.Pi*float64(i)/float64(m)))
	}
	mag := make([]float32, n/2+1)
	plan.Magnitudes(mag, x)
	line := float64(RateHz) / n
	best := int(hz * 0.97 / line)
	for k := best; k <= int(hz*1.03/line); k++ {
		if mag[k] > mag[best] {
			best = k
		}
	}
	a, b, c := math.Log(float64(mag[best-1])), math.Log(float64(mag[best])), math.Log(float64(mag[best+1]))
	return (float64(best) + 0.5*(a-c)/(a-2*b+c)) * line
}

func cents(a, b float64) float64 { return 1200 * math.Log2(a/b) }

// partialDb is the level of one frequency in a stretch of sound.
func partialDb(pcm []float32, hz float64) float64 {
	re, im := against(pcm, hz)
	return db(math.Hypot(re, im) / float64(len(pcm)))
}
