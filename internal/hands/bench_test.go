package hands

import (
	"math/rand/v2"
	"testing"

	"antiphon/internal/music"
)

// invented makes a piece of so many notes: broken chords over a bass, scales, and thirds, in changing
// keys, the same for the same seed.
func invented(notes int, seed uint64) *music.Score {
	rng := rand.New(rand.NewPCG(seed, 1))
	s := &music.Score{Parts: []music.Part{{ID: "P1", Staves: 1}}}
	scale := []int{0, 2, 4, 5, 7, 9, 11}
	eighth := int64(0)
	put := func(midi int, long int64, voice string, chord bool) {
		bar := int(eighth / 8)
		for len(s.Bars) <= bar {
			s.Bars = append(s.Bars, music.Bar{Number: music.Quarters(int64(len(s.Bars)+1), 1).String(), Start: music.Quarters(int64(4*len(s.Bars)), 1), Length: music.Quarters(4, 1)})
		}
		s.Parts[0].Notes = append(s.Parts[0].Notes, music.Note{Bar: bar, Start: music.Quarters(eighth, 2), Duration: music.Quarters(long, 2),
			Voice: voice, Staff: 1, Chord: chord, Pitch: music.SpellMidi(midi, 0)})
	}
	for len(s.Parts[0].Notes) < notes {
		tonic := []int{0, 7, 2, 9, 4, 5}[rng.IntN(6)]
		degree := func(d int) int { return 48 + tonic%12 + 12*(d/7) + scale[d%7] }
		fit := func(m int) int {
			for m > 74 {
				m -= 12
			}
			return m
		}
		root := rng.IntN(7)
		switch rng.IntN(3) {
		case 0: // a broken chord over a held bass
			bass := degree(root) - 12
			for bass < 40 {
				bass += 12
			}
			put(bass, 8, "2", false)
			for k := range 8 {
				if k > 0 {
					put(fit(degree(root+7+[]int{0, 2, 4, 7, 4, 2, 4, 2}[k])), 1, "1", false)
				}
				eighth++
			}
		case 1: // a scale
			for k := range 8 {
				put(fit(degree(root+5+k)), 1, "1", false)
				eighth++
			}
		default: // thirds and a bass
			for k := range 4 {
				put(fit(degree(root+8+k)), 2, "1", false)
				put(fit(degree(root+6+k)), 2, "1", true)
				eighth += 2
			}
		}
	}
	s.Parts[0].Notes = s.Parts[0].Notes[:notes]
	return s
}

func BenchmarkFinger2000(b *testing.B) {
	s := invented(2000, 1)
	for b.Loop() {
		if _, err := Finger(s, Options{K: 5}); err != nil {
			b.Fatal(err)
		}
	}
	b.ReportMetric(2000*float64(b.N)/b.Elapsed().Seconds(), "notes/s")
}
