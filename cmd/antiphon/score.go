package main

import (
	"bufio"
	"encoding/json"
	"fmt"
	"io"
	"strconv"
	"strings"

	"antiphon/internal/music"
	"antiphon/internal/notation"
	"antiphon/internal/report"
)

// scoreCmd shows what was read from a score.
type scoreCmd struct {
	File string `arg:"" help:"The score: MusicXML (.musicxml, .mxl), MIDI or ABC." type:"path"`
	JSON bool   `name:"json" help:"Print the score for programs (antiphon.score/1) instead of the text."`
}

// Help is what `antiphon score --help` says below the usage line.
func (scoreCmd) Help() string {
	return `Shows a score as Antiphon understands it: title, parts, bars, the order in which they are played, tempo, key, time,
every note that is to sound, and what in the file was not as the standard has it.

Example:
  antiphon score tune.musicxml
  antiphon score tune.mxl --json`
}

// Run reads the score and prints it.
func (c *scoreCmd) Run(a *app) error {
	s, forgiven, err := notation.ReadFile(c.File, notation.Limits{})
	if err != nil {
		return err
	}
	out := bufio.NewWriter(a.out)
	if c.JSON {
		err = scoreJSON(out, s, forgiven)
	} else {
		scoreText(out, s, forgiven)
	}
	if err == nil {
		err = out.Flush()
	}
	if err != nil {
		return fmt.Errorf("the score could not be printed (%w)", err)
	}
	return nil
}

// The score as JSON. Notes are those of the hearing's contract.
type (
	scoreDocument struct {
		Schema    string        `json:"schema"`
		Title     string        `json:"title"`
		Composer  string        `json:"composer"`
		Bars      int           `json:"bars"`
		Parts     []partJSON    `json:"parts"`
		Performed []stretchJSON `json:"performed"`
		TempoBpm  *float64      `json:"tempo_quarter_bpm"` // at the start; null where the score has no mark
		Notes     []report.Note `json:"notes"`
		Forgiven  []string      `json:"forgiven"`
	}
	partJSON struct {
		ID   string `json:"id"`
		Name string `json:"name"`
	}
	stretchJSON struct {
		FromBar string `json:"from_bar"`
		ToBar   string `json:"to_bar"`
	}
)

func scoreJSON(w io.Writer, s *music.Score, forgiven []notation.Forgiven) error {
	d := scoreDocument{Schema: "antiphon.score/1", Title: s.Title, Composer: s.Composer, Bars: len(s.Bars), Parts: []partJSON{}, Performed: []stretchJSON{},
		Notes: report.Notes(s.Sounding()), Forgiven: []string{}}
	for _, p := range s.Parts {
		d.Parts = append(d.Parts, partJSON{p.ID, p.Name})
	}
	for _, st := range s.Performed() {
		d.Performed = append(d.Performed, stretchJSON{s.Bars[st.From].Number, s.Bars[st.To].Number})
	}
	if q, marked := s.TempoAt(music.Beats{}); marked {
		d.TempoBpm = &q
	}
	for _, f := range forgiven {
		d.Forgiven = append(d.Forgiven, f.String())
	}
	return json.NewEncoder(w).Encode(d)
}

func scoreText(w io.Writer, s *music.Score, forgiven []notation.Forgiven) {
	title := s.Title
	if title == "" {
		title = "Without a title"
	}
	fmt.Fprintln(w, printable(title))
	for _, t := range []string{s.Subtitle, s.Composer} {
		if t != "" {
			fmt.Fprintln(w, printable(t))
		}
	}
	fmt.Fprintln(w)
	notes := s.Sounding()
	row := func(name, text string) { fmt.Fprintf(w, "%-9s %s\n", name, printable(text)) }
	row("Parts", partsInWords(s))
	row("Bars", barsInWords(s))
	row("Played", performedInWords(s))
	row("Tempo", tempoInWords(s))
	row("Key", keyInWords(s))
	row("Time", timeInWords(s))
	row("Notes", notesInWords(notes))
	for i, f := range forgiven {
		name := ""
		if i == 0 {
			name = "Forgiven"
		}
		row(name, f.String())
	}
	if len(notes) > 0 {
		fmt.Fprintln(w)
		noteTable(w, s, notes)
	}
}

func partsInWords(s *music.Score) string {
	var out []string
	for _, p := range s.Parts {
		t := p.ID
		if p.Name != "" {
			t += " " + p.Name
		}
		if p.Staves > 1 {
			t += fmt.Sprintf(" (%d staves)", p.Staves)
		}
		out = append(out, t)
	}
	return strings.Join(out, ", ")
}

func barsInWords(s *music.Score) string {
	n := len(s.Bars)
	if n == 0 {
		return "none"
	}
	t := fmt.Sprintf("%d, numbered %s", n, numbers(s, 0, n-1))
	if first := s.Bars[0]; first.Length.Less(first.Time.Length()) && n > 1 {
		t += fmt.Sprintf("; begins with a pickup of %s", beatsInWords(first.Length))
	}
	return t
}

// numbers is "3" or "3–8", as printed in the score.
func numbers(s *music.Score, from, to int) string {
	if from == to {
		return s.Bars[from].Number
	}
	return s.Bars[from].Number + "–" + s.Bars[to].Number
}

// performedInWords is "bars 1–8, again 1–8, 9–16"; what is played more than twice on end is counted.
func performedInWords(s *music.Score) string {
	list := s.Performed()
	var out []string
	reached := -1
	for i := 0; i < len(list); {
		st, times := list[i], 1
		for i+times < len(list) && list[i+times] == st {
			times++
		}
		if times == 2 {
			times = 1
		}
		t := numbers(s, st.From, st.To)
		switch {
		case i == 0 && st.From == st.To:
			t = "bar " + t
		case i == 0:
			t = "bars " + t
		case st.From <= reached:
			t = "again " + t
		}
		if times > 1 {
			t += fmt.Sprintf(" (%d times)", times)
		}
		out = append(out, t)
		reached = max(reached, st.To)
		i += times
	}
	return strings.Join(out, ", ")
}

func tempoInWords(s *music.Score) string {
	if len(s.Tempos) == 0 {
		return fmt.Sprintf("no mark; %d quarter notes a minute where one is needed", music.DefaultQuarterBpm)
	}
	var out []string
	for i, t := range s.Tempos {
		text := fmt.Sprintf("%s = %s", beatName(t.Unit), strconv.FormatFloat(t.Bpm, 'f', -1, 64))
		if f := strconv.FormatFloat(t.Bpm, 'f', 2, 64); len(f) < len(strconv.FormatFloat(t.Bpm, 'f', -1, 64)) {
			text = fmt.Sprintf("%s = %s", beatName(t.Unit), f)
		}
		if t.Silent {
			text += " (not printed)"
		}
		if i > 0 {
			text += " from bar " + s.Bars[max(s.BarAt(t.At), 0)].Number
		}
		out = append(out, text)
	}
	return several(out)
}

// mostChanges of tempo, key or time that are named one by one.
const mostChanges = 8

func several(list []string) string {
	if n := len(list); n > mostChanges {
		list = append(list[:mostChanges:mostChanges], fmt.Sprintf("and %d more changes", n-mostChanges))
	}
	return strings.Join(list, "; ")
}

// beatName is a length as the note that has it.
func beatName(b music.Beats) string {
	names := map[string]string{"4": "whole", "2": "half", "1": "quarter", "1/2": "eighth", "1/4": "sixteenth", "6": "dotted whole", "3": "dotted half",
		"3/2": "dotted quarter", "3/4": "dotted eighth", "3/8": "dotted sixteenth"}
	if n, ok := names[b.String()]; ok {
		return n
	}
	return b.String() + " quarters"
}

func beatsInWords(b music.Beats) string {
	if b.String() == "1" {
		return "1 quarter"
	}
	return b.String() + " quarters"
}

// changes lists what pick finds in the attributes of the first part that has any, each with its bar.
func changes(s *music.Score, pick func(music.Attributes) string) []string {
	for _, p := range s.Parts {
		var out []string
		last := ""
		for _, a := range p.Attributes {
			t := pick(a)
			if t == "" || t == last || a.Bar >= len(s.Bars) {
				continue
			}
			last = t
			if len(out) > 0 {
				t += " from bar " + s.Bars[a.Bar].Number
			}
			out = append(out, t)
		}
		if len(out) > 0 {
			return out
		}
	}
	return nil
}

func keyInWords(s *music.Score) string {
	list := changes(s, func(a music.Attributes) string {
		if a.Key == nil {
			return ""
		}
		return keyName(*a.Key)
	})
	if list == nil {
		return "no key signature"
	}
	return several(list)
}

// keyName is "D major (2 sharps)".
func keyName(k music.Key) string {
	signs := "no sharps or flats"
	switch n := k.Fifths; {
	case n == 1:
		signs = "1 sharp"
	case n > 1:
		signs = fmt.Sprintf("%d sharps", n)
	case n == -1:
		signs = "1 flat"
	case n < -1:
		signs = fmt.Sprintf("%d flats", -n)
	}
	const line = "FCGDAEB" // of fifths, C at 1
	at := map[string]int{"major": 1, "minor": 4, "dorian": 3, "mixolydian": 2, "phrygian": 5, "lydian": 0, "locrian": 6}
	place, known := at[k.Mode]
	if !known {
		return signs
	}
	place += k.Fifths
	name := string(line[((place%7)+7)%7])
	switch {
	case place > 6:
		name += "#"
	case place < 0:
		name += "b"
	}
	return fmt.Sprintf("%s %s (%s)", name, k.Mode, signs)
}

func timeInWords(s *music.Score) string {
	list := changes(s, func(a music.Attributes) string {
		if a.Time == nil {
			return ""
		}
		var parts []string
		for _, p := range a.Time.Parts {
			var beats []string
			for _, b := range p.Beats {
				beats = append(beats, strconv.Itoa(b))
			}
			parts = append(parts, strings.Join(beats, "+")+"/"+strconv.Itoa(p.Unit))
		}
		if len(parts) == 0 {
			return "free"
		}
		return strings.Join(parts, " + ")
	})
	if list == nil {
		return "no time signature"
	}
	return several(list)
}

func notesInWords(notes []music.Sounding) string {
	if len(notes) == 0 {
		return "none that has a pitch"
	}
	low, high := notes[0], notes[0]
	fingered, placed := 0, 0
	for _, n := range notes {
		if n.Midi < low.Midi {
			low = n
		}
		if n.Midi > high.Midi {
			high = n
		}
		if n.Finger != "" || n.Pluck != "" {
			fingered++
		}
		if n.String > 0 {
			placed++
		}
	}
	t := fmt.Sprintf("%d, from %s to %s", len(notes), low.Name, high.Name)
	if placed > 0 {
		t += fmt.Sprintf("; %d with a string", placed)
	}
	if fingered > 0 {
		t += fmt.Sprintf("; %d with a finger", fingered)
	}
	return t
}

// noteTable lists the notes. "At" is the place in the bar in quarters, from 1.
func noteTable(w io.Writer, s *music.Score, notes []music.Sounding) {
	fmt.Fprintf(w, "%-7s %-6s %-6s %-6s %-7s %-8s %-6s %-6s %-5s %s\n", "Note", "Part", "Voice", "Bar", "At", "Quarters", "Pitch", "String", "Fret", "Marks")
	for _, n := range notes {
		str, fret := "", ""
		if n.String > 0 {
			str = strconv.Itoa(n.String)
		}
		if n.Fret >= 0 {
			fret = strconv.Itoa(n.Fret)
		}
		at := n.Onset.Sub(s.Bars[n.BarIndex].Start).Add(music.Quarters(1, 1))
		fields := []any{n.ID, printable(n.Part), printable(n.Voice), printable(n.Bar), mixed(at), mixed(n.Duration), n.Name, str, fret, printable(marksInWords(n))}
		fmt.Fprintln(w, strings.TrimRight(fmt.Sprintf("%-7s %-6s %-6s %-6s %-7s %-8s %-6s %-6s %-5s %s", fields...), " "))
	}
}

// mixed is an exact number as people write it: "2", "1/2", "2 1/2".
func mixed(b music.Beats) string {
	num, den := b.Fraction()
	if den == 1 || num < den {
		return b.String()
	}
	return fmt.Sprintf("%d %d/%d", num/den, num%den, den)
}

func marksInWords(n music.Sounding) string {
	var out []string
	add := func(said bool, t string) {
		if said {
			out = append(out, t)
		}
	}
	add(n.Finger != "", "finger "+n.Finger)
	add(n.Pluck != "", n.Pluck)
	add(n.Grace, "grace")
	add(n.Cue, "cue")
	add(n.Rolled, "rolled")
	add(n.Slurred, "slurred")
	add(n.Tremolo > 0, "tremolo")
	add(n.Dynamic != "", n.Dynamic)
	return strings.Join(out, ", ")
}
