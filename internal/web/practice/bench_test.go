package practice_test

import (
	"bytes"
	"strings"
	"testing"

	"antiphon/internal/notation"
	"antiphon/internal/sound"
)

// BenchmarkSound makes one sound of a passage of eight bars, as a phone waits for it: notes, levels and AAC.
func BenchmarkSound(b *testing.B) {
	needs(b, "ffmpeg")
	text := strings.Replace(canon, ":|", "|", 1)
	text += strings.Repeat("G F G A|B A G B|\n", 2)
	s, _, err := notation.Read(strings.NewReader(text), "own.abc", notation.Limits{})
	if err != nil {
		b.Fatal(err)
	}
	for b.Loop() {
		a, err := sound.Render(b.Context(), s, sound.Options{Bpm: 72, Mark: true})
		if err != nil {
			b.Fatal(err)
		}
		var file bytes.Buffer
		if err := a.Write(b.Context(), &file, sound.AAC); err != nil {
			b.Fatal(err)
		}
		b.ReportMetric(float64(file.Len())/1000, "kB")
		b.ReportMetric(a.Seconds(), "s-of-music")
	}
	b.ReportMetric(b.Elapsed().Seconds()*1000/float64(b.N), "ms/sound")
}
