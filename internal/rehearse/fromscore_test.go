package rehearse_test

import (
	"strings"
	"testing"

	"antiphon/internal/notation"
	"antiphon/internal/rehearse"
)

// What a piece writes down and a score is read from it comes back as the same piece.
func TestAPieceComesBackFromItsScore(t *testing.T) {
	tunes, err := rehearse.Tunes()
	if err != nil {
		t.Fatal(err)
	}
	studies, err := rehearse.Studies(40)
	if err != nil {
		t.Fatal(err)
	}
	for _, p := range append(tunes, studies...) {
		score, _, err := notation.Read(strings.NewReader(p.MusicXML()), p.Name+".musicxml", notation.Limits{})
		if err != nil {
			t.Fatal(err)
		}
		back, err := rehearse.FromScore(p.Name, score)
		if err != nil {
			t.Fatal(err)
		}
		if len(back.Notes) != len(p.Notes) || len(back.Bars) != len(p.Bars) || back.Bpm != p.Bpm {
			t.Errorf("%s: %d notes in %d bars at %g, want %d in %d at %g", p.Name, len(back.Notes), len(back.Bars), back.Bpm, len(p.Notes), len(p.Bars), p.Bpm)
			continue
		}
		for i, n := range p.Notes {
			if b := back.Notes[i]; b.At != n.At || b.Ticks != n.Ticks || b.Midi != n.Midi || b.Bar != n.Bar || b.Part != n.Part {
				t.Errorf("%s, note %d: %+v, want %+v", p.Name, i, b, n)
				break
			}
		}
	}
}

func TestFromScoreRefusesWhatIsOffTheGrid(t *testing.T) {
	score, _, err := notation.Read(strings.NewReader("X:1\nM:4/4\nL:1/4\nK:C\n(5:4:5CDEFG|C4|\n"), "five.abc", notation.Limits{})
	if err != nil {
		t.Fatal(err)
	}
	if _, err := rehearse.FromScore("five", score); err == nil || !strings.Contains(err.Error(), "five") {
		t.Errorf("a quintuplet on a grid of 48: %v", err)
	}
}

func TestGuestsAreTheSameEachTime(t *testing.T) {
	tunes, err := rehearse.Tunes()
	if err != nil {
		t.Fatal(err)
	}
	a, b := rehearse.Guests(rehearse.TuneSet(30), tunes[2:], tunes[:2]), rehearse.Guests(rehearse.TuneSet(30), tunes[2:], tunes[:2])
	none := 0
	for i := range a {
		if a[i].ID != b[i].ID || a[i].Work != b[i].Work || len(a[i].Legs) != len(b[i].Legs) || a[i].Legs[0] != b[i].Legs[0] || a[i].Tuning.A4Hz != b[i].Tuning.A4Hz {
			t.Errorf("guest %d: %s of work %d, then %s of work %d", i, a[i].ID, a[i].Work, b[i].ID, b[i].Work)
		}
		if a[i].Work < 0 {
			none++
			continue
		}
		if shown := a[i].ShownPiece(); shown.Name != tunes[2:][a[i].Work].Name {
			t.Errorf("guest %d plays %s, said to be %s", i, shown.Name, tunes[2:][a[i].Work].Name)
		}
	}
	if none != 4 {
		t.Errorf("%d of 30 are of none of the works, want 4", none)
	}
}
