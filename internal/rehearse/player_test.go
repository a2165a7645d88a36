package rehearse

import (
	"math"
	"math/rand/v2"
	"reflect"
	"testing"
)

func TestSameSeedSamePlaying(t *testing.T) {
	a, err := Draw(ReportSet(30))
	if err != nil {
		t.Fatal(err)
	}
	b, err := Draw(ReportSet(30))
	if err != nil {
		t.Fatal(err)
	}
	other := ReportSet(30)
	other.Seed++
	c, err := Draw(other)
	if err != nil {
		t.Fatal(err)
	}
	differ := 0
	for i := range a {
		if !reflect.DeepEqual(a[i], b[i]) {
			t.Errorf("%s: drawn twice, two takes", a[i].ID)
		}
		if !reflect.DeepEqual(a[i].Tuning, c[i].Tuning) {
			differ++
		}
		if a[i].Performance == nil && a[i].SilentS == 0 {
			x, y := perform(a[i].Piece, a[i].Legs, a[i].Manner, rand.New(rand.NewPCG(1, 1))), perform(a[i].Piece, a[i].Legs, a[i].Manner, rand.New(rand.NewPCG(1, 1)))
			if !reflect.DeepEqual(x, y) {
				t.Errorf("%s: played twice, two playings", a[i].ID)
			}
		}
	}
	if differ < 20 {
		t.Errorf("another seed changed only %d of 30 takes", differ)
	}
}

// Whatever is drawn, the truth must hold together.
func TestTruthHoldsTogether(t *testing.T) {
	for _, recipe := range []Recipe{TuneSet(120), ReportSet(120)} {
		specs, err := Draw(recipe)
		if err != nil {
			t.Fatal(err)
		}
		for _, s := range specs {
			if s.SilentS > 0 {
				continue
			}
			var perf Performance
			if s.Performance != nil {
				perf = *s.Performance
			} else {
				perf = perform(s.Piece, s.Legs, s.Manner, rand.New(rand.NewPCG(s.Seed, 1)))
			}
			holdsTogether(t, s, perf)
		}
	}
}

func holdsTogether(t *testing.T, s Spec, perf Performance) {
	t.Helper()
	notes := s.Piece.Notes
	type key struct{ note, pass int }
	played := map[key]bool{}
	for i, n := range perf.Notes {
		if i > 0 && n.OnsetS < perf.Notes[i-1].OnsetS {
			t.Errorf("%s: notes out of order at %d", s.ID, i)
		}
		if n.OffsetS < n.OnsetS {
			t.Errorf("%s: note %d ends before it begins", s.ID, i)
		}
		if (n.Kind == "extra") != (n.Score == nil) {
			t.Errorf("%s: note %d is %s with score note %v", s.ID, i, n.Kind, n.Score)
			continue
		}
		if n.Score == nil {
			continue
		}
		if right := notes[*n.Score].Midi == n.Midi; right != (n.Kind == "correct") {
			t.Errorf("%s: note %d is called %s: written %d, played %d", s.ID, i, n.Kind, notes[*n.Score].Midi, n.Midi)
		}
		k := key{*n.Score, n.Pass}
		if played[k] && s.Piece.Repeats == nil {
			t.Errorf("%s: score note %d played twice in pass %d", s.ID, k.note, k.pass)
		}
		played[k] = true
	}
	for _, m := range perf.Missed {
		if played[key{m.Score, m.Pass}] {
			t.Errorf("%s: score note %d both missed and played in pass %d", s.ID, m.Score, m.Pass)
		}
	}
	if s.Performance != nil {
		return
	}
	total := 0
	for _, l := range s.Legs {
		for _, n := range notes {
			if n.At >= l.FromTick && n.At < l.ToTick {
				total++
			}
		}
	}
	written := 0
	for _, n := range perf.Notes {
		if n.Score != nil {
			written++
		}
	}
	if written+len(perf.Missed) != total {
		t.Errorf("%s: %d played and %d missed of %d notes that were due", s.ID, written, len(perf.Missed), total)
	}
	for _, j := range perf.Jumps {
		if j.ResumeS < j.StopS {
			t.Errorf("%s: jump resumes before it stops: %+v", s.ID, j)
		}
		switch {
		case j.Kind == "restart" && j.ToBeat >= j.FromBeat, j.Kind == "skip" && j.ToBeat <= j.FromBeat, j.Kind == "repeat" && j.ToBeat >= j.FromBeat:
			t.Errorf("%s: a %s from beat %v to beat %v", s.ID, j.Kind, j.FromBeat, j.ToBeat)
		}
		if j.Kind == "pause" {
			continue
		}
		near := math.Inf(1) // somebody plays there: the first note may be late, missed or a rest
		for _, n := range perf.Notes {
			near = math.Min(near, math.Abs(n.OnsetS-j.ResumeS))
		}
		if near > 1.6 {
			t.Errorf("%s: nothing is played within %.2f s of the resumption at %.2f", s.ID, near, j.ResumeS)
		}
	}
}

// No two notes may claim the same moment and pitch: nobody could tell them apart.
func TestNothingIsDoubled(t *testing.T) {
	specs, err := Draw(TuneSet(120))
	if err != nil {
		t.Fatal(err)
	}
	for _, s := range specs {
		if s.SilentS > 0 || s.Performance != nil {
			continue
		}
		perf := perform(s.Piece, s.Legs, s.Manner, rand.New(rand.NewPCG(s.Seed, 1)))
		for i, a := range perf.Notes {
			for _, b := range perf.Notes[i+1:] {
				if b.OnsetS-a.OnsetS > 0.03 {
					break
				}
				if a.Midi == b.Midi && a.Part == b.Part && (a.Kind != "correct" || b.Kind != "correct") {
					t.Errorf("%s: %s and %s of MIDI %d at %.3f and %.3f s", s.ID, a.Kind, b.Kind, a.Midi, a.OnsetS, b.OnsetS)
				}
			}
		}
	}
}
