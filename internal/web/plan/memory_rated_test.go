package plan_test

import (
	"net/http"
	"net/url"
	"strings"
	"testing"
	"time"

	plans "antiphon/internal/plan"
	"antiphon/internal/studio"
)

// rate says on the page about Ada how bars of the canon went, or with none the whole of it.
func (h *hall) rate(t testing.TB, from, to, rating string) (status int, text, next string) {
	t.Helper()
	form := url.Values{"work": {string(h.canon.ID)}, "rating": {rating}, "at": {"p-1 x"}}
	if from != "" {
		form.Set("from", from)
		form.Set("to", to)
	}
	return h.Post(t, h.TeacherDevice, "/students/"+string(h.ada.ID)+"/memory", form)
}

// TestRatedByHand: the teacher's ear goes before what was heard of a passage, one word a day, and stands on the page; a work is rated
// in the same way.
func TestRatedByHand(t *testing.T) {
	h := open(t)
	h.passages(t)
	at := "/students/" + string(h.ada.ID) + "/memory"
	passage := func() string {
		t.Helper()
		status, text := h.Get(t, h.TeacherDevice, at+"?done=rate")
		if status != http.StatusOK {
			t.Fatalf("%d", status)
		}
		has(t, text, "Kept. The plan counts on it.")
		return within(t, text, `<li id="p-`, `</ol>`)
	}
	dots := func(part string) (right, not int) {
		got := within(t, part, `class="strip"`, "</svg>")
		return strings.Count(got, `"dot"`), strings.Count(got, `"ring"`)
	}
	has(t, passage(), "Say how it went today : Bars 5–8", "Bars 5–8 went wrong on the last two days they were heard.")
	for _, r := range []string{"1", "4"} { // the second word of a day goes before the first
		if status, text, next := h.rate(t, "5", "8", r); status != http.StatusSeeOther || next != at+"?done=rate#p-1%20x" {
			t.Fatalf("rated %s: %d %q %s", r, status, next, seen(text))
		}
	}
	part := passage()
	has(t, part, "You last heard it today: steady at its tempo.", "Heard in 7 recordings, the last of them 3 days ago.", "you heard it: steady at its tempo")
	hasNot(t, part, "went wrong", "broke down</td>")
	if right, not := dots(part); right != 5 || not != 3 {
		t.Errorf("%d right, %d not", right, not)
	}
	h.Wait(24 * time.Hour)
	h.rate(t, "5", "8", "2")
	has(t, passage(), "You last heard it today: to the end, with stops.")
	hasNot(t, passage(), "went wrong")
	h.Wait(24 * time.Hour)
	h.rate(t, "5", "8", "1")
	has(t, passage(), "Bars 5–8 went wrong on the last two days they were heard.")

	h.rate(t, "", "", "3")
	_, text := h.Get(t, h.TeacherDevice, at)
	has(t, within(t, text, `<li id="w-`+string(h.canon.ID), `<ol`), "You last heard it today: steady.", "you heard it: steady")

	for name, bad := range map[string][4]any{"other bars": {"5", "7", "3", http.StatusNotFound}, "half of the bars": {"5", "", "3", http.StatusNotFound},
		"no such way": {"5", "8", "9", http.StatusUnprocessableEntity}, "no number": {"5", "8", "well", http.StatusUnprocessableEntity}} {
		if status, text, _ := h.rate(t, bad[0].(string), bad[1].(string), bad[2].(string)); status != bad[3] {
			t.Errorf("%s: %d %s", name, status, seen(text))
		}
	}
	if status, _, _ := h.Post(t, h.Okafor.Device, at, url.Values{"work": {string(h.canon.ID)}, "from": {"5"}, "to": {"8"}, "rating": {"4"}}); status != http.StatusForbidden {
		t.Errorf("a family rates: %d", status)
	}
}

// TestBarsByThemselves: where the whole of something kept is fresh and bars of it are weak, the week asks for these bars; so does the
// lesson that is made from it. The teacher may ask for all of it, and moves it as it is.
func TestBarsByThemselves(t *testing.T) {
	h := open(t)
	h.passages(t)
	for range 3 {
		h.lesson(t, studio.Assignment{Work: h.mice.ID, Do: "Slowly."})
		h.rate(t, "", "", "4")
		h.Wait(9 * 24 * time.Hour)
	}
	h.rate(t, "", "", "4")
	h.rate(t, "5", "8", "2")
	h.Wait(24 * time.Hour)
	at := "/students/" + string(h.ada.ID) + "/plan"
	line := func() (l plans.Line) {
		t.Helper()
		v, err := h.Desk.PlanOf(t.Context(), h.Teacher, h.ada.ID)
		must(t, err)
		for _, l := range v.Week.Lines {
			if l.Work == string(h.canon.ID) {
				return l
			}
		}
		t.Fatalf("the canon is not in %+v", v.Week.Lines)
		return l
	}
	got := line()
	if got.From != "5" || got.To != "8" || got.Role != plans.Mend {
		t.Fatalf("%+v", got)
	}
	_, text := h.Get(t, h.TeacherDevice, at)
	has(t, text, "A few bars Tallis’s Canon, bars 5–8", "Bars 5–8 went wrong on the last", "The whole of it can wait about", "These bars, heard today:", "Ask all of it")

	status, _, to := h.Post(t, h.TeacherDevice, at+"/lesson", url.Values{"work": {string(h.canon.ID)}})
	if status != http.StatusSeeOther {
		t.Fatalf("into the lesson: %d", status)
	}
	l, err := h.Desk.Lesson(t.Context(), h.Teacher, studio.LessonID(strings.TrimPrefix(to, "/lessons/")))
	must(t, err)
	if a := l.Assignments; len(a) != 1 || a[0].FromBar != "5" || a[0].ToBar != "8" || a[0].Goals.TempoBpm != 60 || !strings.HasPrefix(a[0].Do, "Only these bars, slowly at first, ") {
		t.Errorf("the draft: %+v", a)
	}

	h.Post(t, h.TeacherDevice, at, url.Values{"work": {string(h.canon.ID)}, "do": {"pin"}, "on": {(got.Days[0] + 1).String()}})
	if got = line(); got.From != "5" || !got.Pinned || len(got.Days) != 1 {
		t.Errorf("put on another day: %+v", got)
	}
	h.Post(t, h.TeacherDevice, at, url.Values{"work": {string(h.canon.ID)}, "do": {"rate"}, "from": {"5"}, "to": {"8"}, "rating": {"1"}})
	_, text = h.Get(t, h.TeacherDevice, "/students/"+string(h.ada.ID)+"/memory")
	has(t, within(t, text, `<li id="p-`, `</ol>`), "You last heard it today: broke down.")
	if status, _, _ := h.Post(t, h.TeacherDevice, at, url.Values{"work": {string(h.canon.ID)}, "do": {"whole"}}); status != http.StatusSeeOther {
		t.Errorf("all of it: %d", status)
	}
	if got = line(); got.From != "" || !got.Pinned || got.Role != plans.Keep {
		t.Errorf("all of it: %+v", got)
	}
	h.Post(t, h.TeacherDevice, at, url.Values{"work": {string(h.canon.ID)}, "do": {"pin"}, "on": {(got.Days[0]).String()}})
	if got = line(); got.From != "" {
		t.Errorf("all of it, put on a day: %+v", got)
	}
}
