package rehearse

import (
	"fmt"
	"math"
	"math/rand/v2"
	"os"
	"path/filepath"
)

// LongTake is a piece of so many notes and somebody playing it in about so many seconds: the sound at
// rateHz and what was played. Its voice is plain, a few decaying partials a note, so that half an hour
// is made in seconds: it is for measuring speed and memory, not accuracy.
func LongTake(seconds float64, notes int, rateHz int, seed uint64) ([]float32, Piece, Performance) {
	rng := rand.New(rand.NewPCG(seed, 0x1009))
	p := Piece{Name: "long", Title: "A long walk", Kind: "two-voice", Beats: 4, BeatType: 4}
	scale := []int{60, 62, 64, 65, 67, 69, 71, 72, 74, 76}
	at, degree := 0, 3
	for len(p.Notes) < notes {
		if at%192 == 0 && len(p.Notes)+1 < notes {
			p.Notes = append(p.Notes, Note{At: at, Ticks: 96, Midi: 40 + []int{0, 3, 5, 7, 8}[rng.IntN(5)], Part: 1, Voice: 2})
		}
		step := []int{24, 24, 48, 24, 12, 12}[rng.IntN(6)]
		if left := 192 - at%192; step > left {
			step = left
		}
		degree = min(max(0, degree+[]int{-2, -1, -1, 1, 1, 2, 3, -3}[rng.IntN(8)]), len(scale)-1)
		p.Notes = append(p.Notes, Note{At: at, Ticks: step, Midi: scale[degree], Part: 1, Voice: 1})
		at += step
	}
	p.Bpm = math.Round(quarters(at) * 60 / seconds)
	p.Bpm = math.Max(p.Bpm, 10)
	p = p.finish(0)
	m := Manner{Tempo: quarters(at) * 60 / seconds / p.Bpm, Drift: 0.02, JitterS: 0.01, RollS: [2]float64{0.004, 0.02}, SpreadDb: 2, LeadInS: 0.5,
		Wrong: 0.01, Missed: 0.01, Extra: 0.01}
	perf := perform(p, straight(p, true), m, rng)
	x := make([]float32, int((perf.EndS+1)*float64(rateHz)))
	for _, pk := range perf.Plucks {
		plain(x, pk, rateHz)
	}
	for i := range x {
		x[i] += float32(0.0008 * rng.NormFloat64())
	}
	return x, p, perf
}

// plain adds one note made of five decaying partials.
func plain(x []float32, pk Pluck, rateHz int) {
	rate := float64(rateHz)
	f0 := 440 * math.Exp2((pk.Midi-69)/12)
	from := int(pk.OnsetS * rate)
	to := min(len(x), int(math.Min(pk.OffsetS, pk.OnsetS+2)*rate)+rateHz/25)
	for h := 1; h <= 5; h++ {
		w := 2 * math.Pi * f0 * float64(h) / rate
		decay := math.Exp(-(1.5 + 0.9*float64(h)) / rate)
		// A damped oscillator by recursion: y[n] = 2 r cos w · y[n-1] − r² · y[n-2].
		a, b := 2*decay*math.Cos(w), decay*decay
		y1, y2 := 0.0, -0.12*db(pk.Db)*math.Pow(float64(h), -1.1)*math.Sin(w)
		for i := from; i < to; i++ {
			y := a*y1 - b*y2
			y2, y1 = y1, y
			if left := to - i; left < rateHz/25 {
				y *= float64(left) / float64(rateHz/25)
			}
			x[i] += float32(y)
		}
	}
}

// SaveLong writes a long take as a phone would, AAC at 64 kbit/s, and its score, and returns their
// paths and the length of the take.
func SaveLong(dir string, seconds float64, notes int) (audio, score string, takeS float64, err error) {
	if err := os.MkdirAll(dir, 0o755); err != nil {
		return "", "", 0, err
	}
	x, p, _ := LongTake(seconds, notes, RateHz, 1)
	name := filepath.Join(dir, fmt.Sprintf("long-%.0fs-%d", seconds, notes))
	x = Phone{LowHz: 60, HighHz: 12000, Peak: 0.6}.record(x)
	if _, err := codecNamed("aac64").encode(x, 1, name+".m4a"); err != nil {
		return "", "", 0, err
	}
	return name + ".m4a", name + ".musicxml", float64(len(x)) / RateHz, os.WriteFile(name+".musicxml", []byte(p.MusicXML()), 0o644)
}
