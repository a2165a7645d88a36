package rehearse

import (
	"math"

	"antiphon/internal/dsp"
)

// ChromaDTW is the plain aligner that others are measured against: twelve pitch classes and their
// rises, both for the take and for the score played like a machine at its mark, joined by dynamic
// time warping (after Müller & Ewert 2010; Ewert, Müller & Grosche 2009). It returns one moment for
// every note of the unrolled score, as pairs of moment and note index. It knows nothing of restarts.
func ChromaDTW(x []float32, rateHz int, p Piece) ([]float64, []int, error) {
	const hopS = 0.02
	take, err := chromaOf(x, rateHz, hopS)
	if err != nil || len(take) == 0 {
		return nil, nil, err
	}
	var onsets []float64
	var notes []int
	at := 0
	for _, b := range p.Unrolled(true) {
		bar := p.Bars[b]
		for i, n := range p.Notes {
			if n.At >= bar.At && n.At < bar.At+bar.Ticks {
				onsets = append(onsets, quarters(at+n.At-bar.At)*60/p.Bpm)
				notes = append(notes, i)
			}
		}
		at += bar.Ticks
	}
	score := make([][24]float64, int(quarters(at)*60/p.Bpm/hopS)+1)
	for k, t := range onsets {
		n := p.Notes[notes[k]]
		from := int(math.Round(t / hopS))
		length := int(quarters(n.Ticks)*60/p.Bpm/hopS) + 1
		for f := from; f < min(len(score), from+length); f++ {
			fade := math.Exp(-float64(f-from) * hopS / 0.8)
			for h, semitones := range []int{0, 12, 19, 24, 28} { // partials of the note
				score[f][(n.Midi+semitones)%12] += fade * math.Pow(0.6, float64(h))
			}
		}
		for f := from; f < min(len(score), from+5); f++ {
			score[f][12+n.Midi%12] += math.Pow(0.6, float64(f-from))
		}
	}
	for i := range score {
		normalise(score[i][:12])
		normalise(score[i][12:])
	}
	path := warp(score, take)
	out := make([]float64, len(onsets))
	for k, t := range onsets {
		out[k] = float64(path[min(len(path)-1, int(math.Round(t/hopS)))]) * hopS
	}
	return out, notes, nil
}

// chromaOf is twelve pitch classes and their decaying rises in frames of hopS.
func chromaOf(x []float32, rateHz int, hopS float64) ([][24]float64, error) {
	spectra, err := dsp.NewSpectra(4096)
	if err != nil {
		return nil, err
	}
	bins := make([]float32, spectra.Bins())
	var out [][24]float64
	var last [12]float64
	for centre := 0; centre < len(x); centre = int(float64(len(out)) * hopS * float64(rateHz)) {
		spectra.At(bins, x, centre)
		var f [24]float64
		var now [12]float64
		for k := 12; k < len(bins); k++ {
			hz := float64(k) * float64(rateHz) / 4096
			if hz > 2500 {
				break
			}
			class := (int(math.Round(69+12*math.Log2(hz/440)))%12 + 12) % 12
			now[class] += math.Log1p(100 * float64(bins[k]))
		}
		for c := range now {
			f[c] = now[c]
			f[12+c] = math.Max(0, now[c]-last[c])
			if len(out) > 0 {
				f[12+c] = math.Max(f[12+c], 0.6*out[len(out)-1][12+c])
			}
		}
		last = now
		out = append(out, f)
	}
	for i := range out {
		normalise(out[i][:12])
		normalise(out[i][12:])
	}
	return out, nil
}

func normalise(v []float64) {
	sum := 0.0
	for _, x := range v {
		sum += x * x
	}
	if sum > 1e-12 {
		for i := range v {
			v[i] /= math.Sqrt(sum)
		}
	}
}

// warp returns for every frame of a the frame of b that it meets on the cheapest path.
func warp(a, b [][24]float64) []int {
	n, m := len(a), len(b)
	step := make([]uint8, n*m)
	prev, cur := make([]float64, m), make([]float64, m)
	for i := range a {
		for j := range b {
			cost := 2.0
			for c := 0; c < 24; c++ {
				cost -= a[i][c] * b[j][c]
			}
			best, how := math.Inf(1), uint8(0)
			if i == 0 && j == 0 {
				best = 0
			}
			if i > 0 && j > 0 && prev[j-1]+cost < best { // a diagonal step counts double elsewhere: here once, which favours it
				best, how = prev[j-1]+cost, 0
			}
			if i > 0 && prev[j]+cost < best {
				best, how = prev[j]+cost, 1
			}
			if j > 0 && cur[j-1]+cost < best {
				best, how = cur[j-1]+cost, 2
			}
			cur[j] = best
			step[i*m+j] = how
		}
		prev, cur = cur, prev
	}
	path := make([]int, n)
	for i, j := n-1, m-1; i >= 0 && j >= 0; {
		path[i] = j
		if i == 0 && j == 0 {
			break
		}
		switch step[i*m+j] {
		case 0:
			i, j = i-1, j-1
		case 1:
			i--
		default:
			j--
		}
	}
	return path
}
