package rehearse

import (
	"fmt"
	"math"
	"strconv"

	"antiphon/internal/music"
)

// FromScore is a score as a piece that can be played: its notes on the grid of TicksPerQuarter. Repeats are
// not kept, nor are grace and cue notes. It fails on a score whose notes lie off the grid.
func FromScore(name string, s *music.Score) (Piece, error) {
	ticks := func(b music.Beats) (int, error) {
		t := b.Q() * TicksPerQuarter
		if math.Abs(t-math.Round(t)) > 1e-6 {
			return 0, fmt.Errorf("piece %s: %v quarters are no whole number of ticks of 1/%d", name, b, TicksPerQuarter)
		}
		return int(math.Round(t)), nil
	}
	bpm, _ := s.TempoAt(music.Beats{})
	p := Piece{Name: name, Title: s.Title, Kind: "score", Bpm: bpm, Beats: 4, BeatType: 4}
	for i, b := range s.Bars {
		at, err := ticks(b.Start)
		if err != nil {
			return p, err
		}
		length, err := ticks(b.Length)
		if err != nil {
			return p, err
		}
		number, err := strconv.Atoi(b.Number)
		if err != nil {
			number = i + 1
		}
		p.Bars = append(p.Bars, Bar{number, at, length})
		if len(b.Time.Parts) == 1 && i == 0 {
			p.Beats = int(math.Round(b.Time.Length().Q()))
		}
	}
	parts := map[string]int{}
	for _, n := range s.Sounding() {
		if n.Grace || n.Cue {
			continue
		}
		at, err := ticks(n.Onset)
		if err != nil {
			return p, err
		}
		length, err := ticks(n.Duration)
		if err != nil {
			return p, err
		}
		if parts[n.Part] == 0 {
			parts[n.Part] = len(parts) + 1
		}
		voice, err := strconv.Atoi(n.Voice)
		if err != nil {
			voice = 1
		}
		p.Notes = append(p.Notes, Note{At: at, Ticks: length, Midi: n.Midi, Bar: n.BarIndex, Part: parts[n.Part], Voice: voice, String: n.String, Fret: n.Fret, Rolled: n.Rolled})
	}
	p.giveStrings()
	return p, nil
}
