package lesson

import (
	"strings"
	"testing"

	"antiphon/internal/studio"
	"antiphon/internal/web/prose"
)

// TestMinutesInASentence: what a day holds, whatever of it is known.
func TestMinutesInASentence(t *testing.T) {
	for _, c := range []struct {
		minutes []int
		family  int
		want    string
	}{
		{nil, 15, ""},
		{[]int{10, 5}, 0, "Together 15 minutes a day."},
		{[]int{10, 0}, 15, "Together 10 minutes a day of the 15 minutes that the family has on its shortest day, beside one task without its minutes."},
		{[]int{20, 0, 0}, 15, "Together 20 minutes a day, beside two tasks without their minutes; on its shortest day the family has 15 minutes. Not everything has to come every day, or something can go out."},
	} {
		var as []studio.Assignment
		for _, m := range c.minutes {
			as = append(as, studio.Assignment{Minutes: m})
		}
		if got := minutesSay(as, c.family); got != c.want {
			t.Errorf("%v of %d: %q\nwant %q", c.minutes, c.family, got, c.want)
		}
	}
}

// TestKindOfATask: what is asked is said once, and never begins with a sign.
func TestKindOfATask(t *testing.T) {
	works := prose.TitlesOf([]studio.Work{{ID: "canon", Title: "Tallis’s Canon"}})
	round := studio.Second{Kind: studio.Round, AfterBars: 2, Who: studio.ByParent}
	for _, c := range []struct {
		a    studio.Assignment
		want string
	}{
		{studio.Assignment{Ask: studio.AskPlay, Work: "canon"}, ""},
		{studio.Assignment{Ask: studio.AskKeep, For: "canon"}, "For Tallis’s Canon"},
		{studio.Assignment{Ask: studio.AskTogether, Work: "canon", Second: round}, "Play against a second part: a round, two bars later, by the parent"},
		{studio.Assignment{Ask: studio.AskPlay, Work: "canon", Second: round}, "A round, two bars later, by the parent"},
	} {
		if got := taskForTeacher(c.a, works); got.Kind != c.want || got.Title == "" {
			t.Errorf("%s: %q, want %q", c.a.Ask, got.Kind, c.want)
		}
	}
}

// TestWhatWasSaidAloudIsNotQuoted: it has no words to put into a lesson.
func TestWhatWasSaidAloudIsNotQuoted(t *testing.T) {
	if x := saidIn(studio.Remark{Anchor: studio.Anchor{Bar: "5"}}); !x.Aloud || !strings.Contains(x.Text, "aloud") || x.Where != "bar 5" {
		t.Errorf("said aloud: %+v", x)
	}
	if x := saidIn(studio.Remark{Text: "Let it ring.", Anchor: studio.Anchor{AtS: 3}}); x.Aloud || x.Text != "Let it ring." {
		t.Errorf("written: %+v", x)
	}
}
