package sheet_test

import (
	"compress/gzip"
	"context"
	"encoding/json"
	"io"
	"net/http"
	"os"
	"strings"
	"testing"

	"antiphon/internal/notation"
	"antiphon/internal/studio"
	"antiphon/internal/web/sheet"
	"antiphon/internal/web/webtest"
)

func score(t testing.TB, name string) string {
	t.Helper()
	b, err := os.ReadFile("../../engrave/testdata/" + name + ".musicxml")
	if err != nil {
		t.Fatal(err)
	}
	return string(b)
}

// hall is a studio with two works; the Okafors were asked to play one of them.
func hall(t *testing.T) (site *webtest.Site, asked, other studio.Work) {
	t.Helper()
	s := webtest.Open(t)
	ctx := t.Context()
	var err error
	if asked, err = s.Desk.AddWork(ctx, s.Teacher, studio.Work{Title: "Frère Jacques <b>", Score: score(t, "round")}); err != nil {
		t.Fatal(err)
	}
	if other, err = s.Desk.AddWork(ctx, s.Teacher, studio.Work{Title: "Study", Score: score(t, "study")}); err != nil {
		t.Fatal(err)
	}
	l, err := s.Desk.SaveDraft(ctx, s.Teacher, studio.Lesson{Student: s.Okafor.Students[0].ID, Date: "2026-11-03", Words: "Good.", Assignments: []studio.Assignment{{Work: asked.ID, Do: "Play it."}}})
	if err != nil {
		t.Fatal(err)
	}
	if err := s.Desk.SendLesson(ctx, s.Teacher, l.ID, l.Version); err != nil {
		t.Fatal(err)
	}
	return s.Serve(t, sheet.New(webtest.Engraver(t), s.Frame).Routes), asked, other
}

func TestWhoMaySeeMusic(t *testing.T) {
	site, asked, other := hall(t)
	for _, c := range []struct {
		who, device string
		work        studio.WorkID
		status      int
	}{
		{"the teacher", site.TeacherDevice, asked.ID, 200},
		{"the teacher", site.TeacherDevice, other.ID, 200},
		{"the family that was asked", site.Okafor.Device, asked.ID, 200},
		{"the family, of another work", site.Okafor.Device, other.ID, 404},
		{"another family", site.Lindqvist.Device, asked.ID, 404},
		{"a stranger", "", asked.ID, 303},
		{"the teacher, of nothing", site.TeacherDevice, "nothing", 404},
	} {
		status, body := site.Get(t, c.device, "/sheets/"+string(c.work)+"?width=360")
		if status != c.status {
			t.Errorf("%s: %d, want %d", c.who, status, c.status)
		}
		if got := strings.Contains(body, "antiphon-score"); got != (c.status == 200) {
			t.Errorf("%s: music %v", c.who, got)
		}
	}
}

func TestAnswers(t *testing.T) {
	site, asked, _ := hall(t)
	ask := func(query string, headers ...string) *http.Response {
		r, err := http.NewRequestWithContext(t.Context(), "GET", site.URL+"/sheets/"+string(asked.ID)+query, nil)
		if err != nil {
			t.Fatal(err)
		}
		for i := 0; i+1 < len(headers); i += 2 {
			r.Header.Set(headers[i], headers[i+1])
		}
		a, err := site.Client(t, site.TeacherDevice).Do(r)
		if err != nil {
			t.Fatal(err)
		}
		t.Cleanup(func() { a.Body.Close() })
		return a
	}
	t.Run("for a script, packed, with words", func(t *testing.T) {
		a := ask("?width=560&from=3&until=4&under=6&prefix=s2-", "Accept", "application/json", "Accept-Encoding", "gzip")
		z, err := gzip.NewReader(a.Body)
		if err != nil {
			t.Fatal(err)
		}
		var s sheet.Sheet
		if err := json.NewDecoder(z).Decode(&s); err != nil {
			t.Fatal(err)
		}
		if len(s.Bars) != 2 || s.Bars[0].Number != "3" || !strings.Contains(s.Bars[0].Say, "Beat 1:") {
			t.Errorf("the bars are %+v", s.Bars)
		}
		if !strings.Contains(s.SVG, `data-room="`) || !strings.Contains(s.SVG, `id="s2-n`) {
			t.Error("no room, or no prefix")
		}
	})
	t.Run("as a picture", func(t *testing.T) {
		a := ask("?title=no")
		if got := a.Header.Get("Content-Type"); got != "image/svg+xml" {
			t.Errorf("its type is %s", got)
		}
		tag := a.Header.Get("ETag")
		if again := ask("?title=no", "If-None-Match", tag); again.StatusCode != http.StatusNotModified {
			t.Errorf("asked again: %d", again.StatusCode)
		}
		if other := ask("?title=no&names=letters", "If-None-Match", tag); other.StatusCode != 200 {
			t.Errorf("another look: %d", other.StatusCode)
		}
	})
	for _, q := range []string{"?width=561", "?width=1e9", "?width=-1", "?under=99", "?names=klingon", "?tab=x", "?in=xx", "?prefix=%22%3E%3Cscript%3E", "?from=99", "?from=4&until=2"} {
		if a := ask(q); a.StatusCode != http.StatusUnprocessableEntity {
			b, _ := io.ReadAll(a.Body)
			t.Errorf("%s: %d %s", q, a.StatusCode, b)
		}
	}
}

// TestLegend: what the signs below the music are called is said in the family's language.
func TestLegend(t *testing.T) {
	sheets := sheet.New(webtest.Engraver(t), webtest.Open(t).Frame)
	for in, words := range map[string]string{"": ">rest stroke<", "es": ">apoyando<"} {
		d, err := sheets.Draw(t.Context(), score(t, "round"), sheet.Look{Width: 360, In: in})
		if err != nil {
			t.Fatal(err)
		}
		if !strings.Contains(d.SVG, words) {
			t.Errorf("in %q the music does not say %s", in, words)
		}
	}
}

// TestHostileTitle: what somebody called a work is text, in the picture and in the page.
func TestHostileTitle(t *testing.T) {
	xml := strings.Replace(score(t, "round"), "Frère Jacques", "&lt;script&gt;alert(1)&lt;/script&gt;", 1)
	s := webtest.Open(t)
	d, err := sheet.New(webtest.Engraver(t), s.Frame).Draw(t.Context(), xml, sheet.Look{Width: 360})
	if err != nil {
		t.Fatal(err)
	}
	if strings.Contains(d.SVG, "<script") {
		t.Error("a title became a script")
	}
	placed, err := sheet.Place(sheet.Placing{Work: `"><script>`, Title: `"><script>`, From: `"><img>`, Source: ""})
	if err != nil {
		t.Fatal(err)
	}
	if strings.Contains(string(placed), "<script") || strings.Contains(string(placed), "<img>") {
		t.Errorf("placed as %s", placed)
	}
}

// TestGoneReader: who asks first and goes away does not leave the others without music.
func TestGoneReader(t *testing.T) {
	s := sheet.New(webtest.Engraver(t), webtest.Open(t).Frame)
	gone, leave := context.WithCancel(t.Context())
	leave()
	if _, err := s.Draw(gone, score(t, "round"), sheet.Look{Width: 360, NoTitle: true}); err != nil {
		t.Errorf("the music that was begun is lost: %v", err)
	}
}

func TestPassage(t *testing.T) {
	s, _, err := notation.Read(strings.NewReader(score(t, "round")), "round.musicxml", notation.Limits{})
	if err != nil {
		t.Fatal(err)
	}
	first, last := s.Bars[0].Number, s.Bars[len(s.Bars)-1].Number
	for _, c := range []struct {
		from, to    string
		i, j        int
		understands bool
	}{
		{"", "", 0, len(s.Bars), true}, {first, first, 0, 1, true}, {"3", "", 2, len(s.Bars), true}, {"", last, 0, len(s.Bars), true},
		{"x", "", 0, 0, false}, {last, first, 0, 0, false},
	} {
		i, j, err := sheet.Passage(s, c.from, c.to)
		if (err == nil) != c.understands || err == nil && (i != c.i || j != c.j) {
			t.Errorf("%q to %q: %d, %d, %v", c.from, c.to, i, j, err)
		}
	}
}

func TestUnreadableScore(t *testing.T) {
	s := sheet.New(webtest.Engraver(t), webtest.Open(t).Frame)
	for _, xml := range []string{"", "<score-partwise", "PK\x03\x04"} {
		_, err := s.Draw(t.Context(), xml, sheet.Look{})
		p, ok := err.(*studio.Problem)
		if !ok || p.Say == "" {
			t.Errorf("%q: %v", xml, err)
		}
	}
}

// TestBarsInTheReadersLanguage: what a screen reader reads of the music is in the language of the page, and says so.
func TestBarsInTheReadersLanguage(t *testing.T) {
	site, asked, _ := hall(t)
	for query, want := range map[string][2]string{"": {"en", "Bar 1. Beat 1:"}, "&in=es": {"es", "Compás 1. Pulso 1:"}} {
		r, err := http.NewRequestWithContext(t.Context(), http.MethodGet, site.URL+"/sheets/"+string(asked.ID)+"?width=360"+query, nil)
		if err != nil {
			t.Fatal(err)
		}
		r.Header.Set("Accept", "application/json")
		a, err := site.Client(t, site.Okafor.Device).Do(r)
		if err != nil {
			t.Fatal(err)
		}
		var s sheet.Sheet
		if err := json.NewDecoder(a.Body).Decode(&s); err != nil {
			t.Fatal(err)
		}
		a.Body.Close()
		if s.Lang != want[0] || len(s.Bars) == 0 || !strings.HasPrefix(s.Bars[0].Say, want[1]) {
			t.Errorf("%q: %s, %+v", query, s.Lang, s.Bars[:min(1, len(s.Bars))])
		}
		for _, b := range s.Bars {
			if want[0] == "es" && (strings.Contains(b.Say, "Beat") || strings.Contains(b.Say, " finger ") || strings.Contains(b.Say, " open string") || strings.Contains(b.Say, " and ")) {
				t.Errorf("in English: %s", b.Say)
			}
		}
	}
}
