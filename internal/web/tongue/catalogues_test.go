package tongue

import "testing"

// TestNoKeyTwice: a key stands in one catalogue, so that no part of the pages overwrites the words of another.
func TestNoKeyTwice(t *testing.T) {
	for _, l := range []struct {
		all   map[string]string
		parts []map[string]string
	}{
		{english.phrases, []map[string]string{englishWeek, englishPractice, englishRecord, englishNotices}},
		{spanish.phrases, []map[string]string{spanishWeek, spanishPractice, spanishRecord, spanishNotices}},
	} {
		seen := map[string]bool{}
		for _, part := range l.parts {
			for key, words := range part {
				if seen[key] || l.all[key] != words {
					t.Errorf("%q stands in two catalogues", key)
				}
				seen[key] = true
			}
		}
	}
}
