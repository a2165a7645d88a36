package main

import (
	"bufio"
	"bytes"
	"encoding/binary"
	"encoding/json"
	"fmt"
	"math"
	"os"
	"os/exec"
	"path/filepath"
	"strconv"
	"strings"
	"time"

	"antiphon/internal/rehearse"
)

// peer is a program that hears without a score, or an aligner, on the same files.
type peer struct {
	name  string
	tells string // what it can be measured by: "onsets", "notes", "places"
	rate  int    // the sample rate its defaults are made for
	hear  func(s rehearse.Spec, t rehearse.Truth, wav string) (rehearse.Marks, error)
}

// peers are run with their default settings; scripts is the folder of scripts/peers.
func peers(scripts string) []peer {
	return []peer{
		{"aubioonset -O hfc", "onsets", 44100, aubioOnsets},
		{"aubionotes", "notes", 44100, aubioNotes},
		{"basic-pitch (wasm)", "notes", 22050, basicPitch(scripts)},
		{"chroma + onset DTW, own", "places", 22050, chromaDTW},
	}
}

// wavFor decodes a take for the peers that want this rate.
func wavFor(dir string, t rehearse.Truth, rateHz int) (string, error) {
	wav := filepath.Join(dir, fmt.Sprintf("peer-%d.wav", rateHz))
	out, err := exec.Command("ffmpeg", "-nostdin", "-v", "error", "-y", "-i", filepath.Join(dir, "takes", t.Audio), "-vn", "-ac", "1", "-ar", strconv.Itoa(rateHz), wav).CombinedOutput()
	if err != nil {
		return "", fmt.Errorf("decoding %s: %w: %s", t.Audio, err, out)
	}
	return wav, nil
}

func run(name string, args ...string) ([]byte, float64, error) {
	begun := time.Now()
	var stderr bytes.Buffer
	cmd := exec.Command(name, args...)
	cmd.Stderr = &stderr
	out, err := cmd.Output()
	if err != nil {
		err = fmt.Errorf("%s: %w: %s", name, err, lastLine(stderr.Bytes()))
	}
	return out, time.Since(begun).Seconds(), err
}

// trueNotes are the played notes on the peers' own grid: the nearest semitone at A4 = 440 Hz, so that
// another tuning does not count against a program that was not told of it.
func trueNotes(t rehearse.Truth) (notes []rehearse.Heard, onsets []float64) {
	for _, n := range t.Notes {
		nearest := math.Round(float64(n.Midi) + 12*math.Log2(t.A4Hz/440))
		notes = append(notes, rehearse.Heard{OnsetS: n.OnsetS, Hz: hz(nearest)})
		onsets = append(onsets, n.OnsetS)
	}
	return notes, onsets
}

func hz(midi float64) float64 { return 440 * math.Exp2((midi-69)/12) }

func aubioOnsets(_ rehearse.Spec, t rehearse.Truth, wav string) (rehearse.Marks, error) {
	out, wall, err := run("aubioonset", "-O", "hfc", "-i", wav)
	if err != nil {
		return rehearse.Marks{}, err
	}
	var heard []float64
	for _, f := range strings.Fields(string(out)) {
		if v, err := strconv.ParseFloat(f, 64); err == nil {
			heard = append(heard, v)
		}
	}
	_, truth := trueNotes(t)
	return rehearse.Marks{Takes: 1, AudioS: t.DurationS, WallS: wall,
		Onsets50: rehearse.CountOnsets(truth, heard)}, nil
}

// notesHeard measures notes that a program without a score reports.
func notesHeard(t rehearse.Truth, heard []rehearse.Heard, wall float64) rehearse.Marks {
	truth, trueOnsets := trueNotes(t)
	onsets := make([]float64, len(heard))
	for i := range heard {
		onsets[i] = heard[i].OnsetS
	}
	count := func(tolS float64) rehearse.Counts {
		return rehearse.Counts{Found: rehearse.MatchNotes(truth, heard, tolS), True: len(truth), Reported: len(heard)}
	}
	return rehearse.Marks{Takes: 1, AudioS: t.DurationS, WallS: wall, Notes50: count(0.05), Notes25: count(0.025),
		Onsets50: rehearse.CountOnsets(trueOnsets, onsets)}
}

func aubioNotes(_ rehearse.Spec, t rehearse.Truth, wav string) (rehearse.Marks, error) {
	out, wall, err := run("aubionotes", "-i", wav)
	if err != nil {
		return rehearse.Marks{}, err
	}
	var heard []rehearse.Heard
	lines := bufio.NewScanner(bytes.NewReader(out))
	for lines.Scan() {
		f := strings.Fields(lines.Text())
		if len(f) != 3 { // the first and last lines are no notes
			continue
		}
		midi, err1 := strconv.ParseFloat(f[0], 64)
		onset, err2 := strconv.ParseFloat(f[1], 64)
		if err1 == nil && err2 == nil && midi > 0 {
			heard = append(heard, rehearse.Heard{OnsetS: onset, Hz: hz(midi)})
		}
	}
	return notesHeard(t, heard, wall), nil
}

func basicPitch(scripts string) func(rehearse.Spec, rehearse.Truth, string) (rehearse.Marks, error) {
	return func(_ rehearse.Spec, t rehearse.Truth, wav string) (rehearse.Marks, error) {
		x, err := readWav(wav)
		if err != nil {
			return rehearse.Marks{}, err
		}
		raw := wav + ".f32"
		defer os.Remove(raw)
		data := make([]byte, 0, 4*len(x))
		for _, v := range x {
			data = binary.LittleEndian.AppendUint32(data, math.Float32bits(v))
		}
		if err := os.WriteFile(raw, data, 0o644); err != nil {
			return rehearse.Marks{}, err
		}
		out, _, err := run("node", filepath.Join(scripts, "basic-pitch.mjs"), raw)
		if err != nil {
			return rehearse.Marks{}, err
		}
		var said struct {
			Seconds float64      `json:"seconds"`
			Notes   [][2]float64 `json:"notes"`
		}
		if err := json.Unmarshal(out, &said); err != nil {
			return rehearse.Marks{}, fmt.Errorf("basic-pitch: %w", err)
		}
		var heard []rehearse.Heard
		for _, n := range said.Notes {
			heard = append(heard, rehearse.Heard{OnsetS: n[0], Hz: hz(n[1])})
		}
		return notesHeard(t, heard, said.Seconds), nil
	}
}

func chromaDTW(s rehearse.Spec, t rehearse.Truth, wav string) (rehearse.Marks, error) {
	x, err := readWav(wav)
	if err != nil {
		return rehearse.Marks{}, err
	}
	begun := time.Now()
	onsets, notes, err := rehearse.ChromaDTW(x, 22050, s.ShownPiece())
	if err != nil {
		return rehearse.Marks{}, err
	}
	m := rehearse.JudgePlaces(t, onsets, notes)
	m.WallS = time.Since(begun).Seconds()
	return m, nil
}

// readWav reads 16-bit mono PCM as wavFor writes it: the data follow the word "data" and its length.
func readWav(path string) ([]float32, error) {
	b, err := os.ReadFile(path)
	if err != nil {
		return nil, err
	}
	i := bytes.Index(b, []byte("data"))
	if i < 0 {
		return nil, fmt.Errorf("%s: no data chunk", filepath.Base(path))
	}
	b = b[i+8:]
	x := make([]float32, len(b)/2)
	for k := range x {
		x[k] = float32(int16(binary.LittleEndian.Uint16(b[2*k:]))) / 32768
	}
	return x, nil
}
