package studio

import (
	"testing"

	"antiphon/internal/reading"
)

// TestALetterAboutOneLesson is as right as one about many.
func TestALetterAboutOneLesson(t *testing.T) {
	for language, want := range map[string][2]string{
		"en": {"In this time we had 1 lesson. This is what we worked on.", "In this time we had 3 lessons. This is what we worked on."},
		"es": {"En este tiempo hubo 1 clase. Esto es lo que hicimos.", "En este tiempo hubo 3 clases. Esto es lo que hicimos."},
	} {
		w := lettersIn(language)
		if got := [2]string{say(w.workedText, w.count(1, "lesson")), say(w.workedText, w.count(3, "lesson"))}; got != want {
			t.Errorf("%s: %q", language, got)
		}
	}
}

// TestFamilyWordsCanBeRead: what the studio drafts for families, filled in, can be read at ten, which is five
// years of school. The formulas and their sources stand in package reading.
func TestFamilyWordsCanBeRead(t *testing.T) {
	const most = 5
	read := 0
	look := func(language, text string) {
		t.Helper()
		e, ok := reading.Of(language, text)
		if !ok || e.Words < reading.Enough {
			return
		}
		read++
		if e.Years > most {
			t.Errorf("%s: %.1f years of school: %s", language, e.Years, text)
		}
	}
	for language, w := range nudges {
		for _, first := range []string{w.first, w.some, w.one} {
			look(language, fill([]string{first, w.begin, w.way}, "Mira", 3, "The first line."))
		}
	}
	for language, w := range spokenLetters {
		from, to := w.day("2026-01-07"), w.day("2026-03-27")
		for _, text := range []string{say(w.helloText, "Mira", from, to), say(w.workedText, w.count(3, "lesson")), w.heardText, say(w.homeText, w.count(9, "day")),
			w.saidText, w.nextText, say(w.quietText, "Mira", from, to)} {
			look(language, text)
		}
	}
	if read < 10 {
		t.Errorf("only %d texts were long enough", read)
	}
	for language := range nudges {
		if _, ok := spokenLetters[language]; !ok {
			t.Errorf("%s has words between lessons and no letters", language)
		}
		if _, ok := spokenLines[language]; !ok {
			t.Errorf("%s has words between lessons and none for lines of plans", language)
		}
	}
}
