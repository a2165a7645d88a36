package reading

import (
	"math"
	"testing"
)

func TestSyllables(t *testing.T) { // worked by hand
	for w, want := range map[string]int{"recording": 3, "phone": 1, "deleted": 3, "little": 2, "closed": 1, "choose": 1, "family": 3, "teacher": 2, "guitar": 2} {
		if got := English(w); got != want {
			t.Errorf("%s: %d, want %d", w, got, want)
		}
	}
	for w, want := range map[string]int{"grabación": 3, "guitarra": 3, "teléfono": 4, "aéreo": 4, "día": 2, "queréis": 2, "muy": 1, "que": 1, "cuerda": 2} {
		if got := Spanish(w); got != want {
			t.Errorf("%s: %d, want %d", w, got, want)
		}
	}
}

func TestOf(t *testing.T) {
	for _, c := range []struct {
		lang, text                  string
		words, sentences, syllables int
		years                       float64
		source                      string
	}{
		{"en", "The cat sat on the mat.", 6, 1, 6, 0.39*6 + 11.8 - 15.59, "formula of Kincaid and others 1975, worked by hand: −1.45"},
		{"en", "Play it again. Then rest %d again!", 7, 2, 10, 0.39*3.5 + 11.8*10/7 - 15.59, "worked by hand, the blank as two syllables"},
		{"es", "La cuerda suena. El dedo descansa.", 6, 2, 11, 4.9*11/6 - 20.5/3 - 3.407, "formula of Crawford 1989, worked by hand: −1.26"},
	} {
		e, ok := Of(c.lang, c.text)
		if !ok || e.Words != c.words || e.Sentences != c.sentences || e.Syllables != c.syllables || math.Abs(e.Years-c.years) > 1e-9 {
			t.Errorf("%q: got %+v %v, want %d words, %d sentences, %d syllables, %.2f years (%s)", c.text, e, ok, c.words, c.sentences, c.syllables, c.years, c.source)
		}
	}
	for _, c := range [][2]string{{"fr", "Bonjour."}, {"en", " … 12 "}, {"es", ""}} {
		if e, ok := Of(c[0], c[1]); ok {
			t.Errorf("%q in %q: %+v", c[1], c[0], e)
		}
	}
}
