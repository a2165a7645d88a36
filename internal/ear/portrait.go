package ear

import (
	"math"
	"slices"
)

// A portrait is what a pitch looks like around a stroke: the levels of its partials, of what lies
// beside and between them, over a quarter of a second, and whose else these partials may be. The
// models see it beside the clues, which sum up the same in numbers with a name.
const (
	portraitPartials = 10
	lookCount        = (2*portraitPartials+len(portraitBetween)+1)*len(portraitFrames) + len(portraitKin) + 5
	portraitCount    = lookCount + 2*portraitPartials + 2*len(portraitKin)

	sharedBands = 1.2 // partials so near to each other, in bands, are one
	takeRange   = 20  // dB to a unit of level
)

// Frames of activity from the stroke, places between the partials as multiples of the pitch, and
// pitches that are easily taken for one another, in semitones.
var (
	portraitFrames  = [...]int{-16, -10, -6, -2, 0, 2, 4, 6, 8, 12, 16, 24}
	portraitBetween = [...]float64{1.0 / 3, 0.5, 1.5, 2.5, 3.5}
	portraitKin     = [...]int{-24, -19, -12, -2, -1, 1, 2, 12, 19}
)

// offsets are the distances of partials and of what is between them, in bands from the pitch.
type offsets struct{ partial, between []int }

func newOffsets() offsets {
	var p offsets
	for h := 1; h <= portraitPartials; h++ {
		n := float64(h)
		p.partial = append(p.partial, bandsUp(n*math.Sqrt(1+stiffness*n*n)))
	}
	for _, r := range portraitBetween {
		p.between = append(p.between, bandsUp(r))
	}
	return p
}

func bandsUp(ratio float64) int {
	return int(math.Round(12 * bandsPerSemitone * math.Log2(ratio)))
}

// portrait appends to v what a pitch looks like at a scene, and how that might be explained by what is
// written there.
func (e *evidence) portrait(v []float32, sc *scene, midi int) []float32 {
	p := e.at(midi)
	if p < 0 {
		return append(v, make([]float32, portraitCount)...)
	}
	v = e.look(v, sc.stroke, p)
	v = e.owners(v, sc, midi)
	for _, d := range portraitKin {
		var written float32
		if slices.Contains(sc.written, midi+d) {
			written = 1
		}
		var likely float32
		if q := p + d; q >= 0 && q < pitchCount {
			likely = sc.stroke.likely[q]
		}
		v = append(v, written, likely)
	}
	return v
}

// look appends to v what pitch index p looks like around a stroke, whatever the score says.
func (e *evidence) look(v []float32, k *stroke, p int) []float32 {
	g := e.sonogram
	first := g.bandOf(p)
	level := g.level
	for _, off := range portraitFrames {
		col := g.column(k.frame + off)
		for _, up := range e.offsets.partial {
			i := first + up
			v = append(v, level(peakOf(col, i-1, i+1)), level((meanOf(col, i-4, i-2)+meanOf(col, i+2, i+4))/2))
		}
		for _, up := range e.offsets.between {
			v = append(v, level(peakOf(col, first+up-1, first+up+1)))
		}
	}
	for _, off := range portraitFrames {
		t := min(max(k.frame+off, 0), e.act.frames-1)
		v = append(v, min(e.act.x[t*pitchCount+p], 2))
	}
	for _, d := range portraitKin {
		var begun float32
		if q := p + d; q >= 0 && q < pitchCount {
			begun = k.begun[q]
		}
		v = append(v, begun)
	}
	return append(v, k.begun[p], k.grown[p], float32(k.attack), float32(k.strength), float32(p-28)/12)
}

// owners says, partial by partial, how low a partial of a written note lies there too, and of a
// note that may still ring.
func (e *evidence) owners(v []float32, sc *scene, midi int) []float32 {
	for h := 1; h <= portraitPartials; h++ {
		var written, ringing float32
		at := float64(h)
		for _, o := range sc.sounding {
			if o == midi {
				continue
			}
			n := math.Round(at * math.Exp2(float64(midi-o)/12))
			if n < 1 || math.Abs(12*math.Log2(at/n)+float64(midi-o))*bandsPerSemitone > sharedBands {
				continue
			}
			share := float32(1 / math.Sqrt(n))
			if slices.Contains(sc.written, o) {
				written = max(written, share)
			} else {
				ringing = max(ringing, share)
			}
		}
		v = append(v, written, ringing)
	}
	return v
}

// peakOf and meanOf are over the bands from to to, those outside the sonogram left out.
func peakOf(col []uint8, from, to int) float32 {
	var top uint8
	for i := max(0, from); i <= min(len(col)-1, to); i++ {
		top = max(top, col[i])
	}
	return float32(top) + 2*sonogramZero
}

func meanOf(col []uint8, from, to int) float32 {
	from, to = max(0, from), min(len(col)-1, to)
	if from > to {
		return 2 * sonogramZero
	}
	sum := 0
	for i := from; i <= to; i++ {
		sum += int(col[i])
	}
	return float32(sum)/float32(to-from+1) + 2*sonogramZero
}
