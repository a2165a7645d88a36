package sound

import (
	"bytes"
	"context"
	"encoding/binary"
	"errors"
	"fmt"
	"math"
	"os"
	"os/exec"
	"path/filepath"
	"slices"
	"strings"
	"time"

	"antiphon/internal/cage"
	"antiphon/internal/notation"
)

// sampled is a recorded nylon guitar: FluidSynth plays each note that is needed once, and we put the
// notes where the score has them. FluidSynth's own sequencer places events to about a millisecond;
// this way every onset is on its sample, and the tempo cannot drift.
type sampled struct {
	font string // absolute, links resolved
	a4Hz float64
}

// fontFolders are where distributions put sound fonts; fontNames those preferred, best first. The
// large one of Debian's fluid-soundfont-gm is better and not needed.
func fontFolders() []string {
	return []string{"/usr/share/sounds/sf2", "/usr/share/soundfonts", "/usr/share/sounds/sf3", "/usr/local/share/soundfonts"}
}

func fontNames() []string {
	return []string{"FluidR3_GM.sf2", "FluidR3_GM.sf3", "default-GM.sf2", "default-GM.sf3", "TimGM6mb.sf2"}
}

// findFont gives the sound font to use, or "" where there is none.
func findFont() string {
	for _, name := range fontNames() {
		for _, dir := range fontFolders() {
			if real, ok := fontFile(filepath.Join(dir, name)); ok {
				return real
			}
		}
	}
	for _, dir := range fontFolders() {
		for _, pattern := range []string{"*.sf2", "*.sf3"} {
			list, err := filepath.Glob(filepath.Join(dir, pattern))
			if err != nil {
				continue // a malformed pattern, which these are not
			}
			for _, f := range list {
				if real, ok := fontFile(f); ok {
					return real
				}
			}
		}
	}
	return ""
}

func fontFile(path string) (real string, ok bool) {
	real, err := filepath.EvalSymlinks(path)
	if err != nil {
		return "", false
	}
	if real, err = filepath.Abs(real); err != nil {
		return "", false
	}
	st, err := os.Stat(real)
	return real, err == nil && st.Mode().IsRegular()
}

// isFont looks at the first bytes: a RIFF file of the form "sfbk".
func isFont(path string) bool {
	f, err := os.Open(path)
	if err != nil {
		return false
	}
	defer f.Close()
	var head [12]byte
	n, err := f.Read(head[:])
	return err == nil && n == 12 && string(head[:4]) == "RIFF" && string(head[8:]) == "sfbk"
}

// chooseGuitar takes what was asked for, and says what was taken instead where that is not there.
func chooseGuitar(p *performance, opt Options, a *Audio) (guitarist, error) {
	own := func(why string) (guitarist, error) {
		a.Guitar = Strings
		if why != "" {
			a.Remarks = append(a.Remarks, why)
		}
		return newPlucked(opt), nil
	}
	if opt.Guitar == Strings {
		return own("")
	}
	if opt.Guitar == AnyGuitar && p.toneWord {
		return own("Played on our own strings, since the score says where or how to pluck.")
	}
	if opt.Guitar == AnyGuitar && (opt.BridgeMm != 0 || opt.RestAll) {
		return own("Played on our own strings, since it is said where or how to pluck.")
	}
	font := findFont()
	if opt.Font != "" {
		real, ok := fontFile(opt.Font)
		if !ok || !isFont(real) {
			return nil, problem(BadFont, nil, "%s is no sound font: name a .sf2 or .sf3 file, or leave the setting out", opt.Font)
		}
		font = real
	}
	_, err := exec.LookPath("fluidsynth")
	asked := opt.Guitar == Recorded
	switch {
	case err != nil && asked:
		return nil, problem(NoTool, err, "FluidSynth is not installed, so no sound font can be played: run apt-get install fluidsynth, or choose the strings")
	case err != nil:
		return own("Played on our own strings, since FluidSynth is not installed.")
	case font == "" && asked:
		return nil, problem(NoTool, nil, "no sound font is installed: run apt-get install timgm6mb-soundfont, name one, or choose the strings")
	case font == "":
		return own("Played on our own strings, since no sound font is installed.")
	}
	a.Guitar, a.Font = Recorded, filepath.Base(font)
	return sampled{font, opt.a4Hz()}, nil
}

// The grid on which FluidSynth plays the notes: one after another, so that each can be cut out.
const (
	slotLeadS  = 0.05  // before each note
	slotGapS   = 0.35  // after it is let go
	longestNoS = 9.0   // a nylon string has died away by then
	softVel    = 80    // MIDI velocity of mezzo forte; FluidSynth's level goes with its square
	fluidGain  = "0.5" // leaves room for one loud note
)

// record plays the notes in one run of FluidSynth and cuts them apart.
func (f sampled) record(ctx context.Context, tones []tone, lengthN []int) ([]recording, error) {
	type key struct{ midi, velocity int }
	hold := map[key]float64{}
	keyOf := func(t tone) key {
		v := softVel * math.Pow(10, float64(t.layerDb)/40)
		if t.harmonic || t.slurred {
			v *= 0.8 // softer in colour
		}
		return key{min(max(t.midi, 0), 127), min(max(int(math.Round(v)), 1), 127)}
	}
	for i, t := range tones {
		hold[keyOf(t)] = min(longestNoS, max(hold[keyOf(t)], float64(lengthN[i])/RateHz))
	}
	var keys []key
	for k := range hold {
		keys = append(keys, k)
	}
	slices.SortFunc(keys, func(a, b key) int { return (a.midi-b.midi)*128 + a.velocity - b.velocity })
	var notes []notation.MIDINote
	at := map[key]float64{}
	now := slotLeadS
	for _, k := range keys {
		at[k] = now
		notes = append(notes, notation.MIDINote{OnsetS: now, OffsetS: now + hold[k], Midi: k.midi, Velocity: k.velocity})
		now += math.Ceil((hold[k]+slotGapS+slotLeadS)*20) / 20
	}
	notes = append(notes, notation.MIDINote{OnsetS: now + 1, OffsetS: now + 1.1, Midi: 60, Velocity: 1}) // keeps FluidSynth going
	raw, err := f.run(ctx, notes, now)
	if err != nil {
		return nil, err
	}
	cut := map[key]recording{}
	loud := false
	for _, k := range keys {
		from, to := samples(at[k]-slotLeadS), samples(at[k]+hold[k])
		if to > len(raw) {
			return nil, problem(BadFont, nil, "the sound font %s gave too little sound: try another", filepath.Base(f.font))
		}
		rec := cutNote(raw[from:to], music440(k.midi), f.a4Hz/440)
		loud = loud || rec.pcm != nil
		cut[k] = rec
	}
	if !loud {
		return nil, problem(BadFont, nil, "no note comes out of the sound font %s: try another, or choose the strings", filepath.Base(f.font))
	}
	out := make([]recording, len(tones))
	for i, t := range tones {
		out[i] = cut[keyOf(t)]
	}
	return out, nil
}

func music440(midi int) float64 { return 440 * math.Exp2(float64(midi-69)/12) }

// run gives the sound of one MIDI file, mixed to one channel.
func (f sampled) run(ctx context.Context, notes []notation.MIDINote, seconds float64) ([]float32, error) {
	dir, err := os.MkdirTemp("", "antiphon-")
	if err != nil {
		return nil, problem(Internal, err, "the guitar cannot be played (%v): make room for temporary files", err)
	}
	defer os.RemoveAll(dir)
	var mid bytes.Buffer
	if err := notation.WriteMIDINotes(&mid, notes, ""); err != nil {
		return nil, problem(Internal, err, "the guitar cannot be played (%v): report it", err)
	}
	in, out := filepath.Join(dir, "notes.mid"), filepath.Join(dir, "notes.raw")
	if err := os.WriteFile(in, mid.Bytes(), 0o600); err != nil {
		return nil, problem(Internal, err, "the guitar cannot be played (%v): make room for temporary files", err)
	}
	r, err := cage.Job{
		Program: "fluidsynth",
		// Without the setting it plays another font where ours cannot be read.
		Args: []string{"-n", "-i", "-q", "-o", "synth.default-soundfont=", "-R", "0", "-C", "0", "-g", fluidGain, "-r", fmt.Sprint(RateHz),
			"-O", "float", "-T", "raw", "-E", "little", "-F", out, f.font, in},
		Read:   []string{f.font},
		Write:  []string{dir},
		Limits: cage.Limits{Wall: 5 * time.Minute, MemoryBytes: 3 << 30, OutputBytes: 4 << 30},
	}.Run(ctx)
	switch {
	case errors.Is(err, cage.ErrNotInstalled):
		return nil, problem(NoTool, err, "FluidSynth is not installed, so no sound font can be played: run apt-get install fluidsynth, or choose the strings")
	case err != nil && ctx.Err() != nil:
		return nil, problem(Internal, err, "stopped while the guitar was played")
	case err != nil:
		return nil, problem(BadFont, err, "FluidSynth cannot play the sound font %s (%v): try another, or choose the strings", filepath.Base(f.font), err)
	}
	data, err := os.ReadFile(out)
	if err != nil || len(data) < samples(seconds)*8 {
		return nil, problem(BadFont, err, "FluidSynth made no sound from %s%s: try another, or choose the strings", filepath.Base(f.font), said(r.Stderr))
	}
	mono := make([]float32, len(data)/8)
	for i := range mono {
		l := math.Float32frombits(binary.LittleEndian.Uint32(data[8*i:]))
		r := math.Float32frombits(binary.LittleEndian.Uint32(data[8*i+4:]))
		mono[i] = (l + r) / 2
	}
	return mono, nil
}

// said is the first line of what a program complained about, for a sentence.
func said(stderr string) string {
	line, _, _ := strings.Cut(strings.TrimSpace(stderr), "\n")
	if line == "" {
		return ""
	}
	return " (" + line[:min(len(line), 120)] + ")"
}
