package tongue

import (
	"testing"

	"antiphon/internal/reading"
)

// TestReadingAge: every text of 20 words and more can be read at ten, which is five years of school. The formulas and
// their sources stand in package reading.
func TestReadingAge(t *testing.T) {
	const most = 5
	read := 0
	for _, l := range All() {
		for key, text := range l.phrases {
			e, ok := reading.Of(l.Code, text)
			if !ok || e.Words < reading.Enough {
				continue
			}
			read++
			if e.Years > most {
				t.Errorf("%s %s: %.1f years of school: %s", l.Name, key, e.Years, text)
			}
		}
	}
	if read < 10 {
		t.Errorf("only %d texts were long enough", read)
	}
}
