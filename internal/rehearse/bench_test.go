package rehearse_test

import (
	"context"
	"fmt"
	"strings"
	"testing"

	"antiphon/internal/ear"
	"antiphon/internal/media"
	"antiphon/internal/music"
	"antiphon/internal/notation"
	"antiphon/internal/rehearse"
)

// BenchmarkHear is the ear alone, without decoding, on longer and longer takes and scores; the time
// for a minute of take should not grow.
func BenchmarkHear(b *testing.B) {
	for _, c := range []struct {
		minutes float64
		notes   int
	}{{3, 600}, {3, 1800}, {12, 600}, {30, 3000}} {
		b.Run(fmt.Sprintf("%.0fmin-%dnotes", c.minutes, c.notes), func(b *testing.B) {
			x, piece, _ := rehearse.LongTake(60*c.minutes, c.notes, ear.RateHz, 1)
			score, _, err := notation.Read(strings.NewReader(piece.MusicXML()), "long.musicxml", notation.Limits{})
			if err != nil {
				b.Fatal(err)
			}
			pcm := media.PCM{Samples: x, RateHz: ear.RateHz}
			b.ReportAllocs()
			for b.Loop() {
				if _, err := ear.Hear(context.Background(), pcm, score, ear.Options{}); err != nil {
					b.Fatal(err)
				}
			}
			b.ReportMetric(pcm.Seconds()*float64(b.N)/b.Elapsed().Seconds(), "x-real-time")
		})
	}
}

// BenchmarkSoundsLike asks which of so many works, of so many notes each, a minute of take is of; what listening
// takes is the ear's own benchmark.
func BenchmarkSoundsLike(b *testing.B) {
	for _, c := range []struct{ works, notes int }{{100, 200}, {300, 400}} {
		b.Run(fmt.Sprintf("%dworks-%dnotes", c.works, c.notes), func(b *testing.B) {
			var scores []*music.Score
			var pcm media.PCM
			for i := range c.works {
				x, piece, _ := rehearse.LongTake(60, c.notes, ear.RateHz, uint64(i+1))
				score, _, err := notation.Read(strings.NewReader(piece.MusicXML()), "long.musicxml", notation.Limits{})
				if err != nil {
					b.Fatal(err)
				}
				scores = append(scores, score)
				if i == 7 {
					pcm = media.PCM{Samples: x, RateHz: ear.RateHz}
				}
			}
			l, err := ear.Listen(context.Background(), pcm, nil)
			if err != nil {
				b.Fatal(err)
			}
			repertoire := ear.NewRepertoire(scores)
			for b.Loop() {
				res, err := l.SoundsLike(context.Background(), repertoire)
				if err != nil {
					b.Fatal(err)
				}
				if res.Likely[0].Score != 7 {
					b.Fatalf("taken for work %d", res.Likely[0].Score)
				}
			}
		})
	}
}
