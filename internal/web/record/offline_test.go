package record_test

import (
	"net/http/httptest"
	"testing"

	"antiphon/internal/studio"
	"antiphon/internal/web"
	"antiphon/internal/web/record"
	"antiphon/internal/web/webtest"
	"antiphon/internal/web/webtest/chromium"
)

// TestRecordedWithoutANetwork: a week that was opened once is opened in a house without a network, the recorder
// from it, and a recording is sent. The week page says that it is on its way, and sends it when the network is back.
func TestRecordedWithoutANetwork(t *testing.T) {
	e := webtest.Engraver(t)
	st := webtest.Open(t)
	pages, err := web.New(web.Options{Desk: st.Desk, Engraver: e, Folder: t.TempDir(), Now: st.Now})
	if err != nil {
		t.Fatal(err)
	}
	server := httptest.NewServer(pages)
	t.Cleanup(server.Close)
	nils := st.Lindqvist.Students[0]
	w, err := st.Desk.AddWork(t.Context(), st.Teacher, studio.Work{Title: "Open strings, p i m a", Exercise: true})
	if err != nil {
		t.Fatal(err)
	}
	l, err := st.Desk.SaveDraft(t.Context(), st.Teacher, studio.Lesson{Student: nils.ID, Date: "2026-11-03",
		Assignments: []studio.Assignment{{Work: w.ID, Do: "Say the name of each string aloud while it sounds.", Goals: studio.Goals{TempoBpm: 60}}}})
	if err != nil {
		t.Fatal(err)
	}
	if err := st.Desk.SendLesson(t.Context(), st.Teacher, l.ID, l.Version); err != nil {
		t.Fatal(err)
	}
	net, address := webtest.Lay(t, server.URL)
	b := chromium.Open(t, address, chromium.Hearing(guitar(t)))
	b.Cookie("antiphon", st.Lindqvist.Device)
	b.Look(390, "light")
	b.Go("/week?child=" + string(nils.ID))
	b.Wait(`document.querySelector("footer [data-kept]").checkVisibility()`)
	net.BreaksAfter(0)
	b.Network(false)
	b.Go("/week?child=" + string(nils.ID))
	at := chromium.Eval[string](b, `document.querySelector('a[href^="/week/record"]').getAttribute("href")`)
	b.Go(at)
	chromium.Eval[bool](b, watch)
	b.Click(".recorder [data-do=open]")
	b.Wait(`!document.querySelector("[data-live]").hidden`)
	b.Click("[data-do=go]")
	b.Wait(`performance.now() - window.began > 4000`)
	b.Click(".recorder [data-do=stop]")
	b.Wait(`document.querySelectorAll(".kept-tries li").length === 1`)
	b.Click("[data-tries] button.main")
	b.Wait(`document.querySelector(".going").textContent.includes("No network just now")`)
	b.Go("/week?child=" + string(nils.ID))
	b.Wait(`document.querySelector(".pending").textContent.includes("It is sent by itself")`)
	look(t, b, "pending-way")
	net.BreaksAfter(-1)
	b.Network(true)
	b.Wait(`document.querySelector(".pending").textContent.includes("It is here and safe")`)
	all, err := st.Desk.TakesBy(t.Context(), st.Teacher, studio.TakeQuery{Student: nils.ID})
	if err != nil || len(all) != 1 || all[0].State != studio.Waiting || all[0].Work != w.ID {
		t.Fatalf("%+v, %v", all, err)
	}
	if d := decoded(t, fileOf(t, st.Desk, studio.Viewer{Studio: st.Teacher.Studio, Role: studio.Ear}, all[0].ID)).Seconds(); d < 3.5 || d > 6 {
		t.Errorf("%.1f s arrived", d)
	}
	if at != (record.Card{Student: nils.ID, Assignment: all[0].Assignment}).Address() {
		t.Errorf("the week led to %s", at)
	}
	b.Expect("net::ERR_")
}
