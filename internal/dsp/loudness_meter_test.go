package dsp

import (
	"math"
	"testing"
)

// tone is a stretch of a 1 kHz sine at a level in dBFS (of its peak) or of silence (level −Inf).
type tone struct{ s, db float64 }

// sines renders the same stretches in each channel, with the channel's own offset in dB.
func sines(rateHz int, hz float64, offsets []float64, tones ...tone) [][]float32 {
	out := make([][]float32, len(offsets))
	for c, off := range offsets {
		n := 0
		for _, t := range tones {
			amp := math.Pow(10, (t.db+off)/20)
			for range int(math.Round(t.s * float64(rateHz))) {
				out[c] = append(out[c], float32(amp*math.Sin(2*math.Pi*hz*float64(n)/float64(rateHz))))
				n++
			}
		}
	}
	return out
}

func repeated(n int, tones ...tone) (out []tone) {
	for range n {
		out = append(out, tones...)
	}
	return out
}

const tech3341 = "EBU Tech 3341, minimum requirements test signals, as open meters' own tests list them"

func TestMeasureLoudness(t *testing.T) {
	stereo := []float64{0, 0}
	off := math.Inf(-1)
	of := func(l Loudness) float64 { return l.IntegratedLufs }
	short := func(l Loudness) float64 { return l.ShortTermLufs }
	moment := func(l Loudness) float64 { return l.MomentaryLufs }
	for _, rate := range []int{48000, 44100} {
		for _, c := range []struct {
			name     string
			channels []float64
			hz       float64
			tones    []tone
			read     func(Loudness) float64
			want     float64
			source   string
		}{
			{"full-scale 997 Hz in one channel", []float64{0}, 997, []tone{{5, 0}}, of, -3.01, "ITU-R BS.1770-4, annex 1"},
			{"case 1, I", stereo, 1000, []tone{{20, -23}}, of, -23, tech3341},
			{"case 1, S", stereo, 1000, []tone{{20, -23}}, short, -23, tech3341},
			{"case 1, M", stereo, 1000, []tone{{20, -23}}, moment, -23, tech3341},
			{"case 2", stereo, 1000, []tone{{20, -33}}, of, -33, tech3341},
			{"case 3", stereo, 1000, []tone{{10, -36}, {60, -23}, {10, -36}}, of, -23, tech3341},
			{"case 4", stereo, 1000, []tone{{10, -72}, {10, -36}, {60, -23}, {10, -36}, {10, -72}}, of, -23, tech3341},
			{"case 5", stereo, 1000, []tone{{20, -26}, {20.1, -20}, {20, -26}}, of, -23, tech3341},
			{"case 6, 5.0 channels", []float64{-28, -28, -24, -30, -30}, 1000, []tone{{20, 0}}, of, -23, tech3341},
			{"case 9", stereo, 1000, repeated(5, tone{1.34, -20}, tone{1.66, -30}), short, -23, tech3341},
			{"case 10", stereo, 1000, []tone{{1.55, off}, {3, -23}, {1, off}}, short, -23, tech3341},
			{"case 12", stereo, 1000, repeated(25, tone{.18, -20}, tone{.22, -30}), moment, -23, tech3341},
			{"case 13", stereo, 1000, []tone{{.33, off}, {.4, -23}, {1, off}}, moment, -23, tech3341},
			{"case 11, sixth tone", stereo, 1000, []tone{{.3, off}, {3, -33}, {1, off}}, short, -33, tech3341},
			{"case 14, last tone", stereo, 1000, []tone{{.46, off}, {.4, -19}, {.4, off}}, moment, -19, tech3341},
		} {
			if rate != 48000 && len(c.tones) > 1 { // elsewhere only the filter differs
				continue
			}
			l, err := MeasureLoudness(sines(rate, c.hz, c.channels, c.tones...), rate)
			if err != nil {
				t.Fatal(err)
			}
			within := 0.1
			if c.hz == 997 {
				within = 0.01
			}
			if got := c.read(l); !(math.Abs(got-c.want) <= within) {
				t.Errorf("%s at %d Hz: %.3f, want %.2f ± %.2f (%s)", c.name, rate, got, c.want, within, c.source)
			}
		}
	}
}

// The short-term and the momentary maximum follow each of twenty tones (cases 11 and 14): silence
// resets nothing, the loudest so far is what is reported.
func TestMaximaFollow(t *testing.T) {
	for _, c := range []struct {
		name   string
		lenS   float64
		gapS   float64
		moment bool
	}{{"case 11", 3, 1, false}, {"case 14", .4, .4, true}} {
		var all []tone
		for k := range 20 {
			all = append(all, tone{.15, math.Inf(-1)}, tone{c.lenS, float64(-38 + k)}, tone{c.gapS, math.Inf(-1)})
			if k%5 != 0 && k != 19 { // every fifth is measured
				continue
			}
			l, err := MeasureLoudness(sines(48000, 1000, []float64{0, 0}, all...), 48000)
			if err != nil {
				t.Fatal(err)
			}
			got := l.ShortTermLufs
			if c.moment {
				got = l.MomentaryLufs
			}
			if want := float64(-38 + k); math.Abs(got-want) > 0.1 {
				t.Errorf("%s, tone %d: %.2f, want %.0f (%s)", c.name, k+1, got, want, tech3341)
			}
		}
	}
}

// Cases 15 to 19: the peak lies between the samples. The tones swell and fade, since a sine that is
// cut off has overshoots of its own.
func TestTruePeak(t *testing.T) {
	const rate = 48000
	for _, c := range []struct {
		name         string
		divide       float64
		phaseDegrees float64
		amplitude    float64
		want         float64
	}{
		{"case 15", 4, 0, .5, -6}, {"case 16", 4, 45, .5, -6}, {"case 17", 6, 60, .5, -6}, {"case 18", 8, 67.5, .5, -6},
		{"case 19", 4, 45, 1.41, 3},
	} {
		pcm := make([]float32, rate)
		for i := range pcm {
			swell := min(1, float64(i)/4800, float64(len(pcm)-1-i)/4800)
			pcm[i] = float32(c.amplitude * swell * math.Sin(2*math.Pi*float64(i)/c.divide+c.phaseDegrees*math.Pi/180))
		}
		got := 20 * math.Log10(TruePeak(pcm))
		if got > c.want+.2 || got < c.want-.4 {
			t.Errorf("%s: %.2f dBTP, want %.1f +0.2 −0.4 (%s)", c.name, got, c.want, tech3341)
		}
	}
}

// TruePeaks finds the same places as looking at every sample does, whatever is quiet around them.
func TestTruePeaksSkipsNothing(t *testing.T) {
	pcm := make([]float32, 1000)
	for _, at := range []int{0, 63, 64, 500, 999} {
		pcm[at] = 1
	}
	var found []int
	TruePeaks(pcm, 0.999, func(i int, _ float64) { found = append(found, i) })
	if len(found) < 5 || found[0] != 0 || found[len(found)-1] != 999 {
		t.Errorf("peaks of five clicks at %v", found)
	}
}

func TestLoudnessOfNothing(t *testing.T) {
	l, err := MeasureLoudness([][]float32{make([]float32, 48000), make([]float32, 48000)}, 48000)
	if err != nil || !math.IsInf(l.IntegratedLufs, -1) || !math.IsInf(l.TruePeakDb, -1) {
		t.Errorf("silence: %+v, %v", l, err)
	}
	for _, bad := range [][][]float32{nil, {{1}, {1, 2}}, {{}, {}, {}, {}, {}, {}}} {
		if _, err := MeasureLoudness(bad, 48000); err == nil {
			t.Errorf("%d channels of different lengths were measured", len(bad))
		}
	}
	if _, err := MeasureLoudness([][]float32{{1}}, 100); err == nil {
		t.Error("100 samples a second were measured")
	}
}
