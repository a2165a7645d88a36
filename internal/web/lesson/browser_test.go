package lesson_test

import (
	"fmt"
	"strings"
	"testing"

	"github.com/chromedp/chromedp/kb"

	"antiphon/internal/studio"
	"antiphon/internal/web/webtest"
	"antiphon/internal/web/webtest/chromium"
)

func browse(t *testing.T, s *webtest.Site) *chromium.Browser {
	t.Helper()
	b := chromium.Open(t, s.URL)
	b.Cookie("antiphon", s.TeacherDevice)
	return b
}

// look shows the page at the width of a phone and of a desk, in light and dark: axe-core finds nothing and nothing is
// wider than the window.
func look(t *testing.T, b *chromium.Browser, name string) {
	t.Helper()
	b.Awake()
	for _, width := range []int64{1440, 390} {
		for _, scheme := range []string{"light", "dark"} {
			b.Look(width, scheme)
			for _, fault := range b.Faults() {
				t.Errorf("%s, %d px, %s: %s", name, width, scheme, fault)
			}
			b.Shoot(fmt.Sprintf("%s-%d-%s", name, width, scheme))
		}
	}
}

// TestSavedAsItIsWritten: the lesson's page saves by itself, brings the right version along, and keeps here
// what another window was quicker than.
func TestSavedAsItIsWritten(t *testing.T) {
	s := open(t)
	_, draft := busy(t, s)
	b := browse(t, s)
	b.Look(1440, "light")
	at := "/lessons/" + string(draft.ID)
	stored := func() studio.Lesson {
		t.Helper()
		l, err := s.Desk.Lesson(t.Context(), s.Teacher, draft.ID)
		if err != nil {
			t.Fatal(err)
		}
		return l
	}
	b.Go(at)
	b.Write("#words", "And now the end. ")
	b.Wait(`document.querySelector("input[name=version]").value === "2" && localStorage.length === 0`)
	if l := stored(); !strings.Contains(l.Words, "And now the end.") {
		t.Fatalf("saved %q", l.Words)
	}

	// The button that follows at once brings the version that the saving made.
	b.Click("#a1 summary")
	b.Write("#do1", "Listen to the basses. ")
	b.Click("button[value='down 1']")
	b.Wait(`location.hash === "#a2" && document.querySelector("#do2")?.value.includes("Listen to the basses.")`)
	b.Awake()

	// Another window saves; this one is told, and its writing is there still after it was closed.
	l := stored()
	l.Words = "From another window"
	if _, err := s.Desk.SaveDraft(t.Context(), s.Teacher, l); err != nil {
		t.Fatal(err)
	}
	b.Write("#words", "Only here. ")
	b.Wait(`!document.querySelector("[data-clash]").hidden`)
	b.Expect("409")
	b.Go("/students/" + string(draft.Student) + "/lesson") // leads to the draft
	b.Go("/nowhere")
	b.Expect("404")
	b.Go(at)
	b.Wait(`document.querySelector("#kept-words")?.value.includes("Only here.") && document.querySelector("#words").value === "From another window"`)
	before := stored().Version
	chromium.Eval[bool](b, `([...document.querySelectorAll("[data-clash] button")].find((b) => b.textContent === "Put it back").click(), true)`)
	b.Wait(fmt.Sprintf(`document.querySelector("input[name=version]").value === "%d" && document.querySelector("#words").value.includes("Only here.")`, before+1))

	// By a key alone: the button that sends.
	chromium.Eval[bool](b, `(document.querySelector("button[value='send']").focus(), true)`)
	b.Press(kb.Enter)
	b.Wait(`location.search === "?done=sent" && document.body.textContent.includes("Only here.")`)
	b.Awake()
	if l := stored(); l.Sent.IsZero() || !strings.Contains(l.Words, "Only here.") {
		t.Errorf("sent: %+v", l)
	}
	if n := chromium.Eval[int](b, `localStorage.length`); n != 0 {
		t.Errorf("%d things are left in the browser", n)
	}
}

// TestClashes shows what stands there when two windows write the same lesson.
func TestClashes(t *testing.T) {
	s := open(t)
	_, draft := busy(t, s)
	b := browse(t, s)
	at := "/lessons/" + string(draft.ID)
	b.Go(at)
	other, err := s.Desk.SaveDraft(t.Context(), s.Teacher, draft)
	if err != nil {
		t.Fatal(err)
	}
	press := func(act string) { b.Click(fmt.Sprintf(`section.sending button[value="%s"]`, act)) }
	press("save")
	b.Wait(`document.querySelector("section.caution")?.textContent.includes("changed in another window")`)
	b.Expect("409")
	look(t, b, "conflict")
	if err := s.Desk.SendLesson(t.Context(), s.Teacher, draft.ID, other.Version); err != nil {
		t.Fatal(err)
	}
	press("save")
	b.Wait(`document.querySelector("section.caution")?.textContent.includes("was sent from another window")`)
	b.Expect("409")
	look(t, b, "was-sent")
	b.Click(`button[name="begin"][value="form"]`)
	b.Wait(`location.pathname.startsWith("/lessons/") && location.pathname !== "` + at + `"`)
}
