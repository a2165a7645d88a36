package lesson_test

import (
	"fmt"
	"io"
	"maps"
	"net/http"
	"net/url"
	"regexp"
	"strconv"
	"strings"
	"testing"
	"time"

	"antiphon/internal/studio"
	"antiphon/internal/web/webtest"
)

// form reads the editor's form from its page, as a browser would send it.
func form(t testing.TB, text string) url.Values {
	t.Helper()
	_, text, ok := strings.Cut(text, `<form id="lesson"`)
	if !ok {
		t.Fatal("the page has no editor: " + webtest.Seen(text))
	}
	text, _, _ = strings.Cut(text, "</form>")
	v := url.Values{}
	unescape := strings.NewReplacer("&lt;", "<", "&gt;", ">", "&#34;", `"`, "&#39;", "'", "&amp;", "&")
	for _, tag := range regexp.MustCompile(`(?s)<input[^>]*>|<textarea[^>]*>.*?</textarea>|<select[^>]*>.*?</select>`).FindAllString(text, -1) {
		name := regexp.MustCompile(` name="([^"]*)"`).FindStringSubmatch(tag)
		if name == nil {
			continue
		}
		value := ""
		if m := regexp.MustCompile(` value="([^"]*)"`).FindStringSubmatch(tag); m != nil {
			value = m[1]
		}
		if m := regexp.MustCompile(`(?s)^<textarea[^>]*>(.*)</textarea>$`).FindStringSubmatch(tag); m != nil {
			value = m[1]
		}
		if strings.HasPrefix(tag, "<select") {
			if m := regexp.MustCompile(`<option value="([^"]*)" selected>`).FindStringSubmatch(tag); m != nil {
				value = m[1]
			}
		}
		v.Add(name[1], unescape.Replace(value))
	}
	return v
}

// begun is an opened draft of Ada with one assignment.
func begun(t testing.TB, s *webtest.Site) (at string, w studio.Work) {
	t.Helper()
	w = s.Work(t, "Tallis’s Canon")
	to := s.Sends(t, "/students/"+string(s.Okafor.Students[0].ID)+"/assign", url.Values{"work": {string(w.ID)}})
	at, _, _ = strings.Cut(to, "?")
	if !strings.HasPrefix(at, "/lessons/") {
		t.Fatalf("leads to %s", to)
	}
	return at, w
}

func TestWritingALesson(t *testing.T) {
	s := open(t)
	ada := s.Okafor.Students[0]
	at, canon := begun(t, s)
	other := s.Work(t, "Ode to Joy")
	one := s.Take(t, s.Okafor.Coach, studio.Announcement{Student: ada.ID, Work: canon.ID})
	m := s.Remark(t, one.ID, "5", "The fourth finger waits above the string.")

	v := form(t, s.Page(t, at))
	v.Set("words", "Well begun.\r\nNow the second line.")
	for name, value := range map[string]string{"tempo.1": "66,5", "from.1": " 1 ", "to.1": "8", "do.1": "Three times a day.", "done.1": "three times without a stop"} {
		v.Set(name, value)
	}
	v.Set("act", "add")
	v.Set("more", string(other.ID))
	to := s.Sends(t, at, v)
	if !strings.HasSuffix(to, "#do2") {
		t.Errorf("leads to %s, not to what was added", to)
	}
	v = form(t, s.Page(t, at))
	if got := fmt.Sprint(v["work.1"], v["work.2"], v["tempo.1"], v["from.1"], v["to.1"], v["words"]); got != fmt.Sprintf("[%s] [%s] [66.5] [1] [8] [Well begun.\nNow the second line.]", canon.ID, other.ID) {
		t.Errorf("the form holds %s", got)
	}
	ids := v["id"]
	v.Set("act", "up 2")
	s.Sends(t, at, v)
	v = form(t, s.Page(t, at))
	if got := fmt.Sprint(v["work.1"], v["work.2"], v["id"]); got != fmt.Sprintf("[%s] [%s] [%s %s]", other.ID, canon.ID, ids[1], ids[0]) {
		t.Errorf("after moving up: %s", got)
	}
	v.Set("act", "quote "+string(m.ID))
	s.Sends(t, at, v)
	v = form(t, s.Page(t, at))
	if got := v.Get("do.2"); got != "Three times a day.\nBar 5: The fourth finger waits above the string." {
		t.Errorf("with the remark: %q", got)
	}
	v.Set("act", "drop 1")
	s.Sends(t, at, v)
	text := s.Page(t, at)
	v = form(t, text)
	if len(v["id"]) != 1 || v.Get("work.1") != string(canon.ID) {
		t.Errorf("after taking one out: %v", v["work.1"])
	}
	webtest.Has(t, text, "Ngozi Okafor and Ada see this lesson at once", "The recording that waits counts as answered", "Send to family Okafor")

	if status, _ := s.Get(t, s.Okafor.Device, at); status != http.StatusNotFound {
		t.Errorf("the family gets a draft: %d", status)
	}
	v.Set("act", "send")
	if to := s.Sends(t, at, v); to != at+"?done=sent" {
		t.Errorf("leads to %s", to)
	}
	if to := s.Sends(t, at, v); to != at+"?done=sent-was" { // pressed twice
		t.Errorf("the second time it leads to %s", to)
	}
	webtest.Has(t, s.Page(t, at+"?done=sent"), "Sent. The family sees it now.", "Now the second line.", "Three times a day.", "66.5 quarter notes a minute", "Bars 1 to 8")
	status, text := s.Get(t, s.Okafor.Device, at)
	if status != http.StatusOK {
		t.Fatalf("the family does not get its lesson: %d", status)
	}
	webtest.Has(t, text, "Three times a day.", "three times without a stop")
	webtest.HasNot(t, text, "Another lesson", "/students/")
	if _, err := s.Desk.ChangeStudio(t.Context(), s.Teacher, studio.Settings{Name: "Lindenhof", KeepDays: 400, ReplyDays: 3, Language: "es"}); err != nil {
		t.Fatal(err)
	}
	_, text = s.Get(t, s.Okafor.Device, at)
	webtest.Has(t, text, `lang="es"`, "Three times a day.")
	webtest.HasNot(t, text, "Done when", "quarter notes")
	if status, _ := s.Get(t, s.Lindqvist.Device, at); status != http.StatusNotFound {
		t.Errorf("another family gets it: %d", status)
	}
	waiting, err := s.Desk.TakesBy(t.Context(), s.Teacher, studio.TakeQuery{Student: ada.ID, Unanswered: true})
	if err != nil || len(waiting) != 0 {
		t.Errorf("still waiting: %v, %v", waiting, err)
	}
}

// TestTwoWindows: the second of two windows is told, keeps what it wrote, and decides.
func TestTwoWindows(t *testing.T) {
	s := open(t)
	at, _ := begun(t, s)
	one := form(t, s.Page(t, at))
	two := form(t, s.Page(t, at))
	one.Set("words", "From the first window")
	one.Set("act", "save")
	s.Sends(t, at, one)
	two.Set("words", "From the second window")
	two.Set("do.1", "Slowly")
	two.Set("act", "save")
	status, text, _ := s.Post(t, s.TeacherDevice, at, two)
	if status != http.StatusConflict {
		t.Fatalf("the second window: %d %s", status, webtest.Seen(text))
	}
	webtest.Has(t, text, "changed in another window", "From the second window", "Slowly", "Keep what stands here instead", `data-unsaved`)
	two.Set("act", "throw")
	if status, _, _ := s.Post(t, s.TeacherDevice, at, two); status != http.StatusConflict {
		t.Errorf("what the first window wrote is thrown away unseen: %d", status)
	}
	two.Set("act", "save")
	webtest.Has(t, s.Page(t, at), "From the first window")
	again := form(t, text) // the teacher presses the button on the page that told her
	again.Set("act", "save")
	s.Sends(t, at, again)
	webtest.Has(t, s.Page(t, at), "From the second window", "Slowly")

	// A script is told in its own way.
	r, err := http.NewRequestWithContext(t.Context(), http.MethodPost, s.URL+at, strings.NewReader(two.Encode()))
	if err != nil {
		t.Fatal(err)
	}
	r.Header.Set("Content-Type", "application/x-www-form-urlencoded")
	r.Header.Set("Accept", "application/json")
	a, err := s.Client(t, s.TeacherDevice).Do(r)
	if err != nil {
		t.Fatal(err)
	}
	a.Body.Close()
	if a.StatusCode != http.StatusConflict || a.Header.Get("Content-Type") != "application/json" {
		t.Errorf("a script gets %d, %s", a.StatusCode, a.Header.Get("Content-Type"))
	}
}

// TestSentFromAnotherWindow: what was written meanwhile becomes the next draft.
func TestSentFromAnotherWindow(t *testing.T) {
	s := open(t)
	at, canon := begun(t, s)
	one, two := form(t, s.Page(t, at)), form(t, s.Page(t, at))
	one.Set("act", "send")
	s.Sends(t, at, one)
	two.Set("words", "One thing more")
	two.Set("act", "send")
	status, text, _ := s.Post(t, s.TeacherDevice, at, two)
	if status != http.StatusConflict {
		t.Fatalf("%d %s", status, webtest.Seen(text))
	}
	webtest.Has(t, text, "was sent from another window", "One thing more", "Keep what stands here as a new draft")
	again := form(t, text)
	again.Set("begin", "form")
	student := "/students/" + string(s.Okafor.Students[0].ID)
	to := s.Sends(t, student+"/lesson", again)
	if to == at {
		t.Fatal("it leads to the lesson that was sent")
	}
	v := form(t, s.Page(t, to))
	if v.Get("words") != "One thing more" || v.Get("work.1") != string(canon.ID) {
		t.Errorf("the new draft holds %v", v)
	}
	webtest.HasNot(t, s.Page(t, at), "One thing more")
}

// TestHostileLessons: whatever a form holds, the answer is a sentence, what is stored stays as it was, and
// nothing breaks on our side.
func TestHostileLessons(t *testing.T) {
	s := open(t)
	at, canon := begun(t, s)
	foreign, err := s.Desk.SaveDraft(t.Context(), s.Teacher, studio.Lesson{Student: s.Lindqvist.Students[0].ID, Date: "2026-11-04", Assignments: []studio.Assignment{{Work: canon.ID, Do: "Nils’s own"}}})
	if err != nil {
		t.Fatal(err)
	}
	for name, spoil := range map[string]func(url.Values){
		"no version":              func(v url.Values) { v.Del("version") },
		"a version of letters":    func(v url.Values) { v.Set("version", "1 OR 1=1") },
		"a version below zero":    func(v url.Values) { v.Set("version", "-1") },
		"a field that is missing": func(v url.Values) { v.Del("do.1") },
		"a task without an id":    func(v url.Values) { v.Set("do.2", "Slowly") },
		"cut off":                 func(v url.Values) { v.Del("end") },
		"a kind that is none":     func(v url.Values) { v.Set("ask.1", "<b>") },
		"no date":                 func(v url.Values) { v.Set("date", "") },
		"a date that is none":     func(v url.Values) { v.Set("date", "2026-02-31") },
		"an unknown act":          func(v url.Values) { v.Set("act", "explode") },
		"nothing to add":          func(v url.Values) { v.Set("act", "add") },
		"a remark of nobody":      func(v url.Values) { v.Set("act", "quote x") },
		"a text too long":         func(v url.Values) { v.Set("words", strings.Repeat("la ", 10_000)) },
		"a thousand": func(v url.Values) {
			for range 1000 {
				v.Add("id", v.Get("id"))
			}
		},
		"more than a form holds": func(v url.Values) { v.Set("words", strings.Repeat("x", 2<<20)) },
	} {
		before := s.Page(t, at)
		v := form(t, before)
		v.Set("words", "This must not be kept")
		v.Set("act", "save")
		spoil(v)
		status, text, _ := s.Post(t, s.TeacherDevice, at, v)
		if status < 400 || status >= 500 {
			t.Errorf("%s: %d %s", name, status, webtest.Seen(text))
		}
		webtest.HasNot(t, text, "our side")
		if form(t, s.Page(t, at)).Encode() != form(t, before).Encode() {
			t.Errorf("%s: the draft has changed", name)
		}
	}

	// What is typed is kept, and does not go out.
	clean := form(t, s.Page(t, at))
	for name, spoil := range map[string]func(url.Values){
		"minutes of words":    func(v url.Values) { v.Set("minutes.1", "ten") },
		"a clip of nobody":    func(v url.Values) { v.Set("like.1", strings.Repeat("0", 26)) },
		"a clip from nowhere": func(v url.Values) { v.Set("like.1", "x"); v.Set("like.from.1", "soon") },
		"a ladder that goes down": func(v url.Values) {
			v.Set("ladderclean.1", "3")
			v.Set("ladderfrom.1", "80")
			v.Set("ladderto.1", "60")
		},
		"a question without its answer": func(v url.Values) { v.Set("ask.say.1", "Who wrote it?") },
		"no number as tempo":            func(v url.Values) { v.Set("tempo.1", "fast") },
		"a tempo of NaN":                func(v url.Values) { v.Set("tempo.1", "NaN") },
		"an infinite tempo":             func(v url.Values) { v.Set("tempo.1", "1e999") },
		"a tempo below zero":            func(v url.Values) { v.Set("tempo.1", "-66") },
		"a work of markup":              func(v url.Values) { v.Set("title.1", "'; DROP TABLE works; --") },
		"a work from elsewhere":         func(v url.Values) { v.Set("work.1", strings.Repeat("0", 26)); v.Set("title.1", "Elsewhere") },
	} {
		v := maps.Clone(clean)
		v.Set("version", form(t, s.Page(t, at)).Get("version"))
		v.Set("act", "save")
		spoil(v)
		s.Sends(t, at, v)
		v = form(t, s.Page(t, at))
		v.Set("act", "send")
		status, text, _ := s.Post(t, s.TeacherDevice, at, v)
		if status != http.StatusUnprocessableEntity {
			t.Errorf("%s, and sent: %d %s", name, status, webtest.Seen(text))
		}
		webtest.HasNot(t, text, "our side")
	}
	clean.Set("version", form(t, s.Page(t, at)).Get("version"))
	clean.Set("act", "save")
	s.Sends(t, at, clean)

	// Harmless, and yet not as a person sends it.
	v := form(t, s.Page(t, at))
	v.Set("id", string(foreign.Assignments[0].ID))
	v.Set("do.1", "In Ada’s lesson\x00\x1b[31m\xff now")
	for _, act := range []string{"up 1", "up 0", "up -3", "up 99999999999999999999", "down 1", "drop x", "save"} {
		v.Set("act", act)
		v.Set("version", form(t, s.Page(t, at)).Get("version"))
		s.Sends(t, at, v)
	}
	got := form(t, s.Page(t, at))
	if got.Get("id") == string(foreign.Assignments[0].ID) || got.Get("do.1") != "In Ada’s lesson  [31m now" {
		t.Errorf("kept as %q with id %s", got.Get("do.1"), got.Get("id"))
	}
	l, err := s.Desk.Lesson(t.Context(), s.Teacher, foreign.ID)
	if err != nil || len(l.Assignments) != 1 || l.Assignments[0].Do != "Nils’s own" {
		t.Errorf("Nils’s lesson is %+v, %v", l, err)
	}
}

func TestNoLessonOfNothing(t *testing.T) {
	s := open(t)
	at, _ := begun(t, s)
	v := form(t, s.Page(t, at))
	v.Set("act", "drop 1")
	s.Sends(t, at, v)
	v = form(t, s.Page(t, at))
	v.Set("act", "send")
	status, text, _ := s.Post(t, s.TeacherDevice, at, v)
	if status != http.StatusUnprocessableEntity {
		t.Fatalf("%d", status)
	}
	webtest.Has(t, text, "This lesson is empty")
	v.Set("act", "throw")
	if to := s.Sends(t, at, v); to != "/students/"+string(s.Okafor.Students[0].ID)+"?done=thrown" {
		t.Errorf("leads to %s", to)
	}
	if status, _ := s.Get(t, s.TeacherDevice, at); status != http.StatusNotFound {
		t.Errorf("the draft is still there: %d", status)
	}
}

// TestBeginningTwice opens one draft, not two, and begins with what was asked before.
func TestBeginningTwice(t *testing.T) {
	s := open(t)
	at, canon := begun(t, s)
	student := "/students/" + string(s.Okafor.Students[0].ID)
	for range 2 {
		if to := s.Sends(t, student+"/lesson", url.Values{"begin": {"nothing"}}); to != at {
			t.Errorf("a second draft: %s", to)
		}
	}
	v := form(t, s.Page(t, at))
	v.Set("do.1", "With the metronome")
	v.Set("act", "send")
	s.Sends(t, at, v)
	s.Wait(7 * 24 * time.Hour)
	webtest.Has(t, s.Page(t, student+"/lesson"), "Begin with what was asked on 4 November")
	to := s.Sends(t, student+"/lesson", url.Values{"begin": {"last"}})
	next := form(t, s.Page(t, to))
	if to == at || next.Get("work.1") != string(canon.ID) || next.Get("do.1") != "With the metronome" || next.Get("id") == v.Get("id") || next.Get("date") != "2026-11-11" {
		t.Errorf("%s holds %v", to, next)
	}
}

// TestSavingAsItIsWritten is what the page's script does after a pause.
func TestSavingAsItIsWritten(t *testing.T) {
	s := open(t)
	at, _ := begun(t, s)
	v := form(t, s.Page(t, at))
	version, err := strconv.Atoi(v.Get("version"))
	if err != nil {
		t.Fatal(err)
	}
	for i := range 3 {
		v.Set("words", fmt.Sprint("Word ", i))
		v.Set("version", strconv.Itoa(version+i))
		v.Set("act", "save")
		r, err := http.NewRequestWithContext(t.Context(), http.MethodPost, s.URL+at, strings.NewReader(v.Encode()))
		if err != nil {
			t.Fatal(err)
		}
		r.Header.Set("Content-Type", "application/x-www-form-urlencoded")
		r.Header.Set("Accept", "application/json")
		a, err := s.Client(t, s.TeacherDevice).Do(r)
		if err != nil {
			t.Fatal(err)
		}
		b := make([]byte, 20_000)
		n, _ := io.ReadFull(a.Body, b)
		a.Body.Close()
		if want := `"saved":"Saved at 09:00."`; !strings.Contains(string(b[:n]), want) || !strings.Contains(string(b[:n]), fmt.Sprintf(`"version":%d`, version+i+1)) {
			t.Errorf("%d %s, want %s", a.StatusCode, b[:n], want)
		}
	}
	if got := form(t, s.Page(t, at)).Get("words"); got != "Word 2" {
		t.Errorf("kept %q", got)
	}
}

// TestHalfTyped: while a teacher types, everything that stands in the form can be kept at any moment; it goes out only
// once it is written to its end.
func TestHalfTyped(t *testing.T) {
	s := open(t)
	at, _ := begun(t, s)
	v := form(t, s.Page(t, at))
	half := map[string]string{"tempo.1": "1", "minutes.1": "1o", "ladderclean.1": "3", "ladderfrom.1": "60", "ladderto.1": "5", "contrast.1": "6.", "ask.say.1": "How many?", "second.1": "round", "date": "0002-01-01"}
	for name, value := range half {
		v.Set(name, value)
	}
	v.Set("title.1", "Tallis’s Can")
	v.Set("do.1", "Slowly.")
	r, err := http.NewRequestWithContext(t.Context(), http.MethodPost, s.URL+at, strings.NewReader(v.Encode()))
	if err != nil {
		t.Fatal(err)
	}
	r.Header.Set("Content-Type", "application/x-www-form-urlencoded")
	r.Header.Set("Accept", "application/json")
	a, err := s.Client(t, s.TeacherDevice).Do(r)
	if err != nil {
		t.Fatal(err)
	}
	said, err := io.ReadAll(a.Body)
	a.Body.Close()
	if err != nil || a.StatusCode != http.StatusOK || !strings.Contains(string(said), "Task 1: “5” is no tempo") {
		t.Fatalf("half typed: %d %s, %v", a.StatusCode, said, err)
	}
	text := s.Page(t, at)
	webtest.Has(t, text, "Task 1: “5” is no tempo")
	got := form(t, text)
	for name, want := range map[string]string{"tempo.1": "1", "minutes.1": "1o", "ladderto.1": "5", "ladderfrom.1": "60", "title.1": "Tallis’s Can", "do.1": "Slowly.", "ask.say.1": "How many?"} {
		if got.Get(name) != want {
			t.Errorf("%s is %q, want %q", name, got.Get(name), want)
		}
	}
	if _, err := time.Parse(time.DateOnly, got.Get("date")); err != nil || got.Get("date") < "2000" {
		t.Errorf("the day is %q", got.Get("date"))
	}
	got.Set("act", "send")
	got.Set("words", "And one thing more.")
	status, text, _ := s.Post(t, s.TeacherDevice, at, got)
	if status != http.StatusUnprocessableEntity {
		t.Fatalf("half typed, and sent: %d", status)
	}
	webtest.Has(t, text, "Task 1: “5” is not written to its end", "And one thing more.")
	webtest.HasNot(t, text, "is not saved yet")
	got = form(t, text)
	for name, value := range map[string]string{"tempo.1": "100", "minutes.1": "10", "ladderto.1": "100", "contrast.1": "6", "ask.right.1": "two", "after.1": "2", "title.1": "Tallis’s Canon", "act": "send"} {
		got.Set(name, value)
	}
	if to := s.Sends(t, at, got); to != at+"?done=sent" {
		t.Errorf("written to its end, it leads to %s", to)
	}
}
