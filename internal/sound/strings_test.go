package sound

import (
	"math"
	"slices"
	"testing"

	"antiphon/internal/guitar"
	"antiphon/internal/music"
)

type check struct {
	name              string
	got, want, within float64
	source            string
}

func verify(t *testing.T, checks []check) {
	t.Helper()
	for _, c := range checks {
		if !(math.Abs(c.got-c.want) <= c.within) {
			t.Errorf("%s: got %.9g, want %.9g within %g (%s)", c.name, c.got, c.want, c.within, c.source)
		}
	}
}

func TestLosses(t *testing.T) {
	const worked = "T60 = 6.9078/(π·f·η), worked apart from this program in the reference, 4.6"
	verify(t, []check{
		{"330 Hz, 0.002", lossT60S(330, .002), 3.33, .005, worked},
		{"330 Hz, 0.003", lossT60S(330, .003), 2.22, .005, worked},
		{"1650 Hz, 0.004", lossT60S(1650, .004), .333, .0005, worked},
		{"3300 Hz, 0.006", lossT60S(3300, .006), .111, .0005, worked},
		{"82.4 Hz, 0.0015", lossT60S(82.4, .0015), 17.8, .05, worked},
	})
	const measured = "loss factors of nylon strings in the reference, 4.6"
	verify(t, []check{
		{"treble at 330 Hz", lossFactor(330, false), .0025, .0005, measured},
		{"treble at 1650 Hz", lossFactor(1650, false), .004, .0005, measured},
		{"treble at 3300 Hz", lossFactor(3300, false), .006, .0005, measured},
		{"bass at 82 Hz", lossFactor(82.4, true), .0015, 1e-6, measured},
	})
	const heard = "typical heard nylon, the reference, 4.6: trebles 2 to 5 s, basses 4 to 10 s, partials above 3 kHz below 0.3 s"
	verify(t, []check{
		{"first string heard", t60S(329.6, false, bodyPeak(329.6)), 3.5, 1.5, heard},
		{"sixth string heard", t60S(82.4, true, bodyPeak(82.4)), 7, 3, heard},
		{"a partial at 3.1 kHz", t60S(3100, false, bodyPeak(3100)), .15, .15, heard},
	})
}

// TestPluckedString measures what the string sounds like against what the formulas say it should.
func TestPluckedString(t *testing.T) {
	g := newPlucked(Options{})
	first := tone{midi: 64, str: 1, bridgeMm: 130}
	pcm := g.pluck(first, RateHz)
	const window = 4096
	at := func(pcm []float32, s, hz float64) float64 { i := samples(s); return partialDb(pcm[i:i+window], hz) }

	// The first string of the reference: B = 1.2559e-5, its tenth partial +1.086 cents. The comb of a
	// pluck at 1/5 hides the tenth, so this one is plucked elsewhere.
	other := g.pluck(tone{midi: 64, str: 1, bridgeMm: 50}, RateHz)
	f1 := spectrumHz(t, other[:samples(.5)], 329.6276)
	f10 := spectrumHz(t, other[:samples(.2)], 3298.3)
	verify(t, []check{
		{"first partial, cents", cents(f1, 329.6276), 0, .5, "ISO 16, equal temperament"},
		{"tenth partial above ten times the first, cents", cents(f10, 10*f1), 1.086, .5, "Fletcher 1964, worked in the reference, 4.4"},
		{"stiffness of the first string", g.strung(first).stiffness, 1.2559e-5, 3e-7, "the reference, 4.4: 3 GPa, 0.711 mm, 70 N, 650 mm; our string pulls 69 N"},
	})

	// R = 130/650 = 1/5: partials 5, 10 and 15 are not there. |a_n| ~ |sin(nπR)|/n² (Traube & Smith 2000).
	for _, n := range []float64{5, 10} {
		null, left, right := at(pcm, .02, n*f1), at(pcm, .02, (n-1)*f1), at(pcm, .02, (n+1)*f1)
		if null > left-20 || null > right-20 {
			t.Errorf("partial %g of a string plucked at a fifth: %.1f dB beside %.1f and %.1f", n, null, left, right)
		}
	}
	// The same finger at fret 7 plucks at R = .2997 of what is left of the string.
	verify(t, []check{{"R at fret 7", 130 / g.strung(tone{midi: 71, str: 1, fret: 7}).lengthMm, .2997, 5e-5, "the reference, 4.5"}})
	// Levels follow the formula through the body: the comb alone is what changes with the place.
	a, b := g.partials(tone{midi: 64, str: 1, bridgeMm: 130}), g.partials(tone{midi: 64, str: 1, bridgeMm: 65})
	for _, n := range []int{2, 3, 4} {
		got := db(math.Abs(a[n-1].level/b[n-1].level)) - db(math.Abs(a[0].level/b[0].level))
		want := guitar.PluckedDb(n, .2) - guitar.PluckedDb(n, .1)
		verify(t, []check{{"place of the stroke, partial", got, want, .01, "|sin(nπR)|/n², Traube & Smith 2000"}})
	}
	// Decay: each partial falls as its T60 says, as long as its second plane does not yet matter.
	fifth := g.pluck(tone{midi: 45, str: 5, bridgeMm: 115}, RateHz)
	for n := 11; n <= 13; n++ {
		hz := 110 * float64(n)
		fall := at(fifth, .01, hz) - at(fifth, .09, hz)
		want := 60 * .08 / t60S(hz, true, bodyPeak(hz))
		if math.Abs(fall-want) > .08*want {
			t.Errorf("partial %d falls %.2f dB in 80 ms, want %.2f", n, fall, want)
		}
	}
}

// TestTouch: what a teacher would expect to hear of the right hand, in numbers.
func TestTouch(t *testing.T) {
	g := newPlucked(Options{})
	bright := func(change func(*tone)) float64 { // energy above 1.5 kHz against below, dB
		to := tone{midi: 57, str: 3, fret: 2, bridgeMm: 130}
		change(&to)
		pcm := g.pluck(to, RateHz/2)
		var low, high float64
		for n := 1; n < 40; n++ {
			e := math.Pow(10, partialDb(pcm[:8192], 220*float64(n))/10)
			if 220*n > 1500 {
				high += e
			} else {
				low += e
			}
		}
		return 10 * math.Log10(high/low)
	}
	plain := bright(func(*tone) {})
	for _, c := range []struct {
		name   string
		change func(*tone)
		above  bool
	}{
		{"near the bridge", func(t *tone) { t.bridgeMm = nearBridgeMm }, true},
		{"near the neck", func(t *tone) { t.bridgeMm = nearNeckMm }, false},
		{"loud", func(t *tone) { t.layerDb = 8 }, true},
		{"soft", func(t *tone) { t.layerDb = -12 }, false},
		{"rest stroke", func(t *tone) { t.rest = true }, false},
		{"slurred", func(t *tone) { t.slurred = true }, false},
	} {
		got := bright(c.change)
		if (got > plain) != c.above || math.Abs(got-plain) < 1 {
			t.Errorf("%s: brightness %.1f dB, plain %.1f dB", c.name, got, plain)
		}
	}
}

// TestStringsAreClean: no DC, nothing where no partial is, the first sample sounds, all notes of the
// instrument in tune.
func TestStringsAreClean(t *testing.T) {
	g := newPlucked(Options{})
	for midi := 40; midi <= 83; midi++ {
		pcm := g.pluck(tone{midi: midi, bridgeMm: 130}, RateHz)
		if pcm[0] == 0 {
			t.Errorf("note %d: the first sample is silent", midi)
		}
		mean, rms := 0.0, 0.0
		for _, v := range pcm {
			mean, rms = mean+float64(v)/RateHz, rms+float64(v)*float64(v)/RateHz
		}
		if math.Abs(mean) > 1e-3*math.Sqrt(rms) {
			t.Errorf("note %d: DC of %.1f dB under the sound", midi, db(math.Abs(mean)/math.Sqrt(rms)))
		}
		hz := music.Hz(float64(midi), 440)
		if off := cents(spectrumHz(t, pcm, hz), hz); math.Abs(off) > 1 {
			t.Errorf("note %d is %.2f cents off", midi, off)
		}
		// Between two partials, and above the highest: 60 dB below the strongest after the stroke's noise.
		loud, still := -200.0, -200.0
		late := pcm[samples(.1) : samples(.1)+16384]
		for n := 1.0; n <= 4; n++ {
			loud = max(loud, partialDb(late, n*hz))
			still = max(still, partialDb(late, (n+.5)*hz))
		}
		for _, hz := range []float64{14000, 17000, 20000, 23000} {
			still = max(still, partialDb(late, hz))
		}
		if still > loud-60 {
			t.Errorf("note %d: %.1f dB between the partials, %.1f on them", midi, still, loud)
		}
	}
}

// TestScoreSaysHow: words and signs over the notes reach the string, and our own strings are taken for them.
func TestScoreSaysHow(t *testing.T) {
	s := abc(t, head("How", "M:4/4\nL:1/4\nQ:1/4=60\nK:C\nE\"^sul pont.\"E\"^dolce\"E\"^nat.\"E|EEEE|\n"))
	notes := s.Parts[0].Notes
	notes[4].SetStroke(music.RestStroke)
	notes[5].Harmonic = music.Harmonic{Present: true, Natural: true}
	notes[6].LetRing = true
	all := touches(s, s.Sounding(), Options{})
	var got []float64
	for _, to := range all[:4] {
		got = append(got, to.bridgeMm)
	}
	if want := []float64{0, nearBridgeMm, nearNeckMm, 0}; !slices.Equal(got, want) {
		t.Errorf("plucked at %v mm, want %v", got, want)
	}
	if !all[4].rest || all[3].rest || !all[5].harmonic || !all[5].rings || !all[6].rings || all[7].rings {
		t.Errorf("rest stroke, harmonic or ringing note not as written: %+v", all[4:])
	}
	if a := rendered(t, s, Options{}); a.Guitar != Strings || len(a.Remarks) == 0 {
		t.Errorf("played on %q, %q", a.Guitar, a.Remarks)
	}
}

// TestHarmonicIsPure: a harmonic sounds at its pitch and is purer than the note stopped there.
func TestHarmonicIsPure(t *testing.T) {
	g := newPlucked(Options{})
	harmonic := g.pluck(tone{midi: 76, str: 1, bridgeMm: 130, harmonic: true}, RateHz)
	stopped := g.pluck(tone{midi: 76, str: 1, fret: 12, bridgeMm: 130}, RateHz)
	hz := music.Hz(76, 440)
	verify(t, []check{{"pitch, cents", cents(spectrumHz(t, harmonic, hz), hz), 0, 1, "equal temperament"}})
	high := func(pcm []float32) float64 { return partialDb(pcm[:8192], 4*hz) - partialDb(pcm[:8192], hz) }
	if high(harmonic) > high(stopped) {
		t.Errorf("fourth partial at %.1f dB in the harmonic, %.1f dB in the stopped note", high(harmonic), high(stopped))
	}
}
