package report

import (
	"bytes"
	"compress/zlib"
	"context"
	"errors"
	"fmt"
	"io"
	"os"
	"path/filepath"
	"reflect"
	"regexp"
	"strings"
	"testing"
	"time"
	"unicode/utf16"

	"antiphon/internal/engrave"
	"antiphon/internal/music"
	"antiphon/internal/notation"
	"antiphon/internal/reading"
)

// engraver for tests; what it compiles outlives a test, as the compiler takes seconds.
func engraver(t testing.TB) *engrave.Engraver {
	t.Helper()
	if !engrave.Available() {
		t.Skip("built without the engraving library: run make assets")
	}
	e, err := engrave.New(engrave.Settings{CacheDir: filepath.Join(os.TempDir(), fmt.Sprintf("antiphon-engrave-test-%d", os.Getuid()))})
	if err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() {
		if err := e.Close(); err != nil {
			t.Error(err)
		}
	})
	return e
}

// tune is the first half of Ode to Joy (Beethoven, 1824), from memory.
func tune(t testing.TB) *music.Score {
	t.Helper()
	const abc = "X:1\nT:Ode to Joy\nM:4/4\nL:1/4\nK:G\nBBcd|dcBA|GGAB|B>AA2|BBcd|dcBA|GGAB|A>GG2|]\n"
	s, _, err := notation.Read(strings.NewReader(abc), "tune.abc", notation.Limits{})
	if err != nil {
		t.Fatal(err)
	}
	return s
}

// printed is what a PDF's streams hold, inflated.
func printed(t *testing.T, pdf []byte) string {
	t.Helper()
	var b strings.Builder
	for _, part := range bytes.Split(pdf, []byte("endstream")) {
		head, stream, ok := bytes.Cut(part, []byte("stream\n"))
		b.Write(head)
		if !ok {
			continue
		}
		z, err := zlib.NewReader(bytes.NewReader(stream))
		if err != nil {
			continue
		}
		data, err := io.ReadAll(z)
		if err != nil && !errors.Is(err, io.ErrUnexpectedEOF) {
			t.Fatal(err)
		}
		b.Write(data)
	}
	return strings.NewReplacer(`\(`, "(", `\)`, ")", `\\`, `\`).Replace(b.String())
}

// says whether a text stands on the page in one piece.
func says(page, text string) bool {
	return strings.Contains(page, utf16of(text))
}

// pagesOf counts the pages of a PDF.
func pagesOf(page string) int { return strings.Count(page, "/Type /Page\n") }

// show keeps a PDF to look at, where a folder for that is named.
func show(t *testing.T, name string, pdf []byte) {
	t.Helper()
	if dir := os.Getenv("ANTIPHON_SHOW"); dir != "" {
		if err := os.WriteFile(filepath.Join(dir, name), pdf, 0o600); err != nil {
			t.Fatal(err)
		}
	}
}

func week(t testing.TB, lang string) WeekSheet {
	s := tune(t)
	if lang == "es" {
		return WeekSheet{
			Language: "es", Student: "Mira", Studio: "Estudio del Molino", Date: "28 de noviembre", Made: time.Unix(0, 0).UTC(),
			Words: "¡Qué bien suena ya el principio! Esta semana, más despacio y con el dedo tranquilo.",
			Items: []WeekItem{
				{Title: "Himno de la alegría", Where: "compases 1 a 4", Minutes: 5, Do: "Toca despacio. Los dedos i y m se turnan.", Score: s, Until: 4, Names: engrave.DoReMi,
					Stroke: "rest", Watch: "El meñique queda cerca de las cuerdas.", Goals: []string{"Más o menos un pulso por segundo"}, Rungs: []float64{54, 60, 66}, Clean: 3, DoneWhen: "sale tres veces seguidas sin parar."},
				{Kind: "Escuchar", Title: "la pieza que viene", Minutes: 3, Do: "Escuchadla juntos.", Ask: "¿Cuántas veces oyes la melodía?", Choices: []string{"dos", "tres", "cuatro"}},
			},
		}
	}
	return WeekSheet{
		Language: "en", Student: "Mira", Studio: "The Mill Studio", Date: "28 November", Paper: engrave.Letter(), Made: time.Unix(0, 0).UTC(),
		Begins: time.Date(2026, 11, 29, 0, 0, 0, 0, time.UTC),
		Words:  "The beginning sounds so well already! This week: slower, and with quiet fingers.",
		Items: []WeekItem{
			{Title: "Ode to Joy", Where: "bars 1 to 4", Minutes: 5, Do: "Play slowly. The fingers i and m take turns.", Score: s, Until: 4, Names: engrave.Letters,
				Stroke: "rest", Watch: "the little finger stays near the strings.", Like: "each note sings into the next one.", Unlike: "a gap before each new note.",
				Goals: []string{"About one beat a second", "Loud in bars 1 and 2, soft in bars 3 and 4"}, Coach: []string{"Does the wrist stay straight?", "Do i and m really take turns?"},
				Rungs: []float64{54, 58, 63, 68, 72}, Clean: 3, DoneWhen: "it went well three times in a row without a stop."},
			{Title: "Ode to Joy", Where: "all of it", Minutes: 6, Do: "Play against the second part on the week page. The parent may hum the lower part.", Score: s, DoneWhen: "both end together."},
			{Kind: "Listen", Title: "the next piece", Minutes: 3, Do: "Listen to the recording together, twice.", Ask: "How often does the tune come back?", Choices: []string{"twice", "three times", "four times"}},
			{Kind: "Say the names", Title: "first string", Minutes: 2, Do: "Say the names aloud while you play, up and back.", Ask: "Which name was the hardest?"},
			{Title: "The little barre", Held: "Three Blind Mice without a stop first. Until then the left hand rests from this."},
		},
	}
}

func TestWeekSheet(t *testing.T) {
	e := engraver(t)
	for _, c := range []struct {
		lang, box string
		texts     []string
		source    string
	}{
		{"en", "612.00 792.00", []string{"Mira: this week", "about 16 minutes a day", "Ode to Joy, bars 1 to 4", "Watch for:", "Done when:", "54", "72", "three times", "Sun", "29", "5 min", "B"}, "ANSI/ASME Y14.1: 8.5 by 11 inches, at 72 points an inch"},
		{"es", "595.28 841.89", []string{"Mira: esta semana", "compases 1 a 4", "Fíjate en:", "Pulsos por minuto:", "¿Cuántas veces oyes la melodía?", "mié", "sáb", "El meñique queda cerca de las cuerdas.", "si"}, "ISO 216: 210 by 297 mm"},
	} {
		var b, again bytes.Buffer
		if err := week(t, c.lang).PDF(t.Context(), &b, e); err != nil {
			t.Fatal(err)
		}
		show(t, "week-"+c.lang+".pdf", b.Bytes())
		page := printed(t, b.Bytes())
		if !strings.Contains(page, "/MediaBox [0 0 "+c.box+"]") {
			t.Errorf("%s: no paper of %s points (%s)", c.lang, c.box, c.source)
		}
		if !regexp.MustCompile(`/Lang \(`).MatchString(page) {
			t.Errorf("%s: the document does not say its language", c.lang)
		}
		for _, want := range c.texts {
			if !says(page, want) {
				t.Errorf("%s: %q is not on the sheet", c.lang, want)
			}
		}
		if n := pagesOf(page); n < 1 || n > 2 {
			t.Errorf("%s: %d pages", c.lang, n)
		}
		if err := week(t, c.lang).PDF(t.Context(), &again, e); err != nil || !bytes.Equal(b.Bytes(), again.Bytes()) {
			t.Errorf("%s: the same week gives other bytes the second time (%v)", c.lang, err)
		}
	}
}

// TestWeekSheetBoxes: every item that is played has a box for each day, what is held back has none, and
// the ladder and the choices have theirs.
func TestWeekSheetBoxes(t *testing.T) {
	e := engraver(t)
	w := week(t, "en")
	for i := range w.Items {
		w.Items[i].Score = nil
	}
	var b bytes.Buffer
	if err := w.PDF(t.Context(), &b, e); err != nil {
		t.Fatal(err)
	}
	if got, want := strings.Count(printed(t, b.Bytes()), " re S"), 4*7+5+3; got != want {
		t.Errorf("%d boxes, want 4 items × 7 days, 5 rungs and 3 choices: %d", got, want)
	}
}

// TestWeekSheetFull: a week of the longest kind stays on its pages, hostile text included.
func TestWeekSheetFull(t *testing.T) {
	e := engraver(t)
	w := week(t, "en")
	w.Student = strings.Repeat("Mira\u202e 🎸 ", 30)
	w.Words = strings.Repeat("word ", 900) + strings.Repeat("x", 600) + "\x00\x1b[31m 漢字 \\) Tj"
	one := w.Items[0]
	one.Do = strings.Repeat("Play slowly and listen. ", 80)
	one.Title = strings.Repeat("Title ", 40)
	w.Items = nil
	for range mostSheetItems {
		w.Items = append(w.Items, one)
	}
	w.Days = 99
	var b bytes.Buffer
	if err := w.PDF(t.Context(), &b, e); err != nil {
		t.Fatal(err)
	}
	show(t, "week-full.pdf", b.Bytes())
	page := printed(t, b.Bytes())
	low := 0
	for _, m := range regexp.MustCompile(`BT (-?[0-9.]+) (-?[0-9.]+) Td`).FindAllStringSubmatch(page, -1) {
		var x, y float64
		if _, err := fmt.Sscan(m[1]+" "+m[2], &x, &y); err != nil {
			t.Fatal(err)
		}
		if x < 20 || x > 612-20 || y < 20 || y > 792-20 {
			t.Fatalf("text at %v, %v points is off the page", x, y)
		}
		low++
	}
	if n := pagesOf(page); low < 1000 || n < 15 || n > 60 {
		t.Errorf("%d texts on %d pages", low, n)
	}
	w.Items = append(w.Items, one)
	if err := w.PDF(context.Background(), io.Discard, e); err == nil {
		t.Error("one item too many is not refused")
	}
}

// TestSheetWords: each language says everything, with the same blanks.
func TestSheetWords(t *testing.T) {
	first := reflect.ValueOf(allSheetWords()[0])
	for _, w := range allSheetWords() {
		v := reflect.ValueOf(w)
		for i := range v.NumField() {
			name := v.Type().Field(i).Name
			if v.Field(i).IsZero() {
				t.Errorf("%s: %s is missing", w.code, name)
			}
			if a, b := strings.Count(fmt.Sprint(v.Field(i)), "%d"), strings.Count(fmt.Sprint(first.Field(i)), "%d"); a != b {
				t.Errorf("%s: %s has %d blanks, want %d", w.code, name, a, b)
			}
		}
	}
}

// TestSheetReads: a ten-year-old can read the longer texts, by the formulas that reading names.
func TestSheetReads(t *testing.T) {
	read := 0
	for _, w := range allSheetWords() {
		v := reflect.ValueOf(w)
		for i := range v.NumField() {
			text := fmt.Sprint(v.Field(i))
			if e, ok := reading.Of(w.code, text); ok && e.Words >= reading.Enough {
				read++
				if e.Years > 5 {
					t.Errorf("%s %s: %.1f years of school: %s", w.code, v.Type().Field(i).Name, e.Years, text)
				}
			}
		}
	}
	if read < 4 {
		t.Errorf("only %d texts were long enough", read)
	}
}

// TestSignsAndWays: what the signs of strokes mean is said on the sheet, once and in its language; two ways to try stand
// with notes of their own in place of the one passage.
func TestSignsAndWays(t *testing.T) {
	e := engraver(t)
	stroked := func(s music.Stroke) *music.Score {
		sc := tune(t)
		for i := range sc.Parts[0].Notes {
			sc.Parts[0].Notes[i].SetStroke(s)
		}
		return sc
	}
	for lang, want := range map[string][2]string{"en": {"rest stroke: the finger lands on the next string", "free stroke: the finger swings free"},
		"es": {"apoyando: el dedo descansa en la cuerda de al lado", "tirando: el dedo pasa libre"}} {
		for _, paper := range []engrave.Paper{engrave.A4(), engrave.Letter()} {
			w := WeekSheet{Language: lang, Student: "Mira", Paper: paper, Items: []WeekItem{
				{Title: "Ode to Joy", Score: stroked(music.RestStroke), Until: 2}, {Title: "Ode to Joy", Score: stroked(music.RestStroke), Until: 2},
				{Title: "Ode to Joy", Score: stroked(music.RestStroke), Until: 2, Ways: []WeekWay{{Say: "1: so", Score: stroked(music.FreeStroke)}, {Say: "2: otherwise", Score: stroked(music.FreeStroke)}}},
			}}
			var b bytes.Buffer
			if err := w.PDF(t.Context(), &b, e); err != nil {
				t.Fatal(err)
			}
			show(t, "signs-"+lang+"-"+paper.Name+".pdf", b.Bytes())
			page := printed(t, b.Bytes())
			for _, say := range want {
				if !says(page, say) {
					t.Errorf("%s on %s: the sheet does not say %q", lang, paper.Name, say)
				}
			}
			if lang == "es" && says(page, "rest stroke") {
				t.Error("a Spanish sheet speaks English")
			}
			if n := strings.Count(page, utf16of(want[0])); n != 1 {
				t.Errorf("%s: what the first sign means is said %d times", lang, n)
			}
			if !says(page, "1: so") || !says(page, "2: otherwise") {
				t.Error("the ways are not named")
			}
		}
	}
}

func utf16of(text string) string {
	var b []byte
	for _, u := range utf16.Encode([]rune(text)) {
		b = append(b, byte(u>>8), byte(u))
	}
	return string(b)
}
