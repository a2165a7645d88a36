package rehearse_test

import (
	"context"
	"fmt"
	"strings"
	"testing"

	"antiphon/internal/ear"
	"antiphon/internal/media"
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
