package engrave

import (
	"bytes"
	"context"
	"encoding/json"
	"math"
	"slices"
	"strings"
	"testing"

	"antiphon/internal/notation"
)

// TestMomentsAgainstTheLibrary holds our times against those that the engraving library works out by
// itself, for its own purposes, from the MEI: in quarters, and for the round also in seconds (it takes a
// pickup before the first tempo mark at a tempo of its own). It plays repeats once. Rolled chords are
// left out of the comparison: the library spreads them in time.
func TestMomentsAgainstTheLibrary(t *testing.T) {
	e := engraver(t)
	for _, name := range []string{"round", "greensleeves"} {
		s := samples(t)[name]
		var mei bytes.Buffer
		if err := notation.WriteMEI(&mei, s, notation.MEIOptions{}); err != nil {
			t.Fatal(err)
		}
		var said string
		err := e.lib.use(context.Background(), func(in *instance) (err error) {
			if _, err = in.render(mei.String(), libraryOptions(s, 2000)); err == nil {
				said, err = in.timemap()
			}
			return err
		})
		if err != nil {
			t.Fatal(err)
		}
		var theirs []struct {
			QStamp float64  `json:"qstamp"`
			TStamp float64  `json:"tstamp"`
			On     []string `json:"on"`
		}
		if err := json.Unmarshal([]byte(said), &theirs); err != nil {
			t.Fatal(err)
		}
		rolled := map[string]bool{}
		for _, n := range s.Sounding() {
			rolled[n.ID] = n.Rolled
		}
		ours := map[string][]Moment{} // id to its beginnings
		for _, m := range Moments(s, 1) {
			for _, id := range m.On {
				ours[id] = append(ours[id], m)
			}
		}
		seen := 0
		for _, m := range theirs {
			for _, id := range m.On {
				id, _, _ = strings.Cut(id, "-rend")
				if ours[id] == nil || rolled[id] {
					continue // a tied note, which is not struck anew
				}
				if !slices.ContainsFunc(ours[id], func(o Moment) bool {
					return math.Abs(o.AtQ-m.QStamp) < 1e-6 && (name != "round" || math.Abs(o.AtS*1000-m.TStamp) < 2)
				}) {
					t.Errorf("%s: %s begins at %v quarters, %.0f ms by the library, at %+v by us", name, id, m.QStamp, m.TStamp, ours[id])
				}
				seen++
			}
		}
		if seen < len(s.Sounding())/2 {
			t.Errorf("%s: only %d beginnings were compared", name, seen)
		}
	}
}

// TestMomentsByHand: greensleeves has a pickup of an eighth, 9 bars of which 1 to 8 are played twice
// with a last bar of its own, at 44 dotted quarters a minute; worked out by hand.
func TestMomentsByHand(t *testing.T) {
	s := samples(t)["greensleeves"]
	m := Moments(s, 1)
	last := m[len(m)-1]
	wantQ := 0.5 + 3*(7+1+7+1) // pickup, bars 1 to 7 with the first ending, again with the second
	if math.Abs(last.AtQ-wantQ) > 1e-9 || math.Abs(last.AtS-wantQ*60/66) > 1e-9 {
		t.Errorf("ends at %v quarters, %v s, want %v, %v", last.AtQ, last.AtS, wantQ, wantQ*60/66)
	}
	if half := Moments(s, 0.5); math.Abs(half[len(half)-1].AtS-2*last.AtS) > 1e-9 {
		t.Errorf("at half the tempo it lasts %v s, want %v", half[len(half)-1].AtS, 2*last.AtS)
	}
	if m[0].On == nil || m[0].AtS != 0 || m[0].Bar != 0 {
		t.Errorf("begins with %+v", m[0])
	}
}
