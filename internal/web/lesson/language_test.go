package lesson_test

import (
	"bytes"
	"net/http"
	"net/url"
	"os/exec"
	"strings"
	"testing"

	"antiphon/internal/web/webtest"
)

// TestFamilyLanguage: the teacher looks at a lesson, and prints it, as its family will read it: in the
// language that this family chose.
func TestFamilyLanguage(t *testing.T) {
	s := openWith(t)
	w := scored(t, s, "Tallis’s Canon", canon)
	to := s.Sends(t, "/students/"+string(s.Okafor.Students[0].ID)+"/assign", url.Values{"work": {string(w.ID)}})
	at, _, _ := strings.Cut(to, "?")
	v := form(t, s.Page(t, at))
	v.Set("minutes.1", "6")
	v.Set("do.1", "Three times a day.")
	v.Set("act", "save")
	s.Sends(t, at, v)
	webtest.Has(t, s.Page(t, at+"/preview"), `<html lang="en">`, "This is how family Okafor will read it. It")
	if err := s.Desk.ChooseLanguage(t.Context(), s.Okafor.Coach, "es"); err != nil {
		t.Fatal(err)
	}
	shown := s.Page(t, at+"/preview")
	webtest.Has(t, shown, `<html lang="es">`, "This is how family Okafor will read it, in Español. It", "6 minutos al día", "Three times a day.")
	webtest.HasNot(t, shown, "minutes a day")

	tool, err := exec.LookPath("pdftotext")
	if err != nil {
		t.Skip("pdftotext (poppler-utils) is not installed")
	}
	code, pdf := s.Get(t, s.TeacherDevice, at+"/paper")
	if code != http.StatusOK {
		t.Fatalf("on paper: %d", code)
	}
	read := exec.CommandContext(t.Context(), tool, "-", "-")
	read.Stdin = bytes.NewReader([]byte(pdf))
	text, err := read.Output()
	if err != nil {
		t.Fatal(err)
	}
	webtest.Has(t, string(text), "6 minutos")
	webtest.HasNot(t, string(text), "minutes")
}
