package week_test

import (
	"net/http"
	"testing"

	"antiphon/internal/studio"
)

// TestOpened: the teacher is told that a family opened a lesson when a person did, not when its phone kept the page
// for later, put away a sound or sent what was tapped.
func TestOpened(t *testing.T) {
	k := open(t)
	opened := func() bool {
		t.Helper()
		l, err := k.Desk.Lesson(t.Context(), k.Teacher, k.asked[k.nils.ID].ID)
		if err != nil {
			t.Fatal(err)
		}
		return !l.Opened.IsZero()
	}
	get := func(path string, header ...string) {
		t.Helper()
		r, err := http.NewRequestWithContext(t.Context(), http.MethodGet, k.URL+path, nil)
		if err != nil {
			t.Fatal(err)
		}
		for i := 0; i+1 < len(header); i += 2 {
			r.Header.Set(header[i], header[i+1])
		}
		a, err := k.Client(t, k.Lindqvist.Device).Do(r)
		if err != nil {
			t.Fatal(err)
		}
		if err := a.Body.Close(); err != nil || a.StatusCode != http.StatusOK {
			t.Fatal(path, a.StatusCode, err)
		}
	}
	nils := "/week?child=" + string(k.nils.ID)
	get(nils, "Antiphon-Ahead", "yes")
	get(nils, "Sec-Fetch-Mode", "cors")
	get(nils, "Sec-Purpose", "prefetch;prerender")
	get("/week/sent?child=" + string(k.nils.ID))
	get("/week?child="+string(k.runa.ID), "Sec-Fetch-Mode", "navigate") // the other child's
	if _, err := k.Desk.Lessons(t.Context(), k.Lindqvist.Coach, studio.LessonQuery{}); err != nil {
		t.Fatal(err)
	}
	if opened() {
		t.Error("a lesson that nobody saw is opened")
	}
	get(nils, "Sec-Fetch-Mode", "navigate")
	if !opened() {
		t.Error("a lesson that somebody saw is not opened")
	}
}
