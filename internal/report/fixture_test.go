package report

import (
	"bytes"
	"encoding/binary"
	"flag"
	"fmt"
	"math"
	"os"
	"path/filepath"
	"testing"

	"antiphon/internal/ear"
	"antiphon/internal/findings"
	"antiphon/internal/media"
	"antiphon/internal/music"
	"antiphon/internal/tone"
)

var update = flag.Bool("update", false, "rewrite testdata/*.golden")

// golden compares with a file of testdata; with -update it writes it.
func golden(t *testing.T, name string, got []byte) {
	t.Helper()
	path := filepath.Join("testdata", name)
	if *update {
		if err := os.WriteFile(path, got, 0o644); err != nil {
			t.Fatal(err)
		}
	}
	want, err := os.ReadFile(path)
	if err != nil {
		t.Fatalf("%v (go test -update writes it)", err)
	}
	if !bytes.Equal(got, want) {
		a, b := bytes.Split(got, []byte("\n")), bytes.Split(want, []byte("\n"))
		for i := range min(len(a), len(b)) {
			if !bytes.Equal(a[i], b[i]) {
				t.Fatalf("%s differs in line %d:\n got %s\nwant %s\n(go test -update rewrites it)", name, i+1, a[i], b[i])
			}
		}
		t.Fatalf("%s: %d lines, want %d", name, len(a), len(b))
	}
}

// fixture is a take of an invented piece of six bars in G with a pickup, played in two passes with a
// restart: once a wrong note, a missed one and an added one.
func fixture() Report {
	three := music.Time{Parts: []music.TimePart{{Beats: []int{3}, Unit: 4}}}
	s := &music.Score{Title: "Over the Hedge", Composer: "Traditional", Tempos: []music.TempoMark{{Bpm: 96, Unit: music.Quarters(1, 1)}},
		Bars: []music.Bar{{Number: "0", Length: music.Quarters(1, 1), Implicit: true, Time: three}}}
	p := music.Part{ID: "P1", Name: "Guitar", Attributes: []music.Attributes{{Key: &music.Key{Fifths: 1}}}}
	p.Notes = append(p.Notes, music.Note{Duration: music.Quarters(1, 1), Voice: "1", Staff: 1, Pitch: music.Pitch{Step: 'D', Octave: 4}, String: 2, Fret: 3, HasFret: true,
		Fingers: []music.Fingering{{Text: "4"}}, Plucks: []string{"i"}})
	tune := []music.Pitch{{Step: 'G', Octave: 4}, {Step: 'A', Octave: 4}, {Step: 'B', Octave: 4}, {Step: 'F', Alter: 1, Octave: 4}, {Step: 'E', Octave: 4}}
	bass := []music.Pitch{{Step: 'G', Octave: 2}, {Step: 'D', Octave: 3}, {Step: 'C', Octave: 3}}
	for bar := 1; bar <= 6; bar++ {
		start := music.Quarters(int64(3*bar-2), 1)
		s.Bars = append(s.Bars, music.Bar{Number: fmt.Sprint(bar), Start: start, Length: music.Quarters(3, 1), Time: three})
		for k := range 4 {
			at, long := music.Quarters(int64(k), 1), music.Quarters(1, 1)
			if k >= 2 { // the third beat in eighths
				at, long = music.Quarters(int64(2+k), 2), music.Quarters(1, 2)
			}
			p.Notes = append(p.Notes, music.Note{Bar: bar, Start: start.Add(at), Duration: long, Voice: "1", Staff: 1, Pitch: tune[(bar+2*k)%5]})
		}
		p.Notes = append(p.Notes, music.Note{Bar: bar, Start: start, Duration: music.Quarters(3, 1), Voice: "2", Staff: 1, Pitch: bass[bar%3], Plucks: []string{"p"}})
	}
	s.Parts = []music.Part{p}
	h := &ear.Hearing{DurationS: 24, A4Hz: 441.2, SNRDb: 31.5, Score: s.Sounding(), Match: 0.93,
		Tempo:    ear.Tempo{MedianBpm: 96.3, BeatUnitQ: 1, MarkedBpm: 96, SteadinessPct: 3.4, NPVI: 5.1},
		Dynamics: ear.Dynamics{RangeDb: 6, VoicesDb: []ear.VoiceLevel{{Part: "P1", Voice: "1", Db: 0.8, Notes: 36}, {Part: "P1", Voice: "2", Db: -2.4, Notes: 9}}},
		Tuning:   []ear.StringTuning{{String: 6, Cents: -2, SpreadC: 1, Notes: 5, Confidence: 0.7}, {String: 3, Cents: -14.2, SpreadC: 1.5, Notes: 8, Confidence: 0.8}}}
	play(h, 1, 0, 15, 1)
	play(h, 2, 11, len(h.Score), 11.5)
	h.Jumps = []ear.Jump{{Kind: ear.Restart, FromBar: "3", ToBar: "3", StopS: h.Passes[0].EndS, ResumeS: 11.5, Confidence: 0.9}}
	h.Passes[1].Complete = false
	wrong := &h.Played[8]
	wrong.Midi, wrong.Verdict, wrong.Cents = wrong.Midi+1, ear.Wrong, 4
	last := len(h.Played) - 6
	m := h.Played[last]
	h.Missed = []ear.Missed{{Note: m.Note, Pass: m.Pass, ExpectedS: m.OnsetS, Confidence: 0.8}}
	h.Played[last] = ear.Played{Note: -1, Pass: 2, OnsetS: m.OnsetS + 0.31, OffsetS: m.OnsetS + 0.5, Midi: 70, Verdict: ear.Extra, Confidence: 0.75, LevelDb: -3,
		Marks: []ear.Mark{{Kind: "buzz", Confidence: 0.4}}}
	touch := tone.Heard{Place: music.OverHole, Confidence: 0.97, R: 0.2, Brightness: 2.31, Notes: 21, Of: 40,
		Stretches: []tone.Stretch{
			{Pass: 1, FromBar: "1", ToBar: "2", From: 1, To: 2, StartS: 1.6, EndS: 4.2, Place: music.OverHole, Confidence: 0.97, R: 0.2, Brightness: 2.2, Notes: 9},
			{Pass: 2, FromBar: "3", ToBar: "4", From: 3, To: 4, StartS: 11.5, EndS: 15, Place: music.NearBridge, Confidence: 0.94, R: 0.09, Brightness: 3.1, Notes: 6, Lean: tone.ToBridge},
			{Pass: 2, FromBar: "5", ToBar: "5", From: 5, To: 5, StartS: 15.4, EndS: 16.8, Notes: 2}},
		ByNote: []tone.Note{{Played: 0, R: 0.212, Brightness: 2.4}}}
	return Report{Hearing: h, Score: s, Findings: findings.Of(h, s, findings.Options{}), Tone: touch, Meta: Meta{TakeFile: "tuesday.m4a", ScoreFile: "hedge.musicxml",
		Notes: []string{"One channel of the recording is silent; the other was heard."}, DecodeS: 0.21, AnalysisS: 0.4}}
}

// play adds a pass over notes [from,to) of a hearing that starts at second at, a little unevenly.
func play(h *ear.Hearing, pass, from, to int, at float64) {
	const perQ = 60 / 96.0
	first := h.Score[from].Onset
	bar := -1
	for i := from; i < to; i++ {
		w := h.Score[i]
		late := 0.012 * math.Sin(float64(3*i))
		s := at + perQ*w.Onset.Sub(first).Q() + late
		h.Played = append(h.Played, ear.Played{Note: i, Pass: pass, OnsetS: s, OffsetS: s + 0.9*perQ*w.Duration.Q(), Midi: w.Midi, Cents: 1, Verdict: ear.Right,
			TimingMs: 1000 * late, LevelDb: 4 * math.Cos(float64(i)), Confidence: 0.9 - 0.5*float64(i%7/6)})
		if w.BarIndex != bar {
			bar = w.BarIndex
			h.Tempo.Curve = append(h.Tempo.Curve, ear.TempoPoint{S: s, Bar: w.Bar, Bpm: 96 + 3*math.Sin(float64(i))})
		}
	}
	end := h.Played[len(h.Played)-1]
	h.Passes = append(h.Passes, ear.Pass{N: pass, FromBar: h.Score[from].Bar, ToBar: h.Score[to-1].Bar, StartS: at, EndS: end.OnsetS,
		Bpm: 96.3 - float64(pass), SteadinessPct: 2.6 + float64(pass)})
}

// swell is sound for the picture and the player: a slow swell, at 8 kHz.
func swell(seconds float64) media.PCM {
	p := media.PCM{RateHz: 8000, Samples: make([]float32, int(8000*seconds))}
	for i := range p.Samples {
		s := float64(i) / 8000
		p.Samples[i] = float32(0.4 * math.Sin(2*math.Pi*220*s) * math.Abs(math.Sin(s)))
	}
	return p
}

// wav is the sound as a WAV file (16-bit PCM, after the RIFF description of 1991), which every browser plays.
func wav(p media.PCM) []byte {
	var b bytes.Buffer
	n := uint32(2 * len(p.Samples))
	b.WriteString("RIFF")
	for _, v := range []any{36 + n, [8]byte([]byte("WAVEfmt ")), uint32(16), uint16(1), uint16(1), uint32(p.RateHz), uint32(2 * p.RateHz), uint16(2), uint16(16), [4]byte([]byte("data")), n} {
		binary.Write(&b, binary.LittleEndian, v)
	}
	for _, x := range p.Samples {
		binary.Write(&b, binary.LittleEndian, int16(32767*x))
	}
	return b.Bytes()
}
