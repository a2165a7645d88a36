package rehearse

import (
	"encoding/xml"
	"fmt"
	"strings"
)

// MusicXML writes the piece as MusicXML 4.0 partwise. It stands apart from package notation on
// purpose: a writer and a reader with the same mistake would agree with each other.
func (p Piece) MusicXML() string {
	var b strings.Builder
	b.WriteString("<?xml version=\"1.0\" encoding=\"UTF-8\"?>\n" +
		"<!DOCTYPE score-partwise PUBLIC \"-//Recordare//DTD MusicXML 4.0 Partwise//EN\" \"http://www.musicxml.org/dtds/partwise.dtd\">\n" +
		"<score-partwise version=\"4.0\">\n<work><work-title>")
	xml.EscapeText(&b, []byte(p.Title))
	b.WriteString("</work-title></work>\n<part-list>\n")
	parts := 1
	for _, n := range p.Notes {
		parts = max(parts, n.Part)
	}
	for part := 1; part <= parts; part++ {
		fmt.Fprintf(&b, "<score-part id=\"P%d\"><part-name>Guitar %d</part-name></score-part>\n", part, part)
	}
	b.WriteString("</part-list>\n")
	for part := 1; part <= parts; part++ {
		fmt.Fprintf(&b, "<part id=\"P%d\">\n", part)
		for i := range p.Bars {
			p.writeBar(&b, part, i)
		}
		b.WriteString("</part>\n")
	}
	b.WriteString("</score-partwise>\n")
	return b.String()
}

func (p Piece) writeBar(b *strings.Builder, part, index int) {
	bar := p.Bars[index]
	implicit := ""
	if bar.Number == 0 {
		implicit = " implicit=\"yes\""
	}
	fmt.Fprintf(b, "<measure number=\"%d\"%s>\n", bar.Number, implicit)
	p.writeLeftBarline(b, index)
	if index == 0 {
		octave := "<clef><sign>G</sign><line>2</line><clef-octave-change>-1</clef-octave-change></clef>"
		if p.Transposed {
			octave = "<clef><sign>G</sign><line>2</line></clef><transpose><diatonic>0</diatonic><chromatic>0</chromatic><octave-change>-1</octave-change></transpose>"
		}
		fmt.Fprintf(b, "<attributes><divisions>%d</divisions><key><fifths>%d</fifths></key><time><beats>%d</beats><beat-type>%d</beat-type></time>%s</attributes>\n",
			TicksPerQuarter, p.Fifths, p.Beats, p.BeatType, octave)
		unit, perMinute := "<beat-unit>quarter</beat-unit>", p.Bpm
		if p.BeatType == 8 {
			unit, perMinute = "<beat-unit>quarter</beat-unit><beat-unit-dot/>", p.Bpm/1.5
		}
		fmt.Fprintf(b, "<direction placement=\"above\"><direction-type><metronome>%s<per-minute>%.4g</per-minute></metronome></direction-type><sound tempo=\"%.4g\"/></direction>\n", unit, perMinute, p.Bpm)
	}
	first := true
	for voice := 1; voice <= 4; voice++ {
		var notes []Note
		for _, n := range p.Notes {
			if n.Part == part && n.Voice == voice && n.At < bar.At+bar.Ticks && n.At+n.Ticks > bar.At {
				notes = append(notes, n)
			}
		}
		if len(notes) == 0 {
			continue
		}
		if !first {
			fmt.Fprintf(b, "<backup><duration>%d</duration></backup>\n", bar.Ticks)
		}
		first = false
		p.writeVoice(b, bar, voice, notes)
	}
	if first {
		p.writeVoice(b, bar, part, nil)
	}
	for _, r := range p.Repeats {
		switch {
		case r.First >= 0 && index == r.To:
			b.WriteString("<barline location=\"right\"><bar-style>light-heavy</bar-style><ending number=\"1\" type=\"stop\"/><repeat direction=\"backward\"/></barline>\n")
		case index == r.To:
			b.WriteString("<barline location=\"right\"><bar-style>light-heavy</bar-style><repeat direction=\"backward\"/></barline>\n")
		case r.First >= 0 && index == r.Second:
			b.WriteString("<barline location=\"right\"><ending number=\"2\" type=\"discontinue\"/></barline>\n")
		}
	}
	b.WriteString("</measure>\n")
}

func (p Piece) writeLeftBarline(b *strings.Builder, index int) {
	for _, r := range p.Repeats {
		switch {
		case index == r.From:
			b.WriteString("<barline location=\"left\"><bar-style>heavy-light</bar-style><repeat direction=\"forward\"/></barline>\n")
		case r.First >= 0 && index == r.First:
			b.WriteString("<barline location=\"left\"><ending number=\"1\" type=\"start\"/></barline>\n")
		case r.First >= 0 && index == r.To+1:
			b.WriteString("<barline location=\"left\"><ending number=\"2\" type=\"start\"/></barline>\n")
		}
	}
}

// writeVoice writes one voice of one bar; notes that overlap the bar lines are tied.
func (p Piece) writeVoice(b *strings.Builder, bar Bar, voice int, notes []Note) {
	at := bar.At
	rest := func(until int) {
		for _, t := range pieces(until - at) {
			fmt.Fprintf(b, "<note><rest/><duration>%d</duration><voice>%d</voice>%s</note>\n", t, voice, typeOf(t))
		}
		at = until
	}
	for i := 0; i < len(notes); {
		start := max(notes[i].At, bar.At)
		j, end := i, min(notes[i].At+notes[i].Ticks, bar.At+bar.Ticks)
		for j < len(notes) && max(notes[j].At, bar.At) == start {
			j++
		}
		rest(start)
		spans := pieces(end - start)
		for s, t := range spans {
			for k := i; k < j; k++ {
				n := notes[k]
				from, to := n.At < bar.At || s > 0, n.At+n.Ticks > bar.At+bar.Ticks || s+1 < len(spans)
				p.writeNote(b, n, t, k > i, from, to)
			}
		}
		at, i = end, j
	}
	rest(bar.At + bar.Ticks)
}

func (p Piece) writeNote(b *strings.Builder, n Note, ticks int, chord, tiedFrom, tiedTo bool) {
	written := n.Midi
	if p.Transposed {
		written += 12
	}
	step, alter, octave := spell(written, p.Fifths)
	b.WriteString("<note>")
	if chord {
		b.WriteString("<chord/>")
	}
	fmt.Fprintf(b, "<pitch><step>%c</step>", step)
	if alter != 0 {
		fmt.Fprintf(b, "<alter>%d</alter>", alter)
	}
	fmt.Fprintf(b, "<octave>%d</octave></pitch><duration>%d</duration>", octave, ticks)
	if tiedFrom {
		b.WriteString("<tie type=\"stop\"/>")
	}
	if tiedTo {
		b.WriteString("<tie type=\"start\"/>")
	}
	fmt.Fprintf(b, "<voice>%d</voice>%s<notations>", n.Voice, typeOf(ticks))
	if tiedFrom {
		b.WriteString("<tied type=\"stop\"/>")
	}
	if tiedTo {
		b.WriteString("<tied type=\"start\"/>")
	}
	if n.String > 0 && !tiedFrom {
		fmt.Fprintf(b, "<technical><string>%d</string><fret>%d</fret></technical>", n.String, n.Fret)
	}
	if n.Rolled && !tiedFrom {
		b.WriteString("<arpeggiate/>")
	}
	b.WriteString("</notations></note>\n")
}

var noteTypes = []struct {
	ticks int
	name  string
	dots  int
}{{192, "whole", 0}, {144, "half", 1}, {96, "half", 0}, {72, "quarter", 1}, {48, "quarter", 0}, {36, "eighth", 1},
	{24, "eighth", 0}, {18, "16th", 1}, {12, "16th", 0}, {6, "32nd", 0}, {3, "64th", 0}}

// pieces splits a length into lengths that one note head can show; triplets stay whole.
func pieces(ticks int) []int {
	var out []int
	if ticks == 16 || ticks == 8 || ticks == 32 {
		return []int{ticks}
	}
	for _, t := range noteTypes {
		for ticks >= t.ticks {
			out, ticks = append(out, t.ticks), ticks-t.ticks
		}
	}
	if ticks > 0 {
		out = append(out, ticks)
	}
	return out
}

func typeOf(ticks int) string {
	switch ticks {
	case 32:
		return "<type>quarter</type><time-modification><actual-notes>3</actual-notes><normal-notes>2</normal-notes></time-modification>"
	case 16:
		return "<type>eighth</type><time-modification><actual-notes>3</actual-notes><normal-notes>2</normal-notes></time-modification>"
	case 8:
		return "<type>16th</type><time-modification><actual-notes>3</actual-notes><normal-notes>2</normal-notes></time-modification>"
	}
	for _, t := range noteTypes {
		if t.ticks == ticks {
			return "<type>" + t.name + "</type>" + strings.Repeat("<dot/>", t.dots)
		}
	}
	return ""
}

// spell names a MIDI pitch with sharps, or with flats in a flat key.
func spell(midi, fifths int) (step byte, alter, octave int) {
	octave = midi/12 - 1
	if fifths < 0 {
		i := midi % 12
		return "CDDEEFGGAABB"[i], [12]int{0, -1, 0, -1, 0, 0, -1, 0, -1, 0, -1, 0}[i], octave
	}
	i := midi % 12
	return "CCDDEFFGGAAB"[i], [12]int{0, 1, 0, 1, 0, 0, 1, 0, 1, 0, 1, 0}[i], octave
}
