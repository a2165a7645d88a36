package media

import (
	"bytes"
	"encoding/binary"
	"math"
	"os"
	"os/exec"
	"path/filepath"
	"testing"
)

// Takes for the tests are made when they run: a WAV written here, sample by sample, and what
// ffmpeg makes of it. The WAV is the reference for everything that comes back.

// wav writes 16-bit channels of equal length.
func wav(t testing.TB, path string, rateHz int, channels ...[]float64) string {
	t.Helper()
	var data bytes.Buffer
	for i := range channels[0] {
		for _, c := range channels {
			v := math.Round(max(-1, min(c[i], 1)) * 32767)
			binary.Write(&data, binary.LittleEndian, int16(v))
		}
	}
	n := len(channels)
	var b bytes.Buffer
	b.WriteString("RIFF")
	binary.Write(&b, binary.LittleEndian, uint32(36+data.Len()))
	b.WriteString("WAVEfmt ")
	binary.Write(&b, binary.LittleEndian, struct {
		Size          uint32
		Format, Chans uint16
		Rate, Bytes   uint32
		Align, Bits   uint16
	}{16, 1, uint16(n), uint32(rateHz), uint32(rateHz * 2 * n), uint16(2 * n), 16})
	b.WriteString("data")
	binary.Write(&b, binary.LittleEndian, uint32(data.Len()))
	data.WriteTo(&b)
	if err := os.WriteFile(path, b.Bytes(), 0o644); err != nil {
		t.Fatal(err)
	}
	return path
}

// ffmpeg runs the real program, outside the cage; "{}" in an argument is the test's folder.
func ffmpeg(t testing.TB, args ...string) {
	t.Helper()
	all := append([]string{"-nostdin", "-v", "error", "-y"}, args...)
	if out, err := exec.Command("ffmpeg", all...).CombinedOutput(); err != nil {
		t.Fatalf("ffmpeg %q: %v\n%s", args, err, out)
	}
}

// convert encodes from into a new file called name beside it.
func convert(t testing.TB, from, name string, args ...string) string {
	t.Helper()
	to := filepath.Join(filepath.Dir(from), name)
	ffmpeg(t, append(append([]string{"-i", from}, args...), to)...)
	return to
}

// tone is a sine with a soft start and end.
func tone(rateHz int, hz, s, amplitude float64) []float64 {
	x := make([]float64, int(math.Round(s*float64(rateHz))))
	for i := range x {
		at := float64(i) / float64(rateHz)
		x[i] = amplitude * math.Sin(2*math.Pi*hz*at) * min(1, at/0.01, (s-at)/0.01)
	}
	return x
}

// strokes is silence with decaying notes that start at the given times, each at another pitch.
func strokes(rateHz int, lengthS float64, atS ...float64) []float64 {
	x := make([]float64, int(math.Round(lengthS*float64(rateHz))))
	for k, s := range atS {
		hz := 330 * math.Exp2(float64(k)/5)
		for i := int(math.Ceil(s * float64(rateHz))); i < len(x); i++ {
			at := float64(i)/float64(rateHz) - s
			if at > 0.5 {
				break
			}
			x[i] += 0.4 * math.Exp(-at/0.1) * min(1, at/0.001) *
				(math.Sin(2*math.Pi*hz*at) + 0.5*math.Sin(2*math.Pi*2.003*hz*at) + 0.3*math.Sin(2*math.Pi*5.02*hz*at))
		}
	}
	return x
}
