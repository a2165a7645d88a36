package letter_test

import (
	"bytes"
	"net/http"
	"os/exec"
	"strings"
	"testing"
)

// TestFamilyLanguage: a letter is drafted, shown to the teacher, read and printed in the language that the
// family chose, while the studio speaks another.
func TestFamilyLanguage(t *testing.T) {
	s := open(t)
	if err := s.Desk.ChooseLanguage(t.Context(), s.Okafor.Coach, "es"); err != nil {
		t.Fatal(err)
	}
	l, err := s.Desk.DraftLetter(t.Context(), s.Teacher, s.Okafor.Students[0].ID, "2026-09-01", "2026-10-31")
	if err == nil {
		l, err = s.Desk.SaveLetter(t.Context(), s.Teacher, l)
	}
	if err != nil {
		t.Fatal(err)
	}
	at := "/letters/" + string(l.ID)
	has := func(who, text string, words ...string) {
		t.Helper()
		for _, w := range words {
			if !strings.Contains(text, w) {
				t.Errorf("%s: no %q in %s", who, w, text)
			}
		}
	}
	_, text := s.Get(t, s.TeacherDevice, at)
	has("the teacher", text, `" lang="es">`, "It is written in Español, which this family reads.", "Cómo le va a Ada", "de octubre de 2026")
	if err := s.Desk.SendLetter(t.Context(), s.Teacher, l.ID, l.Version); err != nil {
		t.Fatal(err)
	}
	_, text = s.Get(t, s.Okafor.Device, at)
	has("the family", text, `<html lang="es">`, "Cómo le va a Ada", "de octubre de 2026")
	tool, err := exec.LookPath("pdftotext")
	if err != nil {
		t.Skip("pdftotext (poppler-utils) is not installed")
	}
	for who, device := range map[string]string{"the teacher prints": s.TeacherDevice, "the family prints": s.Okafor.Device} {
		code, pdf := s.Get(t, device, at+"/paper")
		if code != http.StatusOK {
			t.Fatalf("%s: %d", who, code)
		}
		read := exec.CommandContext(t.Context(), tool, "-", "-")
		read.Stdin = bytes.NewReader([]byte(pdf))
		printed, err := read.Output()
		if err != nil {
			t.Fatal(err)
		}
		has(who, string(printed), "Cómo le va a Ada")
	}
}
