package studio

import (
	"strings"
	"unicode"

	"golang.org/x/text/unicode/norm"
)

// fold is an answer as two of them are compared: no case, no accents, no signs, one space between words.
func fold(s string) string {
	s = strings.Map(func(r rune) rune {
		switch {
		case unicode.Is(unicode.Mn, r):
			return -1
		case unicode.IsLetter(r), unicode.IsDigit(r), r == '#', r == '♯', r == '♭':
			return unicode.ToLower(r)
		}
		return ' '
	}, norm.NFD.String(s))
	return strings.Join(strings.Fields(s), " ")
}

// Answered says whether an answer is right.
func (q *Question) Answered(text string) bool {
	if q == nil || fold(text) == "" {
		return false
	}
	for _, r := range q.Right {
		if fold(r) == fold(text) {
			return true
		}
	}
	return false
}
