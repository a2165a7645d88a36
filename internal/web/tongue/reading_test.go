package tongue

import (
	"regexp"
	"strings"
	"testing"
	"unicode"
	"unicode/utf8"
)

// words and sentences of a text; a blank counts as a word of two syllables.
func counts(text string, syllables func(word string) int) (words, sentences, sounds float64) {
	text = regexp.MustCompile(`%(\[\d+\])?[a-z]|\{[a-z]+\}`).ReplaceAllString(text, "Mira")
	for _, s := range regexp.MustCompile(`[.!?:;]+(\s|$)`).Split(text, -1) {
		n := 0.0
		for _, w := range strings.FieldsFunc(s, func(r rune) bool { return !unicode.IsLetter(r) && r != '’' }) {
			n++
			sounds += float64(syllables(w))
		}
		if n > 0 {
			sentences++
			words += n
		}
	}
	return words, sentences, sounds
}

var (
	vowels   = regexp.MustCompile(`[aeiouy]+`)
	silent   = regexp.MustCompile(`([^aeiouyl]|[aeiouy]l)e$|[^aeiouytd]ed$`)
	hiatus   = regexp.MustCompile(`[aeoáéó][íú]|[íú][aeoáéó]|[aeoáéó][aeoáéó]`)
	mute     = regexp.MustCompile(`([qg])u([eéií])`)
	spanishY = regexp.MustCompile(`y$`)
)

func inEnglish(word string) int {
	w := strings.ToLower(word)
	n := len(vowels.FindAllString(w, -1))
	if n > 1 && silent.MatchString(w) {
		n--
	}
	return max(n, 1)
}

func inSpanish(word string) int {
	w := mute.ReplaceAllString(spanishY.ReplaceAllString(strings.ToLower(word), "i"), "$1$2")
	n := 0
	for _, group := range regexp.MustCompile(`[aeiouáéíóúü]+`).FindAllString(w, -1) {
		n++
		for rest := group; ; n++ { // strong vowels beside each other, and a stressed weak one, stand apart
			at := hiatus.FindStringIndex(rest)
			if at == nil {
				break
			}
			_, first := utf8.DecodeRuneInString(rest[at[0]:])
			rest = rest[at[0]+first:]
		}
	}
	return max(n, 1)
}

func TestSyllables(t *testing.T) { // worked by hand
	for w, want := range map[string]int{"recording": 3, "phone": 1, "deleted": 3, "little": 2, "closed": 1, "choose": 1, "family": 3, "teacher": 2, "guitar": 2} {
		if got := inEnglish(w); got != want {
			t.Errorf("%s: %d, want %d", w, got, want)
		}
	}
	for w, want := range map[string]int{"grabación": 3, "guitarra": 3, "teléfono": 4, "aéreo": 4, "día": 2, "queréis": 2, "muy": 1, "que": 1, "cuerda": 2} {
		if got := inSpanish(w); got != want {
			t.Errorf("%s: %d, want %d", w, got, want)
		}
	}
}

// TestReadingAge: every text of 20 words and more can be read at ten, which is five years of school.
// English: Flesch–Kincaid grade, 0.39 words a sentence + 11.8 syllables a word − 15.59 (Kincaid, Fishburne,
// Rogers and Chissom 1975). Spanish: Crawford (1989), years of school = 0.049 syllables in 100 words −
// 0.205 sentences in 100 words − 3.407. Both from memory.
func TestReadingAge(t *testing.T) {
	const most = 5
	read := 0
	for _, l := range All() {
		for key, text := range l.phrases {
			syllables := inEnglish
			if l.Code == "es" {
				syllables = inSpanish
			}
			w, s, y := counts(text, syllables)
			if w < 20 {
				continue
			}
			read++
			years := 0.39*w/s + 11.8*y/w - 15.59
			if l.Code == "es" {
				years = 4.9*y/w - 20.5*s/w - 3.407
			}
			if years > most {
				t.Errorf("%s %s: %.1f years of school: %s", l.Name, key, years, text)
			}
		}
	}
	if read < 10 {
		t.Errorf("only %d texts were long enough", read)
	}
}
