package practice

import (
	"math"

	"antiphon/internal/studio"
)

// Where no ladder is asked for, the page offers these shares of the tempo, from slow to as asked. Common
// practice, no source.
var slower = [...]float64{0.6, 0.8, 1}

// slowestBpm and fastestBpm are what sounds are made for, in quarter notes a minute.
const (
	slowestBpm = 10
	fastestBpm = 500
)

// rungs are the tempos that can be played, in quarter notes a minute from the slowest: those of the ladder, or
// some below bpm.
func rungs(l studio.Ladder, bpm float64) []float64 {
	if all := l.Rungs(); len(all) > 0 {
		for i := range all {
			all[i] = rounded(all[i])
		}
		return all
	}
	if !(bpm > 0) {
		return nil
	}
	var all []float64
	for _, share := range slower {
		t := rounded(math.Round(bpm * share))
		if share == 1 {
			t = rounded(bpm)
		}
		if t >= slowestBpm && (len(all) == 0 || t > all[len(all)-1]) {
			all = append(all, t)
		}
	}
	return all
}

// rounded is a tempo as it stands in an address.
func rounded(bpm float64) float64 { return math.Round(bpm*10) / 10 }
