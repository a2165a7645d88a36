package music

import (
	"fmt"
	"testing"
)

func TestPlayers(t *testing.T) {
	for _, c := range []struct {
		name  string
		parts []Part
		want  string
	}{
		{"none", nil, "[]"},
		{"two guitars of a MusicXML file", []Part{{Name: "Guitar"}, {Name: "Guitar"}}, "[[0] [1]]"},
		{"two guitars, a channel each", []Part{{Channel: 1}, {Channel: 2}}, "[[0] [1]]"},
		{"two voices as MIDI tracks", []Part{{Channel: 1, Program: 25}, {Channel: 1, Program: 25}}, "[[0 1]]"},
		{"a named track and its nameless second voice", []Part{{Channel: 1, Name: "Guitar"}, {Channel: 1}}, "[[0 1]]"},
		{"two named tracks on one channel", []Part{{Channel: 1, Name: "Guitar 1"}, {Channel: 1, Name: "Guitar 2"}}, "[[0] [1]]"},
		{"another instrument on the channel", []Part{{Channel: 1, Program: 25}, {Channel: 1, Program: 74}, {Channel: 1, Program: 25}}, "[[0 2] [1]]"},
	} {
		s := &Score{Parts: c.parts}
		if got := fmt.Sprint(s.Players()); got != c.want {
			t.Errorf("%s: got %s, want %s", c.name, got, c.want)
		}
	}
}
