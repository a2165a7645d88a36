package lesson_test

import (
	"fmt"
	"strings"
	"testing"

	"antiphon/internal/web/webtest/chromium"
)

// press clicks the button of an item's recorder that says these words.
func press(b *chromium.Browser, item, words string) {
	find := fmt.Sprintf(`[...document.querySelectorAll('[data-item="%s"] [data-tools] button')].find((b) => b.textContent === %q)`, item, words)
	b.Wait(find)
	chromium.Eval[bool](b, `(`+find+`.click(), true)`)
}

// TestRecordingItemByItem records with Chromium's own false camera and microphone: a film for one item, a voice for
// another; the first is taken again; and one that finds no network waits in the browser, also over a new page.
func TestRecordingItemByItem(t *testing.T) {
	s := open(t)
	_, draft := busy(t, s)
	b := browse(t, s)
	b.Look(1440, "light")
	at := "/lessons/" + string(draft.ID)
	one, two := string(draft.Assignments[0].ID), string(draft.Assignments[1].ID)
	made := `document.querySelector('[data-item="%s"] [data-tools] :is(audio, video)[src^="blob:"]')`
	kept := `document.querySelector('[data-item="%s"] [data-kept] :is(audio, video)')`
	record := func(item, way string) {
		t.Helper()
		press(b, item, way)
		press(b, item, "Start")
		b.Wait(fmt.Sprintf(`/Recording, 0:0[1-9]/.test(document.querySelector('[data-item="%s"] [data-tools]').textContent)`, item))
		press(b, item, "Stop")
		b.Wait(fmt.Sprintf(made, item))
	}
	b.Go(at)
	b.Click("#a1 > details > summary")
	b.Click("#say1 > summary")
	record(one, "Film yourself")
	look(t, b, "recorded")
	b.Look(1440, "light")
	press(b, one, "Record it again") // thrown away: nothing has gone out
	record(one, "Film yourself")
	press(b, one, "Keep it")
	b.Wait(fmt.Sprintf(kept, one))
	if got := chromium.Eval[string](b, fmt.Sprintf(`(%s).tagName`, fmt.Sprintf(kept, one))); got != "VIDEO" {
		t.Errorf("what is kept is shown as %s", got)
	}
	b.Click("#a2 > details > summary")
	b.Click("#say2 > summary")
	record(two, "Speak")
	press(b, two, "Keep it")
	b.Wait(fmt.Sprintf(kept, two))
	as := answersOf(t, s, draft.ID)
	if len(as) != 2 || !strings.HasPrefix(as[0].Type, "video/") || !strings.HasPrefix(as[1].Type, "audio/") {
		t.Fatalf("%+v", as)
	}
	film, voice := as[0].Media, as[1].Media

	// The words of one, without leaving the page.
	b.Write(fmt.Sprintf("#words-%s", two), "Listen to the basses.")
	b.Click(fmt.Sprintf(`[data-item="%s"] [data-words]`, two))
	b.Wait(`document.querySelector("#said").textContent.includes("kept")`)

	// Taken again without the other, and without a network: it waits here, and goes by itself.
	record(one, "Film yourself")
	chromium.Eval[bool](b, `(XMLHttpRequest.prototype.send = function () { setTimeout(() => this.dispatchEvent(new ProgressEvent("error")), 50) }, true)`)
	press(b, one, "Keep it")
	b.Wait(fmt.Sprintf(`document.querySelector('[data-item="%s"] [data-tools]').textContent.includes("safe in this browser")`, one))
	b.Go(at + "?open=1")
	b.Wait(fmt.Sprintf(`!document.querySelector('[data-item="%s"] [data-tools] progress') && document.querySelector('[data-item="%s"] [data-kept] video[src^="blob:"]')`, one, one))
	as = answersOf(t, s, draft.ID)
	if len(as) != 2 || as[0].Media == film || as[1].Media != voice || as[1].Captions != "Listen to the basses." {
		t.Errorf("after retaking the first: %+v", as)
	}
	if n := chromium.Eval[int](b, `new Promise((done) => { const o = indexedDB.open("antiphon-vault"); o.onsuccess = () => { const r = o.result.transaction("pieces").objectStore("pieces").count(); r.onsuccess = () => done(r.result) } })`); n != 0 {
		t.Errorf("%d pieces stay in the browser", n)
	}

	// What is recorded and has not arrived holds the sending up, and does not vanish where it goes out without.
	record(two, "Speak")
	b.Click("button[value=send]")
	b.Wait(`document.querySelector("[data-clash]:not([hidden])")?.textContent.includes("has not arrived: Ode to Joy")`)
	if l, err := s.Desk.Lesson(t.Context(), s.Teacher, draft.ID); err != nil || !l.Sent.IsZero() {
		t.Fatal("it is sent without what was recorded: ", err)
	}
	b.Click("[data-clash] button")
	b.Wait(`location.search === "?done=sent"`)
	b.Awake()
	b.Wait(`document.querySelector('[data-island="leftover"] audio')`)
	look(t, b, "leftover")
	b.Click(`[data-island="leftover"] button`)
	b.Wait(`!document.querySelector('[data-island="leftover"] audio')`)
}
