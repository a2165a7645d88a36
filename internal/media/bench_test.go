package media

import (
	"path/filepath"
	"testing"
)

// BenchmarkDecode decodes three minutes of stereo AAC, as a phone sends them.
func BenchmarkDecode(b *testing.B) {
	dir := b.TempDir()
	x := strokes(44100, 180, 1, 2, 3, 5, 8, 13, 21, 34, 55, 89, 144)
	m4a := convert(b, wav(b, filepath.Join(dir, "take.wav"), 44100, x, x), "take.m4a", "-c:a", "aac", "-b:a", "96k")
	for b.Loop() {
		p, _, err := Decode(b.Context(), m4a, Options{})
		if err != nil || p.Seconds() < 179 {
			b.Fatal(err, p.Seconds())
		}
	}
	b.ReportMetric(180*float64(b.N)/b.Elapsed().Seconds(), "x-real-time")
}
