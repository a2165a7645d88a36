package ear

import "math"

// A string that was struck anew is loud and falls fast again; one that rings on goes on falling as slowly as it
// did. A course is how loud the partials of a pitch are from a third of a second before a stroke to half a second
// after it.
const (
	courseWindow = 2048
	courseSteps  = 5
	courseShown  = 6 // partials that are shown one by one
	courseCount  = 2*courseSteps + 3*courseShown
	courseUnitDb = 20
)

func newCourse(x []float32) (*looks, error) {
	at := func(ms int) int { return ms * RateHz / 1000 }
	return newLooks(x, courseWindow, at(-350), at(-200), at(-75), at(90), at(220), at(450))
}

// courseOf appends the course of the pitch f0 about the frame that l was opened for: summed over the partials
// that are not shared, once and again, and for the lowest ones how they rose and how they fell before and after.
func (l *looks) courseOf(v shown, f0, loudDb float64, shared, sharedHere *[portraitPartials]bool) shown {
	var db [portraitPartials][courseSteps + 1]float64
	var heard [portraitPartials]bool
	for n := range db {
		k := int(math.Round(partialHz(f0, n+1) / l.binHz))
		if k < 1 || k+1 >= l.bins {
			continue
		}
		heard[n] = true
		for i, t := range l.taken {
			db[n][i] = belowDb(max(power(t[k-1]), power(t[k]), power(t[k+1])), loudDb)
		}
	}
	for _, not := range []*[portraitPartials]bool{shared, sharedHere} {
		var steps [courseSteps]float64
		weight := 1e-9
		for n := range db {
			if !heard[n] || not[n] {
				continue
			}
			w := math.Pow(10, max(db[n][2], db[n][3])/40)
			weight += w
			for i := range steps {
				steps[i] += w * (db[n][i+1] - db[n][i])
			}
		}
		for _, s := range steps {
			v.put(s / weight / courseUnitDb)
		}
	}
	for n := range courseShown {
		d := &db[n]
		v.put((d[3]-d[2])/courseUnitDb, (d[2]-d[0])/courseUnitDb, (d[5]-d[3])/courseUnitDb)
	}
	return v
}
