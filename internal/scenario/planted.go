package scenario

import (
	"fmt"
	"io"
	"os"
	"path/filepath"
	"slices"

	"antiphon/internal/rehearse"
)

// plantedTake is Tilda’s: the tune with one wrong note, one left out, a stop in bar 11 and a start again
// from bar 9, on a guitar whose third string has gone flat.
func plantedTake(id string) rehearse.Spec {
	const bar = 4 * rehearse.TicksPerQuarter
	shown, played := auClair(), auClair()
	for i, n := range played.Notes {
		if n.Voice == 1 && n.At == 6*bar+bar/4 { // bar 7, second beat: F for E
			played.Notes[i].Midi, played.Notes[i].Fret = n.Midi+1, n.Fret+1
		}
	}
	played.Notes = slices.DeleteFunc(played.Notes, func(n rehearse.Note) bool { return n.Voice == 1 && n.At == 12*bar+3*bar/4 }) // bar 13, fourth beat
	return rehearse.Spec{
		ID: id, Seed: 20, Piece: played, Shown: &shown, Sources: []string{"timgm-nylon"},
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

// auClair is "Au clair de la lune" (French, eighteenth century), with a bass of our own on open
// strings and in first position.
func auClair() rehearse.Piece {
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

// Tilda makes her take and its score in a new folder, for a look at one hearing alone.
func Tilda(dir string) (take, score string, err error) {
	if err := os.MkdirAll(dir, 0o755); err != nil {
		return "", "", fmt.Errorf("scenario: %w", err)
	}
	spec := plantedTake("tilda-tuesday")
	path, _, done, err := NewRecorder(dir, false).Record(spec)
	if err != nil {
		return "", "", err
	}
	defer done()
	take, score = filepath.Join(dir, filepath.Base(path)), filepath.Join(dir, spec.Shown.Name+".musicxml")
	if err := os.WriteFile(score, []byte(spec.Shown.MusicXML()), 0o644); err != nil {
		return "", "", fmt.Errorf("scenario: %w", err)
	}
	from, err := os.Open(path)
	if err != nil {
		return "", "", fmt.Errorf("scenario: %w", err)
	}
	defer from.Close()
	to, err := os.Create(take)
	if err != nil {
		return "", "", fmt.Errorf("scenario: %w", err)
	}
	if _, err = io.Copy(to, from); err == nil {
		err = to.Close()
	}
	return take, score, err
}
