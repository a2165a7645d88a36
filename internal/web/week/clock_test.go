package week_test

import (
	"encoding/json"
	"fmt"
	"io"
	"net/http"
	"strings"
	"testing"
	"time"

	"antiphon/internal/studio"
)

// taps sends taps as a phone does whose clock shows now, and returns what is said to answers.
func (k kitchen) taps(t *testing.T, device string, now time.Time, taps ...map[string]any) (int, string) {
	t.Helper()
	b, err := json.Marshal(taps)
	if err != nil {
		t.Fatal(err)
	}
	r, err := http.NewRequestWithContext(t.Context(), http.MethodPost, k.URL+"/week/log", strings.NewReader(string(b)))
	if err != nil {
		t.Fatal(err)
	}
	for name, value := range map[string]string{"Content-Type": "application/json", "Accept": "application/json", "Sec-Fetch-Site": "same-origin", "Antiphon-Now": now.Format(time.RFC3339)} {
		r.Header.Set(name, value)
	}
	a, err := k.Client(t, device).Do(r)
	if err != nil {
		t.Fatal(err)
	}
	defer a.Body.Close()
	text, err := io.ReadAll(a.Body)
	if err != nil {
		t.Fatal(err)
	}
	return a.StatusCode, string(text)
}

// TestAPhoneWithAWrongClock: a clock that is a year wrong, either way, tells of the right day; and one that says
// nonsense of nothing at all.
func TestAPhoneWithAWrongClock(t *testing.T) {
	k := open(t)
	k.Wait(5 * 24 * time.Hour)
	of := k.asked[k.nils.ID].Assignments[0].ID
	tap := func(n int, at time.Time) map[string]any {
		return map[string]any{"id": fmt.Sprintf("0d9c3a1e-%04d", n), "student": k.nils.ID, "assignment": of, "kind": "done", "at": at}
	}
	now, sent := k.Now(), k.Now().Add(-5*24*time.Hour-time.Hour)
	yesterday := now.Add(-24 * time.Hour)
	for n, c := range []struct{ shows, at, want time.Time }{
		{now, yesterday, yesterday},
		{now.Add(20 * time.Second), yesterday, yesterday},
		{now.AddDate(-1, 0, 0), yesterday.AddDate(-1, 0, 0), yesterday.Add(now.Sub(now.AddDate(-1, 0, 0)) - yesterday.Sub(yesterday.AddDate(-1, 0, 0)))},
		{now.AddDate(1, 0, 0), now.AddDate(1, 0, 0).Add(-24 * time.Hour), yesterday},
		{now, now.AddDate(0, 0, 3), now},
		{now, now.AddDate(-20, 0, 0), sent},
		{time.Time{}, time.Date(9999, 12, 31, 23, 59, 59, 0, time.UTC), now},
		{time.Date(9999, 12, 31, 23, 59, 59, 0, time.UTC), time.Time{}, sent},
	} {
		if status, text := k.taps(t, k.Lindqvist.Device, c.shows, tap(n, c.at)); status != http.StatusOK {
			t.Fatal(n, status, text)
		}
		got, err := k.Desk.OneTap(t.Context(), k.Teacher, k.nils.ID, fmt.Sprintf("0d9c3a1e-%04d", n))
		if err != nil || got.At.Sub(c.want).Abs() > time.Second {
			t.Errorf("a clock that shows %v, a tap at %v: noted at %v, want %v (%v)", c.shows, c.at, got.At, c.want, err)
		}
	}
}

// TestAnAnswerAmongManyTries: an answer that waited on the phone through a week of practice is found right.
func TestAnAnswerAmongManyTries(t *testing.T) {
	k := open(t)
	l := k.draft(t, k.nils, studio.Lesson{Date: "2026-11-04", Words: "Listen.", Assignments: []studio.Assignment{{Ask: studio.AskListen, Work: k.asked[k.nils.ID].Assignments[0].Work, Do: "Listen.", Question: &studio.Question{Say: "How many?", Right: []string{"two"}}}}})
	if err := k.Desk.SendLesson(t.Context(), k.Teacher, l.ID, l.Version); err != nil {
		t.Fatal(err)
	}
	k.Wait(time.Hour)
	of := l.Assignments[0].ID
	taps := []map[string]any{{"id": "0d9c3a1e-answer", "student": k.nils.ID, "assignment": of, "kind": "answer", "text": "Two", "at": k.Now().Add(-50 * time.Minute)},
		{"id": "0d9c3a1e-heard", "student": k.nils.ID, "assignment": of, "kind": "heard", "at": k.Now().Add(-50 * time.Minute)}}
	for i := range 400 {
		taps = append(taps, map[string]any{"id": fmt.Sprintf("0d9c3a1e-%04d", i), "student": k.nils.ID, "assignment": of, "kind": "try", "bpm": 60, "at": k.Now()})
	}
	if status, text := k.taps(t, k.Lindqvist.Device, k.Now(), taps...); status != http.StatusOK || !strings.Contains(text, `"right":true`) {
		t.Errorf("%d, %s", status, text)
	}
	for i := range taps[2:] {
		taps[i+2]["id"] = fmt.Sprintf("0d9c3a1f-%04d", i)
	}
	if status, text := k.taps(t, k.Lindqvist.Device, k.Now(), taps[2:]...); status != http.StatusOK {
		t.Errorf("%d, %s", status, text)
	}
	if _, text := k.Get(t, k.Lindqvist.Device, "/week?child="+string(k.nils.ID)); !strings.Contains(text, "data-right") || !strings.Contains(text, "data-done") {
		t.Error("the page does not know any more that it was heard and answered")
	}
}
