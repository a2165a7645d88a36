package main

import (
	"bytes"
	"context"
	"encoding/binary"
	"fmt"
	"math"
	"math/rand/v2"
	"os/exec"
	"path/filepath"
	"strings"

	"antiphon/internal/exercise"
	"antiphon/internal/media"
	"antiphon/internal/music"
	"antiphon/internal/notation"
	"antiphon/internal/rehearse"
	"antiphon/internal/sound"
)

// A place is a number here: 0 near the bridge, 1 over the hole, 2 over the neck. The words for it, and the
// distances in millimetres that package sound gives them.
func words() [3]string     { return [3]string{"sul ponticello", "naturale", "sul tasto"} }
func bridgeMm() [3]float64 { return [3]float64{55, 130, 210} }

// recording is what a phone or a messenger does to the sound.
type recording struct {
	name    string
	noiseDb float64 // of hiss and rumble against the playing; 0 none
	filter  string  // ffmpeg's
	args    []string
	ext     string
}

func recordings() []recording {
	return []recording{
		{"as played", 0, "anull", []string{"-c:a", "pcm_s16le"}, "wav"},
		{"phone, AAC 64", 0, "highpass=f=120:p=1,lowpass=f=9000:p=1,acompressor=threshold=0.1:ratio=3:attack=5:release=200", []string{"-c:a", "aac", "-b:a", "64k"}, "m4a"},
		{"browser, Opus 32", 0, "highpass=f=180:p=1,lowpass=f=7000:p=1", []string{"-c:a", "libopus", "-b:a", "32k"}, "webm"},
		{"noisy, AAC 48", -24, "highpass=f=100:p=1,lowpass=f=8000:p=1", []string{"-c:a", "aac", "-b:a", "48k"}, "m4a"},
		{"16 kHz, AAC 24", 0, "highpass=f=200:p=1", []string{"-ar", "16000", "-ac", "1", "-c:a", "aac", "-b:a", "24k"}, "m4a"},
		{"messenger, Opus 12", 0, "highpass=f=200:p=1,lowpass=f=6000:p=1", []string{"-c:a", "libopus", "-b:a", "12k", "-application", "voip"}, "ogg"},
	}
}

func (r recording) pass(ctx context.Context, x []float32, rate int, dir string, rng *rand.Rand) (media.PCM, error) {
	if r.noiseDb < 0 {
		addNoise(x, r.noiseDb, rng)
	}
	path := filepath.Join(dir, "take."+r.ext)
	var raw bytes.Buffer
	if err := binary.Write(&raw, binary.LittleEndian, x); err != nil {
		return media.PCM{}, err
	}
	args := []string{"-v", "error", "-y", "-f", "f32le", "-ar", fmt.Sprint(rate), "-ac", "1", "-i", "-", "-af", r.filter}
	cmd := exec.CommandContext(ctx, "ffmpeg", append(append(args, r.args...), path)...)
	cmd.Stdin = &raw
	if out, err := cmd.CombinedOutput(); err != nil {
		return media.PCM{}, fmt.Errorf("%s: %w: %s", r.name, err, out)
	}
	pcm, _, err := media.Decode(ctx, path, media.Options{})
	return pcm, err
}

// addNoise adds a room: hiss, and rumble below 350 Hz.
func addNoise(x []float32, levelDb float64, rng *rand.Rand) {
	power := 0.0
	for _, v := range x {
		power += float64(v) * float64(v)
	}
	amount := math.Sqrt(power/float64(max(1, len(x)))) * math.Pow(10, levelDb/20)
	low := 0.0
	for i := range x {
		w := rng.NormFloat64()
		low += 0.05 * (w - low)
		x[i] += float32(amount * (0.2*w + 1.3*low))
	}
}

// scores to be played: every other one an exercise, the others pieces drawn as those that the ear is judged on.
func scores(seed uint64, n int) ([]*music.Score, error) {
	keys := []string{"C major", "G major", "A minor", "E minor", "D major", "F major"}
	patterns := []string{"scale", "arpeggio", "scale", "thirds"}
	rng := rand.New(rand.NewPCG(seed, 1))
	recipe := rehearse.ReportSet(n)
	recipe.Seed = seed
	specs, err := rehearse.Draw(recipe)
	if err != nil {
		return nil, err
	}
	var out []*music.Score
	for i := range n {
		if i%2 == 0 {
			r := exercise.Recipe{Pattern: patterns[i/2%len(patterns)], Key: keys[rng.IntN(len(keys))], Rounds: 4, Tempo: 60 + float64(rng.IntN(40)), Rhythm: "eighths"}
			s, err := exercise.Compose(r)
			if err != nil {
				return nil, err
			}
			out = append(out, s)
			continue
		}
		p := specs[i].Piece
		s, _, err := notation.Read(strings.NewReader(p.MusicXML()), p.Name+".musicxml", notation.Limits{})
		if err != nil {
			return nil, err
		}
		s.Title = p.Kind + " " + p.Name
		out = append(out, s)
	}
	return out, nil
}

// plan says where to pluck each bar: a third of all takes at one place, the others in stretches of two to
// six bars.
func plan(bars int, rng *rand.Rand) []int {
	out := make([]int, bars)
	p, left := rng.IntN(3), 0
	if rng.IntN(3) == 0 {
		left = bars
	}
	for i := range out {
		if left == 0 {
			p, left = (p+1+rng.IntN(2))%3, 2+rng.IntN(5)
		}
		out[i], left = p, left-1
	}
	return out
}

// guitar is what plays.
type guitar struct {
	name  string
	font  string // recorded notes
	loops bool   // the strings of this package; else those of package sound
	roomy bool
}

func guitars() []guitar {
	const fonts = "/usr/share/sounds/sf2/"
	return []guitar{
		{name: "sum of partials"}, {name: "loops of delay", loops: true}, {name: "loops in a room", loops: true, roomy: true},
		{name: "TimGM6mb", font: fonts + "TimGM6mb.sf2"}, {name: "FluidR3", font: fonts + "FluidR3_GM.sf2"},
	}
}

// play plays a score with each bar plucked at its place, repeats left out.
func (g guitar) play(ctx context.Context, s *music.Score, where []int, rng *rand.Rand) (x []float32, rate int, err error) {
	if g.loops {
		return playLoops(ctx, s, where, g.roomy, rng)
	}
	said, opt := *s, sound.Options{Guitar: sound.Strings, Repeats: sound.Once}
	if g.font != "" {
		opt.Guitar, opt.Font = sound.Recorded, g.font
	} else {
		said.Parts = append([]music.Part{}, s.Parts...)
		for p := range said.Parts {
			said.Parts[p].Directions = append(said.Parts[p].Directions[:len(said.Parts[p].Directions):len(said.Parts[p].Directions)], marks(s, where)...)
		}
	}
	a, err := sound.Render(ctx, &said, opt)
	if err != nil {
		return nil, 0, err
	}
	x = make([]float32, len(a.Left))
	for i := range x {
		x[i] = (a.Left[i] + a.Right[i]) / 2
	}
	return x, sound.RateHz, nil
}

// marks are the words that say where to pluck.
func marks(s *music.Score, where []int) (out []music.Direction) {
	for b := range s.Bars {
		if b == 0 || where[b] != where[b-1] {
			out = append(out, music.Direction{Kind: music.Words, Text: words()[where[b]], At: s.Bars[b].Start, Bar: b})
		}
	}
	return out
}

// playLoops plays as people do: the beat wanders, every stroke is a little early or late, loud or soft, and
// lands some millimetres from where it was meant.
func playLoops(ctx context.Context, s *music.Score, where []int, roomy bool, rng *rand.Rand) ([]float32, int, error) {
	a, err := sound.Render(ctx, s, sound.Options{Silent: true, Repeats: sound.Once, Guitar: sound.Strings})
	if err != nil {
		return nil, 0, err
	}
	barOf := map[string]int{}
	for _, n := range s.Sounding() {
		barOf[n.ID] = n.BarIndex
	}
	var strokes []stroke
	drift, last := 0.0, 0.0
	for _, n := range a.Notes {
		drift = 0.9*drift + 0.004*rng.NormFloat64()
		str := n.String
		if str < 1 || str > 6 {
			for str = 1; str < 6 && n.Midi < openMidi[str]; str++ {
			}
		}
		st := stroke{onsetS: max(0, 0.3+float64(n.At)/sound.RateHz+drift+0.008*rng.NormFloat64()), untilS: 0.3 + float64(n.Until)/sound.RateHz,
			midi: n.Midi, str: str, db: n.Db + 2*rng.NormFloat64(), bridgeMm: bridgeMm()[where[barOf[n.Note]]] + 8*rng.NormFloat64()}
		strokes, last = append(strokes, st), max(last, st.untilS)
	}
	return newStrings(rng, roomy).play(strokes, last+0.5, rng), rateHz, nil
}
