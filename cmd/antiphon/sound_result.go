package main

import (
	"encoding/json"
	"fmt"
	"io"
	"math"
	"strconv"
	"strings"

	"antiphon/internal/music"
	"antiphon/internal/sound"
)

func soundText(w io.Writer, path string, f sound.FileFormat, score *music.Score, m *sound.Audio, remarks []string) error {
	var b strings.Builder
	fmt.Fprintf(&b, "%s: %s", printable(path), clockText(m.Seconds()))
	if m.Looped && f != sound.AAC {
		b.WriteString(", goes round without a gap")
	}
	b.WriteString("\n")
	row := func(name, text string) { fmt.Fprintf(&b, "%-9s %s\n", name, printable(text)) }
	if t := score.Title; t != "" {
		row("Title", t)
	}
	var tempos []string
	for _, r := range m.Rungs {
		tempos = append(tempos, fmt.Sprintf("%s at %s", strconv.FormatFloat(tenth(r.Bpm), 'f', -1, 64), clockText(float64(r.Start)/sound.RateHz)))
	}
	if len(m.Rungs) == 1 {
		row("Tempo", fmt.Sprintf("%s = %s", beatName(m.Beat), strconv.FormatFloat(tenth(m.Rungs[0].Bpm), 'f', -1, 64)))
	} else {
		row("Tempos", beatName(m.Beat)+" = "+strings.Join(tempos, ", "))
	}
	bars := fmt.Sprintf("%d played", m.Rungs[0].Bars)
	if m.Looped {
		bars = fmt.Sprintf("%d that go round", m.Rungs[0].Bars)
	}
	row("Bars", bars)
	row("Begins", fmt.Sprintf("the music begins at %.3f s", float64(m.Rungs[0].Start)/sound.RateHz))
	if f != sound.MIDI {
		switch m.Guitar {
		case sound.Recorded:
			row("Guitar", "recorded notes of "+m.Font)
		case sound.Strings:
			row("Guitar", "our own strings")
		}
		row("Loudness", fmt.Sprintf("%.1f LUFS, true peak %.1f dB", m.Loudness.IntegratedLufs, m.Loudness.TruePeakDb))
	}
	for _, r := range append(m.Remarks, remarks...) {
		row("Note", r)
	}
	b.WriteString(moderate + "\n")
	_, err := io.WriteString(w, b.String())
	return err
}

func clockText(s float64) string {
	if s < 60 {
		return fmt.Sprintf("%.1f s", s)
	}
	n := int(math.Round(s))
	return fmt.Sprintf("%d:%02d", n/60, n%60)
}

// What was made, as JSON. Seconds are from the start of the file.
type (
	soundDocument struct {
		Schema    string          `json:"schema"`
		File      string          `json:"file"`
		Format    string          `json:"format"`
		Title     string          `json:"title"`
		DurationS float64         `json:"duration_s"`
		RateHz    int             `json:"rate_hz"`
		Loop      bool            `json:"loop"`
		BeatQ     float64         `json:"beat_unit_q"`
		Rungs     []rungJSON      `json:"rungs"`
		Guitar    string          `json:"guitar"`
		SoundFont string          `json:"sound_font,omitempty"`
		Loudness  *loudnessJSON   `json:"loudness"` // null of a MIDI file
		Clicks    []clickJSON     `json:"clicks"`
		Notes     []soundNoteJSON `json:"notes"`
		Remarks   []string        `json:"remarks"`
		Volume    string          `json:"volume"`
	}
	rungJSON struct {
		Bpm      float64 `json:"bpm"`
		CountInS float64 `json:"count_in_s"`
		StartS   float64 `json:"start_s"`
		EndS     float64 `json:"end_s"`
		Bars     int     `json:"bars"`
	}
	loudnessJSON struct {
		Lufs     float64  `json:"integrated_lufs"`
		PeakDb   float64  `json:"true_peak_dbtp"`
		MusicDb  *float64 `json:"music_momentary_max_lufs"`
		ClicksDb *float64 `json:"clicks_momentary_max_lufs"`
	}
	clickJSON struct {
		S       float64 `json:"s"`
		Accent  int     `json:"accent"` // 0 a beat, 1 a group, 2 a bar
		CountIn bool    `json:"count_in"`
	}
	soundNoteJSON struct {
		Note    string  `json:"note"`
		Player  int     `json:"player"`
		OnsetS  float64 `json:"onset_s"`
		OffsetS float64 `json:"offset_s"`
		Midi    int     `json:"midi"`
		Db      float64 `json:"db"`
	}
)

func soundJSON(w io.Writer, path string, f sound.FileFormat, score *music.Score, m *sound.Audio, remarks []string) error {
	at := func(n int) float64 { return math.Round(float64(n)/sound.RateHz*1e6) / 1e6 }
	finite := func(v float64) *float64 {
		if math.IsInf(v, 0) {
			return nil
		}
		v = math.Round(v*100) / 100
		return &v
	}
	d := soundDocument{Schema: "antiphon.sound/1", File: path, Format: string(f), Title: score.Title, DurationS: m.Seconds(), RateHz: sound.RateHz, Loop: m.Looped,
		BeatQ: m.Beat.Q(), Rungs: []rungJSON{}, Guitar: string(m.Guitar), SoundFont: m.Font, Clicks: []clickJSON{}, Notes: []soundNoteJSON{},
		Remarks: append(append([]string{}, m.Remarks...), remarks...), Volume: moderate,
	}
	if f != sound.MIDI {
		l := loudnessJSON{m.Loudness.IntegratedLufs, m.Loudness.TruePeakDb, finite(m.MusicDb), finite(m.ClickDb)}
		if math.IsInf(l.Lufs, 0) { // shorter than the meter's block
			l.Lufs = m.Loudness.MomentaryLufs
		}
		d.Loudness = &l
	}
	for _, r := range m.Rungs {
		d.Rungs = append(d.Rungs, rungJSON{r.Bpm, at(r.CountIn), at(r.Start), at(r.End), r.Bars})
	}
	for _, c := range m.Clicks {
		d.Clicks = append(d.Clicks, clickJSON{at(c.At), int(c.Accent), c.CountIn})
	}
	for _, n := range m.Notes {
		d.Notes = append(d.Notes, soundNoteJSON{n.Note, n.Player, at(n.At), at(n.Until), n.Midi, math.Round(n.Db*10) / 10})
	}
	return json.NewEncoder(w).Encode(d)
}
