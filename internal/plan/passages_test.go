package plan

import (
	"encoding/json"
	"math/rand/v2"
	"reflect"
	"slices"
	"strings"
	"testing"

	"antiphon/internal/plan/calendar"
	"antiphon/internal/plan/memory"
)

func on(day calendar.Day, from, to int) AskedStretch { return AskedStretch{Stretch{from, to}, day} }

// TestSamePlace: shares of shared bars, worked by hand.
func TestSamePlace(t *testing.T) {
	for _, c := range []struct {
		a, b Stretch
		want bool
		why  string
	}{
		{Stretch{4, 7}, Stretch{4, 7}, true, "the same bars"},
		{Stretch{4, 7}, Stretch{4, 8}, true, "4 of 5"},
		{Stretch{4, 7}, Stretch{5, 7}, true, "3 of 4"},
		{Stretch{4, 7}, Stretch{5, 8}, false, "3 of 5"},
		{Stretch{4, 7}, Stretch{4, 11}, false, "4 of 8"},
		{Stretch{4, 5}, Stretch{4, 6}, true, "2 of 3, and two in three are enough"},
		{Stretch{4, 4}, Stretch{4, 5}, false, "1 of 2"},
		{Stretch{0, 3}, Stretch{4, 7}, false, "none"},
	} {
		if got, back := SamePlace(c.a, c.b), SamePlace(c.b, c.a); got != c.want || back != c.want {
			t.Errorf("%v and %v: %v, %v, want %v (%s)", c.a, c.b, got, back, c.want, c.why)
		}
	}
}

func TestPlaces(t *testing.T) {
	for _, c := range []struct {
		name   string
		asked  []AskedStretch
		marked []Marked
		want   []Place
	}{
		{"nothing", nil, nil, nil},
		{"nearly the whole work is the work", []AskedStretch{on(1, 0, 15), on(8, 0, 12)}, nil, nil},
		{"what lies outside of the score is passed over", []AskedStretch{on(1, 3, 40), on(2, -1, 3), on(3, 5, 4)}, nil, nil},
		{"two ways to ask for one place, told as it was asked most often", []AskedStretch{on(1, 4, 8), on(8, 4, 7), on(15, 4, 7)}, nil,
			[]Place{{Stretch{4, 7}, []calendar.Day{1, 8, 15}, []Stretch{{4, 7}, {4, 8}}}}},
		{"asked as often: as it was asked last", []AskedStretch{on(1, 4, 7), on(8, 4, 8)}, nil,
			[]Place{{Stretch{4, 8}, []calendar.Day{1, 8}, []Stretch{{4, 8}, {4, 7}}}}},
		{"a chain of small steps is not one place", []AskedStretch{on(1, 0, 3), on(1, 1, 3), on(2, 0, 3), on(3, 2, 4)}, nil,
			[]Place{{Stretch{0, 3}, []calendar.Day{1, 2}, []Stretch{{0, 3}, {1, 3}}}, {Stretch{2, 4}, []calendar.Day{3}, []Stretch{{2, 4}}}}},
		{"said twice on one day is said once", nil, []Marked{{5, 1, true}, {5, 1, true}}, nil},
		{"said on two days, heard on three", nil, []Marked{{5, 1, true}, {5, 8, true}, {9, 1, false}, {9, 8, false}, {10, 1, false}, {10, 8, false}, {10, 15, false}},
			[]Place{{Stretch: Stretch{5, 5}}, {Stretch: Stretch{10, 10}}}},
		{"neighbours are one place", nil, []Marked{{5, 1, true}, {5, 8, true}, {6, 1, false}, {6, 8, true}, {6, 9, false}}, []Place{{Stretch: Stretch{5, 6}}}},
		{"what lies in a place that was asked belongs to it", []AskedStretch{on(1, 4, 7)}, []Marked{{5, 1, true}, {5, 8, true}},
			[]Place{{Stretch{4, 7}, []calendar.Day{1}, []Stretch{{4, 7}}}}},
	} {
		if got := Places(16, c.asked, c.marked); !reflect.DeepEqual(got, c.want) {
			t.Errorf("%s:\n%+v, want\n%+v", c.name, got, c.want)
		}
	}
}

// TestPlacesHold: whatever is asked, in whatever order, every ask of part of a work is in one place and no other, which means the same bars.
func TestPlacesHold(t *testing.T) {
	rng := rand.New(rand.NewPCG(7, 1))
	for range 3000 {
		bars := 4 + rng.IntN(60)
		var asked []AskedStretch
		for range 1 + rng.IntN(10) {
			from := rng.IntN(bars)
			asked = append(asked, on(calendar.Day(1+rng.IntN(30)), from, min(from+rng.IntN(8), bars-1)))
		}
		got := Places(bars, asked, nil)
		rng.Shuffle(len(asked), func(i, j int) { asked[i], asked[j] = asked[j], asked[i] })
		if again := Places(bars, asked, nil); !reflect.DeepEqual(got, again) {
			t.Fatalf("the order in which it is told matters: %+v, %+v", got, again)
		}
		for _, a := range asked {
			n := 0
			for _, p := range got {
				for _, s := range p.Alike {
					if !SamePlace(p.Stretch, s) {
						t.Fatalf("%v is told as %v", s, p.Stretch)
					}
					if s == a.Stretch {
						n++
					}
				}
			}
			if whole := a.isWork(bars); n != 1 && !whole || n != 0 && whole {
				t.Fatalf("%v of %d bars is in %d places of %+v", a, bars, n, got)
			}
		}
	}
}

// heardOn is a hearing of eight notes of a passage.
func heardOn(day calendar.Day, right, stops int) Played {
	return Played{Day: day, Bpm: 80, Heard: &Heard{RightShare: float64(right) / 8, Complete: true, Stops: stops, Notes: 8}}
}

// TestWeakPassage: what slips inside of a work that is kept is named, and what does not is not.
func TestWeakPassage(t *testing.T) {
	const today = 1000
	named := 0
	whole := Played{Day: today - 3, Heard: &Heard{RightShare: .97, Complete: true}}
	for _, c := range []struct {
		name   string
		stage  Stage
		work   []Played
		played []Played
		want   string
	}{
		{"right", Kept, []Played{whole}, []Played{heardOn(today-10, 8, 0), heardOn(today-3, 8, 0)}, ""},
		{"one note is forgiven", Kept, []Played{whole}, []Played{heardOn(today-10, 7, 0), heardOn(today-3, 7, 0)}, ""},
		{"wrong once", Kept, []Played{whole}, []Played{heardOn(today-10, 8, 0), heardOn(today-3, 5, 0)}, ""},
		{"wrong twice", Kept, []Played{whole}, []Played{heardOn(today-17, 8, 0), heardOn(today-10, 6, 0), heardOn(today-3, 5, 0)}, "bars 5–8 went wrong on the last two days they were heard"},
		{"stopped there three times", Learning, []Played{whole}, []Played{heardOn(today-17, 8, 1), heardOn(today-10, 8, 1), heardOn(today-3, 8, 2)}, "bars 5–8 went wrong on the last three days they were heard"},
		{"two tries of one evening", Kept, []Played{whole}, []Played{heardOn(today-10, 8, 0), heardOn(today-3, 6, 0), heardOn(today-3, 5, 0)}, ""},
		{"the second try of the last evening went right", Kept, []Played{whole}, []Played{heardOn(today-17, 5, 0), heardOn(today-10, 6, 0), heardOn(today-3, 5, 0), heardOn(today-3, 8, 0)}, ""},
		{"the first try of the last evening went right", Kept, []Played{whole}, []Played{heardOn(today-17, 5, 0), heardOn(today-10, 6, 0), heardOn(today-3, 8, 0), heardOn(today-3, 5, 0)}, ""},
		{"two evenings of two tries", Kept, []Played{whole}, []Played{heardOn(today-10, 6, 0), heardOn(today-10, 5, 0), heardOn(today-3, 5, 0), heardOn(today-3, 5, 1)}, "bars 5–8 went wrong on the last two days they were heard"},
		{"let rest", Rested, []Played{whole}, []Played{heardOn(today-10, 6, 0), heardOn(today-3, 5, 0)}, ""},
		{"not played for long, where the work was heard without it", Kept, []Played{{Day: today - 60, Heard: &Heard{RightShare: 1, Complete: true}}, {Day: today - 50, Heard: &Heard{RightShare: 1, Complete: true}}, {Day: today - 34, Heard: &Heard{RightShare: 1, Complete: true}}, whole},
			[]Played{heardOn(today-34, 5, 0)}, "bars 5–8 were last played 34 days ago; likely to need "},
	} {
		it := Item{Work: "w", Stage: c.stage, Begun: 900, Finished: 900, Played: c.work, Passages: []Passage{{From: "5", To: "8", Played: c.played}}}
		s := &Studio{Schema: Schema, Today: today, Works: []Work{{ID: "w", Title: "Ode to Joy"}}, Students: []Student{{ID: "s", Name: "Ada", Items: []Item{it}}}}
		if err := s.Check(); err != nil {
			t.Fatal(err)
		}
		p, err := New(s)
		if err != nil {
			t.Fatal(err)
		}
		ps, say := p.WeakPassage(&s.Students[0], "w")
		if slips := p.Slipping(&s.Students[0]); strings.Contains(c.want, "last played") != (len(slips) == 1 && slips[0].Title == "Ode to Joy, bars 5–8" && slips[0].Days == 34 && slips[0].Say == "Ode to Joy: "+say+".") {
			t.Errorf("%s: slipping are %+v", c.name, slips)
		}
		s.Students[0].Minutes = [7]int{20, 20, 20, 20, 20, 20, 20}
		w, err := p.Week(&s.Students[0])
		if err != nil {
			t.Fatal(err)
		}
		for _, l := range w.Lines {
			is := strings.Contains(" "+l.Why, " Bars 5–8")
			if is != (c.want != "") {
				t.Errorf("%s: the reason is %q", c.name, l.Why)
			}
			if is {
				named++
			}
		}
		if (ps == nil) != (c.want == "") || !strings.HasPrefix(say, c.want) || c.want == "" && say != "" {
			t.Errorf("%s: %q, want %q", c.name, say, c.want)
		}
	}
	if named < 2 {
		t.Errorf("%d weeks name a passage", named)
	}
}

// TestAWeakPassageByItself: of what is kept and not due for long, bars that went wrong are asked by themselves, in less time; where the
// whole is due in the week, wanted, or liked, all of it is asked, and says why; it does not come before what slips as a
// whole, nor while something hurts.
func TestAWeakPassageByItself(t *testing.T) {
	const today = 1000
	fresh := []Played{{Day: today - 40, Rating: 3}, {Day: today - 25, Rating: 3}, {Day: today - 5, Rating: 3}}
	soon := []Played{{Day: today - 90, Rating: 3}, {Day: today - 60, Rating: 3}, {Day: today - 24, Rating: 3}} // in four days it has waited for a month
	weak := []Passage{{From: "5", To: "8", GoalBpm: 80, Played: []Played{{Day: today - 25, Bpm: 60, Rating: 3}, heardOn(today-24, 5, 0), heardOn(today-5, 4, 1)}}}
	right := []Passage{{From: "5", To: "8", Played: []Played{heardOn(today-25, 8, 0), heardOn(today-5, 8, 0)}}}
	work := func(id string, played []Played, ps []Passage) Item {
		return Item{Work: id, Stage: Kept, Begun: 900, Finished: 930, Played: played, Passages: ps}
	}
	gone := []Played{{Day: today - 90, Rating: 3}}
	const whole, bars = "a, all of it; ", "a, bars 5–8; "
	for _, c := range []struct {
		name    string
		minutes int // today, and on no other day
		items   []Item
		student Student
		want    string // lines
		says    string
	}{
		{"not due", 5, []Item{work("a", fresh, weak)}, Student{}, bars, "Bars 5–8 went wrong on the last two days they were heard. The whole of it can wait about "},
		{"of two that are not due", 4, []Item{work("b", fresh, right), work("a", fresh, weak)}, Student{}, bars, "went wrong on the last two days"},
		{"in three minutes", 3, []Item{work("a", fresh, weak)}, Student{}, bars, "Begins at 60, the fastest that was heard clean."},
		{"in two", 2, []Item{work("a", fresh, weak)}, Student{}, "", ""},
		{"nothing is weak", 5, []Item{work("a", fresh, right)}, Student{}, whole, ""},
		{"due within the week", 5, []Item{work("a", soon, weak)}, Student{}, whole, "A few bars of it need it sooner. Bars 5–8 went wrong"},
		{"pinned", 5, []Item{work("a", fresh, weak)}, Student{Wishes: []Wish{{Work: "a", On: []calendar.Day{today}}}}, bars, "You put it here."},
		{"all of it is wanted", 5, []Item{work("a", fresh, weak)}, Student{Wishes: []Wish{{Work: "a", Whole: true}}}, whole, "A few bars of it need it sooner."},
		{"left out", 5, []Item{work("a", fresh, weak)}, Student{Wishes: []Wish{{Work: "a", Forbid: true}}}, "", ""},
		{"for a recital", 5, []Item{work("a", fresh, weak)}, Student{Recital: &Recital{Day: today + 40, Works: []string{"a"}}}, whole, "Bars 5–8 went wrong"},
		{"what slips as a whole goes before", 5, []Item{work("a", fresh, weak), work("b", gone, nil)}, Student{}, "b, all of it; ", ""},
		{"liked", 5, []Item{work("joy", fresh, weak)}, Student{}, "joy, all of it; ", "Bars 5–8 went wrong"},
		{"near its limit", 5, []Item{work("scale", fresh, weak)}, Student{}, "scale, all of it; ", "is to stay unseen"},
		{"hands rest", 5, []Item{work("a", fresh, weak)}, Student{Hurts: []Hurt{{Day: today - 1, Level: 2}}}, "", ""},
	} {
		st := c.student
		st.ID, st.Items = "s", c.items
		st.Minutes[monday(today)] = c.minutes
		s := &Studio{Schema: Schema, Today: today, Groups: []Group{{"scales", 10}}, Works: []Work{{ID: "a"}, {ID: "b"}, {ID: "joy", Joy: true}, {ID: "scale", Kind: Exercise, Group: "scales"}}, Students: []Student{st}}
		if err := s.Check(); err != nil {
			t.Fatal(err)
		}
		p, err := New(s)
		if err != nil {
			t.Fatal(err)
		}
		w, err := p.Week(&s.Students[0])
		if err != nil {
			t.Fatal(err)
		}
		got, why := "", ""
		for _, l := range w.Lines {
			part := "all of it"
			if l.From != "" {
				part = "bars " + l.From + "–" + l.To
			}
			got, why = got+l.Work+", "+part+"; ", why+l.Why
			if is := l.From != ""; is != (l.Role == Mend) || is != (l.Minutes == 3) || is != strings.HasSuffix(l.Title, ", bars 5–8") || is != strings.HasPrefix(l.Next, "If it is clean three times") {
				t.Errorf("%s: %+v", c.name, l)
			}
		}
		if got != c.want || !strings.Contains(why, c.says) || strings.Count(why, "Bars 5–8") > 1 {
			t.Errorf("%s: %q because %q", c.name, got, why)
		}
		short, err := w.Shorten(s.Students[0].Minutes)
		if err != nil || !reflect.DeepEqual(short.Lines, w.Lines) {
			t.Errorf("%s: the same minutes again: %v, %+v", c.name, err, short.Lines)
		}
	}
}

// TestTheTeachersRatingGoesFirst: on a day that the teacher rated nothing else counts, for a work and for a passage; nor does a day on
// which the whole was tapped mend what the teacher heard.
func TestTheTeachersRatingGoesFirst(t *testing.T) {
	it := Item{Played: []Played{{Day: 5, Heard: &Heard{RightShare: 1, Complete: true}}, {Day: 5, Rating: 1}, {Day: 9, Right: 3, Tries: 3}, {Day: 12, Rating: 4}, {Day: 12, Right: 0, Tries: 3}}}
	ps := Passage{From: "5", To: "8", Played: []Played{heardOn(5, 8, 0), {Day: 5, Rating: 2}, heardOn(11, 4, 0), {Day: 11, Rating: 3}}}
	if got, want := it.playings(), []memory.Playing{{Day: 5, Rating: 1}, {Day: 9, Rating: 3}, {Day: 12, Rating: 4}}; !reflect.DeepEqual(got, want) {
		t.Errorf("the work: %v, want %v", got, want)
	}
	if got, want := it.passagePlayings(&ps), []memory.Playing{{Day: 5, Rating: 2}, {Day: 11, Rating: 3}, {Day: 9, Rating: 2}, {Day: 12, Rating: 3}}; !reflect.DeepEqual(got, want) {
		t.Errorf("the passage: %v, want %v", got, want)
	}
	if got, want := it.heardDays(&ps), []memory.Playing{{Day: 5, Rating: 2}, {Day: 11, Rating: 3}}; !reflect.DeepEqual(got, want) {
		t.Errorf("days on which it was heard: %v, want %v", got, want)
	}
}

// TestTheWholeDoesNotMendAPlace: a day on which the whole was tapped counts for its bars as they were last heard, and no better;
// one on which other bars were tapped does not count.
func TestTheWholeDoesNotMendAPlace(t *testing.T) {
	it := Item{Played: []Played{{Day: 5, Right: 3, Tries: 3}, {Day: 12, Right: 3, Tries: 3}, {Day: 14, Right: 3, Tries: 3}, {Day: 20, Right: 0, Tries: 3}, {Day: 22, Right: 3, Tries: 3, Part: true}}}
	ps := Passage{From: "5", To: "8", Played: []Played{heardOn(10, 5, 0), {Day: 14, Right: 3, Tries: 3}, heardOn(15, 8, 0)}}
	got := map[calendar.Day]memory.Rating{}
	for _, p := range it.passagePlayings(&ps) {
		got[p.Day] = p.Rating
	}
	want := map[calendar.Day]memory.Rating{10: memory.Stopped, 12: memory.Stopped, 14: memory.Steady, 15: memory.Steady, 20: memory.BrokeDown}
	if !reflect.DeepEqual(got, want) {
		t.Errorf("%v, want %v", got, want)
	}
}

// TestPassagesAreRead: what is written is read, and what makes no sense is refused with where it stands.
func TestPassagesAreRead(t *testing.T) {
	s := &Studio{Schema: Schema, Today: 1000, Works: []Work{{ID: "w"}}, Students: []Student{{ID: "s", Items: []Item{{Work: "w", Stage: Kept,
		Passages: []Passage{{From: "5", To: "8", GoalBpm: 80, Asked: []calendar.Day{990}, Played: []Played{heardOn(991, 6, 1)}}}}},
		Skills: []Skill{{Name: "small barre", Heard: []bool{true}, Times: []SkillTime{{991, "w", true}}, Asked: 990}}}}}
	text, err := json.Marshal(s)
	if err != nil {
		t.Fatal(err)
	}
	if got, err := Read(strings.NewReader(string(text))); err != nil || !reflect.DeepEqual(got, s) {
		t.Errorf("%+v, %v, want %+v", got, err, s)
	}
	mixed := strings.Replace(string(text), `"played":[`, `"played":[{"day":"1972-09-26","rating":4},{"day":"1972-09-01","rating":2},`, 1)
	if got, err := Read(strings.NewReader(mixed)); err != nil || !slices.IsSortedFunc(got.Students[0].Items[0].Passages[0].Played, func(a, b Played) int { return int(a.Day - b.Day) }) {
		t.Errorf("played in another order: %+v, %v", got, err)
	}
	for from, to := range map[string]string{`"from":"5"`: `"from":""`, `"notes":8`: `"notes":8},"rating":9,"heard":{"right_share":1`, `"goal_bpm":80`: `"goal_bpm":4000`, `"work":"w","right":true`: `"work":"x","right":true`} {
		bad := strings.Replace(string(text), from, to, 1)
		if _, err := Read(strings.NewReader(bad)); bad == string(text) || err == nil || !strings.Contains(err.Error(), "student s") {
			t.Errorf("%s: %v", to, err)
		}
	}
}
