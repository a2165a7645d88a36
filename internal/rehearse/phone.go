package rehearse

import (
	"encoding/binary"
	"fmt"
	"math"
	"os"
	"os/exec"
	"path/filepath"
	"strings"
)

// Phone is what the microphone and its software do to the sound.
type Phone struct {
	Name            string
	LowHz, HighHz   float64 // where the microphone stops hearing
	Compress        float64 // 0 none, 1 everything equally loud
	Peak            float64 // highest sample at the end; above 1 it clips
	LateChannelMs   float64 // the second channel hears it later
	SecondChannelDb float64 // -200 dead
	Stereo          bool
}

// record passes the sound through the phone; the result has one channel, or two interleaved.
func (p Phone) record(x []float32) []float32 {
	y := append([]float32{}, x...)
	for k := 0; k < 2; k++ {
		onePole(y, p.LowHz, true)
		onePole(y, p.HighHz, false)
	}
	if p.Compress > 0 {
		compress(y, p.Compress)
	}
	peak := 1e-9
	for _, v := range y {
		peak = math.Max(peak, math.Abs(float64(v)))
	}
	gain := p.Peak / peak
	for i, v := range y {
		y[i] = float32(clamp(float64(v)*gain, 1))
	}
	if !p.Stereo {
		return y
	}
	out := make([]float32, 2*len(y))
	late, second := int(p.LateChannelMs*RateHz/1000), float32(db(p.SecondChannelDb))
	for i, v := range y {
		out[2*i] = v
		if i >= late {
			out[2*i+1] = second * y[i-late]
		}
	}
	return out
}

// onePole filters in place: high-pass, or low-pass.
func onePole(x []float32, hz float64, high bool) {
	a := 1 - math.Exp(-2*math.Pi*hz/RateHz)
	low := 0.0
	for i, v := range x {
		low += a * (float64(v) - low)
		if high {
			x[i] = v - float32(low)
		} else {
			x[i] = float32(low)
		}
	}
}

// compress is the automatic gain of a phone: fast down, slow up.
func compress(x []float32, amount float64) {
	loud := loudness(x)
	if loud == 0 {
		return
	}
	env := loud
	for i, v := range x {
		a := math.Abs(float64(v))
		if a > env {
			env += (a - env) * 0.003
		} else {
			env += (a - env) * 0.00004
		}
		x[i] = float32(float64(v) * math.Pow(loud/math.Max(env, 0.05*loud), amount))
	}
}

// Codec is a way to send a recording.
type Codec struct {
	Name, Ext string
	Args      []string
	Video     bool
}

// codecs are what phones, browsers and messengers make.
var codecs = []Codec{
	{"aac128", "m4a", []string{"-c:a", "aac", "-b:a", "128k"}, false},
	{"aac64", "m4a", []string{"-c:a", "aac", "-b:a", "64k"}, false},
	{"aac32", "m4a", []string{"-c:a", "aac", "-b:a", "32k"}, false},
	{"opus64", "webm", []string{"-c:a", "libopus", "-b:a", "64k"}, false},
	{"opus32", "webm", []string{"-c:a", "libopus", "-b:a", "32k"}, false},
	{"opus16", "ogg", []string{"-c:a", "libopus", "-b:a", "16k"}, false},
	{"opus12", "ogg", []string{"-c:a", "libopus", "-b:a", "12k", "-application", "voip"}, false},
	{"voice16k", "m4a", []string{"-ar", "16000", "-ac", "1", "-c:a", "aac", "-b:a", "24k"}, false},
	{"webmv", "webm", []string{"-c:v", "libvpx", "-b:v", "60k", "-deadline", "realtime", "-cpu-used", "8", "-c:a", "libopus", "-b:a", "48k"}, true},
	{"mp4v", "mp4", []string{"-c:v", "libx264", "-preset", "ultrafast", "-pix_fmt", "yuv420p", "-c:a", "aac", "-b:a", "96k"}, true},
	{"mp3-64", "mp3", []string{"-c:a", "libmp3lame", "-b:a", "64k"}, false},
	{"wav", "wav", []string{"-c:a", "pcm_s16le"}, false},
	{"flac", "flac", []string{"-c:a", "flac"}, false},
}

func codecNamed(name string) Codec {
	for _, c := range codecs {
		if c.Name == name {
			return c
		}
	}
	panic("rehearse: no codec " + name)
}

// encode writes x (interleaved where channels is 2) to path and returns by how much a decoder's
// output is late against x, in seconds, by cross-correlation.
func (c Codec) encode(x []float32, channels int, path string) (lagS float64, err error) {
	wav := path + ".src.wav"
	if err := os.WriteFile(wav, wavFile(x, channels), 0o644); err != nil {
		return 0, err
	}
	defer os.Remove(wav)
	args := []string{"-nostdin", "-v", "error", "-y", "-i", wav}
	if c.Video {
		args = append(args, "-f", "lavfi", "-i", "color=c=gray:s=96x64:r=12", "-shortest")
	}
	args = append(append(args, c.Args...), path)
	if out, err := exec.Command("ffmpeg", args...).CombinedOutput(); err != nil {
		return 0, fmt.Errorf("coding %s: %w: %s", filepath.Base(path), err, strings.TrimSpace(string(out)))
	}
	heard, err := decode(path)
	if err != nil {
		return 0, err
	}
	mono := x
	if channels == 2 {
		mono = make([]float32, len(x)/2)
		for i := range mono {
			mono[i] = x[2*i]
		}
	}
	return lag(mono, heard), nil
}

// decode reads the first channel of a recording at RateHz.
func decode(path string) ([]float32, error) {
	out, err := exec.Command("ffmpeg", "-nostdin", "-v", "error", "-i", path, "-vn", "-af", "pan=mono|c0=c0", "-ar", fmt.Sprint(RateHz), "-f", "s16le", "-").Output()
	if err != nil {
		return nil, fmt.Errorf("decoding %s: %w", filepath.Base(path), err)
	}
	x := make([]float32, len(out)/2)
	for i := range x {
		x[i] = float32(int16(binary.LittleEndian.Uint16(out[2*i:]))) / 32768
	}
	return x, nil
}

// lag is how many seconds b is late against a. Attacks place it well but not every codec leaves their
// high frequencies; the plain sound may lock on to a period later. Where the two disagree the smaller
// answer is the true one.
func lag(a, b []float32) float64 {
	attacks, plain := correlate(rises(a), rises(b)), correlate(a, b)
	if math.Abs(plain) < math.Abs(attacks)-0.0005 {
		return plain
	}
	return attacks
}

// correlate is by how many seconds b is late against a, within ±80 ms, over the loudest second and a
// half.
func correlate(a, b []float32) float64 {
	const span, reach, step = 3 * RateHz / 2, 8 * RateHz / 100, 1
	best, bestAt := -1.0, 0
	for i := 0; i+span < len(a); i += RateHz / 2 {
		sum := 0.0
		for k := i; k < i+span; k += 16 {
			sum += float64(a[k]) * float64(a[k])
		}
		if sum > best {
			best, bestAt = sum, i
		}
	}
	top, topLag := 0.0, 0
	score := func(l, step int) float64 {
		dot, energy := 0.0, 1e-12
		for k := bestAt; k < bestAt+span; k += step {
			if j := k + l; j >= 0 && j < len(b) && k < len(a) {
				dot += float64(a[k]) * float64(b[j])
				energy += float64(b[j]) * float64(b[j])
			}
		}
		return dot / math.Sqrt(energy)
	}
	near, nearLag := 0.0, 0
	for l := -reach; l <= reach; l += step {
		v := score(l, 6)
		if v > top {
			top, topLag = v, l
		}
		if v > near && l >= -RateHz/200 && l <= RateHz/200 {
			near, nearLag = v, l
		}
	}
	if near > 0.98*top { // a held chord looks the same one period later: the nearer answer is the true one
		topLag = nearLag
	}
	top = 0
	centre := topLag
	for l := centre - 3; l <= centre+3; l++ {
		if s := score(l, 1); s > top {
			top, topLag = s, l
		}
	}
	return float64(topLag) / RateHz
}

// rises is the difference from sample to sample: it brings out attacks, where a held note would look
// the same one period later.
func rises(x []float32) []float32 {
	d := make([]float32, len(x))
	for i := 1; i < len(x); i++ {
		d[i] = x[i] - x[i-1]
	}
	return d
}

// wavFile is 16-bit PCM with a plain header.
func wavFile(x []float32, channels int) []byte {
	out := make([]byte, 44, 44+2*len(x))
	copy(out, "RIFF")
	binary.LittleEndian.PutUint32(out[4:], uint32(36+2*len(x)))
	copy(out[8:], "WAVEfmt ")
	binary.LittleEndian.PutUint32(out[16:], 16)
	binary.LittleEndian.PutUint16(out[20:], 1)
	binary.LittleEndian.PutUint16(out[22:], uint16(channels))
	binary.LittleEndian.PutUint32(out[24:], RateHz)
	binary.LittleEndian.PutUint32(out[28:], uint32(RateHz*2*channels))
	binary.LittleEndian.PutUint16(out[32:], uint16(2*channels))
	binary.LittleEndian.PutUint16(out[34:], 16)
	copy(out[36:], "data")
	binary.LittleEndian.PutUint32(out[40:], uint32(2*len(x)))
	for _, v := range x {
		out = binary.LittleEndian.AppendUint16(out, uint16(int16(clamp(float64(v)*32767, 32767))))
	}
	return out
}

// speak has espeak-ng say something; the result is at RateHz.
func speak(text, voice string, wordsPerMinute int) ([]float32, error) {
	f, err := os.CreateTemp("", "say-*.wav")
	if err != nil {
		return nil, err
	}
	f.Close()
	defer os.Remove(f.Name())
	if out, err := exec.Command("espeak-ng", "-v", voice, "-s", fmt.Sprint(wordsPerMinute), "-w", f.Name(), text).CombinedOutput(); err != nil {
		return nil, fmt.Errorf("espeak-ng: %w: %s", err, out)
	}
	return decode(f.Name())
}
