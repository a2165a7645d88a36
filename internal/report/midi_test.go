package report

import (
	"bytes"
	"math"
	"testing"

	"antiphon/internal/ear"
	"antiphon/internal/notation"
)

// TestMIDIHasWhatWasHeard reads the file back: 120 quarters a minute, so a second is two quarters
// (Standard MIDI Files 1.0: tempo in microseconds a quarter).
func TestMIDIHasWhatWasHeard(t *testing.T) {
	r := fixture()
	var b bytes.Buffer
	if err := r.MIDI(&b); err != nil {
		t.Fatal(err)
	}
	s, _, err := notation.Read(&b, "heard.mid", notation.Limits{})
	if err != nil {
		t.Fatal(err)
	}
	bpm, _ := s.TempoAt(s.Bars[0].Start)
	var got [][2]float64
	for _, n := range s.Sounding() {
		got = append(got, [2]float64{n.Onset.Q() * 60 / bpm, float64(n.Midi)})
	}
	if len(got) != len(r.Hearing.Played) {
		t.Fatalf("%d notes in the file, %d were heard", len(got), len(r.Hearing.Played))
	}
	for _, p := range r.Hearing.Played {
		found := false
		for _, g := range got {
			found = found || g[1] == float64(p.Midi) && math.Abs(g[0]-p.OnsetS) < 0.002
		}
		if !found {
			t.Errorf("pitch %d at %.3f s is not in the file", p.Midi, p.OnsetS)
		}
	}
}

func TestVelocity(t *testing.T) {
	// 40·log10(v/127) dB: DLS level 1 (MMA), the default curve of velocity to attenuation; twice the
	// amplitude (6.02 dB) is √2 times the velocity.
	for _, c := range []struct {
		db   float64
		want int
	}{{0, 80}, {6.0206, 113}, {-6.0206, 57}, {-90, 1}, {40, 127}, {math.NaN(), 80}} {
		if got := velocity(ear.Played{LevelDb: c.db}); got != c.want {
			t.Errorf("%v dB: velocity %d, want %d", c.db, got, c.want)
		}
	}
}

func TestMIDIOfOddNumbers(t *testing.T) {
	r := fixture()
	r.Hearing.Played[0].OnsetS, r.Hearing.Played[1].OffsetS, r.Hearing.Played[2].Midi, r.Hearing.Played[3].OffsetS = math.NaN(), -3, 300, math.Inf(1)
	var b bytes.Buffer
	if err := r.MIDI(&b); err != nil {
		t.Fatal(err)
	}
	if _, _, err := notation.Read(&b, "x.mid", notation.Limits{}); err != nil {
		t.Fatal(err)
	}
}
