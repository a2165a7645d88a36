package playable_test

import (
	"strconv"

	"antiphon/internal/music"
)

// n is a note of a test score: when, how long (quarters), what and with which marks.
type n struct {
	at, long  float64
	midi      int
	str, fret int // str 0: not marked; fret -1: not marked
	finger    string
	pluck     string
	stroke    music.Stroke
	voice     string
	more      func(*music.Note)
}

func beats(q float64) music.Beats { return music.Quarters(int64(q*960+.5), 960) }

// score of one part in 4/4 at a tempo; 0 states none.
func score(bpm float64, notes ...n) *music.Score {
	s := &music.Score{Parts: []music.Part{{ID: "P1", Staves: 1}}}
	if bpm > 0 {
		s.Tempos = []music.TempoMark{{Bpm: bpm, Unit: music.Quarters(1, 1)}}
	}
	for _, x := range notes {
		bar := int(x.at / 4)
		for len(s.Bars) <= bar {
			s.Bars = append(s.Bars, music.Bar{Number: strconv.Itoa(len(s.Bars) + 1), Start: music.Quarters(int64(4*len(s.Bars)), 1), Length: music.Quarters(4, 1)})
		}
		d := music.Note{Bar: bar, Start: beats(x.at), Duration: beats(x.long), Voice: x.voice, Staff: 1, Pitch: music.SpellMidi(x.midi, 0), String: x.str}
		if d.Voice == "" {
			d.Voice = "1"
		}
		if x.fret >= 0 && x.str > 0 {
			d.Fret, d.HasFret = x.fret, true
		}
		if x.finger != "" {
			d.Fingers = []music.Fingering{{Text: x.finger}}
		}
		if x.pluck != "" {
			d.Plucks = []string{x.pluck}
		}
		d.SetStroke(x.stroke)
		if x.more != nil {
			x.more(&d)
		}
		s.Parts[0].Notes = append(s.Parts[0].Notes, d)
	}
	return s
}

var openStrings = [...]int{0, 64, 59, 55, 50, 45, 40}

// grip is a chord: places like "5/3/3" (string/fret/finger), all at once for a bar.
func grip(at float64, places ...string) []n {
	var out []n
	for _, p := range places {
		str, fret, finger := int(p[0]-'0'), int(p[2]-'0'), string(p[4])
		out = append(out, n{at: at, long: 4, midi: openStrings[str] + fret, str: str, fret: fret, finger: finger})
	}
	return out
}
