package notify

import (
	"errors"
	"strings"
	"testing"

	"antiphon/internal/reading"
)

// TestWords: each language says every kind, in words that a ten-year-old reads, by the formulas that
// reading names; titles are short enough for a phone.
func TestWords(t *testing.T) {
	kinds := []Kind{Lesson, Nudge, Letter, Take, Question, Hurt, Confirm, Test}
	read := 0
	easy := func(code, text string) {
		if e, ok := reading.Of(code, text); ok && e.Words >= reading.Enough {
			if read++; e.Years > 5 {
				t.Errorf("%s: %.1f years of school: %s", code, e.Years, text)
			}
		}
	}
	for _, s := range sayings() {
		if len(s.of) != len(kinds) || s.why == "" || s.off == "" || strings.Count(s.why, "%s") != 1 {
			t.Errorf("%s has %d kinds", s.code, len(s.of))
		}
		easy(s.code, s.why)
		for _, k := range kinds {
			w, ok := s.of[k]
			if !ok || w.title == "" || w.mail == "" || (w.body == "") != (k == Confirm) {
				t.Errorf("%s, %s: %+v", s.code, k, w)
			}
			if n := len([]rune(w.title)); n > 40 {
				t.Errorf("%s, %s: a title of %d letters", s.code, k, n)
			}
			if strings.Contains(w.title+w.body+w.mail, "%") {
				t.Errorf("%s, %s has a blank: a notice names nobody", s.code, k)
			}
			easy(s.code, w.mail)
			if got, _, err := (Notice{Kind: k, Language: s.code}).in(); err != nil || got.code != s.code {
				t.Errorf("%s, %s: %v", s.code, k, err)
			}
		}
	}
	if read < 4 {
		t.Errorf("only %d texts were long enough", read)
	}
	if s, _, err := (Notice{Kind: Lesson, Language: "xx"}).in(); err != nil || s.code != "en" {
		t.Errorf("a language nobody knows: %s, %v", s.code, err)
	}
	if _, _, err := (Notice{}).in(); !errors.Is(err, ErrRefused) {
		t.Error(err)
	}
}
