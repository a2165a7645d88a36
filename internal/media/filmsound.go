package media

import (
	"bufio"
	"bytes"
	"context"
	"encoding/binary"
	"image"
	"image/color"
	"image/png"
	"io"
	"math"
	"os"
	"strconv"
	"strings"

	"antiphon/internal/dsp"
)

// Loudness of a film. Every item is brought to one integrated loudness (ITU-R BS.1770, one channel) by one
// gain, so that what is soft and loud within an item stays so. As loud as speech on phones wants (AES
// TD1008: −18 LUFS; from memory), but no item's peaks may come above −1.5 dBTP; where one would, all come
// down together, at most to the −23 LUFS of EBU R 128. An item with still sharper peaks stays softer.
const (
	loudestLufs  = -18.0
	softestLufs  = -23.0
	filmPeakDb   = -1.5 // a coder adds up to about half a dB
	mostRaiseDb  = 30.0 // an item that is softer still is next to silence
	edgeS        = 0.012
	soundingLufs = -60.0
)

func (s *scene) measure(pcm PCM) error {
	l, err := dsp.MeasureLoudness([][]float32{pcm.Samples}, pcm.RateHz)
	if err != nil {
		return err
	}
	if s.lufs = l.IntegratedLufs; math.IsInf(s.lufs, -1) {
		s.lufs = l.MomentaryLufs // shorter than the meter's block
	}
	s.peakDb = l.TruePeakDb
	return nil
}

// evened gives each scene its gain, and the loudness that they meet at.
func evened(scenes []scene) (target float64, gains []float32) {
	target = math.Inf(-1)
	for _, s := range scenes {
		if s.lufs < soundingLufs || math.IsInf(s.lufs, -1) {
			continue
		}
		can := s.lufs + min(filmPeakDb-s.peakDb, mostRaiseDb)
		if math.IsInf(target, -1) {
			target = loudestLufs
		}
		target = max(softestLufs, min(target, can))
	}
	for _, s := range scenes {
		db := 0.0
		if s.lufs >= soundingLufs {
			db = min(target-s.lufs, filmPeakDb-s.peakDb, mostRaiseDb)
		}
		gains = append(gains, float32(math.Pow(10, db/20)))
	}
	return target, gains
}

// reel reads the sound of all scenes behind each other, as little-endian float32, each with its gain, with
// soft edges, and with silence to its end.
type reel struct {
	scenes []scene
	gains  []float32
	i      int // the scene
	at     int // its next sample
	file   *os.File
	from   *bufio.Reader
	fault  error
	rest   []byte // of a sample that did not fit
}

func (r *reel) Read(b []byte) (int, error) {
	n := copy(b, r.rest)
	r.rest = r.rest[n:]
	var one [4]byte
	for n < len(b) {
		v, ok := r.next()
		if !ok {
			if n > 0 && r.fault == nil {
				return n, nil
			}
			if r.fault != nil {
				return n, r.fault
			}
			return n, io.EOF
		}
		binary.LittleEndian.PutUint32(one[:], math.Float32bits(v))
		c := copy(b[n:], one[:])
		n += c
		r.rest = append(r.rest[:0], one[c:]...)
	}
	return n, nil
}

func (r *reel) next() (float32, bool) {
	for r.i < len(r.scenes) && r.at == r.scenes[r.i].frames*samplesAFrame {
		r.close()
		r.i, r.at = r.i+1, 0
	}
	if r.i == len(r.scenes) || r.fault != nil {
		return 0, false
	}
	s := &r.scenes[r.i]
	at := r.at
	r.at++
	if at >= s.samples || s.sound == "" {
		return 0, true
	}
	if r.file == nil {
		if r.file, r.fault = os.Open(s.sound); r.fault != nil {
			return 0, false
		}
		r.from = bufio.NewReaderSize(r.file, 1<<18)
	}
	var one [4]byte
	if _, r.fault = io.ReadFull(r.from, one[:]); r.fault != nil {
		return 0, false
	}
	const edge = edgeS * filmRateHz
	soft := min(1, float32(at)/edge, float32(min(s.samples, s.frames*samplesAFrame)-1-at)/edge)
	return math.Float32frombits(binary.LittleEndian.Uint32(one[:])) * r.gains[r.i] * soft, true
}

func (r *reel) close() {
	if r.file != nil {
		r.file.Close() // only read
		r.file = nil
	}
}

// plainPaper is a card without words.
func plainPaper(width, height int) ([]byte, error) {
	img := image.NewPaletted(image.Rect(0, 0, width, height), color.Palette{color.RGBA{0xf7, 0xf4, 0xec, 0xff}})
	var b bytes.Buffer
	err := png.Encode(&b, img)
	return b.Bytes(), err
}

// shownSize is a picture's width and height as a player shows it: turned as the recording says, its points square.
func shownSize(ctx context.Context, path string, t Tracks, opt Options) ([2]int, error) {
	abs, err := look(path, opt)
	if err != nil {
		return [2]int{}, err
	}
	var p struct {
		Streams []struct {
			Index int    `json:"index"`
			SAR   string `json:"sample_aspect_ratio"`
			Side  []struct {
				Rotation float64 `json:"rotation"`
			} `json:"side_data_list"`
		} `json:"streams"`
	}
	if err := askProbe(ctx, abs, path, "stream=index,sample_aspect_ratio:stream_side_data=rotation", &p); err != nil {
		return [2]int{}, err
	}
	w, h := t.Width, t.Height
	for _, s := range p.Streams {
		if s.Index != t.videoIdx {
			continue
		}
		if num, den, ok := ratio(s.SAR); ok {
			w = max(2, int(math.Round(float64(w)*num/den)))
		}
		for _, d := range s.Side {
			if turn := math.Mod(math.Abs(d.Rotation), 180); turn > 45 && turn < 135 {
				w, h = h, w
				break
			}
		}
	}
	return [2]int{max(2, w), max(2, h)}, nil
}

// ratio reads "16:11"; one that no picture has is none.
func ratio(s string) (num, den float64, ok bool) {
	a, b, found := strings.Cut(s, ":")
	num, err1 := strconv.ParseFloat(a, 64)
	den, err2 := strconv.ParseFloat(b, 64)
	return num, den, found && err1 == nil && err2 == nil && num > 0 && den > 0 && num/den > 0.2 && num/den < 5
}
