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

// tunes are five lines of sixteen notes each: two scales on the same pattern, and three that are unlike.
var tunes = [][]int{
	line,
	{57, 59, 61, 62, 64, 66, 68, 69, 68, 66, 64, 62, 61, 59, 57, 57},
	{59, 61, 63, 64, 66, 68, 70, 71, 70, 68, 66, 64, 63, 61, 59, 59},
	{64, 64, 65, 67, 67, 65, 64, 62, 60, 60, 62, 64, 64, 62, 62, 60},
	{50, 57, 62, 65, 69, 65, 62, 57, 48, 55, 60, 64, 67, 64, 60, 55},
}

// played plays pitches evenly, each so many seconds after the other, with the given A4.
func played(a4, everyS float64, midi []int) media.PCM {
	x := make([]float32, int((2+everyS*float64(len(midi)+1))*RateHz))
	for i, m := range midi {
		plucked(x, music.Hz(float64(m), a4), 1+everyS*float64(i))
	}
	return media.PCM{Samples: x, RateHz: RateHz}
}

func moved(midi []int, semitones int) []int {
	up := slices.Clone(midi)
	for i := range up {
		up[i] += semitones
	}
	return up
}

func resemblance(t *testing.T, pcm media.PCM, scores ...*music.Score) Resemblance {
	t.Helper()
	l, err := Listen(context.Background(), pcm, nil)
	if err != nil {
		t.Fatal(err)
	}
	res, err := l.SoundsLike(context.Background(), NewRepertoire(scores))
	if err != nil {
		t.Fatal(err)
	}
	sum := res.None
	for _, k := range res.Likely {
		sum += k.Confidence
	}
	if math.Abs(sum-1) > 1e-9 {
		t.Errorf("confidences add up to %g, want 1", sum)
	}
	return res
}

func shelfOf(tunes [][]int) (scores []*music.Score) {
	for _, m := range tunes {
		scores = append(scores, scale(m...))
	}
	return scores
}

func TestSoundsLikeKnowsTheWork(t *testing.T) {
	mistaken := slices.Clone(tunes[3])
	mistaken[4], mistaken[9] = 66, 59
	scores := append([]*music.Score{{}}, shelfOf(tunes)...) // one without notes keeps its place
	for name, c := range map[string]struct {
		pcm  media.PCM
		want int // index into tunes
		up   int
	}{
		"whole":                {played(440, 0.75, tunes[0]), 0, 0},
		"half as fast":         {played(440, 1.5, tunes[3]), 3, 0},
		"twice as fast":        {played(440, 0.375, tunes[3]), 3, 0},
		"from the middle":      {played(440, 0.75, tunes[4][6:]), 4, 0},
		"A at 415":             {played(415, 0.75, tunes[0]), 0, -1},
		"A at 466":             {played(466, 0.75, tunes[4]), 4, 1},
		"capo on 3":            {played(440, 0.75, moved(tunes[4], 3)), 4, 3},
		"two wrong notes":      {played(440, 0.75, mistaken), 3, 0},
		"one of two scales":    {played(440, 0.75, tunes[1]), 1, 0},
		"the other of the two": {played(440, 0.75, tunes[2]), 2, 0},
		"over and over":        {played(440, 0.5, append(append(slices.Clone(tunes[3][:7]), tunes[3][:7]...), tunes[3]...)), 3, 0},
	} {
		res := resemblance(t, c.pcm, scores...)
		if len(res.Likely) == 0 {
			t.Fatalf("%s: nothing likely", name)
		}
		if k := res.Likely[0]; k.Score != c.want+1 || k.Confidence < 0.5 || k.SoundsHigher != c.up {
			t.Errorf("%s: score %d with %.2f, %d semitones higher; want %d, at least 0.5, %d", name, k.Score, k.Confidence, k.SoundsHigher, c.want+1, c.up)
		}
	}
}

func TestSoundsLikeTellsWhere(t *testing.T) {
	res := resemblance(t, played(440, 0.75, tunes[4][4:12]), shelfOf(tunes)...)
	if k := res.Likely[0]; k.Score != 4 || k.FromBar != "2" || k.ToBar != "3" {
		t.Errorf("score %d, bars %s to %s; want 4, 2 to 3", k.Score, k.FromBar, k.ToBar)
	}
}

func TestSoundsLikeNoneOfThese(t *testing.T) {
	other := []int{57, 61, 54, 69, 58, 70, 56, 66, 61, 54, 68, 58, 63, 56, 70, 61}
	for name, pcm := range map[string]media.PCM{
		"another piece": played(440, 0.75, other),
		"silence":       {Samples: make([]float32, 10*RateHz), RateHz: RateHz},
	} {
		if res := resemblance(t, pcm, shelfOf(tunes)...); res.None < 0.8 {
			t.Errorf("%s: none of these with %.2f, want at least 0.8", name, res.None)
		}
	}
	// A third scale of the pattern: it may be one of the two with a capo, or one that is not here.
	if res := resemblance(t, played(440, 0.75, moved(tunes[1], 4)), shelfOf(tunes)...); res.Likely[0].Confidence > 0.6 {
		t.Errorf("a scale that is not here is called number %d with %.2f", res.Likely[0].Score, res.Likely[0].Confidence)
	}
	if res := resemblance(t, played(440, 0.75, tunes[0])); res.None != 1 || len(res.Likely) != 0 {
		t.Errorf("no scores: none with %.2f, %d likely", res.None, len(res.Likely))
	}
}

func TestTheSameMusicTwiceIsNeither(t *testing.T) {
	res := resemblance(t, played(440, 0.75, tunes[0]), scale(tunes[0]...), scale(tunes[3]...), scale(tunes[0]...))
	if a, b := res.Likely[0], res.Likely[1]; a.Score+b.Score != 2 || math.Abs(a.Confidence-b.Confidence) > 0.01 || a.Confidence > 0.5 {
		t.Errorf("the same score twice: %+v and %+v", a, b)
	}
}

func TestListenOnceHearTwice(t *testing.T) {
	pcm := played(440, 0.75, moved(tunes[3], 2))
	l, err := Listen(context.Background(), pcm, nil)
	if err != nil {
		t.Fatal(err)
	}
	if _, err := l.SoundsLike(context.Background(), NewRepertoire(shelfOf(tunes))); err != nil {
		t.Fatal(err)
	}
	for _, capo := range []int{2, 0, 2} {
		again, err := l.Hear(context.Background(), scale(tunes[3]...), Options{Capo: capo})
		if err != nil {
			t.Fatal(err)
		}
		fresh, err := Hear(context.Background(), pcm, scale(tunes[3]...), Options{Capo: capo})
		if err != nil {
			t.Fatal(err)
		}
		if len(again.Played) != len(fresh.Played) || again.A4Hz != fresh.A4Hz || again.SoundsHigher != fresh.SoundsHigher {
			t.Errorf("capo %d: %d notes at A = %g after listening once, %d at %g afresh", capo, len(again.Played), again.A4Hz, len(fresh.Played), fresh.A4Hz)
		}
	}
	ctx, stop := context.WithCancel(context.Background())
	stop()
	if _, err := l.SoundsLike(ctx, NewRepertoire(shelfOf(tunes))); !errors.Is(err, context.Canceled) {
		t.Errorf("stopped: %v", err)
	}
}
