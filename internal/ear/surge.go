package ear

import (
	"math"
	"slices"

	"antiphon/internal/dsp"
)

// A string that is struck brightens the sound at once, over more frequencies than its own partials; a note
// that was left out while others ring leaves the sound as it was. Surges are how much it brightens within
// 30 ms, by bands, and how much louder the bands are after a moment than before it.
const (
	surgeWindow = 1024
	surgeLag    = 3  // frames of activity: 30 ms
	surgeNearFr = 4  // frames to each side of the onset,
	surgeWideFr = 10 // of it once more,
	surgeDueFr  = 6  // of where it was due,
	surgeLocal  = 40 // and of what is around
	surgeSure   = 6  // log odds of a note that was surely played
	surgeBands  = 5
	surgeUnitDb = 20
	surgeMost   = 4
	surgeScale  = 300 // a loud partial is 5.7 on the scale of log(1+x)
	surgeCount  = surgeBands + 1 + 5 + 2*surgeBands
)

// surgeHz are the edges of the bands.
var surgeHz = [surgeBands + 1]float64{65, 320, 860, 2150, 5400, 10700}

// surges are of a whole take, frame by frame of activity.
type surges struct {
	brighter [surgeBands + 1][]float32 // by how much more than 30 ms before; the last is all bands together
	levelDb  [surgeBands][]float32
	usual    [surgeBands + 1]float64 // of a note that was surely played
	still    float64                 // of all of the take's frames, the median
}

func newSurges(x []float32) (*surges, error) {
	spectra, err := dsp.NewSpectra(surgeWindow)
	if err != nil {
		return nil, err
	}
	frames := len(x)/activityHop + 1
	var edge [surgeBands + 1]int
	for i, hz := range surgeHz {
		edge[i] = int(hz*surgeWindow/RateHz + 0.5)
	}
	loud := loudestBin(x, spectra, frames)
	g := &surges{}
	for i := range g.brighter {
		g.brighter[i] = make([]float32, frames)
	}
	for i := range g.levelDb {
		g.levelDb[i] = make([]float32, frames)
	}
	m := make([]float32, spectra.Bins())
	var past [surgeLag + 1][]float32
	for i := range past {
		past[i] = make([]float32, spectra.Bins())
	}
	for t := range frames {
		spectra.At(m, x, t*activityHop)
		now, before := past[t%(surgeLag+1)], past[(t+1)%(surgeLag+1)]
		for b := range surgeBands {
			var sum, power float32
			for k := edge[b]; k < edge[b+1]; k++ {
				power += m[k] * m[k]
				now[k] = dsp.Log(1 + surgeScale/loud*m[k])
				sum += max(0, now[k]-before[k])
			}
			if t >= surgeLag {
				g.brighter[b][t] = sum
				g.brighter[surgeBands][t] += sum
			}
			g.levelDb[b][t] = float32(10 * math.Log10(float64(power/(loud*loud))+1e-9))
		}
	}
	g.still = float64(dsp.Percentile(g.brighter[surgeBands], 0.5))
	return g, nil
}

// loudestBin is the magnitude of the loudest partial in a loud moment.
func loudestBin(x []float32, spectra *dsp.Spectra, frames int) float32 {
	const sampled = 1500
	m := make([]float32, spectra.Bins())
	var tops []float32
	for t := 0; t < frames; t += max(1, frames/sampled) {
		spectra.At(m, x, t*activityHop)
		tops = append(tops, slices.Max(m))
	}
	return dsp.Percentile(tops, 0.8) + 1e-9
}

// compare measures how much notes that were surely played brighten this take; where none was, all of them.
func (g *surges) compare(claims []claim) {
	var all, sure []float64
	for i := range claims {
		if all = append(all, claims[i].onsetS); claims[i].logit > surgeSure {
			sure = append(sure, claims[i].onsetS)
		}
	}
	if len(sure) == 0 {
		sure = all
	}
	tops := make([]float64, len(sure))
	for b := range g.usual {
		for i, s := range sure {
			tops[i] = g.most(b, s, surgeNearFr+1)
		}
		g.usual[b] = dsp.Percentile(tops, 0.5) + 1e-3
	}
}

// span are the frames within reach of s.
func (g *surges) span(s float64, reach int) (from, to int) {
	n, t := len(g.brighter[0]), int(math.Round(s*activityFps))+surgeLag/2
	return min(max(t-reach, 0), n-1), min(max(t+reach+1, 1), n)
}

func (g *surges) most(b int, s float64, reach int) float64 {
	from, to := g.span(s, reach)
	return float64(slices.Max(g.brighter[b][from:to]))
}

// appendTo appends to v what surges there are about a moment, in units of what is usual, where a note was due,
// and by how much the bands rise and fall.
func (g *surges) appendTo(v shown, s, dueS float64) shown {
	const all = surgeBands
	unit := func(b int, x float64) float64 { return min(x/g.usual[b], surgeMost) }
	for b := range g.brighter {
		v.put(unit(b, g.most(b, s, surgeNearFr)))
	}
	from, to := g.span(s, surgeLocal)
	around := slices.Clone(g.brighter[all][from:to])
	here, less := float32(g.most(all, s, surgeNearFr)), 0
	for _, x := range around {
		if x < here {
			less++
		}
	}
	v.put(unit(all, g.most(all, s, surgeWideFr)), unit(all, g.most(all, dueS, surgeDueFr)), unit(all, g.still),
		unit(all, float64(dsp.Percentile(around, 0.5))), float64(less)/float64(len(around)))
	for b := range g.levelDb {
		db := func(from, to int) float64 { return g.meanDb(b, s, from, to) }
		before, after, later := db(-8, -2), db(3, 9), db(14, 22) // a window of 46 ms before the stroke, after it, and 0.1 s later
		v.put((after-before)/surgeUnitDb, (later-after)/surgeUnitDb)
	}
	return v
}

// meanDb is the mean level of a band, from and to frames after s.
func (g *surges) meanDb(b int, s float64, from, to int) float64 {
	n, t := len(g.levelDb[b]), int(math.Round(s*activityFps))
	from, to = min(max(t+from, 0), n-1), min(max(t+to, 1), n)
	sum := 0.0
	for _, x := range g.levelDb[b][from:to] {
		sum += float64(x)
	}
	return sum / float64(to-from)
}
