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

// BenchmarkFilm joins 20 s of 720 lines, as a phone films, and 10 s of words.
func BenchmarkFilm(b *testing.B) {
	dir := b.TempDir()
	sound := wav(b, filepath.Join(dir, "in.wav"), 48000, strokes(48000, 20, 1, 2, 3, 5, 8, 13))
	film := convert(b, sound, "film.mp4", "-f", "lavfi", "-i", "testsrc=size=1280x720:rate=30:duration=20", "-map", "1:v", "-map", "0:a", "-c:v", "libx264", "-preset", "ultrafast", "-pix_fmt", "yuv420p", "-c:a", "aac")
	words := convert(b, sound, "words.webm", "-t", "10", "-c:a", "libopus")
	b.ResetTimer()
	for b.Loop() {
		if _, err := Film(b.Context(), []FilmItem{{Path: film}, {Path: words}}, b.TempDir(), FilmOptions{}); err != nil {
			b.Fatal(err)
		}
	}
	b.ReportMetric(30*float64(b.N)/b.Elapsed().Seconds(), "x-real-time")
}
