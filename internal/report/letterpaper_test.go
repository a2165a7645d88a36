package report

import (
	"bytes"
	"encoding/json"
	"encoding/xml"
	"fmt"
	"io"
	"math"
	"reflect"
	"strings"
	"testing"
	"time"

	"antiphon/internal/engrave"
	"antiphon/internal/reading"
)

func letter(lang string) LetterPaper {
	tempo := Chart{Kind: ChartTempo, Title: "Ode to Joy", Goal: 80}
	days := Chart{Kind: ChartDays}
	begin := time.Date(2026, 9, 7, 0, 0, 0, 0, time.UTC)
	for i, d := range []float64{3, 5, 4, 0, 6, 5, 2, 7, 5, 4, 6} {
		day := begin.AddDate(0, 0, 7*i).Format(time.DateOnly)
		days.Points = append(days.Points, ChartPoint{day, d})
		if i%2 == 0 {
			tempo.Points = append(tempo.Points, ChartPoint{day, 52 + 2.4*float64(i)})
		}
	}
	p := LetterPaper{Language: lang, Studio: "The Mill Studio", Student: "Mira", Span: "7 September to 22 November", Date: "28 November 2026", Made: time.Unix(0, 0).UTC(), Closing: "With kind regards\nThe teacher",
		Parts: []LetterSection{
			{Heading: "What grew", Text: "Mira keeps a steady beat now, also where the hand moves.\n\nThe melody comes out over the bass.", Facts: []LetterFact{
				{Day: "12 October", Say: "Ode to Joy was played through without a stop for the first time.", Place: "recording of 12 October"},
				{Day: "9 November", Say: "In bars 5 to 8 every note was in its place.", Place: "recording of 9 November, bar 5"},
			}, Charts: []Chart{tempo}},
			{Heading: "At home", Charts: []Chart{days}},
			{Heading: "What comes next", Text: "A second voice, and the first piece in three beats."},
		}}
	if lang == "es" {
		p.Studio, p.Paper = "Estudio del Molino", engrave.Letter()
		p.Parts[0].Heading, p.Parts[1].Heading = "Lo que ha crecido", "En casa"
	}
	return p
}

func TestLetterPaper(t *testing.T) {
	e := engraver(t)
	for lang, wants := range map[string][]string{
		"en": {"How Mira is getting on", "What grew", "From 52 beats a minute on 7 Sept to 76 on 16 Nov.", "Days with practice, as tapped at home: 47 in 11 weeks.", "goal 80", "12 October", "With kind regards"},
		"es": {"Cómo le va a Mira", "De 52 pulsos por minuto el 7 sept a 76 el 16 nov.", "meta 80", "16 nov"},
	} {
		var b, again bytes.Buffer
		if err := letter(lang).PDF(&b, e); err != nil {
			t.Fatal(err)
		}
		show(t, "letter-"+lang+".pdf", b.Bytes())
		page := printed(t, b.Bytes())
		for _, want := range wants {
			if !says(page, want) {
				t.Errorf("%s: %q is not in the letter", lang, want)
			}
		}
		if n := strings.Count(page, " re B"); n != 10 {
			t.Errorf("%s: %d bars for ten weeks with practice", lang, n)
		}
		if n := pagesOf(page); n != 1 && n != 2 {
			t.Errorf("%s: %d pages", lang, n)
		}
		if err := letter(lang).PDF(&again, e); err != nil || !bytes.Equal(b.Bytes(), again.Bytes()) {
			t.Errorf("%s: other bytes the second time (%v)", lang, err)
		}
	}
	p := letter("en")
	p.Parts = make([]LetterSection, mostLetterParts+1)
	if err := p.PDF(io.Discard, e); err == nil {
		t.Error("a letter without end is not refused")
	}
}

// TestChart: the height of a bar and the place of a dot are what they stand for; nonsense is left out.
func TestChart(t *testing.T) {
	c := Chart{Kind: ChartDays, Points: []ChartPoint{{"2026-09-07", 7}, {"2026-09-14", 3.5}, {"2026-09-21", 0}, {"yesterday", 4}, {"2026-09-28", math.NaN()}, {"2026-09-01", 2}, {"2026-10-05", 2}}}
	s, ok := c.sketch("en", 150)
	full := chartHigh - chartLow - chartAbove
	if !ok || len(s.bars) != 3 || math.Abs(s.bars[0][3]-full) > 1e-9 || math.Abs(s.bars[1][3]-full*4/7) > 1e-9 || math.Abs(s.bars[2][3]-full*2/7) > 1e-9 {
		t.Errorf("bars %v, %v", s.bars, ok)
	}
	if got := (Chart{Kind: ChartDays, Points: c.Points[:1]}).Words("en"); got != "Days with practice, as tapped at home: 7 in one week." {
		t.Errorf("a single week: %q", got)
	}
	c = Chart{Kind: ChartTempo, Title: `<b>"x"`, Goal: 80, Points: []ChartPoint{{"2026-09-01", 60}, {"2026-09-11", 70}, {"2026-09-21", 65}}}
	s, ok = c.sketch("en", 150)
	if !ok || len(s.dots) != 3 || math.Abs(s.dots[1][0]-75) > 1e-9 || s.dots[1][1] >= s.dots[2][1] || s.dots[2][1] >= s.dots[0][1] {
		t.Errorf("dots %v, %v", s.dots, ok)
	}
	svg := c.SVG("en")
	var any struct {
		Label string `xml:"aria-label,attr"`
	}
	if err := xml.Unmarshal([]byte(svg), &any); err != nil || any.Label != `<b>"x": From 60 beats a minute on 1 Sept to 65 on 21 Sept.` {
		t.Errorf("%v, label %q", err, any.Label)
	}
	for _, none := range []Chart{{}, {Kind: ChartTempo}, {Kind: "pie", Points: c.Points}} {
		if none.SVG("en") != "" || none.Words("es") != "" {
			t.Errorf("something is drawn of %+v", none)
		}
	}
	var back Chart
	b, err := json.Marshal(c)
	if err == nil {
		err = json.Unmarshal(b, &back)
	}
	if err != nil || !reflect.DeepEqual(back, c) {
		t.Errorf("%s: %v", b, err)
	}
}

func TestLetterWords(t *testing.T) {
	first := reflect.ValueOf(allLetterWords()[0])
	for _, w := range allLetterWords() {
		v := reflect.ValueOf(w)
		for i := range v.NumField() {
			name, text := v.Type().Field(i).Name, fmt.Sprint(v.Field(i))
			if v.Field(i).IsZero() {
				t.Errorf("%s: %s is missing", w.code, name)
			}
			if a, b := strings.Count(text, "%"), strings.Count(fmt.Sprint(first.Field(i)), "%"); a != b {
				t.Errorf("%s: %s has %d blanks, want %d", w.code, name, a, b)
			}
			if e, ok := reading.Of(w.code, text); ok && e.Words >= reading.Enough && name != "months" && e.Years > 5 {
				t.Errorf("%s %s: %.1f years of school: %s", w.code, name, e.Years, text)
			}
		}
	}
}
