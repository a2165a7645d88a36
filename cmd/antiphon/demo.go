package main

import (
	"fmt"
	"io"
	"os"
	"os/exec"
	"path/filepath"
	"slices"

	"antiphon/internal/rehearse"
)

// demoCmd makes a recording in an invented scenario, hears it and shows the result.
type demoCmd struct {
	Dir string `help:"Folder for the score, the recording and the page; a new temporary one where it is not given." placeholder:"FOLDER"`
}

// Help is what `antiphon demo --help` says below the usage line.
func (demoCmd) Help() string {
	return `Makes a recording of an invented child who plays a traditional tune on recorded guitar notes, hears it against its score,
prints the report and writes the page. Nothing else is needed and nothing leaves this machine.

Example:
  antiphon demo
  antiphon demo --dir first-look`
}

// Names of the files of the demo.
const (
	demoScore = "au-clair-de-la-lune.musicxml"
	demoTake  = "tilda-tuesday.m4a"
	demoPage  = "tilda-tuesday.html"
	demoMIDI  = "tilda-tuesday.mid"
)

// Run makes the recording and hears it.
func (c *demoCmd) Run(a *app) error {
	dir, err := c.folder()
	if err != nil {
		return err
	}
	at := func(name string) string { return filepath.Join(dir, name) }
	for _, name := range []string{demoScore, demoTake, demoPage, demoMIDI} {
		if _, err := os.Lstat(at(name)); err == nil {
			return fmt.Errorf("%s is there already and is not overwritten: give another --dir", at(name))
		}
	}
	fmt.Fprint(a.out, `Tilda Varga (invented) is nine and has been playing for a year. This week she was asked for
"Au clair de la lune" with its bass, at 88. On Tuesday her father recorded her with his phone.

`)
	if err := c.record(a, dir); err != nil {
		return err
	}
	hear := hearCmd{Take: at(demoTake), Score: at(demoScore), HTML: at(demoPage), MIDI: at(demoMIDI), MaxMinutes: 5}
	if err := hear.Run(a); err != nil {
		return err
	}
	_, err = fmt.Fprintf(a.out, `
The page to look at and listen to:  %s
The recording:                      %s
The score:                          %s
What was heard, as MIDI:            %s
`, printable(at(demoPage)), printable(at(demoTake)), printable(at(demoScore)), printable(at(demoMIDI)))
	return err
}

func (c *demoCmd) folder() (string, error) {
	if c.Dir == "" {
		dir, err := os.MkdirTemp("", "antiphon-demo-")
		if err != nil {
			return "", fmt.Errorf("no temporary folder can be made (%w): give a folder with --dir", cause(err))
		}
		return dir, nil
	}
	if err := os.MkdirAll(c.Dir, 0o755); err != nil {
		return "", fmt.Errorf("the folder %s cannot be made (%w): choose another --dir", c.Dir, cause(err))
	}
	return c.Dir, nil
}

// record plays the tune into a file as a phone would.
func (c *demoCmd) record(a *app, dir string) error {
	bar := newProgress(a, "making the recording")
	bar.at(0)
	defer bar.done()
	work, err := os.MkdirTemp("", "antiphon-demo-work-")
	if err != nil {
		return fmt.Errorf("no temporary folder can be made (%w): make room for temporary files", cause(err))
	}
	defer os.RemoveAll(work)
	banks := &rehearse.Banks{Cache: filepath.Join(work, "notes")}
	spec := demoSpec()
	if _, err := banks.Get(spec.Sources[0]); err != nil {
		fmt.Fprintln(a.err, "antiphon: there are no recorded guitar notes here, so the tune is played on modelled strings; for recorded ones run apt-get install fluidsynth timgm6mb-soundfont")
		spec.Sources = []string{"own-nylon"}
	}
	if _, err := exec.LookPath("espeak-ng"); err != nil { // nobody there to speak
		for i := range spec.Legs {
			spec.Legs[i].Say = ""
		}
	}
	truth, err := rehearse.Render(spec, banks, work)
	if err != nil {
		return fmt.Errorf("the recording could not be made (%w): run apt-get install ffmpeg espeak-ng fluidsynth timgm6mb-soundfont", err)
	}
	for from, to := range map[string]string{
		filepath.Join(work, "takes", truth.Audio):                  demoTake,
		filepath.Join(work, "scores", spec.Shown.Name+".musicxml"): demoScore,
	} {
		if err := copyWhole(from, filepath.Join(dir, to)); err != nil {
			return err
		}
	}
	return nil
}

func copyWhole(from, to string) error {
	f, err := os.Open(from)
	if err != nil {
		return fmt.Errorf("%s was not made (%w): try again", from, cause(err))
	}
	defer f.Close()
	return writeWhole(to, false, func(w io.Writer) error {
		_, err := io.Copy(w, f)
		return err
	})
}

// demoSpec is the take: the tune with one wrong note, one left out, a stop in bar 11 and a start again
// from bar 9, on a guitar whose third string has gone flat.
func demoSpec() rehearse.Spec {
	const bar = 4 * rehearse.TicksPerQuarter
	shown, played := demoTune(), demoTune()
	for i, n := range played.Notes {
		if n.Voice == 1 && n.At == 6*bar+bar/4 { // bar 7, second beat: F for E
			played.Notes[i].Midi, played.Notes[i].Fret = n.Midi+1, n.Fret+1
		}
	}
	played.Notes = slices.DeleteFunc(played.Notes, func(n rehearse.Note) bool { return n.Voice == 1 && n.At == 12*bar+3*bar/4 }) // bar 13, fourth beat
	return rehearse.Spec{
		ID: "tilda-tuesday", Seed: 20, Piece: played, Shown: &shown, Sources: []string{"timgm-nylon"},
		Legs: []rehearse.Leg{
			{FromTick: 0, ToTick: 10*bar + bar/2, Ratio: 1},
			{FromTick: 8 * bar, ToTick: 16 * bar, Jump: "restart", GapS: 2.6, Ratio: 1, Say: "Oh. Once more from there."},
		},
		Manner: rehearse.Manner{Tempo: 0.93, Drift: 0.012, JitterS: 0.009, SpreadDb: 1.5, Accents: true, LeadInS: 1.1, RollS: [2]float64{0.004, 0.02}},
		Tuning: rehearse.Tuning{A4Hz: 440, Cents: map[string]float64{"1": 1, "2": -1, "3": -16, "4": 2, "5": 0, "6": -2}},
		Room:   rehearse.Room{DecayS: 0.35, Wet: 0.15, SizeM: 3},
		Noises: rehearse.Noises{HissDb: -52, HumDb: -200, FanDb: -200},
		Phone:  rehearse.Phone{Name: "phone", LowHz: 90, HighHz: 10000, Compress: 0.15, Peak: 0.6, SecondChannelDb: -200},
		Codec:  rehearse.Codec{Name: "aac96", Ext: "m4a", Args: []string{"-c:a", "aac", "-b:a", "96k"}},
		TalkDb: -6,
	}
}

// demoTune is "Au clair de la lune" (French, eighteenth century), with a bass of our own on open
// strings and in first position.
func demoTune() rehearse.Piece {
	type tone struct{ midi, quarters int }
	first := [][]tone{{{60, 1}, {60, 1}, {60, 1}, {62, 1}}, {{64, 2}, {62, 2}}, {{60, 1}, {64, 1}, {62, 1}, {62, 1}}, {{60, 4}}}
	under := [][]tone{{{48, 4}}, {{48, 2}, {43, 2}}, {{48, 2}, {43, 2}}, {{48, 4}}}
	middle := [][]tone{{{62, 1}, {62, 1}, {62, 1}, {62, 1}}, {{57, 2}, {57, 2}}, {{62, 1}, {60, 1}, {59, 1}, {57, 1}}, {{55, 4}}}
	below := [][]tone{{{43, 4}}, {{50, 2}, {45, 2}}, {{50, 4}}, {{43, 4}}}
	melody := slices.Concat(first, first, middle, first)
	bass := slices.Concat(under, under, below, under)

	p := rehearse.Piece{Name: "au-clair-de-la-lune", Title: "Au clair de la lune", Kind: "two-voice", Bpm: 88, Beats: 4, BeatType: 4}
	const q = rehearse.TicksPerQuarter
	for i := range melody {
		p.Bars = append(p.Bars, rehearse.Bar{Number: i + 1, At: 4 * q * i, Ticks: 4 * q})
		for voice, line := range [][]tone{melody[i], bass[i]} {
			at := 4 * q * i
			for _, t := range line {
				n := rehearse.Note{At: at, Ticks: t.quarters * q, Midi: t.midi, Bar: i, Part: 1, Voice: voice + 1}
				n.String, n.Fret = firstPosition(t.midi)
				p.Notes = append(p.Notes, n)
				at += t.quarters * q
			}
		}
	}
	slices.SortStableFunc(p.Notes, func(a, b rehearse.Note) int {
		if a.At != b.At {
			return a.At - b.At
		}
		return a.Midi - b.Midi
	})
	return p
}

// firstPosition is the highest string that has a pitch, and its fret.
func firstPosition(midi int) (str, fret int) {
	for i, open := range []int{64, 59, 55, 50, 45, 40} {
		if midi >= open {
			return i + 1, midi - open
		}
	}
	return 6, 0
}
