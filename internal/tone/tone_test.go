package tone_test

import (
	"context"
	"math/rand/v2"
	"strings"
	"testing"

	"antiphon/internal/ear"
	"antiphon/internal/exercise"
	"antiphon/internal/media"
	"antiphon/internal/music"
	"antiphon/internal/sound"
	"antiphon/internal/tone"
)

// played is a scale of sixteen bars with the places that words ask for, on the strings of package sound
// (near the bridge 55 mm, over the hole 130 mm, over the neck 210 mm), and its hearing as the truth has it.
func played(t testing.TB, words map[int]string, recipe exercise.Recipe) (media.PCM, *ear.Hearing, *music.Score) {
	t.Helper()
	s, err := exercise.Compose(recipe)
	if err != nil {
		t.Fatal(err)
	}
	for bar, w := range words {
		s.Parts[0].Directions = append(s.Parts[0].Directions, music.Direction{Kind: music.Words, Text: w, At: s.Bars[bar].Start, Bar: bar})
	}
	a, err := sound.Render(context.Background(), s, sound.Options{Guitar: sound.Strings})
	if err != nil {
		t.Fatal(err)
	}
	pcm := media.PCM{RateHz: ear.RateHz, Samples: make([]float32, int(a.Seconds()*ear.RateHz))}
	for i := range pcm.Samples { // what lies above 11 kHz is not in these strings
		at := float64(i) * sound.RateHz / ear.RateHz
		k := int(at)
		if k+1 < len(a.Left) {
			f := float32(at - float64(k))
			pcm.Samples[i] = a.Left[k]*(1-f) + a.Left[k+1]*f
		}
	}
	h := &ear.Hearing{A4Hz: 440, DurationS: pcm.Seconds(), Score: s.Sounding(), Passes: []ear.Pass{{N: 1, StartS: 0, EndS: pcm.Seconds()}}}
	at := map[string]int{}
	for i, n := range h.Score {
		at[n.ID] = i
	}
	for _, n := range a.Notes {
		h.Played = append(h.Played, ear.Played{Note: at[n.Note], Pass: 1, OnsetS: float64(n.At) / sound.RateHz, OffsetS: float64(n.Until) / sound.RateHz,
			Midi: n.Midi, Verdict: ear.Right, Confidence: 0.9})
	}
	return pcm, h, s
}

func scale() exercise.Recipe {
	return exercise.Recipe{Pattern: "scale", Key: "G major", Rounds: 3, Tempo: 80, Rhythm: "eighths"}
}

func measure(t testing.TB, pcm media.PCM, h *ear.Hearing) tone.Heard {
	t.Helper()
	got, err := tone.Measure(pcm, h, tone.Options{})
	if err != nil {
		t.Fatal(err)
	}
	return got
}

func TestEveryPlace(t *testing.T) {
	for word, want := range map[string]music.Place{"sul ponticello": music.NearBridge, "sulla boca": music.OverHole, "sul tasto": music.OverNeck} {
		pcm, h, s := played(t, map[int]string{0: word}, scale())
		got := measure(t, pcm, h)
		if got.Place != want || got.Confidence < 0.8 || got.Brightness < 1 || got.Notes < got.Of/2 {
			t.Errorf("%s: %+v", word, got)
		}
		for _, st := range got.Stretches {
			if st.Place != want || st.Lean != tone.Same {
				t.Errorf("%s: bars %s to %s %q, %q", word, st.FromBar, st.ToBar, st.Place, st.Lean)
			}
		}
		if say := got.Say(s); !strings.Contains(say, "asked "+tone.WordOf(want)+": heard "+tone.WordOf(want)+", fairly sure") {
			t.Errorf("%s: %q", word, say)
		}
	}
}

func TestPlaceChangesByBars(t *testing.T) {
	pcm, h, s := played(t, map[int]string{0: "sulla boca", 4: "sul ponticello", 8: "naturale"}, scale())
	got := measure(t, pcm, h)
	if len(got.Stretches) != 3 || got.Place != music.OverHole {
		t.Fatalf("%+v", got.Stretches)
	}
	near := got.Stretches[1]
	if near.Place != music.NearBridge || near.FromBar != "5" || near.ToBar != "8" || near.Lean != tone.ToBridge || near.R >= got.R || near.Brightness <= got.Stretches[0].Brightness {
		t.Errorf("%+v", near)
	}
	if a := got.Asked(music.NearBridge, s, 4, 7); a.Outcome != tone.AsAsked {
		t.Errorf("%+v", a)
	}
	if a := got.Asked(music.OverNeck, s, 4, 7); a.Outcome != tone.Elsewhere || !strings.Contains(a.Say, "asked over the neck in bars 5–8: heard near the bridge") {
		t.Errorf("%+v", a)
	}
	if a := got.Asked(music.NearBridge, s, 2, 7); a.Outcome != tone.InPart || !strings.Contains(a.Say, "heard there in bars 5–8, over the hole in bars 3–4") {
		t.Errorf("%+v", a)
	}
}

// TestThroughTheEar: what the ear heard of the sound serves as well as the truth.
func TestThroughTheEar(t *testing.T) {
	pcm, _, s := played(t, map[int]string{0: "sulla boca", 6: "sul ponticello"}, scale())
	h, err := ear.Hear(context.Background(), pcm, s, ear.Options{})
	if err != nil {
		t.Fatal(err)
	}
	got := measure(t, pcm, h)
	if len(got.Stretches) != 2 || got.Stretches[0].Place != music.OverHole || got.Stretches[1].Place != music.NearBridge || got.Stretches[1].FromBar != "7" {
		t.Errorf("%+v", got.Stretches)
	}
}

// TestCapo: with a capo told of, notes lie higher and the string is as long as before.
func TestCapo(t *testing.T) {
	pcm, h, _ := played(t, map[int]string{0: "sul ponticello"}, scale())
	for i := range h.Score { // written two semitones lower, as for a capo on the second fret
		h.Score[i].Midi -= 2
		h.Score[i].Fret = max(0, h.Score[i].Fret-2)
	}
	for i := range h.Played {
		h.Played[i].Midi -= 2
	}
	got, err := tone.Measure(pcm, h, tone.Options{Capo: 2})
	if err != nil || got.Place != music.NearBridge {
		t.Errorf("%v, %+v", err, got)
	}
}

// TestRefuses: where there is nothing to go by, nothing is said.
func TestRefuses(t *testing.T) {
	pcm, h, s := played(t, map[int]string{0: "sul ponticello"}, scale())
	changed := func(f func(x []float32)) media.PCM {
		p := media.PCM{RateHz: pcm.RateHz, Samples: append([]float32{}, pcm.Samples...)}
		f(p.Samples)
		return p
	}
	rng := rand.New(rand.NewPCG(1, 1))
	for name, p := range map[string]media.PCM{
		"silence": changed(func(x []float32) { clear(x) }),
		"noise": changed(func(x []float32) {
			for i := range x {
				x[i] = float32(0.1 * rng.NormFloat64())
			}
		}),
		"a recording without partials": changed(func(x []float32) {
			for range 4 { // first-order low pass at 350 Hz, four times over
				low := float32(0)
				for i, v := range x {
					low += 0.095 * (v - low)
					x[i] = low
				}
			}
			for i := range x {
				x[i] += float32(1e-3 * rng.NormFloat64())
			}
		}),
		"cut off": {RateHz: pcm.RateHz, Samples: pcm.Samples[:ear.RateHz]},
	} {
		got := measure(t, p, h)
		if got.Place != music.AnyPlace {
			t.Errorf("%s: %s", name, got.Place)
		}
		for _, st := range got.Stretches {
			if st.Place != music.AnyPlace {
				t.Errorf("%s: bars %s to %s %s", name, st.FromBar, st.ToBar, st.Place)
			}
		}
		if a := got.Asked(music.NearBridge, s, 0, len(s.Bars)-1); a.Outcome != tone.NotTold || a.Say != "asked near the bridge: could not be told from this recording" {
			t.Errorf("%s: %+v", name, a)
		}
	}
	if got := measure(t, pcm, &ear.Hearing{A4Hz: 440}); got.Of != 0 || got.Place != music.AnyPlace || got.Say(s) == "" {
		t.Errorf("no notes: %+v", got)
	}
	if _, err := tone.Measure(media.PCM{RateHz: 8000}, h, tone.Options{}); err == nil {
		t.Error("another rate is not refused")
	}
}

// TestChordsLeftToRing: of broken chords whose notes ring on, no wrong place is said.
func TestChordsLeftToRing(t *testing.T) {
	pcm, h, _ := played(t, map[int]string{0: "sul ponticello"}, exercise.Recipe{Pattern: "chords", Chords: []string{"C", "G7", "Am", "E"}, Rounds: 2, Tempo: 80})
	for _, st := range measure(t, pcm, h).Stretches {
		if st.Place == music.OverNeck || st.Place == music.OverHole {
			t.Errorf("%+v, plucked near the bridge", st)
		}
	}
}

// TestSameSameAnswer: the same input gives the same hearing.
func TestSameSameAnswer(t *testing.T) {
	pcm, h, s := played(t, map[int]string{0: "sulla boca", 6: "sul tasto"}, scale())
	a, b := measure(t, pcm, h), measure(t, pcm, h)
	if a.Say(s) != b.Say(s) || a.R != b.R || len(a.ByNote) != len(b.ByNote) {
		t.Errorf("%+v, then %+v", a, b)
	}
	for i, n := range a.ByNote {
		if n.Played < 0 || n.Played >= len(h.Played) || i > 0 && n.Played <= a.ByNote[i-1].Played || !(n.R > 0 && n.R < 0.5) || n.Brightness < 1 {
			t.Fatalf("note %d: %+v", i, n)
		}
	}
}

// BenchmarkMeasure reports how much faster than the take it is measured.
func BenchmarkMeasure(b *testing.B) {
	r := scale()
	r.Rounds = 10
	pcm, h, _ := played(b, map[int]string{0: "sulla boca", 6: "sul tasto"}, r)
	for b.Loop() {
		measure(b, pcm, h)
	}
	b.ReportMetric(pcm.Seconds()*float64(b.N)/b.Elapsed().Seconds(), "x-real-time")
}
