package tone

import (
	"testing"

	"antiphon/internal/music"
)

func TestWish(t *testing.T) {
	for goal, want := range map[string]Place{"bridge": music.NearBridge, "hole": music.OverHole, "neck": music.OverNeck,
		"near the bridge, please": music.NearBridge, "sul tasto": music.OverNeck, "warm": music.AnyPlace, "": music.AnyPlace} {
		if got := Wish(goal); got != want {
			t.Errorf("%q: %q, want %q", goal, got, want)
		}
	}
	for goal, want := range map[string]string{"bridge": "near the bridge", "warm, over the hole": "warm, over the hole", "": ""} {
		if got := Said(goal); got != want {
			t.Errorf("%q: %q, want %q", goal, got, want)
		}
	}
}

func TestSay(t *testing.T) {
	s := &music.Score{Bars: make([]music.Bar, 12), Parts: make([]music.Part, 1)}
	one := func(p Place, from, to int, lean Lean) Stretch {
		return Stretch{Pass: 1, From: from, To: to, Place: p, Confidence: 0.95, R: 0.2, Notes: 8, Lean: lean}
	}
	for _, c := range []struct {
		name string
		h    Heard
		want string
	}{
		{"one place", Heard{Place: music.OverHole, Stretches: []Stretch{one(music.OverHole, 0, 11, Same)}}, ""},
		{"nothing known", Heard{Stretches: []Stretch{one(music.AnyPlace, 0, 11, Same)}}, ""},
		{"a few bars elsewhere, twice", Heard{Place: music.OverHole, Stretches: []Stretch{one(music.OverHole, 0, 3, Same), one(music.NearBridge, 4, 5, ToBridge), one(music.OverHole, 6, 8, Same), one(music.NearBridge, 9, 9, ToBridge)}},
			"mostly over the hole; near the bridge in bars 5–6 and 10"},
		{"the same bars in two passes", Heard{Place: music.OverHole, Stretches: []Stretch{one(music.OverHole, 0, 3, Same), one(music.OverNeck, 4, 4, ToNeck), one(music.OverNeck, 4, 4, ToNeck)}},
			"mostly over the hole; over the neck in bar 5"},
	} {
		if got := c.h.Say(s); got != c.want {
			t.Errorf("%s: %q, want %q", c.name, got, c.want)
		}
	}
	s.Parts[0].Directions = []music.Direction{{Kind: music.Words, Text: "sul tasto", At: music.Quarters(8, 1), Bar: 2}, {Kind: music.Words, Text: "nat.", At: music.Quarters(16, 1), Bar: 4}}
	h := Heard{Place: music.OverHole, Stretches: []Stretch{one(music.OverHole, 0, 11, Same)}}
	if got, want := h.Say(s), "asked over the neck in bars 3–4: heard over the hole, fairly sure"; got != want {
		t.Errorf("%q, want %q", got, want)
	}
}
