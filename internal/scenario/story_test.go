package scenario

import (
	"bytes"
	"encoding/json"
	"slices"
	"testing"

	"antiphon/internal/studio"
)

// TestThePastIsTheStorys: the file of what was heard has each take of the story, and no other.
func TestThePastIsTheStorys(t *testing.T) {
	past, err := ReadPast(bytes.NewReader(heardFile))
	if err != nil {
		t.Fatal(err)
	}
	told := 0
	for _, h := range Households() {
		for _, l := range h.Learners {
			for _, a := range l.Story(h.Name) {
				for _, s := range a.Sent {
					was, ok := past[s.Key]
					if a.Week == 0 {
						if ok {
							t.Errorf("%s waits, and was heard", s.Key)
						}
						continue
					}
					told++
					var doc struct{ Schema string }
					if err := json.Unmarshal(was.Doc, &doc); !ok || err != nil || doc.Schema != "antiphon.hearing/1" || was.DurationS == 0 || len(was.Print) == 0 {
						t.Errorf("%s: %v %q %v: run make demo-data", s.Key, ok, doc.Schema, err)
					}
				}
			}
		}
	}
	if told != len(past) || told < 200 {
		t.Errorf("%d takes in the story, %d in the file", told, len(past))
	}
}

// TestTheScenario has as many families and children as the README says, and nobody waits who does not exist.
func TestTheScenario(t *testing.T) {
	children := 0
	for _, h := range Households() {
		children += len(h.Learners)
		for _, l := range h.Learners {
			if l.Since > Weeks || l.Pace < 1 || len(l.Course) == 0 || l.Media == "" {
				t.Errorf("%s %s: %+v", l.Name, h.Name, l)
			}
			for week, a := range l.Story(h.Name) {
				for _, s := range a.Sent {
					if s.Line >= len(a.Asked) {
						t.Errorf("%s, week %d: a take of line %d of %d", l.Name, week, s.Line, len(a.Asked))
					}
				}
			}
		}
	}
	if n := len(Households()); n != 12 || children != 16 {
		t.Errorf("%d families, %d children", n, children)
	}
	for name := range waiting {
		found := false
		for _, h := range Households() {
			for _, l := range h.Learners {
				found = found || l.Name == name
			}
		}
		if !found {
			t.Errorf("%s waits and does not exist", name)
		}
	}
}

// TestEveryTakeCanBePlayed: no take of the past asks for bars or works that are not there.
func TestEveryTakeCanBePlayed(t *testing.T) {
	specs, err := past()
	if err != nil {
		t.Fatal(err)
	}
	for key, s := range specs {
		if len(s.Piece.Notes) == 0 || len(s.Legs) == 0 || s.Legs[0].ToTick <= s.Legs[0].FromTick {
			t.Errorf("%s plays nothing", key)
		}
	}
}

// TestEveryKindOfTaskIsAsked: what a lesson can ask stands in this week's, of works that are in the library
// and of children who exist.
func TestEveryKindOfTaskIsAsked(t *testing.T) {
	pieces, err := Pieces()
	if err != nil {
		t.Fatal(err)
	}
	asked := map[studio.Ask]bool{studio.AskPlay: true}
	for name, weeks := range tasks {
		if !slices.ContainsFunc(Households(), func(h Household) bool {
			return slices.ContainsFunc(h.Learners, func(l Learner) bool { return l.Name == name })
		}) {
			t.Errorf("%s is asked and does not exist", name)
		}
		for week, ts := range weeks {
			for _, k := range ts {
				if week == 0 {
					asked[k.Ask] = true
				}
				if k.Piece != "" && !slices.ContainsFunc(pieces, func(p Piece) bool { return p.Name == k.Piece }) {
					t.Errorf("%s is asked %s, which is not in the library", name, k.Piece)
				}
			}
		}
	}
	for _, k := range studio.Asks() {
		if !asked[k] {
			t.Errorf("nobody is asked %q", k)
		}
	}
}

// TestEveryFamilyHasEvenings: what a plan counts on is known for most families and left open for some; one family taps
// nothing, and those that went silent tapped less and less before.
func TestEveryFamilyHasEvenings(t *testing.T) {
	known := map[string]Learner{}
	for _, h := range Households() {
		for _, l := range h.Learners {
			known[l.Name] = l
			e, ok := atWork[l.Name]
			if !ok || e.days < 0 || e.days > 6 || slices.ContainsFunc(e.minutes[:], func(m int) bool { return m < 0 || m > 60 }) {
				t.Errorf("%s: %+v, %v", l.Name, e, ok)
			}
			if e.fades && !slices.Contains(l.Silent, 0) {
				t.Errorf("%s taps no more and sends all the same", l.Name)
			}
		}
	}
	open, still, fading := 0, 0, 0
	for name, e := range atWork {
		if _, ok := known[name]; !ok {
			t.Errorf("%s does not exist", name)
		}
		if e.minutes == [7]int{} {
			open++
		}
		if e.days == 0 {
			still++
		}
		if e.fades {
			fading++
		}
	}
	if open == 0 || still == 0 || fading == 0 {
		t.Errorf("%d families said no minutes, %d tap nothing, %d are going quiet", open, still, fading)
	}
}
