package prose_test

import (
	"slices"
	"testing"

	"antiphon/internal/studio"
	"antiphon/internal/web/prose"
)

func TestATakeInAFewWords(t *testing.T) {
	one := studio.Take{State: studio.NeedsALook, Why: "Very quiet: the phone was far away.", Concerns: []studio.Concern{{Say: "Very quiet: the phone was far away."}},
		Summary: &studio.Summary{FromBar: "1", ToBar: "8", Bpm: 66.4, Restarts: 2, Notes: 32, Wrong: 1, Extra: 1, Missed: 1}}
	want := []string{"Very quiet: the phone was far away", "bars 1 to 8 at 66", "began again twice"}
	if got := prose.Take(one); !slices.Equal(got, want) {
		t.Errorf("%q", got)
	}
	one.State, one.Why, one.Concerns, one.Summary.Restarts = studio.Ready, "", nil, 0
	want = []string{"bars 1 to 8 at 66", "2 notes not as written, 1 note not heard"}
	if got := prose.Take(one); !slices.Equal(got, want) {
		t.Errorf("%q", got)
	}
}

func TestWords(t *testing.T) {
	for _, c := range []struct{ got, want string }{
		{prose.Bars("5", "5"), "bar 5"}, {prose.Bars("", "8"), "up to bar 8"}, {prose.Bars("", ""), ""},
		{prose.Length(61), "an hour and 1 minute"}, {prose.Length(-1), "an unknown time"}, {prose.Length(11.2), "12 minutes"},
		{prose.Among([]string{"Mira", "Jon", "Ada"}), "Mira, Jon and Ada"}, {prose.Number(13, "take", "takes"), "13 takes"}, {prose.Number(1, "take", "takes"), "one take"},
		{prose.On("yesterday"), "yesterday"}, {prose.On("3 November"), "on 3 November"},
		{prose.TitlesOf(nil).Of(studio.Take{FileName: "a.m4a"}), "a.m4a"},
	} {
		if c.got != c.want {
			t.Errorf("%q, want %q", c.got, c.want)
		}
	}
}
