package practice_test

import (
	"fmt"
	"math"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"testing"
	"time"

	"antiphon/internal/music"
	"antiphon/internal/sound"
	"antiphon/internal/studio"
	"antiphon/internal/web/webtest/chromium"
)

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

const (
	shown = `(s) => { const e = document.querySelector(s); return !!e && !e.closest("[hidden]") && e.getClientRects().length > 0 }`
	way   = `document.querySelector("[data-way]").textContent`
)

func visible(selector string) string { return fmt.Sprintf(`(%s)(%q)`, shown, selector) }

// TestPlayingAlong: a parent and a child go through a ladder on a phone: the count-in, the bar that sounds, two passes
// that went well, the next step, two that did not, a bar by itself, and that it hurts.
func TestPlayingAlong(t *testing.T) {
	needs(t, "ffmpeg")
	k := open(t)
	b := chromium.Open(t, k.URL)
	b.Cookie("antiphon", k.Okafor.Device)
	b.Look(390, "light")
	b.Go(k.page(k.steps))
	b.Wait(`document.querySelector(".sheet svg")`)
	if got := chromium.Eval[string](b, way); !strings.Contains(got, "Step 1 of 4") || !strings.Contains(got, "Play it 2 times in a row") {
		t.Errorf("at first: %q", got)
	}
	look(t, b, "practice")

	// logged waits for so many taps in the studio.
	logged := func(n int) (kinds []string) {
		t.Helper()
		for range 150 {
			taps, err := k.Desk.Taps(t.Context(), k.Teacher, studio.TapQuery{Student: k.ada.ID, Assignment: k.steps.ID})
			if err != nil {
				t.Fatal(err)
			}
			kinds = nil
			for _, x := range taps {
				kinds = append(kinds, fmt.Sprintf("%s %v %v", x.Kind, x.Clean, x.Bpm))
			}
			if len(kinds) >= n {
				break
			}
			time.Sleep(100 * time.Millisecond) // the phone sends them one after the other
		}
		return kinds
	}
	pass := func(how string) {
		t.Helper()
		b.Click(`[data-do=play]`)
		b.Wait(`document.querySelector("[data-beat]").classList.contains("counting")`)
		b.Wait(`document.querySelector("[data-bar]").textContent === "Bar 2" && document.querySelectorAll(".now-bar").length === 1`)
		b.Wait(visible("[data-after]"))
		if !chromium.Eval[bool](b, `document.activeElement.id === "h-after"`) {
			t.Error("the question has no focus")
		}
		b.Click(`[data-do=` + how + `]`)
	}
	b.Click(`[data-do=play]`)
	b.Wait(`document.querySelector("[data-bar]").textContent === "Bar 1" && document.querySelector("[data-beat]").textContent === "3"`)
	look(t, b, "practice-playing")
	b.Wait(visible("[data-after]"))
	look(t, b, "practice-asked")
	b.Click(`[data-do=well]`)
	if got := chromium.Eval[string](b, way); !strings.Contains(got, "Step 1 of 4") || !strings.Contains(got, "Once like that") {
		t.Errorf("after one that went well: %q", got)
	}
	pass("well")
	if got := chromium.Eval[string](b, way); !strings.Contains(got, "On to the next step!") || !strings.Contains(got, "Step 2 of 4") {
		t.Errorf("after two: %q", got)
	}
	logged(3) // two tries and the step: what is tapped is on its way before another page is opened
	b.Shoot("practice-up")
	b.Go(k.page(k.steps)) // the phone knows
	if got := chromium.Eval[string](b, way); !strings.Contains(got, "Step 2 of 4") {
		t.Errorf("opened again: %q", got)
	}
	pass("not")
	if got := chromium.Eval[string](b, way); !strings.Contains(got, "Step 2 of 4") || strings.Contains(got, "one step back") {
		t.Errorf("after one that did not: %q", got)
	}
	pass("not")
	if got := chromium.Eval[string](b, way); !strings.Contains(got, "one step back") || !strings.Contains(got, "Step 1 of 4") {
		t.Errorf("after two that did not: %q", got)
	}

	// One bar by itself, chosen in the notes and by keyboard.
	b.Wait(`document.querySelector(".sheet svg")`)
	b.ClickOn(`[...document.querySelectorAll(".sheet svg g.note")].at(-1)`)
	b.Wait(`document.querySelector("[name=from]").value === "1" && document.querySelector("[name=to]").value === "1" && document.querySelector("[name=again]").checked`)
	if n := chromium.Eval[int](b, `document.querySelectorAll(".chosen-bars").length`); n != 1 {
		t.Errorf("%d brackets under the chosen bar", n)
	}
	b.Click(`[data-do=play]`)
	b.Wait(`document.querySelector("[data-bar]").textContent === "Bar 2"`)
	b.Shoot("practice-bar")
	b.Click(`[data-do=stop]`)
	b.Wait(visible("[data-do=play]"))
	chromium.Eval[bool](b, `(document.querySelector("[name=from]").focus(), true)`)
	b.Press("1")
	b.Wait(`document.querySelector("[name=from]").value === "0"`)
	b.Click(`[data-do=hear]`)
	b.Wait(`document.querySelector("[data-bar]").textContent === "Bar 1" && !document.querySelector("[data-beat]").classList.contains("counting")`)
	b.Click(`[data-do=hurt]`)
	b.Wait(visible("[data-pain]"))
	look(t, b, "practice-hurt")
	if chromium.Eval[bool](b, visible("[data-do=play]")+"||"+visible("[data-do=stop]")) {
		t.Error("it plays on although it hurts")
	}
	b.Wait(`new Promise((r) => setTimeout(() => r(true), 300))`)
	b.Go(k.page(k.steps))
	if !chromium.Eval[bool](b, visible("[data-pain]")+"&& !"+visible("[data-do=play]")) {
		t.Error("opened again on the same day it plays")
	}

	kinds := logged(6)
	slices.Sort(kinds) // the studio's clock stands still here
	if got := strings.Join(kinds, ", "); got != "hurt false 0, rung false 136, try false 136, try false 136, try true 120, try true 120" {
		t.Errorf("the log: %s", got)
	}
}

// TestRest: after the minutes that were agreed the page stops and says to rest; a little more is allowed.
func TestRest(t *testing.T) {
	needs(t, "ffmpeg")
	k := open(t)
	b := chromium.Open(t, k.URL)
	b.Cookie("antiphon", k.Okafor.Device)
	b.Look(390, "light")
	b.Go(k.page(k.steps))
	// The same element with three seconds in the place of five minutes.
	chromium.Eval[bool](b, `(async () => {
		const old = document.querySelector(".practice"), one = old.cloneNode(true), p = JSON.parse(old.dataset.plan)
		p.minutes = 0.05
		one.dataset.plan = JSON.stringify(p)
		delete one.dataset.awake
		old.replaceWith(one)
		document.dispatchEvent(new Event("part"))
		return true
	})()`)
	b.Awake()
	b.Click("[data-do=play]")
	b.Wait(visible("[data-rest]"))
	if !chromium.Eval[bool](b, `document.activeElement === document.querySelector("[data-rest]")`) || chromium.Eval[bool](b, visible("[data-do=stop]")) {
		t.Error("it plays on, or nobody is told")
	}
	look(t, b, "practice-rest")
	b.Click("[data-do=more]")
	b.Wait("!" + visible("[data-rest]"))
	b.Click("[data-do=done]")
	b.Wait(`document.querySelector("[data-state]").textContent.startsWith("Done for today.")`)
}

// TestMomentsGoRound: a clip goes round until it is tapped again, and playing along stops it.
func TestMomentsGoRound(t *testing.T) {
	needs(t, "ffmpeg")
	k := open(t)
	b := chromium.Open(t, k.URL)
	b.Cookie("antiphon", k.Okafor.Device)
	b.Go(k.page(k.steps))
	sound := "/week/sound/" + string(k.steps.ID) + "?child=" + string(k.ada.ID) + "&plain=yes&bpm=160"
	chromium.Eval[bool](b, fmt.Sprintf(`(() => { const c = document.createElement("button"); c.dataset.clip = %q; c.textContent = "Your best one"; document.querySelector(".practice").append(c); return true })()`, sound))
	pressed := `document.querySelector("[data-clip]").getAttribute("aria-pressed") === `
	b.Click("[data-clip]")
	b.Wait(`document.querySelector("[data-state]").textContent === "Tap it again to stop."`)
	b.Wait(pressed + `"true"`)
	b.Click("[data-clip]")
	b.Wait(pressed + `"false"`)
	b.Click("[data-clip]")
	b.Wait(pressed + `"true"`)
	b.Click("[data-do=play]")
	b.Wait(pressed + `"false"`)
	b.Wait(`document.querySelector("[data-bar]").textContent === "Bar 1"`)
}

// TestOtherPages looks at what is practised in another way, and in Spanish.
func TestOtherPages(t *testing.T) {
	needs(t, "ffmpeg")
	k := open(t)
	b := chromium.Open(t, k.URL)
	b.Cookie("antiphon", k.Okafor.Device)
	for name, a := range map[string]studio.Assignment{"practice-round": k.round, "practice-part": k.part, "practice-click": k.click} {
		b.Look(390, "light")
		b.Go(k.page(a))
		chromium.Eval[bool](b, `(document.querySelectorAll("details").forEach((d) => { d.open = true }), true)`)
		look(t, b, name)
		b.Click(`[data-do=play]`)
		b.Wait(`document.querySelector("[data-beat]").textContent === "2" && !document.querySelector("[data-beat]").classList.contains("counting")`)
		b.Click(`[data-do=stop]`)
		b.Wait(visible("[data-do=play]"))
	}
	b.Cookie("language", "es")
	b.Go(k.page(k.steps))
	look(t, b, "practice-es")
	b.Go("/week/tune")
	look(t, b, "tune-es")
}

// plucked is a recording of a string that is so many cents out, as a microphone gives it.
func plucked(t *testing.T, midi int, out float64) string {
	t.Helper()
	pcm := make([]float32, 24000)
	for range 3 {
		pcm = append(pcm, strung(t, midi, 440*math.Exp2(out/1200), sound.Strings)...)
	}
	file := filepath.Join(t.TempDir(), "string.wav")
	if err := os.WriteFile(file, wav(pcm), 0o600); err != nil {
		t.Fatal(err)
	}
	return file
}

// TestTuning: the page hears the microphone: a sixth string 58 cents low is named and placed.
func TestTuning(t *testing.T) {
	k := open(t)
	b := chromium.Open(t, k.URL, chromium.Hearing(plucked(t, 40, -58)))
	b.Cookie("antiphon", k.Okafor.Device)
	b.Look(390, "light")
	b.Go("/week/tune?child=" + string(k.ada.ID) + "&of=" + string(k.steps.ID))
	look(t, b, "tune")
	b.Click(`[data-do=listen]`)
	b.Wait(`document.querySelector("[data-say]").textContent === "String 6 is low. Turn it up slowly."`)
	b.Wait(`["−57 cent", "−58 cent", "−59 cent"].includes(document.querySelector("[data-cents]").textContent)`)
	cents := chromium.Eval[string](b, `document.querySelector("[data-cents]").textContent`)
	var n int
	if _, err := fmt.Sscanf(strings.Replace(cents, "−", "-", 1), "%d cent", &n); err != nil || n < -60 || n > -56 {
		t.Errorf("it is %q, %v; the string is 58 cents low (A at 440, %.2f Hz)", cents, err, music.Hz(40, 440)*math.Exp2(-58.0/1200))
	}
	if got := chromium.Eval[string](b, `document.querySelector(".sounds").textContent`); got != "String 6, E" {
		t.Errorf("the string that sounds: %q", got)
	}
	b.Shoot("tune-low")
	b.Look(1440, "dark")
	b.Shoot("tune-low-1440-dark")
	for _, fault := range b.Faults() {
		t.Error(fault)
	}
	b.Click(`[data-do=stop]`)
	b.Wait(visible("[data-do=listen]"))
	b.Click(`[data-tone="0"]`)
	// A browser that may not listen says what to do.
	chromium.Eval[bool](b, `(navigator.mediaDevices.getUserMedia = () => Promise.reject(new DOMException("no", "NotAllowedError")), true)`)
	b.Click(`[data-do=listen]`)
	b.Wait(`document.querySelector("[data-say]").textContent.startsWith("The phone may not listen.")`)
	b.Look(390, "light")
	b.Shoot("tune-refused")
}
