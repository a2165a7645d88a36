package library_test

import (
	"net/url"
	"strings"
	"testing"

	"antiphon/internal/studio"
)

// shelf makes a collection of works A, B, C and D through the pages.
func (s *site) shelf() (at string, works []studio.Work) {
	s.t.Helper()
	for _, title := range []string{"A", "B", "C", "D"} {
		w, err := s.Desk.AddWork(s.t.Context(), s.Teacher, studio.Work{Title: title})
		if err != nil {
			s.t.Fatal(err)
		}
		works = append(works, w)
	}
	var to string
	for range 2 { // the same name twice is one collection
		status, next := s.post("/library/collections", url.Values{"name": {"First <winter>"}})
		if status != 303 || to != "" && next != to {
			s.t.Fatal(status, next, to)
		}
		to = next
	}
	add := url.Values{}
	for _, w := range works {
		add.Add("work", string(w.ID))
	}
	for range 2 {
		if status, say := s.post(to+"/works", add); status != 303 {
			s.t.Fatal(status, say)
		}
	}
	return to, works
}

// order is the titles of a collection in a row.
func (s *site) order(at string) string {
	s.t.Helper()
	all, err := s.Desk.Collections(s.t.Context(), s.Teacher)
	if err != nil {
		s.t.Fatal(err)
	}
	titles := map[studio.WorkID]string{}
	for _, w := range s.works() {
		titles[w.ID] = w.Title
	}
	out := ""
	for _, c := range all {
		if strings.HasSuffix(at, string(c.ID)) {
			for _, it := range c.Items {
				out += titles[it.Work]
			}
		}
	}
	return out
}

func TestOrder(t *testing.T) {
	s := open(t)
	at, w := s.shelf()
	if got := s.order(at); got != "ABCD" {
		t.Fatal(got)
	}
	has(t, s.page(at), "First &lt;winter&gt;", `aria-label="A: earlier"`)
	step := func(i int, q ...string) (int, string) {
		form := url.Values{}
		for k := 0; k+1 < len(q); k += 2 {
			form.Add(q[k], q[k+1])
		}
		return s.post(at+"/works/"+string(w[i].ID), form)
	}
	for _, c := range []struct {
		move  int
		place string
		want  string
	}{{0, "2", "BACD"}, {0, "2", "BACD"}, {3, "1", "DBAC"}, {3, "99", "BACD"}, {1, "-5", "BACD"}, {0, "1", "ABCD"}} {
		status, to := step(c.move, "do", "move", "place", c.place)
		if status != 303 || !strings.HasPrefix(to, at+"?moved=") {
			t.Fatal(status, to)
		}
		if got := s.order(at); got != c.want {
			t.Errorf("%d to %s: %s, want %s", c.move, c.place, got, c.want)
		}
	}
	// Works to add are found by their words; those that stand in it are not offered.
	s.added(mice)
	has(t, s.page(at), "> Three Blind Mice <", "Add at the end")
	has(t, s.page(at+"?words=blind"), `> Three Blind Mice <`)
	has(t, s.page(at+"?words=%3Cb%3Ebeetle"), "No other work has these words.", `value="&lt;b&gt;beetle"`)
	if text := s.page(at); strings.Contains(text, `name="work" value="`+string(w[0].ID)) {
		t.Error("a work that stands in it is offered")
	}
	// After a move the keyboard is on the button that was pressed.
	_, to := step(1, "do", "move", "place", "3")
	has(t, s.page(to), `value="4" autofocus aria-label="B: later"`)
	step(1, "do", "move", "place", "2")

	// What must come before stays before.
	if status, say := step(2, "do", "after", "after", string(w[0].ID), "after", string(w[3].ID)); status != 303 {
		t.Fatal(status, say)
	}
	has(t, s.page(at), "after A")
	if strings.Contains(mainOf(s.page(at)), "after D") {
		t.Error("a work that stands later is taken as a need")
	}
	if status, say := step(2, "do", "move", "place", "1"); status != 409 || !strings.Contains(say, "“C” needs “A” first") {
		t.Errorf("%d %s", status, say)
	}
	if status, say := step(0, "do", "move", "place", "4"); status != 409 || !strings.Contains(say, "“C” needs “A” first") {
		t.Errorf("%d %s", status, say)
	}
	if got := s.order(at); got != "ABCD" {
		t.Error(got)
	}
	for range 2 { // taken out, it is no need any more
		if status, say := step(0, "do", "remove"); status != 303 {
			t.Fatal(status, say)
		}
	}
	if got := s.order(at); got != "BCD" || strings.Contains(mainOf(s.page(at)), "after A") {
		t.Error(got, mainOf(s.page(at)))
	}
	for _, q := range [][]string{{"do", "move", "place", "x"}, {"do", "burn"}} {
		if status, say := step(1, q...); status != 422 {
			t.Errorf("%v: %d %s", q, status, say)
		}
	}
	if status, say := step(0, "do", "move", "place", "1"); status != 404 {
		t.Errorf("not in it: %d %s", status, say)
	}
	if status, say := s.post(at+"/works", url.Values{"work": {strings.Repeat("0", 26)}}); status != 404 {
		t.Errorf("no such work: %d %s", status, say)
	}
	if status, to := s.post(at+"/name", url.Values{"name": {"Second  spring"}}); status != 303 || to != at {
		t.Error(status, to)
	}
	has(t, s.page("/library/collections"), "Second spring", "3 works")
	if status, say := s.post(at+"/name", url.Values{"name": {" "}}); status != 422 {
		t.Errorf("%d %s", status, say)
	}
	if status, to := s.post("/library/works/"+string(w[0].ID)+"/collections", url.Values{"collection": {strings.TrimPrefix(at, "/library/collections/")}}); status != 303 {
		t.Error(status, to)
	}
	if got := s.order(at); got != "BCDA" {
		t.Error(got)
	}
}
