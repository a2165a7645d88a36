package scenario

import (
	"slices"
	"strings"
	"testing"

	"antiphon/internal/notation"
)

// TestTheOtherWay: what is to be tried can be played, is what the task says, and changes nothing outside its bars.
func TestTheOtherWay(t *testing.T) {
	pieces, err := Pieces()
	if err != nil {
		t.Fatal(err)
	}
	open := []int{0, 64, 59, 55, 50, 45, 40} // MIDI notes of the strings, first to sixth: e' b g d A E
	found := 0
	for name, weeks := range tasks {
		for _, k := range slices.Concat(weeks[0], weeks[1]) {
			if k.Other == (otherWay{}) {
				continue
			}
			p := pieces[slices.IndexFunc(pieces, func(p Piece) bool { return p.Name == k.Piece })]
			xml, err := k.otherwise(p.MusicXML)
			if err != nil {
				t.Fatalf("%s: %v", name, err)
			}
			s, _, err := notation.Read(strings.NewReader(xml), "score.musicxml", notation.Limits{})
			if err != nil {
				t.Fatal(err)
			}
			before := p.Score.Sounding()
			for i, n := range s.Sounding() {
				was := before[i]
				inside := n.BarIndex <= 3 // of bars 1 to 4 of a tune without a pickup
				if n.Midi != was.Midi || n.Midi != open[n.String]+n.Fret {
					t.Errorf("%s, bar %s: %s is on string %d, fret %d", p.Title, n.Bar, n.Name, n.String, n.Fret)
				}
				if !inside && (n.String != was.String || n.Finger != was.Finger) {
					t.Errorf("%s, bar %s: another finger outside the passage", p.Title, n.Bar)
				}
				if inside && n.Name == k.Other.Note {
					found++
					if n.String != k.Other.String || n.Finger != "4" {
						t.Errorf("%s, bar %s: %s is taken with %s on string %d", p.Title, n.Bar, n.Name, n.Finger, n.String)
					}
				}
			}
		}
	}
	if found != 7 { // three in bar 1, two in bar 2, two in bar 4, counted in the tune
		t.Errorf("%d notes are taken otherwise", found)
	}
	if _, err := (task{Other: otherWay{Note: "C9"}}).otherwise(pieces[0].MusicXML); err == nil {
		t.Error("a note that is not there")
	}
	if _, err := (task{Other: otherWay{Note: "G3"}}).otherwise("<no score>"); err == nil {
		t.Error("no score")
	}
}
