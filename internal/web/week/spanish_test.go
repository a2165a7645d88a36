package week_test

import (
	"encoding/base64"
	"html"
	"io"
	"net/http"
	"net/url"
	"regexp"
	"slices"
	"strings"
	"testing"
	"time"

	"antiphon/internal/studio"
	"antiphon/internal/web/arrive"
	"antiphon/internal/web/door"
	"antiphon/internal/web/sheet"
	"antiphon/internal/web/webtest"
	"antiphon/internal/web/week"
)

var (
	tags = regexp.MustCompile(`(?s)<[^>]*>`)
	// attributes that somebody sees or hears
	told = regexp.MustCompile(`(?:alt|aria-label|title|placeholder|data-words|data-waits|data-nothing|data-picked)="([^"]*)"`)
	key  = regexp.MustCompile(`"[\w.]+":`)
	word = regexp.MustCompile(`\pL+`)
	// words that every other English sentence has, and no Spanish one
	english = strings.Fields("the this that page of and is are not your was were being music bar bars again here try skip open start")
)

// TestNoEnglishForASpanishFamily reads every page, refusal and answer to a script that a family meets in a studio
// that speaks Spanish, where everything that people wrote is Spanish too: no English word is in it.
func TestNoEnglishForASpanishFamily(t *testing.T) {
	st := webtest.Open(t)
	in, err := arrive.New(st.Frame, arrive.Options{Dir: t.TempDir(), Poll: time.Second})
	if err != nil {
		t.Fatal(err)
	}
	sheets := sheet.New(nil, st.Frame)
	s := st.Serve(t, sheets.Routes, in.Routes, func(mux *http.ServeMux) {
		if err := door.Routes(mux, st.Frame, door.Options{}); err != nil {
			t.Fatal(err)
		}
		if err := week.Routes(mux, st.Frame, sheets, week.Options{Sounds: true}); err != nil {
			t.Fatal(err)
		}
	})
	ctx := t.Context()
	if _, err := s.Desk.ChangeStudio(ctx, s.Teacher, studio.Settings{Name: "Bajo el tilo", KeepDays: 400, ReplyDays: 3, Language: "es"}); err != nil {
		t.Fatal(err)
	}
	work, err := s.Desk.AddWork(ctx, s.Teacher, studio.Work{Title: "Himno a la alegría", Rights: "traditional", Score: tune})
	if err != nil {
		t.Fatal(err)
	}
	ada := s.Okafor.Students[0]
	l, err := s.Desk.SaveDraft(ctx, s.Teacher, studio.Lesson{Student: ada.ID, Date: "2026-11-03", Words: "Muy bien.", Assignments: []studio.Assignment{{Work: work.ID, FromBar: "1", ToBar: "1", Do: "Despacio."}}})
	if err == nil {
		err = s.Desk.SendLesson(ctx, s.Teacher, l.ID, l.Version)
	}
	if err != nil {
		t.Fatal(err)
	}
	take, err := s.Desk.Announce(ctx, s.Okafor.Coach, studio.Announcement{Student: ada.ID, Assignment: l.Assignments[0].ID, Note: "Va bien."})
	if err == nil {
		_, err = s.Desk.Receive(ctx, s.Okafor.Coach, take.ID, "audio/mp4", strings.NewReader("sonido"))
	}
	if err != nil {
		t.Fatal(err)
	}
	read := func(where, body string) {
		t.Helper()
		for _, m := range told.FindAllStringSubmatch(body, -1) {
			body += " " + key.ReplaceAllString(html.UnescapeString(m[1]), "")
		}
		what, who := studio.DefaultConsent("en")
		for _, asked := range []string{what, who} { // what this family agreed to stands as it was
			body = strings.ReplaceAll(body, asked, "")
		}
		words := strings.Join(strings.Fields(tags.ReplaceAllString(body, " ")), " ")
		if strings.Contains(where, "json") {
			words = body
		}
		for _, at := range word.FindAllStringIndex(words, -1) {
			if slices.Contains(english, strings.ToLower(words[at[0]:at[1]])) {
				t.Errorf("%s says: %s", where, words[max(0, at[0]-60):min(len(words), at[1]+100)])
				return
			}
		}
	}
	child := "?child=" + string(ada.ID)
	for _, path := range []string{"/week", "/week/send", "/week/send" + child, "/week/hurt" + child, "/week/data", "/week/takes/" + string(take.ID),
		"/week/takes/none", "/devices", "/week/nowhere", "/nowhere", "/sheets/none", "/sheets/" + string(work.ID) + "?from=9", "/media/none", "/week/hurt?child=none"} {
		_, body := s.Get(t, s.Okafor.Device, path)
		read(path, body)
	}
	for _, path := range []string{"/week", "/devices", "/nowhere"} {
		_, body := s.Get(t, "", path)
		read("a stranger at "+path, body)
	}
	for path, form := range map[string]url.Values{
		"/week/hurt": {"child": {string(ada.ID)}, "note": {" "}}, "/devices/none/sign-out": nil, "/devices/" + string(s.Okafor.Coach.Device) + "/name": {"name": {strings.Repeat("n", 500)}},
		"/week/data/children/" + string(ada.ID): {"media": {"nada"}}, "/week/send": nil, "/week/data/erase": {"name": {"nadie"}}, "/week/takes/" + string(take.ID) + "/delete": nil,
	} {
		status, body, _ := s.Post(t, s.Okafor.Device, path, form)
		if status < 400 {
			t.Errorf("posting to %s: %d", path, status)
		}
		read("posting to "+path, body)
	}
	ask := func(method, path, more, length string) {
		t.Helper()
		r, err := http.NewRequestWithContext(ctx, method, s.URL+path, nil)
		if err != nil {
			t.Fatal(err)
		}
		r.Header.Set("Accept", "application/json")
		r.Header.Set("Sec-Fetch-Site", "same-origin")
		if method == http.MethodPost {
			r.Header.Set("Tus-Resumable", "1.0.0")
			r.Header.Set("Upload-Length", length)
			r.Header.Set("Upload-Metadata", more)
		}
		a, err := s.Client(t, s.Okafor.Device).Do(r)
		if err != nil {
			t.Fatal(err)
		}
		defer a.Body.Close()
		b, err := io.ReadAll(a.Body)
		if err != nil {
			t.Fatal(err)
		}
		if a.StatusCode < 400 || !strings.Contains(string(b), `"say"`) {
			t.Errorf("%s %s answers %d %s", method, path, a.StatusCode, b)
		}
		_, say, _ := strings.Cut(string(b), `"say":`)
		read("json of "+path+" "+more, say)
	}
	ask(http.MethodGet, "/sheets/none", "", "")
	ask(http.MethodGet, "/week/takes/none", "", "")
	in64 := func(s string) string { return base64.StdEncoding.EncodeToString([]byte(s)) }
	ask(http.MethodPost, "/uploads/", "filename "+in64("nota.txt")+",filetype "+in64("text/plain"), "12")
	ask(http.MethodPost, "/uploads/", "filename "+in64("a.m4a")+",filetype "+in64("audio/mp4"), "900000000000")
	ask(http.MethodPost, "/uploads/", "filename "+in64("a.m4a")+",filetype "+in64("audio/mp4")+",child "+in64("none"), "12")
}
