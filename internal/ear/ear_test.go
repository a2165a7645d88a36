package ear

import (
	"context"
	"errors"
	"math"
	"slices"
	"testing"

	"antiphon/internal/media"
	"antiphon/internal/music"
)

// The worked values are by hand from the formula of Grabe & Low 2002:
// 100/(m−1) · Σ |d_k − d_{k+1}| / ((d_k + d_{k+1})/2).
func TestNPVI(t *testing.T) {
	for _, c := range []struct {
		d    []float64
		want float64
	}{
		{[]float64{1, 1, 1, 1}, 0},
		{[]float64{1, 2, 1, 2}, 200.0 / 3},
		{[]float64{1.5, .5, 1.5, .5}, 100},
		{[]float64{1}, 0},
	} {
		if got := NPVI(c.d); math.Abs(got-c.want) > 1e-9 {
			t.Errorf("NPVI(%v) = %g, want %g", c.d, got, c.want)
		}
	}
}

// plucked adds a decaying string with ten partials: enough to be heard, and its onset exactly known.
func plucked(x []float32, hz, onsetS float64) {
	from := int(math.Round(onsetS * RateHz))
	for i := from; i < len(x) && i < from+2*RateHz; i++ {
		s := float64(i-from) / RateHz
		for h := 1; h <= 10 && hz*float64(h) < 9000; h++ {
			n := float64(h)
			x[i] += float32(0.12 / n * math.Exp(-s*(1.5+0.8*n)) * math.Sin(2*math.Pi*hz*n*s))
		}
	}
}

// scale is one bar of quarter notes for each four pitches, at 80 quarters a minute.
func scale(midi ...int) *music.Score {
	s := &music.Score{Title: "scale", Parts: []music.Part{{ID: "P1", Staves: 1}},
		Tempos: []music.TempoMark{{Bpm: 80, Unit: music.Quarters(1, 1)}}}
	for i, m := range midi {
		if i%4 == 0 {
			s.Bars = append(s.Bars, music.Bar{Number: string(rune('1' + i/4)), Start: music.Quarters(int64(i), 1), Length: music.Quarters(4, 1)})
		}
		s.Parts[0].Notes = append(s.Parts[0].Notes, music.Note{Bar: i / 4, Start: music.Quarters(int64(i), 1),
			Duration: music.Quarters(1, 1), Voice: "1", Staff: 1, Pitch: music.SpellMidi(m, 0)})
	}
	return s
}

var line = []int{60, 62, 64, 65, 67, 65, 64, 62, 60, 64, 67, 72, 71, 67, 62, 60}

// take plays pitches one every 0.75 s, from one second on, with the given A4.
func take(a4 float64, midi []int) media.PCM {
	x := make([]float32, int((2+0.75*float64(len(midi)+1))*RateHz))
	for i, m := range midi {
		plucked(x, music.Hz(float64(m), a4), 1+0.75*float64(i))
	}
	return media.PCM{Samples: x, RateHz: RateHz}
}

// Expectations come from how the take was made: ISO 16 and equal temperament for the pitches.
func TestHearFindsEveryNoteAtEveryTuning(t *testing.T) {
	for _, a4 := range []float64{415, 432, 440, 466} {
		h, err := Hear(context.Background(), take(a4, line), scale(line...), Options{})
		if err != nil {
			t.Fatal(err)
		}
		if len(h.Played) != len(line) || len(h.Missed) != 0 || len(h.Jumps) != 0 {
			t.Fatalf("A = %g: %d played, %d missed, %d jumps; want %d, 0, 0", a4, len(h.Played), len(h.Missed), len(h.Jumps), len(line))
		}
		if math.Abs(1200*math.Log2(h.A4Hz/a4)) > 8 {
			t.Errorf("A4 %.2f Hz, want %g", h.A4Hz, a4)
		}
		for i, p := range h.Played {
			if want := 1 + 0.75*float64(i); p.Verdict != Right || p.Midi != line[i] || math.Abs(p.OnsetS-want) > 0.012 {
				t.Errorf("A = %g, note %d: %s %d at %.3f s, want right %d at %.3f", a4, i, p.Verdict, p.Midi, p.OnsetS, line[i], want)
			}
		}
		if math.Abs(h.Tempo.MedianBpm-80) > 0.8 {
			t.Errorf("A = %g: %.2f beats a minute, want 80", a4, h.Tempo.MedianBpm)
		}
	}
}

func TestHearTellsARestart(t *testing.T) {
	played := append(append([]int{}, line[:10]...), line[4:]...) // ten notes, then from bar 2 again
	h, err := Hear(context.Background(), take(440, played), scale(line...), Options{})
	if err != nil {
		t.Fatal(err)
	}
	if len(h.Jumps) != 1 || h.Jumps[0].Kind != Restart || h.Jumps[0].ToBar != "2" || len(h.Passes) != 2 {
		t.Errorf("jumps %+v in %d passes, want one restart at bar 2", h.Jumps, len(h.Passes))
	}
}

func TestHearKnowsASilentTakeAndAnotherPiece(t *testing.T) {
	other := []int{57, 61, 54, 69, 58, 70, 56, 66, 61, 54, 68, 58, 63, 56, 70, 61}
	for name, pcm := range map[string]media.PCM{
		"silence": {Samples: make([]float32, 10*RateHz), RateHz: RateHz},
		"other":   take(440, other),
	} {
		h, err := Hear(context.Background(), pcm, scale(line...), Options{})
		if err != nil {
			t.Fatal(err)
		}
		if len(h.Passes) != 0 || len(h.Played) != 0 || len(h.Missed) != 0 {
			t.Errorf("%s: %d passes, %d played, %d missed; want none", name, len(h.Passes), len(h.Played), len(h.Missed))
		}
	}
}

func TestHearRefuses(t *testing.T) {
	if _, err := Hear(context.Background(), take(440, line), &music.Score{}, Options{}); !errors.Is(err, ErrNoNotes) {
		t.Errorf("score without notes: %v", err)
	}
	if _, err := Hear(context.Background(), media.PCM{RateHz: 8000}, scale(line...), Options{}); !errors.Is(err, ErrRate) {
		t.Errorf("another rate: %v", err)
	}
	ctx, stop := context.WithCancel(context.Background())
	stop()
	if _, err := Hear(ctx, take(440, line), scale(line...), Options{}); !errors.Is(err, context.Canceled) {
		t.Errorf("stopped: %v", err)
	}
}

func TestHearKnowsTheNotesAtAnotherHeight(t *testing.T) {
	for _, semitones := range []int{2, 5, 12, -3} {
		var moved []int
		for _, m := range line {
			moved = append(moved, m+semitones)
		}
		h, err := Hear(context.Background(), take(440, moved), scale(line...), Options{})
		if err != nil {
			t.Fatal(err)
		}
		if len(h.Passes) != 0 || h.SoundsHigher != semitones {
			t.Errorf("%d semitones higher: %d passes, said to be %d higher", semitones, len(h.Passes), h.SoundsHigher)
		}
		if semitones != 5 {
			continue
		}
		if h, err = Hear(context.Background(), take(440, moved), scale(line...), Options{Capo: 5}); err != nil || len(h.Played) != len(line) || len(h.Missed) != 0 {
			t.Errorf("with the capo told: %d played, %d missed, %v", len(h.Played), len(h.Missed), err)
		}
	}
}

// A phone far away: the same take 40 dB softer, with one note left out and one wrong.
func TestHearIsNotDeafToAQuietTake(t *testing.T) {
	played := slices.Clone(line)
	played[5] = 66
	loud := take(440, played)
	from := 185000 // samples: note 10 begins at 8.5 s, and is cut out from just before
	clear(loud.Samples[from : from+int(0.8*RateHz)])
	quiet := media.PCM{RateHz: RateHz, Samples: slices.Clone(loud.Samples)}
	for i := range quiet.Samples {
		quiet.Samples[i] /= 100
	}
	for name, pcm := range map[string]media.PCM{"loud": loud, "quiet": quiet} {
		h, err := Hear(context.Background(), pcm, scale(line...), Options{})
		if err != nil {
			t.Fatal(err)
		}
		var wrong []int
		for _, p := range h.Played {
			if p.Verdict == Wrong {
				wrong = append(wrong, p.Note)
			}
		}
		if !slices.Equal(wrong, []int{5}) || len(h.Missed) != 1 || h.Missed[0].Note != 10 {
			t.Errorf("%s: wrong notes %v, missed %+v; want note 5 and note 10", name, wrong, h.Missed)
		}
	}
}

// A stop of 4 s before the ninth note: the notes around it are neither early nor late.
func TestAStopDoesNotBendTheTiming(t *testing.T) {
	x := make([]float32, 22*RateHz)
	for i, m := range line {
		onset := 1 + 0.75*float64(i)
		if i >= 8 {
			onset += 4
		}
		plucked(x, music.Hz(float64(m), 440), onset)
	}
	h, err := Hear(context.Background(), media.PCM{Samples: x, RateHz: RateHz}, scale(line...), Options{})
	if err != nil {
		t.Fatal(err)
	}
	if len(h.Played) != len(line) {
		t.Fatalf("%d notes, want %d", len(h.Played), len(line))
	}
	for i, p := range h.Played {
		if math.Abs(p.TimingMs) > 20 {
			t.Errorf("note %d lies %.0f ms off", i, p.TimingMs)
		}
	}
}

func TestToTheEndAndOnceMoreIsARepeat(t *testing.T) {
	long := append(append([]int{}, line...), 60, 65, 69, 72, 71, 67, 64, 60) // six bars: no short exercise
	h, err := Hear(context.Background(), take(440, append(slices.Clone(long), long...)), scale(long...), Options{})
	if err != nil {
		t.Fatal(err)
	}
	if len(h.Jumps) != 1 || h.Jumps[0].Kind != Repeat || len(h.Passes) != 2 || !h.Passes[0].Complete || !h.Passes[1].Complete {
		t.Errorf("jumps %+v, passes %+v; want one repeat and two whole passes", h.Jumps, h.Passes)
	}
}
