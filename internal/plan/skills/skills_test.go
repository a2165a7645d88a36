package skills

import (
	"errors"
	"reflect"
	"testing"

	"antiphon/internal/difficulty"
)

// shelf: traditional tunes and own exercises.
func shelf(t *testing.T) *Shelf {
	t.Helper()
	s, err := NewShelf([]Work{
		{ID: "blind-mice", Title: "Three Blind Mice", Needs: []string{"first position"}, Load: 1},
		{ID: "canon", Title: "Tallis's Canon", Needs: []string{"first position", "fourth finger"}, After: []string{"blind-mice"}, Load: 2},
		{ID: "ode", Title: "Ode to Joy", Needs: []string{"fourth finger", "small barre"}, Load: 3},
		{ID: "four", Title: "Fourth finger on two strings", Needs: []string{"first position"}, Builds: []string{"fourth finger"}, Load: 1},
		{ID: "four-hard", Title: "Fourth finger in fives", Builds: []string{"fourth finger"}, Needs: []string{"first position"}, Load: 5},
		{ID: "barre", Title: "Two strings under one finger", Needs: []string{"fourth finger"}, Builds: []string{"small barre"}, Load: 2},
	})
	if err != nil {
		t.Fatal(err)
	}
	return s
}

func ids(steps []Step) (out []string) {
	for _, x := range steps {
		out = append(out, x.Work)
	}
	return out
}

func TestTheWay(t *testing.T) {
	s := shelf(t)
	st := Student{Chance: map[string]float64{"first position": 0.97, "fourth finger": 0.6}, Played: map[string]bool{}}
	way, err := s.Between("ode", st)
	if err != nil || !reflect.DeepEqual(ids(way.Steps), []string{"four", "barre"}) || len(way.Nothing) != 0 {
		t.Errorf("to Ode to Joy: %+v, %v", way, err)
	}
	way, err = s.Between("canon", st)
	if err != nil || !reflect.DeepEqual(ids(way.Steps), []string{"blind-mice", "four"}) {
		t.Errorf("to the canon: %+v, %v", way, err)
	}
	st.Chance["fourth finger"], st.Played["blind-mice"] = 0.96, true
	if way, err = s.Between("canon", st); err != nil || len(way.Steps) != 0 {
		t.Errorf("ready, and yet: %+v, %v", way, err)
	}
	var ready []string
	for _, w := range s.Ready(st) {
		ready = append(ready, w.ID)
	}
	if !reflect.DeepEqual(ready, []string{"four", "canon", "barre", "four-hard"}) {
		t.Errorf("ready for %v", ready)
	}
	if got := Missing(Work{Needs: []string{"tremolo"}, After: []string{"ode"}}, st, s.Title); !reflect.DeepEqual(got, []string{"tremolo", "Ode to Joy"}) {
		t.Errorf("missing %v", got)
	}
	if way, _ = s.Between("blind-mice", Student{}); !reflect.DeepEqual(way.Nothing, []string{"first position"}) {
		t.Errorf("nothing builds the first position: %+v", way)
	}
	if _, err = s.Between("nothing", st); !errors.Is(err, ErrUnknown) {
		t.Errorf("%v", err)
	}
}

func TestHandsThatDoWithout(t *testing.T) {
	s := shelf(t)
	st := Student{Chance: map[string]float64{"first position": 1, "fourth finger": 1}, Without: map[string]bool{"small barre": true}}
	way, err := s.Between("ode", st)
	if err != nil || !reflect.DeepEqual(way.Closed, []string{"small barre"}) || len(way.Steps) != 0 {
		t.Errorf("%+v, %v", way, err)
	}
	for _, w := range s.Instead("ode", st) {
		if w.ID == "ode" {
			t.Error("the work itself is no alternative")
		}
	}
	if got := s.Instead("ode", st); len(got) == 0 || got[0].Load != 2 {
		t.Errorf("the nearest alternative: %+v", got)
	}
}

func TestCircles(t *testing.T) {
	if _, err := NewShelf([]Work{{ID: "a", After: []string{"b"}}, {ID: "b", After: []string{"a"}}}); !errors.Is(err, ErrCircle) {
		t.Errorf("%v", err)
	}
	if _, err := NewShelf([]Work{{ID: "a", After: []string{"b"}}}); !errors.Is(err, ErrUnknown) {
		t.Errorf("%v", err)
	}
	round, err := NewShelf([]Work{{ID: "a", Needs: []string{"x"}, Builds: []string{"y"}}, {ID: "b", Needs: []string{"y"}, Builds: []string{"x"}}})
	if err != nil {
		t.Fatal(err)
	}
	if way, err := round.Between("a", Student{}); err != nil || !reflect.DeepEqual(way.Nothing, []string{"y"}) {
		t.Errorf("exercises that need each other: %+v, %v", way, err)
	}
}

func TestFromProfile(t *testing.T) {
	r := difficulty.Report{Bars: make([]difficulty.Bar, 40), Skills: []difficulty.Need{
		{Skill: difficulty.Chords, Bars: []string{"1", "2", "3"}}, {Skill: difficulty.FullBarre, Bars: []string{"7"}}, {Skill: difficulty.Stretching, Bars: []string{"1", "9"}}}}
	if got := FromProfile(r); !reflect.DeepEqual(got, []string{"chords", "stretching"}) {
		t.Errorf("%v", got)
	}
}
