package exercise

import (
	"encoding/json"
	"errors"
	"math"
	"os"
	"path/filepath"
	"testing"

	"antiphon/internal/guitar"
	"antiphon/internal/music"
)

// TestPrintedPieces makes each fault's exercise from two bars of printed public-domain pieces, where
// they are at hand: real polyphony with the marks that an editor left. Each is made or refused in
// words, and what is made keeps every promise.
func TestPrintedPieces(t *testing.T) {
	data, err := os.ReadFile(filepath.Join(os.Getenv("ANTIPHON_SHARED"), "data", "fingering-dev.json"))
	if err != nil {
		t.Skip("the printed pieces are not at hand: set ANTIPHON_SHARED")
	}
	var pieces []struct {
		ID     string
		Tuning []int
		Notes  []struct {
			Onset, Dur     float64
			Midi, Voice    int
			Finger, String *int
			RH             *string `json:"rh"`
			Grace          any
		}
	}
	if err := json.Unmarshal(data, &pieces); err != nil {
		t.Fatal(err)
	}
	step := 8
	if os.Getenv("ANTIPHON_ALL_PIECES") != "" {
		step = 1
	}
	made, notThere, unplayable, other := 0, 0, 0, 0
	for i := 0; i < len(pieces); i += step {
		p := pieces[i]
		s := &sheet{guitar: guitar.Instrument{Open: p.Tuning}, time: music.Time{Parts: []music.TimePart{{Beats: []int{4}, Unit: 4}}}, title: p.ID}
		var tuning []music.Pitch
		for k := len(p.Tuning) - 1; k >= 0; k-- {
			tuning = append(tuning, music.SpellMidi(p.Tuning[k], 0))
		}
		s.head = []music.Attributes{{Tuning: tuning}}
		q := func(v float64) music.Beats { return music.Quarters(int64(math.Round(v*48)), 48) }
		for _, n := range p.Notes {
			if yes, _ := n.Grace.(bool); yes || n.Onset >= 16 || n.Dur <= 0 {
				continue
			}
			x := tone{Note: music.Note{Start: q(n.Onset), Duration: q(n.Dur), Voice: itoa(n.Voice + 1), Pitch: music.SpellMidi(n.Midi, 0)}}
			if n.Finger != nil {
				x.setFinger(*n.Finger)
			}
			if n.String != nil {
				x.String = *n.String
			}
			if n.RH != nil {
				x.Plucks = []string{*n.RH}
			}
			s.tones = append(s.tones, x)
		}
		score, err := s.lay()
		if err != nil {
			continue // lengths that are no plain notes, cut off at 16 quarters
		}
		for _, text := range Faults() {
			fault, err := ReadFault(text)
			if err != nil {
				t.Fatal(err)
			}
			x, reason, err := Practise(score, Passage{From: "2", To: "3"}, fault, Wishes{})
			if err == nil {
				if reason == "" || len(x.Sounding()) == 0 {
					t.Errorf("%s, %s: nothing in it", p.ID, text)
				}
				made++
				continue
			}
			pr, ok := errors.AsType[*Problem](err)
			switch {
			case !ok:
				t.Errorf("%s, %s: %v", p.ID, text, err)
			case pr.Kind == NotThere:
				notThere++
			case pr.Kind == Unplayable:
				unplayable++
				t.Logf("%s, %s: %v", p.ID, text, err)
			default:
				other++
				t.Logf("%s, %s: %v", p.ID, text, err)
			}
		}
	}
	t.Logf("%d made, %d have nothing of the sort, %d cannot be played as marked, %d for another reason", made, notThere, unplayable, other)
	if made < 4*(unplayable+other) {
		t.Errorf("only %d made, %d refused", made, unplayable+other)
	}
}
