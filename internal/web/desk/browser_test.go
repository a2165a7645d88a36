package desk_test

import (
	"fmt"
	"net/http"
	"strings"
	"testing"
	"time"

	"github.com/chromedp/chromedp/kb"

	"antiphon/internal/studio"
	"antiphon/internal/web/webtest"
	"antiphon/internal/web/webtest/chromium"
)

// household is a family beside the two of webtest.
func household(t testing.TB, s *webtest.Site, name, coach string, students ...string) (studio.Viewer, []studio.Student) {
	t.Helper()
	var ns []studio.NewStudent
	for _, one := range students {
		ns = append(ns, studio.NewStudent{Name: one, Media: studio.FullVideo})
	}
	f, token, err := s.Desk.InviteFamily(t.Context(), s.Teacher, studio.NewFamily{Name: name, Students: ns}, studio.Asked{})
	if err != nil {
		t.Fatal(err)
	}
	v, _, err := s.Desk.Redeem(t.Context(), token, studio.Redemption{Name: coach, Device: "Phone", Agrees: true})
	if err != nil {
		t.Fatal(err)
	}
	all, err := s.Desk.Students(t.Context(), s.Teacher)
	if err != nil {
		t.Fatal(err)
	}
	var own []studio.Student
	for _, one := range all {
		if one.Family == f.ID {
			own = append(own, one)
		}
	}
	return v, own
}

// busy is a studio in the middle of its term.
func busy(t testing.TB, s *webtest.Site) (ada studio.Student, draft studio.Lesson) {
	t.Helper()
	ctx := t.Context()
	var works []studio.Work
	for _, title := range []string{"Three Blind Mice", "Tallis’s Canon", "Ode to Joy", "Open strings, i and m in turn"} {
		works = append(works, s.Work(t, title))
	}
	if _, err := s.Desk.AddPassage(ctx, s.Teacher, studio.Passage{Work: works[1].ID, Name: "second line", FromBar: "5", ToBar: "8"}); err != nil {
		t.Fatal(err)
	}
	if _, err := s.Desk.Shelve(ctx, s.Teacher, studio.Collection{Name: "First tunes and rounds", Items: []studio.CollectionItem{{Work: works[0].ID}, {Work: works[1].ID}, {Work: works[2].ID}}}); err != nil {
		t.Fatal(err)
	}
	ada = s.Okafor.Students[0]
	send := func(student studio.StudentID, words string, as ...studio.Assignment) studio.Lesson {
		l, err := s.Desk.SaveDraft(ctx, s.Teacher, studio.Lesson{Student: student, Date: s.Now().Format("2006-01-02"), Words: words, Assignments: as})
		if err == nil {
			err = s.Desk.SendLesson(ctx, s.Teacher, l.ID, l.Version)
		}
		if err != nil {
			t.Fatal(err)
		}
		return l
	}
	for week := range 6 {
		l := send(ada.ID, "A good week. The tone is rounder than in October.", studio.Assignment{Work: works[1].ID, FromBar: "1", ToBar: "8", Do: "Three times a day, slowly.", Goals: studio.Goals{TempoBpm: 60 + float64(week)*2, DoneWhen: "three times without a stop"}},
			studio.Assignment{Work: works[0].ID, Do: "Once a day, for pleasure."})
		for i := range 2 {
			s.Wait(60 * time.Hour)
			one := s.Take(t, s.Okafor.Coach, studio.Announcement{Student: ada.ID, Assignment: l.Assignments[i].ID, Work: l.Assignments[i].Work})
			s.Hear(t, one.ID, studio.Summary{Bpm: 56 + float64(week)*2.5, SteadinessPct: 9 - float64(week), Notes: 32, Wrong: max(0, 3-week), Missed: week % 2, Restarts: max(0, 2-week), FromBar: "1", ToBar: "8", RightShare: .9})
			if i == 0 {
				s.Remark(t, one.ID, "5", "The fourth finger comes late: let it wait above the string.")
			}
		}
		s.Wait(48 * time.Hour)
	}
	send(s.Lindqvist.Students[0].ID, "Well begun.", studio.Assignment{Work: works[3].ID, Do: "Two minutes, then rest the hand."})
	moreau, leas := household(t, s, "Moreau", "Claire Moreau", "Léa")
	castellano, toms := household(t, s, "Castellano-Hartwig", "Inés Castellano", "Tomás")
	_, _ = household(t, s, "Brandt", "Uwe Brandt", "Ida")
	s.Wait(20 * time.Hour)
	one := s.Take(t, moreau, studio.Announcement{Student: leas[0].ID, Work: works[2].ID, Note: "She played it for her grandmother on Saturday and was very proud."})
	s.Hear(t, one.ID, studio.Summary{Bpm: 72, SteadinessPct: 4, Notes: 60, Restarts: 1, FromBar: "1", ToBar: "16"})
	s.Wait(26 * time.Hour)
	for i := range 3 {
		one := s.Take(t, s.Lindqvist.Coach, studio.Announcement{Student: s.Lindqvist.Students[0].ID, Work: works[i].ID})
		s.Hear(t, one.ID, studio.Summary{Bpm: 66, SteadinessPct: 8, Notes: 40, Wrong: i, Missed: 1, FromBar: "1", ToBar: "8"}, []studio.Concern{{Kind: "too-quiet", Say: "Very quiet: the phone was far away."}}[:i%2]...)
	}
	one = s.Take(t, castellano, studio.Announcement{Student: toms[0].ID, Work: works[3].ID, Hurt: true, Note: "His thumb hurt afterwards."})
	s.Hear(t, one.ID, studio.Summary{Bpm: 90, SteadinessPct: 12, Notes: 32, Wrong: 4, Missed: 6, Restarts: 3, FromBar: "1", ToBar: "8"})
	one = s.Take(t, castellano, studio.Announcement{Student: toms[0].ID, FileName: "VID_20261219_1803.mp4"})
	if _, err := s.Desk.BeginHearing(ctx, s.Ear(), one.ID); err != nil {
		t.Fatal(err)
	}
	if err := s.Desk.SetAside(ctx, s.Ear(), one.ID, "There is talk in it, and hardly any playing.", studio.Heard{DurationS: 41}); err != nil {
		t.Fatal(err)
	}
	if _, err := s.Desk.Announce(ctx, s.Okafor.Coach, studio.Announcement{Student: ada.ID, Work: works[0].ID, Bytes: 1 << 20}); err != nil {
		t.Fatal(err)
	}
	if _, err := s.Desk.Drop(ctx, s.Teacher, "anna lena.m4a", "audio/mp4", strings.NewReader("somebody plays")); err != nil {
		t.Fatal(err)
	}
	of, err := s.Desk.TakesBy(ctx, s.Teacher, studio.TakeQuery{Student: ada.ID, Unanswered: true})
	if err != nil {
		t.Fatal(err)
	}
	for _, one := range of {
		for _, v := range []studio.Viewer{s.Okafor.Coach, s.Teacher} {
			if _, err := s.Desk.ReviewTake(ctx, v, one.ID); err != nil {
				t.Fatal(err)
			}
		}
	}
	draft, err = s.Desk.SaveDraft(ctx, s.Teacher, studio.Lesson{Student: ada.ID, Date: s.Now().Format("2006-01-02"), Words: "What a step forward.",
		Assignments: []studio.Assignment{{Work: works[1].ID, FromBar: "1", ToBar: "8", Do: "Bars 5 to 8 alone first.", Goals: studio.Goals{TempoBpm: 72, DoneWhen: "three times without a stop"}},
			{Work: works[2].ID, Do: "Read through it once a day.", Goals: studio.Goals{Tone: "warm, over the hole"}}}})
	if err != nil {
		t.Fatal(err)
	}
	return ada, draft
}

// news is what the studio tells its pages; the real one is another package's.
type news chan struct{}

func (n news) route(mux *http.ServeMux) {
	mux.HandleFunc("GET /live", func(w http.ResponseWriter, r *http.Request) {
		w.Header().Set("Content-Type", "text/event-stream")
		_, _ = fmt.Fprint(w, ": here\n\n")
		_ = http.NewResponseController(w).Flush()
		select {
		case <-n:
			_, _ = fmt.Fprint(w, "event: take\ndata: {}\n\n")
		case <-r.Context().Done():
		}
	})
}

func browse(t *testing.T, s *webtest.Site) *chromium.Browser {
	t.Helper()
	b := chromium.Open(t, s.URL)
	b.Cookie("antiphon", s.TeacherDevice)
	return b
}

// TestPagesInABrowser shows every page at the width of a phone and of a desk, in light and dark: axe-core
// finds nothing, nothing is wider than the window, and nothing is asked of another site.
func TestPagesInABrowser(t *testing.T) {
	s := open(t, make(news).route)
	ada, draft := busy(t, s)
	sent, err := s.Desk.Lessons(t.Context(), s.Teacher, studio.LessonQuery{Student: ada.ID, Limit: 1})
	if err != nil || len(sent) != 1 {
		t.Fatal(sent, err)
	}
	s.Take(t, s.Okafor.Coach, studio.Announcement{Student: ada.ID, Work: draft.Assignments[0].Work})
	b := browse(t, s)
	student := "/students/" + string(ada.ID)
	pages := []struct{ name, path string }{
		{"desk", "/desk"}, {"students", "/students"}, {"student", student}, {"looked", student + "/looked"},
		{"begin", "/students/" + string(s.Lindqvist.Students[0].ID) + "/lesson"}, {"lesson", "/lessons/" + string(draft.ID)}, {"sent", "/lessons/" + string(sent[0].ID) + "?done=sent"},
		{"studio", "/studio"}, {"families", "/studio/families"}, {"invite", "/studio/families/new"}, {"family", "/studio/families/" + string(s.Okafor.Family.ID)}, {"told", "/studio/told"}, {"receipts", "/studio/receipts"},
	}
	for _, width := range []int64{1440, 390} {
		for _, p := range pages {
			b.Go(p.path)
			for _, scheme := range []string{"light", "dark"} {
				b.Look(width, scheme)
				for _, fault := range b.Faults() {
					t.Errorf("%s, %d px, %s: %s", p.name, width, scheme, fault)
				}
				b.Shoot(fmt.Sprintf("%s-%d-%s", p.name, width, scheme))
			}
		}
	}
}

// TestTheDeskByKeyboard drives the desk with single keys, and sees what happens meanwhile without loading it again.
func TestTheDeskByKeyboard(t *testing.T) {
	told := make(news)
	s := open(t, told.route)
	_, draft := busy(t, s)
	b := browse(t, s)
	b.Look(1440, "light")
	b.Go("/desk")
	next := chromium.Eval[string](b, `document.querySelector("ol.waiting .sent a").getAttribute("href")`)
	chromium.Eval[bool](b, `(document.querySelector("ol.waiting h2 a").focus(), true)`)
	held := chromium.Eval[string](b, `document.activeElement.id`)
	before := chromium.Eval[int](b, `document.querySelectorAll("ol.waiting > li").length`)
	s.Take(t, s.Lindqvist.Coach, studio.Announcement{Student: s.Lindqvist.Students[1].ID, Work: draft.Assignments[0].Work})
	told <- struct{}{}
	b.Wait(fmt.Sprintf(`document.querySelectorAll("ol.waiting > li").length === %d`, before+1))
	if now := chromium.Eval[string](b, `document.activeElement.id`); now != held {
		t.Errorf("the keyboard stood at %s and stands at %q", held, now)
	}

	b.Press("?")
	b.Wait(`document.querySelector("dialog.keys[open]")?.textContent.includes("Open the next")`)
	for _, fault := range b.Faults() {
		t.Error(fault)
	}
	b.Press("n") // means nothing while the list is open
	toggle := `document.querySelector("dialog.keys input").click(), document.querySelector("dialog.keys form button").click(), true`
	chromium.Eval[bool](b, toggle)
	b.Wait(`!document.querySelector("dialog.keys")`)
	b.Press("n") // switched off
	if at := chromium.Eval[string](b, `location.pathname`); at != "/desk" {
		t.Fatalf("a key that is switched off leads to %s", at)
	}
	b.Click("[data-keys]")
	chromium.Eval[bool](b, toggle)
	b.Wait(`!document.querySelector("dialog.keys")`)
	b.Press("n")
	b.Wait(`location.pathname === "` + next + `"`)
	b.Expect("404") // the page of a take is another package's
}

// TestRarePages shows what comes only after something was pressed.
func TestRarePages(t *testing.T) {
	s := open(t, make(news).route)
	b := browse(t, s)
	look := func(name string) {
		t.Helper()
		b.Awake()
		for _, width := range []int64{1440, 390} {
			b.Look(width, "light")
			for _, fault := range b.Faults() {
				t.Errorf("%s, %d px: %s", name, width, fault)
			}
			b.Shoot(fmt.Sprintf("%s-%d-light", name, width))
		}
	}
	b.Go("/desk")
	look("first")
	b.Go("/students/" + string(s.Okafor.Students[0].ID))
	look("new-student")
	busy(t, s)

	family := "/studio/families/" + string(s.Okafor.Family.ID)
	b.Go(family)
	b.Click(`form[action$="/link"] button`)
	b.Wait(`location.pathname.endsWith("/link")`)
	look("link")
	b.Click(`[data-copy="letter"]`)
	b.Wait(`document.querySelector(".said").textContent !== ""`)

	b.Go(family)
	b.Write("#typed", "Lindqvist")
	b.Press(kb.Enter)
	b.Wait(`document.querySelector("[role=alert]")?.textContent.includes("Nothing was erased")`)
	b.Expect("422")
	look("not-erased")
	b.Write("#typed", "Okafor")
	b.Press(kb.Enter)
	b.Wait(`location.pathname === "/studio/receipts"`)
	look("receipt")
}
