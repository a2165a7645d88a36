package tongue

import (
	"regexp"
	"strings"
	"unicode"
	"unicode/utf8"
)

// Reading is how much a text asks of whoever reads it.
type Reading struct {
	Words     int
	Sentences int
	Years     float64 // of school that it takes; 0 where there is no formula for the language or not a word
	Longest   string  // its longest sentence, as it stands there
	InLongest int     // words in it
}

// Read measures a text in the language. A blank that is filled in later counts as one word of two syllables.
//
// English: Flesch–Kincaid grade, 0.39 words a sentence + 11.8 syllables a word − 15.59 (Kincaid, Fishburne, Rogers and
// Chissom 1975). Spanish: Crawford (1989), years of school = 0.049 syllables in 100 words − 0.205 sentences in 100
// words − 3.407. Both from memory.
func (t *Tongue) Read(text string) Reading {
	syllables := inEnglish
	if t.Code == "es" {
		syllables = inSpanish
	}
	var r Reading
	sounds := 0
	text = gap.ReplaceAllString(text, "Mira")
	begins := 0
	for _, end := range append(sentenceEnd.FindAllStringIndex(text, -1), []int{len(text), len(text)}) {
		if end[0] < begins {
			continue
		}
		sentence := text[begins:end[0]]
		begins = end[1]
		n := 0
		for _, w := range strings.FieldsFunc(sentence, func(r rune) bool { return !unicode.IsLetter(r) && r != '’' }) {
			n++
			sounds += syllables(w)
		}
		if n == 0 {
			continue
		}
		r.Sentences++
		r.Words += n
		if n > r.InLongest {
			r.InLongest, r.Longest = n, strings.TrimSpace(sentence)
		}
	}
	if r.Words == 0 {
		return r
	}
	w, s, y := float64(r.Words), float64(r.Sentences), float64(sounds)
	switch t.Code {
	case English:
		r.Years = 0.39*w/s + 11.8*y/w - 15.59
	case "es":
		r.Years = 4.9*y/w - 20.5*s/w - 3.407
	}
	return r
}

var (
	gap         = regexp.MustCompile(`%(\[\d+\])?[a-z]|\{[a-z]+\}|…`)
	sentenceEnd = regexp.MustCompile(`[.!?:;]+(\s|$)|\n+`)
	group       = regexp.MustCompile(`[aeiouáéíóúü]+`)
	vowels      = regexp.MustCompile(`[aeiouy]+`)
	silent      = regexp.MustCompile(`([^aeiouyl]|[aeiouy]l)e$|[^aeiouytd]ed$`)
	hiatus      = regexp.MustCompile(`[aeoáéó][íú]|[íú][aeoáéó]|[aeoáéó][aeoáéó]`)
	mute        = regexp.MustCompile(`([qg])u([eéií])`)
	spanishY    = regexp.MustCompile(`y$`)
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
	for _, g := range group.FindAllString(w, -1) {
		n++
		for rest := g; ; n++ { // strong vowels beside each other, and a stressed weak one, stand apart
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
