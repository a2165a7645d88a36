package tongue

import (
	"math"
	"testing"
)

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
func TestReadingAge(t *testing.T) {
	const most = 5
	read := 0
	for _, l := range All() {
		for key, text := range l.phrases {
			r := l.Read(text)
			if r.Words < 20 {
				continue
			}
			read++
			if r.Years > most {
				t.Errorf("%s %s: %.1f years of school: %s", l.Name, key, r.Years, text)
			}
		}
	}
	if read < 10 {
		t.Errorf("only %d texts were long enough", read)
	}
}

// TestRead: worked by hand with the two formulas.
func TestRead(t *testing.T) {
	for _, c := range []struct {
		code, text       string
		words, sentences int
		years            float64
		longest          string
	}{
		// 10 words, 2 sentences, 12 syllables (lit-tle, ta-ble): 0.39·5 + 11.8·1.2 − 15.59
		{"en", "Put the little book here. It lies on the table", 10, 2, 0.52, "Put the little book here"},
		// 6 words, 1 sentence, 11 syllables (To-ca des-pa-cio la cuer-da más gra-ve)
		{"es", "Toca despacio la cuerda más grave.", 6, 1, 4.9*11/6 - 20.5/6 - 3.407, "Toca despacio la cuerda más grave"},
		{"en", " … \n", 1, 1, 0.39 + 11.8*2 - 15.59, "Mira"},
		{"en", "", 0, 0, 0, ""},
	} {
		r := Of(c.code).Read(c.text)
		if r.Words != c.words || r.Sentences != c.sentences || math.Abs(r.Years-c.years) > 1e-9 || r.Longest != c.longest {
			t.Errorf("%q: %+v, want %d words, %d sentences, %.3f years", c.text, r, c.words, c.sentences, c.years)
		}
	}
}
