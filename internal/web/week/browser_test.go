package week_test

import (
	"bytes"
	"net/http"
	"os"
	"path/filepath"
	"strings"
	"testing"
	"time"

	"antiphon/internal/studio"
	"antiphon/internal/web/arrive"
	"antiphon/internal/web/door"
	"antiphon/internal/web/practice"
	"antiphon/internal/web/record"
	"antiphon/internal/web/sheet"
	"antiphon/internal/web/webtest"
	"antiphon/internal/web/webtest/chromium"
	"antiphon/internal/web/week"
)

// whole is a studio with the pages that a family's phone meets, and a week for two children of one family.
func whole(t testing.TB) (s *webtest.Site, nils, runa studio.Student) {
	t.Helper()
	e := webtest.Engraver(t)
	st := webtest.Open(t)
	in, err := arrive.New(st.Frame, arrive.Options{Dir: t.TempDir(), Poll: 100 * time.Millisecond})
	if err != nil {
		t.Fatal(err)
	}
	sheets := sheet.New(e, st.Frame)
	s = st.Serve(t, sheets.Routes, in.Routes, func(mux *http.ServeMux) {
		if err := door.Routes(mux, st.Frame, door.Options{}); err != nil {
			t.Fatal(err)
		}
		if err := week.Routes(mux, st.Frame, sheets, week.Options{Sounds: true}); err != nil {
			t.Fatal(err)
		}
		home, err := practice.New(st.Frame, practice.Options{Sheets: sheets, CacheDir: t.TempDir()})
		if err != nil {
			t.Fatal(err)
		}
		t.Cleanup(home.End)
		home.Routes(mux)
		if err := record.Routes(mux, st.Frame, record.Options{Sheets: sheets}); err != nil {
			t.Fatal(err)
		}
	})
	nils, runa = st.Lindqvist.Students[0], st.Lindqvist.Students[1]
	xml, err := os.ReadFile("../../engrave/testdata/round.musicxml")
	if err != nil {
		t.Fatal(err)
	}
	round, err := st.Desk.AddWork(t.Context(), st.Teacher, studio.Work{Title: "Frère Jacques", Rights: "traditional", Score: string(xml)})
	if err != nil {
		t.Fatal(err)
	}
	open, err := st.Desk.AddWork(t.Context(), st.Teacher, studio.Work{Title: "Open strings, p i m a", Exercise: true})
	if err != nil {
		t.Fatal(err)
	}
	for _, c := range []studio.Student{nils, runa} {
		l, err := st.Desk.SaveDraft(t.Context(), st.Teacher, studio.Lesson{Student: c.ID, Date: "2026-11-03",
			Words: "Dear " + c.Name + ",\nthe second line of the round was much calmer this time. Let us keep that, and add the last two bars.",
			Assignments: []studio.Assignment{
				{Work: open.ID, Do: "Say the name of each string aloud while it sounds. Slowly, up and back again.", Goals: studio.Goals{TempoBpm: 60, Stroke: "rest", DoneWhen: "the whole row comes three times without a stop"}},
				{Work: round.ID, FromBar: "1", ToBar: "2", Do: "First sing it, then play it. Stop after each bar and breathe.", Goals: studio.Goals{TempoBpm: 72, Dynamics: "the second time softer, like an echo", Fingering: "second finger stays down", DoneWhen: "it goes three times in a row as calmly as the first"}},
			}})
		if err != nil {
			t.Fatal(err)
		}
		if err := st.Desk.SendLesson(t.Context(), st.Teacher, l.ID, l.Version); err != nil {
			t.Fatal(err)
		}
	}
	st.Wait(20 * time.Hour)
	return s, nils, runa
}

var looks = []struct {
	name   string
	width  int64
	scheme string
}{{"390", 390, "light"}, {"390-dark", 390, "dark"}, {"1440", 1440, "light"}, {"1440-dark", 1440, "dark"}}

// look shows a page at the width of a phone and of a desk, in light and dark, to axe-core.
func look(t *testing.T, b *chromium.Browser, name string) {
	t.Helper()
	for _, l := range looks {
		b.Look(l.width, l.scheme)
		for _, fault := range b.Faults() {
			t.Errorf("%s, %d px, %s: %s", name, l.width, l.scheme, fault)
		}
		b.Shoot(name + "-" + l.name)
	}
	b.Look(390, "light")
}

// TestFamilyInABrowser: a parent on a phone reads the week, sends a recording that is seen to arrive and be
// answered while the page is open, hears what the teacher says at its moment, and says that it hurts.
func TestFamilyInABrowser(t *testing.T) {
	s, nils, runa := whole(t)
	b := chromium.Open(t, s.URL)
	b.Cookie("antiphon", s.Lindqvist.Device)
	b.Look(390, "light")
	b.Go("/week?new")
	b.Wait(`document.querySelectorAll(".sheet svg").length === 1`)
	if !chromium.Eval[bool](b, `document.querySelector(".sheet svg .tempo") !== null && getComputedStyle(document.querySelector(".sheet svg .tempo")).display === "none"`) {
		t.Error("the score's own tempo is there beside the one that is asked")
	}
	look(t, b, "week")

	b.Go("/week/send")
	look(t, b, "send-who")
	b.Click(`a[href*="` + string(nils.ID) + `"]`)
	b.Wait(`document.querySelector("form.send")`)
	b.Awake()
	look(t, b, "send")
	if chromium.Eval[bool](b, `getComputedStyle(document.querySelector("[data-pain]")).display !== "none"`) {
		t.Error("the caution is there before anything hurt")
	}
	b.Click("[data-hurt]")
	b.Wait(`getComputedStyle(document.querySelector("[data-pain]")).display !== "none"`)
	b.Click("[data-hurt]")
	b.Click("[name=of]")
	b.Write("#note", "The second line was easy.")
	file := filepath.Join(t.TempDir(), "kitchen.m4a")
	if err := os.WriteFile(file, []byte(strings.Repeat("sound ", 50000)), 0o600); err != nil {
		t.Fatal(err)
	}
	b.Choose("#choose", file)
	b.Wait(`document.querySelector(".picked").textContent === "Chosen: kitchen.m4a"`)
	b.Shoot("send-chosen")
	b.Click("form.send button.main")
	b.Wait(`location.pathname.startsWith("/week/takes/")`)
	b.Awake()
	look(t, b, "take-sent")
	takes, err := s.Desk.TakesBy(t.Context(), s.Teacher, studio.TakeQuery{})
	if err != nil || len(takes) != 1 || takes[0].State != studio.Waiting || takes[0].Note != "The second line was easy." || takes[0].Bytes != 300000 {
		t.Fatalf("%+v, %v", takes, err)
	}
	id := takes[0].ID

	b.Go("/week")
	b.Wait(`document.querySelector(".rows.sent").textContent.includes("It is here and safe")`)
	for _, r := range []struct {
		atS float64
		say string
	}{{4, "A fine, calm beginning. Keep that breath before the first note."}, {21.5, "Here the second finger lifts too early. Let it stay down until the next bar."}} {
		if _, err := s.Desk.Remark(t.Context(), s.Teacher, id, studio.Anchor{AtS: r.atS}, r.say, ""); err != nil {
			t.Fatal(err)
		}
	}
	playable(t, s, id)
	if err := s.Desk.Answer(t.Context(), s.Teacher, id); err != nil {
		t.Fatal(err)
	}
	b.Wait(`document.querySelector(".rows.sent").textContent.includes("Your teacher has answered")`) // without a reload
	b.Click(".rows.sent a")
	b.Wait(`document.querySelectorAll(".remarks li").length === 2`)
	b.Awake()
	b.Wait(`document.querySelector("main audio").readyState >= 1`)
	look(t, b, "take")
	b.Click(`[data-at="21.50"]`)
	// Where it began to play: where it plays now is further on, on a busy machine seconds further.
	b.Wait(`(() => { const { played } = document.querySelector("main audio"); return played.length > 0 && played.start(0) >= 20.4 && played.start(0) < 22 })()`)

	b.Go("/week/send?child=" + string(runa.ID)) // hands only
	look(t, b, "send-hands")
	b.Go("/week/hurt?child=" + string(nils.ID))
	look(t, b, "hurt")
	b.Write("#note", "The left wrist, after five minutes.")
	b.Click("form button.main")
	b.Wait(`location.search === "?told"`)
	b.Awake()
	look(t, b, "told")
	if _, err := s.Desk.Hurts(t.Context(), s.Lindqvist.Coach, runa.ID, "", "A finger."); err != nil { // so that both children have something
		t.Fatal(err)
	}
	b.Go("/week/data")
	chromium.Eval[bool](b, `(document.querySelectorAll("details").forEach((d) => { d.open = true }), true)`)
	look(t, b, "data")
	b.Cookie("language", "es")
	for name, path := range map[string]string{"week-es": "/week", "send-es": "/week/send?child=" + string(nils.ID), "data-es": "/week/data"} {
		b.Go(path)
		look(t, b, name)
	}
}

// TestStrangerInABrowser: a phone without a family is told what to do, and not more.
func TestStrangerInABrowser(t *testing.T) {
	s, _, _ := whole(t)
	b := chromium.Open(t, s.URL)
	b.Go("/week")
	b.Expect("403")
	if !chromium.Eval[bool](b, `document.querySelector("h1").textContent === "This phone is not connected"`) {
		t.Error("a stranger is not told")
	}
	look(t, b, "stranger")
	b.Go("/week/send")
	b.Expect("403")
	b.Click("[name=language]")
	b.Wait(`document.documentElement.lang === "es"`)
	b.Awake()
	b.Expect("403")
	look(t, b, "stranger-es")
}

// playable gives a take a minute of a quiet tone that browsers play.
func playable(t *testing.T, s *webtest.Site, id studio.TakeID) {
	t.Helper()
	const rate, seconds = 8000, 60
	wav := []byte("RIFF\x00\x00\x00\x00WAVEfmt \x10\x00\x00\x00\x01\x00\x01\x00\x40\x1f\x00\x00\x40\x1f\x00\x00\x01\x00\x08\x00data\x00\x00\x00\x00")
	for i := range rate * seconds {
		wav = append(wav, byte(126+i/20%2*4))
	}
	put := func(at int, n uint32) {
		for i := range 4 {
			wav[at+i] = byte(n >> (8 * i))
		}
	}
	put(4, uint32(len(wav)-8))
	put(40, rate*seconds)
	ear := studio.Viewer{Studio: s.Teacher.Studio, Role: studio.Ear}
	if _, err := s.Desk.BeginHearing(t.Context(), ear, id); err != nil {
		t.Fatal(err)
	}
	// Nothing of a take is played before its metadata is taken out.
	if _, err := s.Desk.ReplaceOriginal(t.Context(), ear, id, "audio/wav", bytes.NewReader(wav)); err != nil {
		t.Fatal(err)
	}
	if _, err := s.Desk.KeepRendition(t.Context(), ear, id, studio.Playable, "audio/wav", bytes.NewReader(wav)); err != nil {
		t.Fatal(err)
	}
}
