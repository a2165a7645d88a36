package plan_test

import (
	"net/http"
	"net/url"
	"strings"
	"sync"
	"testing"

	"antiphon/internal/plan/calendar"
)

// TestHostilePlans: whatever a form says, the plan stays one that can be read, and a fault is said in words.
func TestHostilePlans(t *testing.T) {
	h := open(t)
	at := "/students/" + string(h.ada.ID) + "/plan"
	today := calendar.Of(h.Now())
	set := func(pairs ...string) url.Values {
		v := url.Values{"new": {"1"}}
		for i := range 7 {
			v.Set("minutes"+string(rune('0'+i)), "15")
		}
		for i := 0; i < len(pairs); i += 2 {
			v.Add(pairs[i], pairs[i+1])
		}
		return v
	}
	none := set()
	for i := range 7 {
		none.Set("minutes"+string(rune('0'+i)), "0")
	}
	huge := set()
	huge.Set("minutes0", "10000")
	most := set()
	for i := range 7 {
		most.Set("minutes"+string(rune('0'+i)), "300")
	}
	all := []struct {
		name, to string
		form     url.Values
		refused  bool
	}{
		{"no minutes", "/settings", none, false},
		{"ten thousand minutes", "/settings", huge, true},
		{"five hours a day", "/settings", most, false},
		{"minutes of words", "/settings", set("minutes0", "x"), false}, // the first is taken
		{"a recital in the past", "/settings", set("recital", (today - 30).String(), "played", string(h.ode.ID)), false},
		{"a recital today", "/settings", set("recital", today.String(), "played", string(h.ode.ID)), false},
		{"a recital in two hundred years", "/settings", set("recital", "2226-01-01", "played", string(h.ode.ID)), true},
		{"a recital on no day", "/settings", set("recital", "2026-02-31"), true},
		{"a recital of nothing", "/settings", set("recital", (today + 30).String()), false},
		{"a recital of a work that is none", "/settings", set("recital", (today + 30).String(), "played", strings.Repeat("0", 26)), true},
		{"a holiday backwards", "/settings", set("from", "2026-12-31", "to", "2026-12-01", "holiday", "x"), true},
		{"a holiday of years", "/settings", set("from", "2020-12-31", "to", "2029-12-01", "holiday", "x"), true},
		{"holidays all year, twice", "/settings", set("from", (today - 100).String(), "to", (today + 250).String(), "holiday", "x", "from", (today - 100).String(), "to", (today + 250).String(), "holiday", "<script>alert(1)</script>"), false},
		{"no such collection", "/settings", set("collection", strings.Repeat("0", 26)), false},
		{"a skill of markup", "/settings", set("skill:<b>\x00", "known"), false},
		{"a limit of a group that is none", "/settings", set("limit:<b>\x00", "14"), false},
		{"a limit of no group", "/settings", set("limit:", "14"), true},
		{"a limit of minus one day", "/settings", set("limit:scales", "-1"), true},
		{"minus one new thing", "/settings", set("new", "-1"), false},
		{"a trial of nobody", "/trial", url.Values{"tried": {strings.Repeat("0", 26)}, "went": {"3"}}, true},
		{"a trial of NaN years", "/trial", url.Values{"years": {"NaN"}}, true},
		{"a trial of endless years", "/trial", url.Values{"years": {"1e400"}}, true},
		{"a trial rated 9", "/trial", url.Values{"tried": {string(h.ode.ID)}, "went": {"9"}}, true},
		{"a trial of the same thrice", "/trial", url.Values{"tried": {string(h.ode.ID), string(h.ode.ID), string(h.ode.ID)}, "went": {"1", "4", "2"}, "years": {"2"}}, false},
		{"moved from a day that is over", "", url.Values{"do": {"move"}, "work": {string(h.canon.ID)}, "from": {(today - 3).String()}, "to": {today.String()}}, true},
		{"moved out of the week", "", url.Values{"do": {"move"}, "work": {string(h.canon.ID)}, "from": {today.String()}, "to": {(today + 30).String()}}, true},
		{"moved to no day", "", url.Values{"do": {"move"}, "work": {string(h.canon.ID)}, "from": {"x"}, "to": {"y"}}, true},
		{"a pin of nothing", "", url.Values{"do": {"pin"}}, true},
		{"an act that is none", "", url.Values{"do": {"explode"}, "work": {string(h.canon.ID)}}, true},
		{"a rating of nothing", "", url.Values{"do": {"rate"}, "work": {string(h.canon.ID)}, "rating": {"x"}}, true},
		{"into the lesson what is not planned", "/lesson", url.Values{"work": {strings.Repeat("0", 26)}}, true},
	}
	for _, c := range all {
		status, text, _ := h.Post(t, h.TeacherDevice, at+c.to, c.form)
		if status >= 500 || (status >= 400) != c.refused {
			t.Errorf("%s: %d %.300s", c.name, status, text)
		}
		if status, text := h.Get(t, h.TeacherDevice, at); status != http.StatusOK || strings.Contains(text, "<script>alert") || strings.Contains(text, "NaN") {
			t.Fatalf("after %s the plan cannot be read: %d %.300s", c.name, status, text)
		}
	}
	// Pinned and left out at once, on a day without minutes, all of it.
	works := []string{string(h.mice.ID), string(h.canon.ID), string(h.ode.ID), string(h.round.ID), string(h.barre.ID), string(h.scal.ID)}
	if status, _, _ := h.Post(t, h.TeacherDevice, at+"/settings", set("from", today.String(), "to", (today+6).String(), "holiday", "away")); status >= 400 {
		t.Errorf("away: %d", status)
	}
	for _, act := range []string{"pin", "forbid", "pin"} {
		for _, w := range works {
			if status, text, _ := h.Post(t, h.TeacherDevice, at, url.Values{"do": {act}, "work": {w}, "on": {today.String()}}); status >= 500 {
				t.Fatalf("%s: %d %.300s", act, status, text)
			}
			if status, text := h.Get(t, h.TeacherDevice, at); status != http.StatusOK {
				t.Fatalf("after %s: %d %.300s", act, status, text)
			}
		}
	}
	// What was said is looked for as it is written, whatever signs stand in it.
	for _, words := range []string{"(", ".*", "[a-", `\`, "%", "_", "'; DROP TABLE remarks; --", strings.Repeat("a ", 5000), "\x00"} {
		for _, since := range []string{"", "1999-01-01", "0001-01-01", "9999-12-31"} {
			status, text := h.Get(t, h.TeacherDevice, "/students/"+string(h.ada.ID)+"/memory?"+url.Values{"words": {words}, "since": {since}}.Encode())
			if status >= 500 {
				t.Errorf("%.20q since %s: %d %.300s", words, since, status, text)
			}
		}
	}
	// Another window at the same time.
	var windows sync.WaitGroup
	for _, act := range []string{"pin", "forbid", "free", "pin"} {
		for _, w := range works {
			windows.Go(func() {
				if status, text, _ := h.Post(t, h.TeacherDevice, at, url.Values{"do": {act}, "work": {w}}); status >= 500 {
					t.Errorf("%s at once: %d %.300s", act, status, text)
				}
			})
		}
	}
	windows.Wait()
	// A student without a history, and one of nobody.
	if status, _ := h.Get(t, h.TeacherDevice, "/students/"+strings.Repeat("0", 26)+"/plan"); status != http.StatusNotFound {
		t.Errorf("nobody's plan: %d", status)
	}
	for _, page := range []string{"/plan", at, "/plan/works/" + works[0], "/students/" + string(h.ada.ID) + "/memory"} {
		if status, _ := h.Get(t, h.Okafor.Device, page); status < 400 || status >= 500 {
			t.Errorf("a family gets %s: %d", page, status)
		}
		if status, _ := h.Get(t, "", page); status == http.StatusOK {
			t.Errorf("nobody gets %s", page)
		}
	}
}
