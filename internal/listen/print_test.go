package listen

import (
	"math"
	"math/rand/v2"
	"testing"

	"antiphon/internal/media"
)

// TestPrintsOfOneSound: another encoder, volume or beginning leaves a print what it is; another take of
// the same tune on the same guitar, with a metronome, does not.
func TestPrintsOfOneSound(t *testing.T) {
	k := newKit(t)
	for _, c := range []struct {
		piece  int
		source string
	}{{0, "own-nylon"}, {6, "own-nylon"}, {5, "timgm-nylon"}} {
		piece := k.piece(c.piece)
		a, b := k.take(piece, c.source, 1, steadyHand), k.take(piece, c.source, 2, steadyHand)
		pa, pb := k.print(a), k.print(b)
		for as := range encodings {
			if p := k.print(k.encoded(a, as)); !SameSound(pa, p) || !SameSound(p, pa) {
				t.Errorf("%s as %s is not known again: %+v", piece.Name, as, compare(pa, p))
			}
		}
		if SameSound(pa, pb) {
			t.Errorf("two takes of %s are called one: %+v", piece.Name, compare(pa, pb))
		}
		if len(pa) > 150*len(k.pcm(a).Samples)/22050+400 {
			t.Errorf("a print of %d bytes for %.0f s", len(pa), k.pcm(a).Seconds())
		}
	}
}

func TestPrintsOfNothing(t *testing.T) {
	noise := func(seed uint64, s float64) []byte {
		r := rand.New(rand.NewPCG(seed, 1))
		x := make([]float32, int(s*22050))
		for i := range x {
			x[i] = float32(0.1 * r.NormFloat64())
		}
		b, err := Print(media.PCM{Samples: x, RateHz: 22050})
		if err != nil {
			t.Fatal(err)
		}
		return b
	}
	silence, err := Print(media.PCM{Samples: make([]float32, 10*22050), RateHz: 22050})
	if err != nil {
		t.Fatal(err)
	}
	a := noise(1, 10)
	for name, p := range map[string][]byte{"other noise": noise(2, 10), "silence": silence, "too short": noise(1, 1), "nothing": nil,
		"half a print": a[:100], "another version": append([]byte{9}, a[1:]...), "a lie about its length": append([]byte{1, 255, 255, 255, 255}, a[5:]...)} {
		if SameSound(a, p) || SameSound(p, a) {
			t.Errorf("noise is taken for %s", name)
		}
	}
	if SameSound(silence, silence) {
		t.Error("all silence is one take")
	}
}

func TestPeaks(t *testing.T) {
	x := make([]float32, 22050/2+7) // half a second and a bit: 51 pairs
	for i := range x {
		x[i] = float32(0.25 * math.Sin(2*math.Pi*441*float64(i)/22050))
	}
	x[100] = -0.5
	b := Peaks(media.PCM{Samples: x, RateHz: 22050})
	if string(b[:4]) != "APK1" || b[4] != 100 || b[8] != 51 || len(b) != 16+2*51 {
		t.Fatalf("head % x of %d bytes", b[:16], len(b))
	}
	if int8(b[16]) != -127 || int8(b[17]) != 63 { // the highest sample, 0.2495, of 0.5
		t.Errorf("first pair %d, %d", int8(b[16]), int8(b[17]))
	}
	if lo, hi := int8(b[16+2*20]), int8(b[17+2*20]); lo > -62 || lo < -65 || hi < 62 || hi > 65 {
		t.Errorf("pair 20 is %d, %d", lo, hi)
	}
	if b := Peaks(media.PCM{}); len(b) != 16 {
		t.Errorf("no sound: %d bytes", len(b))
	}
}

// BenchmarkSameSound compares two prints of three minutes.
func BenchmarkSameSound(b *testing.B) {
	r := rand.New(rand.NewPCG(3, 1))
	x := make([]float32, 180*22050)
	for i := range x {
		x[i] = float32(0.1 * r.NormFloat64())
	}
	p, err := Print(media.PCM{Samples: x, RateHz: 22050})
	q, err2 := Print(media.PCM{Samples: x[5000:], RateHz: 22050})
	if err != nil || err2 != nil {
		b.Fatal(err, err2)
	}
	for b.Loop() {
		compare(p, q)
	}
}
