package library_test

import (
	"html"
	"net/url"
	"regexp"
	"strings"
	"testing"

	"antiphon/internal/remedies"
)

// wordsForm fills the form of an entry as the page shows it.
func wordsForm(text string) url.Values {
	q := url.Values{}
	for _, m := range regexp.MustCompile(`<input id="[^"]*" name="([^"]+)"(?: type="number"[^>]*?)? value="([^"]*)"`).FindAllStringSubmatch(text, -1) {
		q.Add(m[1], html.UnescapeString(m[2]))
	}
	for _, m := range regexp.MustCompile(`(?s)<textarea id="[^"]*" name="([^"]+)"[^>]*>(.*?)</textarea>`).FindAllStringSubmatch(text, -1) {
		q.Add(m[1], html.UnescapeString(m[2]))
	}
	return q
}

// TestBook: all of the printed book is there, each page with its cautions.
func TestBook(t *testing.T) {
	s := open(t)
	b, err := remedies.Printed()
	if err != nil {
		t.Fatal(err)
	}
	list := s.page("/library/remedies")
	for _, e := range b.Entries() {
		has(t, list, html.EscapeString(e.Symptom))
		text := s.page("/library/remedies/" + e.ID)
		has(t, text, "medical advice")
		if !strings.Contains(text, "o not play through") {
			t.Errorf("%s: no caution about pain", e.ID)
		}
		for _, c := range e.Cautions {
			has(t, html.UnescapeString(text), c)
		}
		if strings.Contains(text, "Back to the printed words") {
			t.Errorf("%s is in nobody's own words", e.ID)
		}
	}
	has(t, s.page("/library/remedies?words=wrong+str"), "wrong-string", "1 entry of")
	has(t, s.page("/library/remedies?words=%3Cscript%3E"), "No entry has these words.", "&lt;script&gt;")
	if status, _ := s.Get(t, s.TeacherDevice, "/library/remedies/none-such"); status != 404 {
		t.Errorf("no such entry: %d", status)
	}
}

func TestOwnWords(t *testing.T) {
	s := open(t)
	const at = "/library/remedies/wrong-string"
	form := wordsForm(s.page(at + "/words"))
	// Nothing changed: nothing is kept.
	if status, to := s.post(at+"/words", form); status != 303 {
		t.Fatal(status, to)
	}
	own, err := s.Desk.OwnRemedies(t.Context(), s.Teacher)
	if err != nil || len(own) != 0 {
		t.Fatalf("kept %s (%v)", own, err)
	}
	form.Set("symptom", "The neighbour <b>answers</b>")
	for range 2 {
		if status, to := s.post(at+"/words", form); status != 303 {
			t.Fatal(status, to)
		}
	}
	if own, err = s.Desk.OwnRemedies(t.Context(), s.Teacher); err != nil || string(own["wrong-string"]) != `{"symptom":"The neighbour \u003cb\u003eanswers\u003c/b\u003e"}` {
		t.Errorf("kept %s (%v)", own, err)
	}
	text := s.page(at)
	has(t, text, "<h1>The neighbour &lt;b&gt;answers&lt;/b&gt;</h1>", "Back to the printed words")
	has(t, s.page("/library/remedies?show=own"), "The neighbour", "1 entry of")

	// The cautions of what concerns the hands cannot be emptied.
	form.Set("cautions", "")
	status, text, _ := s.Post(t, s.TeacherDevice, at+"/words", form)
	if status != 200 || !strings.Contains(text, "needs at least one caution") || !strings.Contains(text, "The neighbour") {
		t.Errorf("%d %s", status, mainOf(text))
	}
	form = wordsForm(s.page(at + "/words"))
	form.Set("ask", "")
	if _, text, _ := s.Post(t, s.TeacherDevice, at+"/words", form); !strings.Contains(text, "“ask” is empty") {
		t.Error(mainOf(text))
	}
	// Put aside, it is not in the list, and can be found again.
	form = wordsForm(s.page(at + "/words"))
	form.Set("hidden", "yes")
	s.post(at+"/words", form)
	if strings.Contains(s.page("/library/remedies"), "The neighbour") {
		t.Error("it is still offered")
	}
	has(t, s.page("/library/remedies?show=hidden"), "The neighbour")
	form.Del("hidden")
	s.post(at+"/words", form)
	has(t, s.page("/library/remedies"), "The neighbour")
	for range 2 {
		if status, to := s.post(at+"/printed", nil); status != 303 || to != at {
			t.Error(status, to)
		}
	}
	if strings.Contains(s.page(at), "The neighbour") {
		t.Error("the printed words are not back")
	}
}

func TestOwnEntry(t *testing.T) {
	s := open(t)
	form := url.Values{"symptom": {"Looks at the ceiling"}, "parent": {"The eyes leave the page."}, "sign": {"seen"}, "hands": {"yes"},
		"cause": {"Tired", ""}, "check": {"Ask how the day was.", ""}, "do": {"Play one line and stop.", ""}, "minutes": {"3", ""},
		"cautions": {"Stop when it hurts.\n\n"}, "ask": {"If it lasts, tell the teacher."}, "remark": {"One line was enough today."}}
	var first string
	for range 2 { // the second of two equal posts adds nothing
		status, to := s.post("/library/remedies/new", form)
		if status != 303 {
			t.Fatal(status, to)
		}
		if first != "" && to != first {
			t.Errorf("%s and %s", first, to)
		}
		first = to
	}
	at, _, _ := strings.Cut(first, "?")
	if at != "/library/remedies/looks-at-the-ceiling" {
		t.Error(at)
	}
	has(t, s.page(at), "Looks at the ceiling", "3 minutes a day", "Stop when it hurts.", "Remove this entry", "no medical advice")
	// The same name with other words is another entry.
	form.Set("parent", "Eyes up.")
	if _, to := s.post("/library/remedies/new", form); to == first {
		t.Error("another entry was written over")
	}
	for bad, want := range map[string]string{"minutes": "minutes a day", "symptom": "symptom", "cautions": "caution", "sign": "sign"} {
		q := url.Values{}
		for name, v := range form {
			q[name] = v
		}
		q[bad] = map[string][]string{"minutes": {"1000000"}, "symptom": {" "}, "cautions": {""}, "sign": {"guessed"}}[bad]
		status, text, _ := s.Post(t, s.TeacherDevice, "/library/remedies/new", q)
		if status != 200 || !strings.Contains(alertOf(text), want) || !strings.Contains(text, "Play one line and stop.") {
			t.Errorf("%s: %d %s", bad, status, mainOf(text))
		}
	}
	if status, to := s.post(at+"/printed", nil); status != 303 || to != "/library/remedies" {
		t.Error(status, to)
	}
	if status, _ := s.Get(t, s.TeacherDevice, at); status != 404 {
		t.Error("it is not removed", status)
	}
}
