package listen

import (
	"encoding/binary"
	"math"

	"antiphon/internal/media"
)

// PeaksType is the media type of what Peaks makes.
const PeaksType = "application/octet-stream"

// Peaks in a second of sound, and the mark at the beginning of the file.
const (
	peaksPerS  = 100
	peaksMark  = "APK1"
	peaksStart = 16 // bytes before the first pair
)

// Peaks is the outline of a sound, for drawing. All numbers are little-endian:
//
//	bytes 0–3    the letters APK1
//	bytes 4–7    uint32: pairs in a second of sound (100)
//	bytes 8–11   uint32: number of pairs
//	bytes 12–15  float32: the sample value, above 0 and at most 1, that 127 stands for
//	from 16 on   pairs of int8: the lowest and the highest sample of 10 ms, lowest first
//
// A quiet take has as fine an outline as a loud one, since 127 is its own highest sample. Three minutes are 36 kB.
func Peaks(pcm media.PCM) []byte {
	step := float64(pcm.RateHz) / peaksPerS
	n := 0
	if step > 0 {
		n = int(math.Ceil(float64(len(pcm.Samples)) / step))
	}
	top := float32(1e-4) // -80 dB: less is drawn as silence
	for _, v := range pcm.Samples {
		top = max(top, v, -v)
	}
	out := make([]byte, peaksStart, peaksStart+2*n)
	copy(out, peaksMark)
	binary.LittleEndian.PutUint32(out[4:], peaksPerS)
	binary.LittleEndian.PutUint32(out[8:], uint32(n))
	binary.LittleEndian.PutUint32(out[12:], math.Float32bits(top))
	for i := range n {
		from, to := int(float64(i)*step), min(int(float64(i+1)*step), len(pcm.Samples))
		var lo, hi float32
		for _, v := range pcm.Samples[from:to] {
			lo, hi = min(lo, v), max(hi, v)
		}
		out = append(out, byte(int8(math.Round(float64(127*lo/top)))), byte(int8(math.Round(float64(127*hi/top)))))
	}
	return out
}
