package tongue

import (
	"maps"
	"os"
	"regexp"
	"slices"
	"strings"
	"testing"
)

var (
	blankInLabel = regexp.MustCompile(`%(\[\d+\])?[a-z]|\{[a-z]+\}`)
	wordOfLabel  = regexp.MustCompile(`\p{L}+(’\p{L}+)?`)
)

// plain reads the words that short texts of a language may use; lines with # are remarks. The lists are our own, read
// word by word: no published one of what a child of ten knows was at hand.
func plain(t *testing.T, code string) map[string]bool {
	t.Helper()
	b, err := os.ReadFile("testdata/plain." + code + ".txt")
	if err != nil {
		t.Fatal(err)
	}
	words := map[string]bool{}
	for line := range strings.Lines(string(b)) {
		if line = strings.TrimSpace(line); line != "" && !strings.HasPrefix(line, "#") {
			words[line] = true
		}
	}
	return words
}

// TestPlainWords: a text of fewer than 20 words, for which no reading formula holds, uses words of the list only.
func TestPlainWords(t *testing.T) {
	for _, l := range All() {
		known := plain(t, l.Code)
		short := 0
		for _, key := range slices.Sorted(maps.Keys(l.phrases)) {
			words := wordOfLabel.FindAllString(blankInLabel.ReplaceAllString(l.phrases[key], " "), -1)
			if len(words) >= 20 {
				continue
			}
			short++
			for _, w := range words {
				if !known[strings.ToLower(w)] {
					t.Errorf("%s: %q says %q, which is not in testdata/plain.%s.txt: say it with a plainer word, or add it if a child of ten reads it", l.Name, key, w, l.Code)
				}
			}
		}
		if short < 200 {
			t.Errorf("%s: only %d short texts were found", l.Name, short)
		}
	}
}
