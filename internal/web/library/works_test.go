package library_test

import (
	"fmt"
	"net/url"
	"os"
	"path/filepath"
	"regexp"
	"strings"
	"testing"

	"antiphon/internal/studio"
	"antiphon/internal/web/webtest"
)

func TestFind(t *testing.T) {
	s := open(t)
	has(t, s.page("/library"), "Nothing is in it yet.")
	a, b := s.added(mice), s.added(ladder)
	etude, err := s.Desk.AddWork(t.Context(), s.Teacher, studio.Work{Title: "Étude in thirds", Exercise: true})
	if err != nil {
		t.Fatal(err)
	}
	c, err := s.Desk.Shelve(t.Context(), s.Teacher, studio.Collection{Name: "First winter", Items: []studio.CollectionItem{{Work: b.ID}}})
	if err != nil {
		t.Fatal(err)
	}
	for _, q := range []struct {
		ask  string
		want []string // titles in order
	}{
		{"", []string{"Étude in thirds", "Ladder", "Three Blind Mice"}},
		{"words=blin+thr", []string{"Three Blind Mice"}},
		{"words=etude", []string{"Étude in thirds"}}, // without the accent
		{"words=ÉTUDE", []string{"Étude in thirds"}},
		{"words=own", []string{"Ladder"}}, // the composer
		{"words=lind", nil},               // not the middle of a word
		{"kind=exercises", []string{"Étude in thirds"}},
		{"kind=works", []string{"Ladder", "Three Blind Mice"}},
		{"collection=" + string(c.ID), []string{"Ladder"}},
		{"collection=none", []string{"Étude in thirds", "Three Blind Mice"}},
		{"words=<script>", nil},
		{"from=-7", []string{"Étude in thirds", "Ladder", "Three Blind Mice"}},
		{"from=900", []string{"Étude in thirds", "Ladder", "Three Blind Mice"}},
	} {
		text := s.page("/library?" + strings.ReplaceAll(q.ask, "<script>", "%3Cscript%3E"))
		at := 0
		for _, title := range q.want {
			i := strings.Index(text[at:], ">"+title+"</a>")
			if i < 0 {
				t.Fatalf("%s: %s is not there, or not in its place: %s", q.ask, title, mainOf(text))
			}
			at += i
		}
		if n := strings.Count(text, `class="title"`); n != len(q.want) {
			t.Errorf("%s: %d lines, want %d", q.ask, n, len(q.want))
		}
		if strings.Contains(text, "<script>") {
			t.Errorf("%s: what was typed is not escaped", q.ask)
		}
	}
	_, _ = a, etude
}

// TestManyWorks: a long library comes page by page and nothing falls between two of them.
func TestManyWorks(t *testing.T) {
	s := open(t)
	for i := range 205 {
		if _, err := s.Desk.AddWork(t.Context(), s.Teacher, studio.Work{Title: fmt.Sprintf("Study %d", i+1), Rights: "own"}); err != nil {
			t.Fatal(err)
		}
	}
	for at, want := range map[string]struct {
		first, last string
		lines       int
	}{"0": {"Study 1<", "Study 100<", 100}, "100": {"Study 101<", "Study 200<", 100}, "200": {"Study 201<", "Study 205<", 5}} {
		text := s.page("/library?from=" + at)
		has(t, text, ">"+want.first, ">"+want.last)
		if n := strings.Count(text, `class="title"`); n != want.lines {
			t.Errorf("from %s: %d lines, want %d", at, n, want.lines)
		}
	}
	has(t, s.page("/library?from=100"), "Those before", "Those after", "from=0", "from=200")
}

func TestTitleAndRights(t *testing.T) {
	s := open(t)
	w := s.added(mice)
	form := url.Values{"title": {"Mice <b>three</b>"}, "composer": {"Anon & Co"}, "rights": {`"traditional"`}}
	for range 2 { // the second of two equal posts changes nothing
		if status, to := s.post("/library/works/"+string(w.ID), form); status != 303 {
			t.Fatal(status, to)
		}
	}
	text := s.page("/library/works/" + string(w.ID))
	has(t, text, "<h1>Mice &lt;b&gt;three&lt;/b&gt;</h1>", "Anon &amp; Co", `value="&#34;traditional&#34;"`)
	has(t, s.page("/library"), "Mice &lt;b&gt;three&lt;/b&gt;")
	if status, say := s.post("/library/works/"+string(w.ID), url.Values{"title": {" "}}); status != 422 || !strings.Contains(say, "needs a title") {
		t.Errorf("without a title: %d %s", status, say)
	}
	if status, say := s.post("/library/works/"+string(w.ID), url.Values{"title": {strings.Repeat("a", 200)}}); status != 422 || !strings.Contains(say, "longer than 160 letters") {
		t.Errorf("a long title: %d %s", status, say)
	}
	if status, _ := s.post("/library/works/"+strings.Repeat("0", 26), form); status != 404 {
		t.Errorf("no such work: %d", status)
	}
}

// TestWorkPage: what a page says of a tune that was never fingered, and of a passage.
func TestWorkPage(t *testing.T) {
	s := open(t)
	w := s.added(mice)
	text := s.page("/library/works/" + string(w.ID))
	has(t, text, "Traditional", "8 bars, 14 notes", "14 of its 14 notes lack a string or a finger", "Fingered as the program would", "The hands must be able to do", "dotted quarter notes a minute", `value="60"`,
		"keep the volume moderate", "Nobody yet.", `data-source="/sheets/`+string(w.ID))
	has(t, s.page("/library/works/"+string(w.ID)+"?from=5&to=6"), "Bars 5 to 6.", "until=6")
	for ask, want := range map[string]string{"from=99": "There is no bar 99", "from=6&to=5": "Bar 6 comes after bar 5."} {
		if status, text := s.Get(t, s.TeacherDevice, "/library/works/"+string(w.ID)+"?"+ask); status != 422 || !strings.Contains(text, want) {
			t.Errorf("%s: %d %s", ask, status, mainOf(text))
		}
	}
}

// TestWhoPlays: a student who sent a take stands on the page, with when.
func TestWhoPlays(t *testing.T) {
	s := open(t)
	w := s.added(mice)
	lesson := s.asked(s.Okafor, w)
	has(t, s.page("/library/works/"+string(w.ID)), ">Ada</a>", "asked today, no take yet")
	take := s.plays(s.Okafor, lesson)
	has(t, s.page("/library/works/"+string(w.ID)), "/takes/"+string(take.ID), "last take just now")
}

// TestEveryScore takes the sample scores of the other packages in, and asks for all that can be asked.
func TestEveryScore(t *testing.T) {
	s := open(t)
	files, err := filepath.Glob("../../*/testdata/*.musicxml")
	if err != nil || len(files) < 7 {
		t.Fatal(files, err)
	}
	for _, name := range files {
		text, err := os.ReadFile(name)
		if err != nil {
			t.Fatal(err)
		}
		status, page := s.upload(s.TeacherDevice, "/library/add", "scores", "own", file{filepath.Base(name), string(text)})
		id := regexp.MustCompile(`/library/works/([0-9a-z]{26})`).FindStringSubmatch(page)
		if status != 200 || id == nil {
			t.Errorf("%s: %d %s", name, status, mainOf(page))
			continue
		}
		at := "/library/works/" + id[1]
		for _, path := range []string{"", "/fingering", "/fingering?ask=yes&no-barre=yes", "/fingering?ask=yes&anew=yes&rest=yes&hardest=yes", "/score.pdf", "/score.mid", "/score.musicxml"} {
			if status, text := s.Get(t, s.TeacherDevice, at+path); status != 200 {
				t.Errorf("%s%s: %d %s", name, path, status, mainOf(text))
			}
		}
	}
}

// asked sends a lesson to the household's first child that asks for a work.
func (s *site) asked(home webtest.Household, w studio.Work) studio.Lesson {
	s.t.Helper()
	lesson, err := s.Desk.SaveDraft(s.t.Context(), s.Teacher, studio.Lesson{Student: home.Students[0].ID, Date: "2026-11-04", Assignments: []studio.Assignment{{Work: w.ID, Do: "Softly."}}})
	if err == nil {
		err = s.Desk.SendLesson(s.t.Context(), s.Teacher, lesson.ID, lesson.Version)
	}
	if err != nil {
		s.t.Fatal(err)
	}
	return lesson
}

// plays sends a take of what a lesson asks for.
func (s *site) plays(home webtest.Household, lesson studio.Lesson) studio.Take {
	s.t.Helper()
	take, err := s.Desk.Announce(s.t.Context(), home.Coach, studio.Announcement{Student: home.Students[0].ID, Assignment: lesson.Assignments[0].ID, FileName: "take.m4a", Bytes: 4})
	if err == nil {
		_, err = s.Desk.Receive(s.t.Context(), home.Coach, take.ID, "audio/mp4", strings.NewReader("take"))
	}
	if err != nil {
		s.t.Fatal(err)
	}
	return take
}

func (s *site) playedBy(home webtest.Household, w studio.Work) { s.plays(home, s.asked(home, w)) }
