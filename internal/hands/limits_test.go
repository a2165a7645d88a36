package hands

import (
	"errors"
	"math"
	"slices"
	"strings"
	"testing"

	"antiphon/internal/guitar"
	"antiphon/internal/music"
	"antiphon/internal/playable"
)

// TestEveryAnswerIsPlayable: on invented pieces, under every limit of the player and on a child's
// guitar, the checker that was written apart accepts the answer; where a limit is broken, or a note
// left out, it is told.
func TestEveryAnswerIsPlayable(t *testing.T) {
	skills := []struct {
		Skills
		limits []playable.Limit
	}{
		{},
		{Skills{NoFourthFinger: true}, []playable.Limit{playable.NoFourthFinger}},
		{Skills{NoBarre: true}, []playable.Limit{playable.NoBarre}},
		{Skills{FirstPosition: true}, []playable.Limit{playable.FirstPosition}},
		{Skills{NoStretch: true}, []playable.Limit{playable.NoStretch}},
		{Skills{NoFourthFinger: true, NoBarre: true, FirstPosition: true, NoStretch: true},
			[]playable.Limit{playable.NoFourthFinger, playable.NoBarre, playable.FirstPosition, playable.NoStretch}},
	}
	small := guitar.Standard()
	small.ScaleMm = 530
	for seed := range uint64(6) {
		for _, sk := range skills {
			for _, hand := range []guitar.Hand{guitar.AdultHand(), guitar.ChildHand(150)} {
				in := guitar.Standard()
				if hand.SpanMm == 150 {
					in = small
				}
				s := invented(120, seed)
				f := finger(t, s, Options{Skills: sk.Skills, Hand: hand, Instrument: in})
				told := map[string]bool{}
				for _, x := range f.Told {
					if x.Kind == BeyondSkill || x.Kind == Unplayable {
						for _, id := range x.Notes {
							told[id] = true
						}
					}
				}
				for _, n := range f.Notes {
					if n.Finger < 0 && !told[n.ID] {
						t.Errorf("seed %d %+v: %s has no place and nobody says so", seed, sk.Skills, n.ID)
					}
					if n.Finger >= 0 && in.Pitch(n.Place.String, n.Place.Fret) != n.Midi {
						t.Errorf("seed %d: %s on string %d fret %d is another pitch", seed, n.Name, n.Place.String, n.Place.Fret)
					}
				}
				f.Write(s)
				for _, x := range playable.Only(playable.Check(s, in, hand, sk.limits...), playable.Impossible) {
					if !slices.ContainsFunc(x.Notes, func(id string) bool { return told[id] }) {
						t.Errorf("seed %d %+v %v: %s", seed, sk.Skills, hand, x.Text)
					}
				}
			}
		}
	}
}

// TestLimitThatCannotHold: the pitch lies above the first position on every string.
func TestLimitThatCannotHold(t *testing.T) {
	f := finger(t, line(t, "C4 D4 C5 B4"), Options{Skills: Skills{FirstPosition: true}})
	if f.Notes[2].Finger < 0 {
		t.Error("C5 was left out; it can be played, beyond the limit")
	}
	if !slices.ContainsFunc(f.Told, func(x Told) bool {
		return x.Kind == BeyondSkill && slices.Contains(x.Notes, "n3") && strings.Contains(x.Text, "Bar 1")
	}) {
		t.Errorf("nothing is told of C5: %+v", f.Told)
	}
	for _, i := range []int{0, 1} {
		if n := f.Notes[i]; n.Place.Fret > 4 {
			t.Errorf("%s went to fret %d although it need not", n.Name, n.Place.Fret)
		}
	}
}

func TestUnplayable(t *testing.T) {
	for _, c := range []struct {
		name, notes string
		note        string
		say         []string
	}{
		{"below the guitar", "C4 C2 E4", "n2", []string{"Bar 1", "C2", "below the lowest string", "octave higher"}},
		{"above the guitar", "C4 C6 E4", "n2", []string{"Bar 1", "C6", "above the last fret"}},
		{"seven at once", "C4 E2+A2+D3+G3+B3+E4+A4 C4", "", []string{"Bar 1", "cannot be held together"}},
		{"two on one string", "F2+F#2", "", []string{"Bar 1", "cannot be held together", "break the chord"}},
	} {
		f := finger(t, line(t, c.notes), Options{})
		var told *Told
		for i := range f.Told {
			if f.Told[i].Kind == Unplayable {
				told = &f.Told[i]
			}
		}
		if told == nil {
			t.Errorf("%s: nothing is told", c.name)
			continue
		}
		for _, w := range c.say {
			if !strings.Contains(told.Text, w) {
				t.Errorf("%s: %q does not say %q", c.name, told.Text, w)
			}
		}
		if c.note != "" && !slices.Contains(told.Notes, c.note) {
			t.Errorf("%s: told of %v", c.name, told.Notes)
		}
		placed := 0
		for _, n := range f.Notes {
			if n.Finger >= 0 {
				placed++
			}
		}
		if placed != len(f.Notes)-1 {
			t.Errorf("%s: %d of %d notes are fingered, want all but one", c.name, placed, len(f.Notes))
		}
	}
	if _, err := Finger(&music.Score{}, Options{}); !errors.Is(err, ErrNoNotes) {
		t.Errorf("an empty score: %v", err)
	}
}

// TestWishes: marks in the score and wishes are kept, and the rest is fingered around them.
func TestWishes(t *testing.T) {
	s := line(t, "C4 D4 E4 F4 G4 A4 G4 E4")
	f := finger(t, s, Options{Fix: []Wish{{Note: "n3", String: 2, Finger: 3}}})
	if n := f.Notes[2]; n.Place != (guitar.Place{String: 2, Fret: 5}) || n.Finger != 3 {
		t.Errorf("E4 was asked for on string 2 with finger 3: got %+v finger %d", n.Place, n.Finger)
	}
	free := finger(t, s, Options{})
	was := free.Notes[4]
	f = finger(t, s, Options{Forbid: []Wish{{Note: "n5", String: was.Place.String, Finger: was.Finger}}})
	if n := f.Notes[4]; n.Place == was.Place && n.Finger == was.Finger {
		t.Errorf("G4 is taken as was forbidden: %+v", n.Place)
	}
	s.Parts[0].Notes[1].Fingers = []music.Fingering{{Text: "4"}}
	s.Parts[0].Notes[1].String = 2
	if n := finger(t, s, Options{}).Notes[1]; n.Finger != 4 || n.Place.String != 2 {
		t.Errorf("the mark 4 on string 2 became %d on string %d", n.Finger, n.Place.String)
	}
	s.Parts[0].Notes[1].Fingers[0].Text = "0" // D4 is no open string: the mark cannot be met
	f = finger(t, s, Options{})
	if !slices.ContainsFunc(f.Told, func(x Told) bool { return x.Kind == WishBroken && slices.Contains(x.Notes, "n2") }) {
		t.Errorf("nothing is told of a mark that cannot be: %+v", f.Told)
	}
	for _, w := range []Wish{{Note: "n99", String: 1, Finger: 1}, {Note: "n1", Finger: 7}, {Note: "n1", Finger: -1}} {
		if _, err := Finger(s, Options{Fix: []Wish{w}}); !errors.Is(err, ErrWish) {
			t.Errorf("%+v: %v", w, err)
		}
	}
}

// TestAnswersDiffer: k answers, the cost never falling, no two alike, each with its reason, and each
// one's cost is what fixing its changes costs.
func TestAnswersDiffer(t *testing.T) {
	s := invented(60, 5)
	f := finger(t, s, Options{K: 6})
	if len(f.Alternatives) != 5 {
		t.Fatalf("%d alternatives, want 5", len(f.Alternatives))
	}
	key := func(places []guitar.Place, fingers []int) string {
		var b strings.Builder
		for i, p := range places {
			b.WriteString(string(rune('0'+p.String)) + string(rune('0'+p.Fret)) + string(rune('0'+fingers[i])) + " ")
		}
		return b.String()
	}
	var places []guitar.Place
	var fingers []int
	for _, n := range f.Notes {
		places, fingers = append(places, n.Place), append(fingers, n.Finger)
	}
	seen := map[string]bool{key(places, fingers): true}
	last := f.Cost
	for _, a := range f.Alternatives {
		if a.Cost < last-1e-9 {
			t.Errorf("cost falls from %.4f to %.4f", last, a.Cost)
		}
		last = a.Cost
		if k := key(a.Places, a.Finger); seen[k] {
			t.Error("two answers are alike")
		} else {
			seen[k] = true
		}
		if a.Reason == "" || len(a.Change) == 0 {
			t.Errorf("an answer without a reason or change: %+v", a)
		}
	}
	for _, n := range f.Notes {
		for i, o := range n.Options {
			if i == 0 && (o.Place != n.Place || o.Finger != n.Finger || o.ExtraCost != 0) {
				t.Errorf("%s: the first option %+v is not the answer", n.ID, o)
			}
			if i > 0 && o.ExtraCost < n.Options[i-1].ExtraCost || math.IsInf(o.ExtraCost, 0) || o.Reason == "" {
				t.Errorf("%s: option %d out of order or without a reason: %+v", n.ID, i, o)
			}
		}
	}
}

func TestPassage(t *testing.T) {
	s := line(t, "C4 D4 E4 F4 G4 A4 G4 E4 C4 D4 E4 C4")
	f := finger(t, s, Options{From: "2", To: "2"})
	if len(f.Notes) != 4 || f.Notes[0].ID != "n5" {
		t.Errorf("bar 2 has %d notes from %s", len(f.Notes), f.Notes[0].ID)
	}
	if _, err := Finger(s, Options{From: "2", To: "2", Fix: []Wish{{Note: "n1", Finger: 1}}}); !errors.Is(err, ErrWish) {
		t.Errorf("a wish outside the passage: %v", err)
	}
	for _, o := range []Options{{From: "9"}, {From: "3", To: "1"}} {
		if _, err := Finger(s, o); !errors.Is(err, ErrPassage) {
			t.Errorf("%q to %q: %v", o.From, o.To, err)
		}
	}
}

// TestTransposed: a figure on the inner strings, a tone higher, keeps its fingers. It starts where no
// open string comes in.
func TestTransposed(t *testing.T) {
	low := finger(t, line(t, "F4+C#4 G#4+D#4 F4+C#4 G#4+D#4"), Options{})
	high := finger(t, line(t, "G4+D#4 A#4+F4 G4+D#4 A#4+F4"), Options{})
	for i := range low.Notes {
		a, b := low.Notes[i], high.Notes[i]
		if a.Finger != b.Finger || a.Place.String != b.Place.String {
			t.Errorf("%s is %d on string %d, %s is %d on string %d", a.Name, a.Finger, a.Place.String, b.Name, b.Finger, b.Place.String)
		}
	}
}

func TestSame(t *testing.T) {
	a, b := finger(t, invented(200, 9), Options{K: 4}), finger(t, invented(200, 9), Options{K: 4})
	if shape(a) != shape(b) || a.Cost != b.Cost {
		t.Error("the same score is fingered in two ways")
	}
}
