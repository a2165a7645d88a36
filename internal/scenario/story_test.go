package scenario

import (
	"bytes"
	"encoding/json"
	"testing"
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
