package main

import (
	"strings"

	"antiphon/internal/guitar"
	"antiphon/internal/hands/grip"
)

// Editors print a finger where it is not obvious, so that a model of printed marks alone comes to
// prefer what is not obvious. The rules below stand for what is left unprinted: in first position the
// finger is the fret, and the open chords are taken as every method takes them. Common practice, no
// source for each.

// ruled lists what is taught beside the printed fingerings. Strings are not taught: where print names
// one, it is for a place off the first position.
func ruled() []*part {
	var out []*part
	for _, key := range []int{0, 7, 2, 9, 5, 10, 4} { // C G D A F B♭ E
		for _, longQ := range []float64{0.5, 1} {
			out = append(out, scale(key, longQ))
		}
	}
	for _, c := range chords() {
		out = append(out, c.struck(), c.broken())
	}
	return out
}

// scale runs up and down in first position, as far as it goes.
func scale(tonic int, longQ float64) *part {
	p := &part{ID: "rule", File: "rule", Group: "rule", Tuning: []int{64, 59, 55, 50, 45, 40}}
	var up []int
	for m := 40; m <= 67; m++ {
		switch (m - tonic + 120) % 12 {
		case 0, 2, 4, 5, 7, 9, 11:
			up = append(up, m)
		}
	}
	for up[0]%12 != tonic {
		up = up[1:]
	}
	line := append([]int{}, up...)
	for i := len(up) - 2; i >= 0; i-- {
		line = append(line, up[i])
	}
	for i, m := range line {
		st := firstPosition(m)
		p.add(float64(i)*longQ, longQ, m, st.Finger)
	}
	p.lay()
	return p
}

// firstPosition is the place of a pitch within the first four frets, the highest string first.
func firstPosition(midi int) grip.Stop {
	for s, open := range []int{64, 59, 55, 50, 45, 40} {
		if f := midi - open; f >= 0 && f <= 4 {
			return grip.Stop{String: int8(s + 1), Fret: int8(f), Finger: int8(f)}
		}
	}
	return grip.Stop{}
}

type chord []grip.Stop // from the bass up

// chords of the first position: string/fret/finger from the bass up.
func chords() []chord {
	var out []chord
	for _, text := range []string{
		"5/3/3 4/2/2 3/0/0 2/1/1 1/0/0",       // C
		"5/0/0 4/2/2 3/2/3 2/1/1 1/0/0",       // Am
		"6/0/0 5/2/2 4/2/3 3/1/1 2/0/0 1/0/0", // E
		"6/0/0 5/2/2 4/2/3 3/0/0 2/0/0 1/0/0", // Em
		"4/0/0 3/2/2 2/3/3 1/1/1",             // Dm
		"4/0/0 3/2/1 2/3/3 1/2/2",             // D
		"5/2/2 4/1/1 3/2/3 2/0/0 1/2/4",       // B7
		"6/1/1 5/3/3 4/3/4 3/2/2 2/1/1 1/1/1", // F, barre
		"4/3/3 3/2/2 2/1/1 1/1/1",             // F, small barre
		"5/3/3 4/2/2 3/3/4 2/1/1 1/0/0",       // C7
		"6/0/0 5/2/2 4/0/0 3/1/1 2/0/0 1/0/0", // E7
		"4/0/0 3/2/2 2/1/1 1/2/3",             // D7
	} {
		var c chord
		for _, t := range strings.Fields(text) {
			c = append(c, grip.Stop{String: int8(t[0] - '0'), Fret: int8(t[2] - '0'), Finger: int8(t[4] - '0')})
		}
		out = append(out, c)
	}
	return out
}

func (c chord) struck() *part {
	p := c.empty()
	for bar := range 2 {
		for _, st := range c {
			p.add(float64(bar)*2, 2, p.Tuning[st.String-1]+int(st.Fret), st.Finger)
		}
	}
	p.lay()
	return p
}

// broken is the chord as an arpeggio in eighths: bass, then up and down.
func (c chord) broken() *part {
	p := c.empty()
	var order []int
	for i := range c {
		order = append(order, i)
	}
	for i := len(c) - 2; i > 0; i-- {
		order = append(order, i)
	}
	for k := range 2 * len(order) {
		st := c[order[k%len(order)]]
		p.add(float64(k)*0.5, 0.5, p.Tuning[st.String-1]+int(st.Fret), st.Finger)
	}
	p.lay()
	return p
}

func (c chord) empty() *part {
	return &part{ID: "rule", File: "rule", Group: "rule", Tuning: []int{64, 59, 55, 50, 45, 40}}
}

func (p *part) add(atQ, longQ float64, midi int, finger int8) {
	p.notes = append(p.notes, grip.Note{AtQ: atQ, EndQ: atQ + longQ, Midi: midi, Voice: 1, Ask: grip.Free()})
	p.str, p.finger = append(p.str, -1), append(p.finger, int(finger))
}

func (p *part) lay() { p.neck = grip.NewNeck(guitar.Standard(), guitar.AdultHand()) }
