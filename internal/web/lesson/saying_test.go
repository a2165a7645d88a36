package lesson_test

import (
	"encoding/binary"
	"fmt"
	"strings"
	"testing"

	"antiphon/internal/studio"
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

// TestADraftThatIsThrownAway takes along what was recorded for it and is still in the browser; and a number that is being
// typed is saved at any moment, without a fault in the browser's own log.
func TestADraftThatIsThrownAway(t *testing.T) {
	s := open(t)
	_, draft := busy(t, s)
	b := browse(t, s)
	b.Look(1440, "light")
	one, at := string(draft.Assignments[0].ID), "/lessons/"+string(draft.ID)
	b.Go(at)
	b.Click("#a1 > details > summary")
	chromium.Eval[bool](b, `(document.querySelector("#tempo1").closest("details").open = true, document.querySelector("#tempo1").value = "", true)`)
	b.Write("#tempo1", "1")
	b.Wait(`document.querySelector("[data-saved]").textContent.includes("“1” is no tempo")`)
	b.Write("#tempo1", "00")
	b.Wait(`/^Saved [^“]*$/.test(document.querySelector("[data-saved]").textContent)`)
	if l, err := s.Desk.Lesson(t.Context(), s.Teacher, draft.ID); err != nil || l.Assignments[0].Goals.TempoBpm != 100 || l.Assignments[0].Half != nil {
		t.Errorf("%+v, %v", l.Assignments[0], err)
	}
	b.Click("#say1 > summary")
	press(b, one, "Speak")
	press(b, one, "Start")
	b.Wait(fmt.Sprintf(`/Recording, 0:0[1-9]/.test(document.querySelector('[data-item="%s"] [data-tools]').textContent)`, one))
	press(b, one, "Stop")
	b.Wait(fmt.Sprintf(`document.querySelector('[data-item="%s"] [data-tools] audio[src^="blob:"]')`, one))
	pieces := `new Promise((done) => { const o = indexedDB.open("antiphon-vault"); o.onsuccess = () => { const r = o.result.transaction("pieces").objectStore("pieces").count(); r.onsuccess = () => done(r.result) } })`
	if n := chromium.Eval[int](b, pieces); n == 0 {
		t.Fatal("nothing is recorded")
	}
	chromium.Eval[bool](b, `(document.querySelector("button[value=throw]").closest("details").open = true)`)
	b.Click("button[value=throw]")
	b.Wait(`location.search === "?done=thrown"`)
	if n := chromium.Eval[int](b, pieces); n != 0 {
		t.Errorf("%d pieces of a lesson that is gone stay in the browser", n)
	}
	if _, err := s.Desk.Lesson(t.Context(), s.Teacher, draft.ID); err == nil {
		t.Error("the draft is still there")
	}
	b.Expect("404 (Not Found)") // the student's page is not served here
}

// silence is a WAV of some seconds at 8 kHz, one byte a sample.
func silence(seconds int) string {
	n := uint32(8000 * seconds)
	var b strings.Builder
	for _, part := range []any{[]byte("RIFF"), 36 + n, []byte("WAVEfmt "), uint32(16), uint16(1), uint16(1), uint32(8000), uint32(8000), uint16(1), uint16(8), []byte("data"), n} {
		if err := binary.Write(&b, binary.LittleEndian, part); err != nil {
			panic(err) // a strings.Builder takes everything
		}
	}
	b.WriteString(strings.Repeat("\x80", int(n)))
	return b.String()
}

// TestAClipIsSetByEar: the ends of a clip are taken from the player, and it plays just the stretch.
func TestAClipIsSetByEar(t *testing.T) {
	s := open(t)
	_, draft := busy(t, s)
	ctx, ear := t.Context(), studio.Viewer{Studio: s.Teacher.Studio, Role: studio.Ear}
	one := s.Take(t, s.Okafor.Coach, studio.Announcement{Student: draft.Student, Work: draft.Assignments[0].Work})
	if _, err := s.Desk.BeginHearing(ctx, ear, one.ID); err != nil {
		t.Fatal(err)
	}
	if _, err := s.Desk.ReplaceOriginal(ctx, ear, one.ID, "audio/wav", strings.NewReader(silence(9))); err != nil {
		t.Fatal(err)
	}
	b := browse(t, s)
	b.Look(1440, "light")
	b.Go("/lessons/" + string(draft.ID))
	b.Click("#a1 > details > summary")
	chromium.Eval[bool](b, `(document.querySelectorAll("#a1 details.leaf").forEach((d) => { d.open = true }), true)`)
	clip := `document.querySelector("#like1").closest("fieldset")`
	b.Wait(clip + `.querySelector("audio").hidden`)
	chromium.Eval[bool](b, fmt.Sprintf(`((e) => { e.value = %q; e.dispatchEvent(new Event("change", { bubbles: true })); e.dispatchEvent(new Event("input", { bubbles: true })) })(document.querySelector("#like1")) || true`, one.ID))
	click := func(words string) {
		t.Helper()
		chromium.Eval[bool](b, fmt.Sprintf(`([...%s.querySelectorAll("button")].find((b) => b.textContent === %q).click(), true)`, clip, words))
	}
	at := func(s float64) {
		t.Helper()
		chromium.Eval[bool](b, fmt.Sprintf(`((a) => { a.preload = "auto"; a.load(); return new Promise((done) => a.addEventListener("loadeddata", () => { a.currentTime = %v; a.addEventListener("seeked", () => done(true), { once: true }) }, { once: true })) })(%s.querySelector("audio"))`, s, clip))
	}
	at(2.5)
	click("Begins here")
	at(3)
	click("Ends here")
	b.Wait(`document.querySelector("#likefrom1").value === "0:02.5" && document.querySelector("#liketo1").value === "0:03"`)
	click("Play the stretch")
	b.Wait(clip + `.querySelector("audio").paused && ` + clip + `.querySelector("audio").currentTime >= 3`)
	if end := chromium.Eval[float64](b, clip+`.querySelector("audio").currentTime`); end > 4 {
		t.Errorf("it plays on to %v", end)
	}
	b.Wait(`document.querySelector("input[name=version]").value !== "1" && document.querySelector("[data-saved]").textContent.startsWith("Saved")`)
	l, err := s.Desk.Lesson(ctx, s.Teacher, draft.ID)
	if err != nil || l.Assignments[0].Like.Take != one.ID || l.Assignments[0].Like.FromS != 2.5 || l.Assignments[0].Like.ToS != 3 {
		t.Errorf("%+v, %v", l.Assignments[0].Like, err)
	}
}

// TestShowingTheScreen records the screen with the voice, where the browser shows one.
func TestShowingTheScreen(t *testing.T) {
	s := open(t)
	_, draft := busy(t, s)
	b := browse(t, s)
	b.Look(1440, "light")
	one := string(draft.Assignments[0].ID)
	b.Go("/lessons/" + string(draft.ID))
	b.Click("#a1 > details > summary")
	b.Click("#say1 > summary")
	press(b, one, "Show the screen and speak")
	b.Wait(fmt.Sprintf(`document.querySelector('[data-item="%s"] [data-tools] :is(video, [role=alert])')`, one))
	if said := chromium.Eval[string](b, fmt.Sprintf(`document.querySelector('[data-item="%s"] [data-tools] [role=alert]')?.textContent ?? ""`, one)); said != "" {
		t.Skip("this browser shows no screen: ", said)
	}
	tracks := chromium.Eval[string](b, fmt.Sprintf(`document.querySelector('[data-item="%s"] [data-tools] video').srcObject.getTracks().map((t) => t.kind).sort().join(" ")`, one))
	if tracks != "audio video" {
		t.Errorf("it records %q", tracks)
	}
	press(b, one, "Start")
	b.Wait(fmt.Sprintf(`/Recording, 0:0[1-9]/.test(document.querySelector('[data-item="%s"] [data-tools]').textContent)`, one))
	press(b, one, "Stop")
	press(b, one, "Keep it")
	b.Wait(fmt.Sprintf(`document.querySelector('[data-item="%s"] [data-kept] video')`, one))
}
