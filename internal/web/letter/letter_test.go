package letter_test

import (
	"bytes"
	"encoding/json"
	"errors"
	"fmt"
	"net/http"
	"net/url"
	"os"
	"os/exec"
	"strings"
	"testing"

	"antiphon/internal/studio"
	"antiphon/internal/web/letter"
	"antiphon/internal/web/webtest"
	"antiphon/internal/web/webtest/chromium"
)

func open(t testing.TB) *webtest.Site {
	t.Helper()
	s := webtest.Open(t)
	e := webtest.Engraver(t)
	return s.Serve(t, func(mux *http.ServeMux) {
		if err := letter.Routes(mux, s.Frame, e); err != nil {
			t.Fatal(err)
		}
	})
}

// drafted is a letter with a drawing and a fact in it, not sent.
func drafted(t testing.TB, s *webtest.Site) studio.Letter {
	t.Helper()
	chart, err := json.Marshal(studio.LetterChart{Kind: "tempo", Title: "Ode to Joy", Points: []studio.ChartPoint{
		{Day: "2026-09-07", Value: 60}, {Day: "2026-09-21", Value: 66}, {Day: "2026-10-12", Value: 72}}})
	if err != nil {
		t.Fatal(err)
	}
	days, err := json.Marshal(studio.LetterChart{Kind: "days", Title: "Days at home", Points: []studio.ChartPoint{
		{Day: "2026-09-07", Value: 4}, {Day: "2026-09-14", Value: 0}, {Day: "2026-09-21", Value: 6}}})
	if err != nil {
		t.Fatal(err)
	}
	l, err := s.Desk.SaveLetter(t.Context(), s.Teacher, studio.Letter{Student: s.Okafor.Students[0].ID, From: "2026-09-01", To: "2026-10-31", Parts: []studio.LetterPart{
		{Heading: "What we worked on", Text: "The tone grew <rounder>.\n\nIt shows in the slow notes.", Facts: []studio.Fact{{Say: "Ode to Joy at 72", Day: "2026-10-12"}, {Say: "A quiet week", Day: "2026-09-14"}}, Chart: chart},
		{Heading: "At home", Text: "Most weeks had music in them.", Chart: days}}})
	if err != nil {
		t.Fatal(err)
	}
	return l
}

func TestLetter(t *testing.T) {
	s := open(t)
	l := drafted(t, s)
	at := "/letters/" + string(l.ID)
	if code, _ := s.Get(t, s.Okafor.Device, at); code != http.StatusNotFound {
		t.Errorf("a family reads a draft: %d", code)
	}
	code, text := s.Get(t, s.TeacherDevice, at)
	for _, want := range []string{"How Ada is getting on", "Part 1</legend>", "Ode to Joy</figcaption>", "The tone grew &lt;rounder&gt;.", "12 October", "From 60 beats a minute on 7 Sept to 72 on 12 Oct.", "<svg"} {
		if code != http.StatusOK || !strings.Contains(text, want) {
			t.Errorf("%d, no %q", code, want)
		}
	}
	form := url.Values{"version": {fmt.Sprint(l.Version)}, "act": {"send"}, "heading0": {"Our work"}, "text0": {"Rounder."}, "fact0-0": {"yes"}, "chart0": {"yes"},
		"heading1": {""}, "text1": {""}, "more-heading": {"Next"}, "more": {"A duet."}}
	if code, _, to := s.Post(t, s.TeacherDevice, at, form); code != http.StatusSeeOther || to != at {
		t.Fatalf("sent: %d to %s", code, to)
	}
	code, text = s.Get(t, s.Okafor.Device, at)
	for _, want := range []string{"Our work", "Ode to Joy</figcaption>", "Rounder.", "Ode to Joy at 72", "<svg", "A duet."} {
		if code != http.StatusOK || !strings.Contains(text, want) {
			t.Errorf("the family: %d, no %q", code, want)
		}
	}
	for _, not := range []string{"14 September", "Most weeks", "<form method=\"post\" action=\"" + at} {
		if strings.Contains(text, not) {
			t.Errorf("the family sees %q, which was left out", not)
		}
	}
	if code, _ := s.Get(t, s.Lindqvist.Device, at); code != http.StatusNotFound {
		t.Errorf("another family reads it: %d", code)
	}
	if code, _, _ := s.Post(t, s.TeacherDevice, at, form); code != http.StatusConflict {
		t.Errorf("a letter that was sent is changed: %d", code)
	}
	for _, device := range []string{s.TeacherDevice, s.Lindqvist.Device} {
		want := map[string]int{s.TeacherDevice: http.StatusOK, s.Lindqvist.Device: http.StatusNotFound}[device]
		if code, _ := s.Get(t, device, at+"/paper"); code != want {
			t.Errorf("the PDF: %d, want %d", code, want)
		}
	}
}

// TestPaper reads the PDF with poppler's pdftotext.
func TestPaper(t *testing.T) {
	s := open(t)
	l := drafted(t, s)
	tool, err := exec.LookPath("pdftotext")
	if errors.Is(err, exec.ErrNotFound) {
		t.Skip("pdftotext (poppler-utils) is not installed")
	}
	for _, size := range []string{"a4", "letter"} {
		code, pdf := s.Get(t, s.TeacherDevice, "/letters/"+string(l.ID)+"/paper?size="+size)
		if code != http.StatusOK {
			t.Fatalf("%s: %d", size, code)
		}
		if dir := os.Getenv("SHOTS"); dir != "" {
			if err := os.WriteFile(dir+"/letter-"+size+".pdf", []byte(pdf), 0o600); err != nil {
				t.Fatal(err)
			}
		}
		read := exec.CommandContext(t.Context(), tool, "-", "-")
		read.Stdin = bytes.NewReader([]byte(pdf))
		text, err := read.Output()
		if err != nil {
			t.Fatal(err)
		}
		for _, want := range []string{"How Ada is getting on", "The tone grew <rounder>.", "Ode to Joy at 72", "From 60 beats a minute"} {
			if !strings.Contains(string(text), want) {
				t.Errorf("%s: no %q in %s", size, want, text)
			}
		}
	}
}

func TestDraftFromTheTerm(t *testing.T) {
	s := open(t)
	home := "/students/" + string(s.Okafor.Students[0].ID) + "/letters"
	code, _, to := s.Post(t, s.TeacherDevice, home, url.Values{"from": {"2026-08-01"}, "to": {"2026-11-04"}})
	if code != http.StatusSeeOther || !strings.HasPrefix(to, "/letters/") {
		t.Fatalf("%d to %s", code, to)
	}
	if _, text := s.Get(t, s.TeacherDevice, home); !strings.Contains(text, to) {
		t.Error("the draft is not on the shelf")
	}
	if code, _, _ := s.Post(t, s.TeacherDevice, home, url.Values{"from": {"2026-11-04"}, "to": {"2026-08-01"}}); code != http.StatusUnprocessableEntity && code != http.StatusBadRequest {
		t.Errorf("backwards: %d", code)
	}
	if code, _, _ := s.Post(t, s.TeacherDevice, to, url.Values{"act": {"drop"}}); code != http.StatusSeeOther {
		t.Errorf("thrown away: %d", code)
	}
	if code, _ := s.Get(t, s.TeacherDevice, to); code != http.StatusNotFound {
		t.Errorf("it is still there: %d", code)
	}
}

func TestLetterInTheBrowser(t *testing.T) {
	s := open(t)
	l := drafted(t, s)
	b := chromium.Open(t, s.URL)
	look := func(who, device, path string) {
		b.Forget()
		b.Cookie("antiphon", device)
		for i, width := range []int64{1440, 390} {
			b.Look(width, []string{"light", "dark"}[i])
			b.Go(path)
			for _, f := range b.Faults() {
				t.Errorf("%s at %d px: %s", who, width, f)
			}
			b.Shoot(fmt.Sprint("letter-", who, "-", width))
		}
	}
	look("list", s.TeacherDevice, "/students/"+string(s.Okafor.Students[0].ID)+"/letters")
	look("write", s.TeacherDevice, "/letters/"+string(l.ID))
	if err := s.Desk.SendLetter(t.Context(), s.Teacher, l.ID, l.Version); err != nil {
		t.Fatal(err)
	}
	look("read", s.Okafor.Device, "/letters/"+string(l.ID))
}

// TestALetterInTwoWindows: what a teacher wrote stands on the page whatever another window did, or however much it is.
func TestALetterInTwoWindows(t *testing.T) {
	s := open(t)
	l := drafted(t, s)
	at := "/letters/" + string(l.ID)
	one := url.Values{"version": {fmt.Sprint(l.Version)}, "act": {"save"}, "heading0": {"Our work"}, "text0": {"From the first window."}, "fact0-0": {"yes"}, "chart0": {"yes"}, "text1": {"Most weeks."}}
	if code, _, _ := s.Post(t, s.TeacherDevice, at, one); code != http.StatusSeeOther {
		t.Fatal(code)
	}
	two := url.Values{"version": {fmt.Sprint(l.Version)}, "act": {"send"}, "heading0": {"Our term"}, "text0": {"From the <second> window."}, "more": {"A part more."}}
	code, text, _ := s.Post(t, s.TeacherDevice, at, two)
	for _, want := range []string{"changed in another window", "From the &lt;second&gt; window.", "A part more.", fmt.Sprintf(`name="version" value="%d"`, l.Version+1)} {
		if code != http.StatusConflict || !strings.Contains(text, want) {
			t.Errorf("%d, no %q", code, want)
		}
	}
	long := url.Values{"version": {fmt.Sprint(l.Version + 1)}, "act": {"save"}, "text0": {strings.Repeat("la ", 10_000)}, "text1": {"Short."}}
	if code, text, _ = s.Post(t, s.TeacherDevice, at, long); code != http.StatusUnprocessableEntity || !strings.Contains(text, "la la la la") || !strings.Contains(text, "may have 20000 letters") {
		t.Errorf("%d, what was typed is gone", code)
	}
	if err := s.Desk.SendLetter(t.Context(), s.Teacher, l.ID, l.Version+1); err != nil {
		t.Fatal(err)
	}
	if code, text, _ = s.Post(t, s.TeacherDevice, at, two); code != http.StatusConflict || !strings.Contains(text, "sent from another window") || !strings.Contains(text, "From the &lt;second&gt; window.") {
		t.Errorf("after it was sent: %d", code)
	}
}

// TestAHostileLetterOnPaper: the longest letter there may be, of signs that no letter has, is printed.
func TestAHostileLetterOnPaper(t *testing.T) {
	s := open(t)
	l := studio.Letter{Student: s.Okafor.Students[0].ID, From: "2025-01-01", To: "2026-10-31"}
	for i, text := range []string{strings.Repeat("x", 15_000), strings.Repeat("la ", 5_000), "שלום \u202eעולם 你好 🎸🎸 \x00\x1b[31m ﷽", strings.Repeat("\n\n", 5_000) + "end", "(\\) /Type %%EOF endstream endobj", "<script>alert(1)</script>{{.}}"} {
		for range 6 {
			l.Parts = append(l.Parts, studio.LetterPart{Heading: text[:min(len(text), 400)], Text: text, Facts: []studio.Fact{{Say: text[:min(len(text), 900)], Day: "no day " + fmt.Sprint(i)}}, Chart: json.RawMessage(`{"Kind":"tempo","Title":"<b>","Points":[{"Day":"x","Value":1e308},{"Day":"","Value":-1e308},{"Day":"2026-09-07"}]}`)})
		}
	}
	l, err := s.Desk.SaveLetter(t.Context(), s.Teacher, l)
	if err != nil {
		t.Fatal(err)
	}
	for _, address := range []string{"", "/paper", "/paper?size=letter", "/paper?size=%00"} {
		code, text := s.Get(t, s.TeacherDevice, "/letters/"+string(l.ID)+address)
		if code != http.StatusOK && (code < 400 || code >= 500) || strings.Contains(text, "<script>alert") || strings.Contains(text, "NaN") || strings.Contains(text, "Inf") && !strings.HasPrefix(text, "%PDF") {
			t.Errorf("%s: %d %.200s", address, code, text)
		}
		if strings.HasPrefix(address, "/paper") && code == http.StatusOK && !strings.HasPrefix(text, "%PDF") {
			t.Errorf("%s is no PDF", address)
		}
	}
}
