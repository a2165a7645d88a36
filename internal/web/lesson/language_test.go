package lesson_test

import (
	"bytes"
	"net/http"
	"net/url"
	"os/exec"
	"strings"
	"testing"
)

// TestFamilyLanguage: the teacher looks at a lesson, and prints it, as its family will read it: in the
// language that this family chose.
func TestFamilyLanguage(t *testing.T) {
	s := openWith(t)
	w := scored(t, s, "Tallis’s Canon", canon)
	to := sends(t, s, "/students/"+string(s.Okafor.Students[0].ID)+"/assign", url.Values{"work": {string(w.ID)}})
	at, _, _ := strings.Cut(to, "?")
	v := form(t, teacher(t, s, at))
	v.Set("minutes.1", "6")
	v.Set("do.1", "Three times a day.")
	v.Set("act", "save")
	sends(t, s, at, v)
	has(t, teacher(t, s, at+"/preview"), `<html lang="en">`, "This is how family Okafor will read it. It")
	if err := s.Desk.ChooseLanguage(t.Context(), s.Okafor.Coach, "es"); err != nil {
		t.Fatal(err)
	}
	shown := teacher(t, s, at+"/preview")
	has(t, shown, `<html lang="es">`, "This is how family Okafor will read it, in Español. It", "6 minutos al día", "Three times a day.")
	hasNot(t, shown, "minutes a day")

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
	has(t, string(text), "6 minutos")
	hasNot(t, string(text), "minutes")
}
