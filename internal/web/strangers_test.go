package web_test

import (
	"io"
	"net/http"
	"strings"
	"testing"

	"antiphon/internal/studio"
	"antiphon/internal/web/webtest"
)

// TestTheWeekRefusesAlike: every page of a family says in the family's own language, and as a page of the week, that
// something is not there or that the phone belongs to nobody.
func TestTheWeekRefusesAlike(t *testing.T) {
	s := webtest.Open(t)
	if _, err := s.Desk.ChangeStudio(t.Context(), s.Teacher, studio.Settings{Name: "Bajo el tilo", KeepDays: 400, ReplyDays: 3, Language: "es"}); err != nil {
		t.Fatal(err)
	}
	h := site(t, s, false)
	page := func(path, cookie string) (int, string) {
		t.Helper()
		a := ask(h, "GET", path, "127.0.0.1:1", "studio.example", cookie)
		b, err := io.ReadAll(a.Body)
		if err != nil {
			t.Fatal(err)
		}
		return a.StatusCode, string(b)
	}
	ada := string(s.Okafor.Students[0].ID)
	for _, path := range []string{"/week/practice?child=" + ada + "&of=nothing", "/week/sound/nothing?child=" + ada, "/week/takes/nothing", "/week/captions/nothing/nothing", "/week/nothing"} {
		status, text := page(path, s.Okafor.Device)
		if status != http.StatusNotFound || !strings.Contains(text, `lang="es"`) || !strings.Contains(text, `href="/week"`) || strings.Contains(text, "not for you to see") {
			t.Errorf("%s: %d, %s", path, status, text)
		}
	}
	for _, path := range []string{"/week", "/week/practice?child=" + ada, "/week/record?child=" + ada, "/week/tune", "/week/data"} {
		if status, text := page(path, ""); status != http.StatusForbidden || !strings.Contains(text, "Este teléfono no está conectado") {
			t.Errorf("%s to a stranger: %d, %s", path, status, text)
		}
	}
}
