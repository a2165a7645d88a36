package week_test

import (
	"fmt"
	"testing"
	"time"

	"antiphon/internal/studio"
	"antiphon/internal/web/webtest/chromium"
)

// TestWithoutANetwork: a week that was opened once is there without a network: its music, its sounds, the other
// child's week. What is tapped is kept through a reload, sent when the network is back, and sent once. A phone that
// is signed out from afar keeps nothing.
func TestWithoutANetwork(t *testing.T) {
	s, nils, runa := whole(t)
	l := chromium.LineTo(t, s.URL)
	b := chromium.Open(t, l.URL)
	b.Cookie("antiphon", s.Lindqvist.Device)
	b.Look(390, "light")
	b.Go("/week?child=" + string(nils.ID))
	b.Wait(`document.querySelector(".sheet svg")`)
	b.Wait(`document.querySelector("footer [data-kept]").checkVisibility()`)

	l.Cut(b)
	b.Go("/week?child=" + string(nils.ID))
	b.Wait(`document.querySelector(".offline").checkVisibility()`)
	b.Wait(`document.querySelector(".sheet svg")`)
	b.Shoot("week-offline")
	b.Network(true) // the phone thinks itself online, but nothing can be reached
	b.Go("/week?child=" + string(nils.ID))
	b.Wait(`document.querySelector(".offline").checkVisibility()`)
	if !chromium.Eval[bool](b, `new Promise((done) => { document.dispatchEvent(new Event("visibilitychange")); setTimeout(() => done(document.querySelector(".offline").checkVisibility()), 500) })`) {
		t.Error("nothing was reached, and the page no longer says so")
	}
	b.Network(false)
	b.Go("/week?child=" + string(nils.ID))
	b.Wait(`document.querySelector(".offline").checkVisibility()`)
	b.Click(`.item [data-tap="done"]`)
	b.Wait(`document.querySelector(".today [data-done]")`)
	b.Go("/week")
	b.Wait(`document.querySelector(".today [data-done]")`)
	b.Click(`.item:nth-child(2) [data-tap="hurt"]`)
	b.Wait(`document.querySelector(".item:nth-child(2) .stop .caution").checkVisibility()`)
	b.Write(`.item:nth-child(2) [data-ask] textarea`, "The wrist, after a while.")
	b.Click(`.item:nth-child(2) [data-ask] button`)
	b.Wait(`document.querySelector(".item:nth-child(2) [data-kept]").textContent !== ""`)
	b.Go("/week?child=" + string(runa.ID))
	b.Wait(`document.querySelector("h2").textContent === "Runa" && document.querySelector(".sheet svg")`)
	b.Go("/week/takes/00000000000000000000000000")
	b.Wait(`document.querySelector("h1").textContent === "No network"`)
	if taps, err := s.Desk.Taps(t.Context(), s.Teacher, studio.TapQuery{Student: nils.ID}); err != nil || len(taps) != 0 {
		t.Fatalf("without a network %d taps came, %v", len(taps), err)
	}

	l.Mend(b)
	b.Go("/week?child=" + string(nils.ID))
	kinds := map[studio.TapKind]string{}
	for range 100 {
		taps, err := s.Desk.Taps(t.Context(), s.Teacher, studio.TapQuery{Student: nils.ID})
		if err != nil {
			t.Fatal(err)
		}
		for _, x := range taps {
			kinds[x.Kind] = x.Text
		}
		if len(taps) == 3 {
			break
		}
		time.Sleep(50 * time.Millisecond) // the browser sends it
	}
	if len(kinds) != 3 || kinds[studio.TapQuestion] != "The wrist, after a while." {
		t.Errorf("came: %v", kinds)
	}
	if taken, err := s.Desk.TakesBy(t.Context(), s.Teacher, studio.TakeQuery{Student: nils.ID}); err != nil || len(taken) != 1 || !taken[0].Hurt {
		t.Errorf("the teacher is told %d times, %v", len(taken), err)
	}
	b.Wait(`!document.querySelector(".offline").checkVisibility()`)

	if err := s.Desk.Revoke(t.Context(), s.Teacher, s.Lindqvist.Coach.Device); err != nil {
		t.Fatal(err)
	}
	b.Go("/week")
	b.Expect("403")
	b.Wait(`document.querySelector("h1").textContent === "This phone is not connected"`)
	b.Expect("EventSource")
	if left := chromium.Eval[float64](b, kept); left != 0 {
		t.Errorf("a phone that is signed out keeps %v things", left)
	}
	if !chromium.Eval[bool](b, `indexedDB.databases().then((all) => !all.some((d) => d.name === "antiphon-log"))`) {
		t.Error("a phone that is signed out keeps its log")
	}
}

// kept is how many things lie in the shelves of the browser, but for the worker's own notes.
const kept = `caches.keys().then((all) => Promise.all(all.map((name) => caches.open(name).then((c) => c.keys())))).then((all) => all.flat().filter((r) => new URL(r.url).pathname !== "/week/-notes").length)`

// TestASharedPhone: who signs the phone out leaves nothing on it for whoever has it next.
func TestASharedPhone(t *testing.T) {
	s, _, _ := whole(t)
	b := chromium.Open(t, s.URL)
	b.Cookie("antiphon", s.Lindqvist.Device)
	b.Look(390, "light")
	b.Go("/week")
	b.Wait(`document.querySelector("footer [data-kept]").checkVisibility()`)
	b.Go("/week/data")
	b.Click("[data-clear]")
	b.Wait(`document.querySelector("[data-cleared]").checkVisibility()`)
	if n := chromium.Eval[float64](b, kept); n != 0 {
		t.Errorf("%v things are left after clearing", n)
	}
	b.Go("/week")
	b.Wait(`document.querySelector("footer [data-kept]").checkVisibility()`)
	if n := chromium.Eval[float64](b, kept); n < 5 {
		t.Errorf("only %v things came back", n)
	}
	b.Go("/devices")
	b.Click(`form[action*="sign-out"] button`)
	b.Wait(`document.querySelector("h1").textContent === "This phone is signed out"`)
	b.Wait("(" + kept + ".then((n) => { window.things = n }), window.things === 0)")
	b.Wait(`(indexedDB.databases().then((all) => { window.logs = all.length }), window.logs === 0)`)
	b.Go("/week")
	b.Expect("403")
}

// TestAnotherFamilyOnThisPhone: what is kept is of one person. When the phone belongs to somebody else, nothing of before
// is left to be found, with a network or without.
func TestAnotherFamilyOnThisPhone(t *testing.T) {
	s, nils, _ := whole(t)
	l := chromium.LineTo(t, s.URL)
	b := chromium.Open(t, l.URL)
	b.Cookie("antiphon", s.Lindqvist.Device)
	b.Look(390, "light")
	b.Go("/week?child=" + string(nils.ID))
	b.Wait(`document.querySelector("footer [data-kept]").checkVisibility()`)
	// Recordings that were not sent stay while the phone is only signed out, and are gone once it is another family's.
	const inVault = `new Promise((there) => {
		const asked = indexedDB.open("antiphon-vault", 1)
		asked.onupgradeneeded = () => { asked.result.createObjectStore("takes", { keyPath: "id" }); asked.result.createObjectStore("pieces", { keyPath: ["take", "n"] }) }
		asked.onsuccess = () => {
			const t = asked.result.transaction("takes", "readwrite")
			const r = t.objectStore("takes").%s
			t.oncomplete = () => { asked.result.close(); window.takes = r.result; there(true) }
		}
	})`
	takes := "(" + fmt.Sprintf(inVault, "count()") + ", window.takes"
	chromium.Eval[bool](b, fmt.Sprintf(inVault, `put({ id: "one", kind: "take", of: { child: "nils" }, title: "", type: "audio/webm", sort: "sound", begun: 0, finished: true, pieces: 0, bytes: 0, seconds: 0, trouble: "" })`))
	b.Cookie("antiphon", "nobody")
	b.Go("/week")
	b.Expect("403")
	b.Expect("EventSource")
	b.Wait(`document.querySelector("h1").textContent === "This phone is not connected"`)
	b.Wait("(" + kept + ".then((n) => { window.things = n }), window.things === 0)")
	b.Wait(takes + " === 1)")
	b.Cookie("antiphon", s.Okafor.Device)
	b.Go("/week")
	b.Wait(takes + " === 0)")
	b.Wait(`document.querySelector("h2").textContent === "Ada" && document.querySelector("footer [data-kept]").checkVisibility()`)
	const nilsIsThere = `caches.keys().then((all) => Promise.all(all.map((name) => caches.open(name)))).then((all) => Promise.all(all.map((c) => c.matchAll())))
		.then((all) => Promise.all(all.flat().map((r) => r.text()))).then((all) => all.some((text) => text.includes("Nils")))`
	if chromium.Eval[bool](b, nilsIsThere) {
		t.Error("the phone of one family keeps a page of another")
	}
	l.Cut(b)
	b.Go("/week?child=" + string(nils.ID))
	b.Wait(`document.querySelector("h2").textContent === "Ada"`)
}
