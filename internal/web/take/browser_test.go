package take_test

import (
	"bytes"
	"compress/gzip"
	"errors"
	"fmt"
	"io"
	"net/http"
	"slices"
	"strings"
	"testing"
	"time"

	"github.com/chromedp/chromedp/kb"

	"antiphon/internal/studio"
	"antiphon/internal/web/webtest/chromium"
)

// browser is Chromium with the teacher's cookie, and the hall that it looks into.
type browser struct {
	*chromium.Browser
	t testing.TB
	h *hall
}

func look(t testing.TB, h *hall) *browser {
	b := &browser{chromium.Open(t, h.URL), t, h}
	b.Cookie("antiphon", h.TeacherDevice)
	return b
}

// on reports to another test from now on.
func (b *browser) on(t testing.TB) {
	b.t = t
	b.On(t)
}

func (b *browser) pause(d time.Duration) {
	b.t.Helper()
	eval[bool](b, fmt.Sprintf(`new Promise((ok) => setTimeout(() => ok(true), %d))`, d.Milliseconds()))
}

func eval[T any](b *browser, expression string) T {
	b.t.Helper()
	return chromium.Eval[T](b.Browser, expression)
}

// sound reports what axe-core finds, and a page that is wider than its window.
func (b *browser) sound(where string) {
	b.t.Helper()
	for _, f := range b.Faults() {
		b.t.Errorf("%s: %s", where, f)
	}
}

const ready = `document.querySelector(".take-page").dataset.ready === "yes" && document.querySelector(".antiphon-score .evidence") && document.querySelector("[data-media]").readyState >= 2`

// mostBytes of script and style that any page may load, packed.
const mostBytes = 200 << 10

// weight gives the packed size of the scripts and styles that the open page has loaded.
func (b *browser) weight() int {
	b.t.Helper()
	sum := 0
	for _, address := range eval[[]string](b, `performance.getEntriesByType("resource").map((e) => e.name).filter((n) => n.includes("/assets/"))`) {
		a, err := http.Get(address)
		if err != nil {
			b.t.Fatal(err)
		}
		var packed bytes.Buffer
		z := gzip.NewWriter(&packed)
		_, err = io.Copy(z, a.Body)
		if err := errors.Join(err, a.Body.Close(), z.Close()); err != nil {
			b.t.Fatal(err)
		}
		sum += packed.Len()
	}
	return sum
}

// TestTakePageInABrowser drives the page of a filmed take with a real hearing by keyboard, at a desk and on
// a phone, and has axe-core look at it.
func TestTakePageInABrowser(t *testing.T) {
	if testing.Short() {
		t.Skip("renders, hears and films a take")
	}
	h := open(t, "round")
	early := h.send(h.filmed(h.played(5, learner(), [2]int{0, 9})), "video/mp4", studio.Announcement{Assignment: h.asked})
	h.hear()
	h.Wait(5 * 24 * time.Hour)
	id := h.send(h.filmed(h.played(3, learner(), [2]int{0, 5}, [2]int{3, 9})), "video/mp4",
		studio.Announcement{Assignment: h.asked, Note: "He wanted to send it right away."})
	h.hear()
	h.model(h.played(9, sure(), [2]int{0, 9}), "audio/wav")
	h.hear()
	b := look(t, h)
	at := "/takes/" + string(id)
	for _, width := range []int64{1440, 390} {
		for _, scheme := range []string{"light", "dark"} {
			b.Look(width, scheme)
			b.Go(at + "?against=" + string(early))
			b.Wait(ready)
			name := fmt.Sprintf("%d px %s", width, scheme)
			t.Run("rules, "+name, func(t *testing.T) {
				b.on(t)
				b.Shoot(fmt.Sprintf("take-%d-%s", width, scheme))
				b.Shoot(fmt.Sprintf("take-%d-%s-whole", width, scheme))
				eval[bool](b, `(document.querySelectorAll("details").forEach((d) => { d.open = true }), true)`)
				b.sound(name)
				b.Shoot(fmt.Sprintf("take-%d-%s-opened", width, scheme))
			})
		}
		b.Go(at)
		b.Wait(ready)
		for _, s := range []struct {
			name string
			do   func(b *browser)
		}{
			{"plays and follows", playsAndFollows}, {"findings by key", findingsByKey}, {"a remedy taken over", remedyTakenOver},
			{"note and wave", noteAndWave}, {"keys can be switched off", keysOff}, {"drawing", drawing}, {"saying it", sayingIt}, {"the ear corrected", earCorrected},
		} {
			t.Run(fmt.Sprintf("%s, %d px", s.name, width), func(t *testing.T) {
				b.on(t)
				s.do(b)
			})
		}
		b.Go(at + "?against=" + string(early))
		b.Wait(ready)
		t.Run(fmt.Sprintf("beside another take, %d px", width), func(t *testing.T) {
			b.on(t)
			besideAnother(b)
			b.Shoot(fmt.Sprintf("take-%d-against", width))
		})
	}
	t.Run("come while the page is open", func(t *testing.T) {
		b.on(t)
		comesMeanwhile(b)
	})
	t.Run("heard while the page is open", func(t *testing.T) {
		b.on(t)
		heardMeanwhile(b, id)
	})
	b.on(t)
	if n := b.weight(); n == 0 || n > mostBytes {
		t.Errorf("the page loads %d bytes of script and style, packed; at most %d are allowed", n, mostBytes)
	} else {
		t.Logf("script and style: %d bytes, packed", n)
	}
}

// BenchmarkTakePageReady is how long it takes until the page of a take of half a minute plays and shows
// what was heard, in Chromium, from the press of a link.
func BenchmarkTakePageReady(bench *testing.B) {
	h := open(bench, "round")
	id := h.send(h.filmed(h.played(3, learner(), [2]int{0, 9})), "video/mp4", studio.Announcement{Assignment: h.asked})
	h.hear()
	b := look(bench, h)
	b.Look(1440, "light")
	b.Go("/takes/" + string(id))
	b.Wait(ready)
	sum, n := 0.0, 0
	for bench.Loop() {
		b.Go("/takes/" + string(id))
		sum += eval[float64](b, `new Promise((ok) => { const look = () => (`+ready+`) ? ok(performance.now()) : setTimeout(look, 5); look() })`)
		n++
	}
	bench.ReportMetric(sum/float64(n), "ms-to-ready")
}

// BenchmarkTakePageServer is how long the server works on the page and on what its script draws.
func BenchmarkTakePageServer(bench *testing.B) {
	h := open(bench, "round")
	id := h.send(h.played(3, learner(), [2]int{0, 9}), "audio/wav", studio.Announcement{Assignment: h.asked})
	h.hear()
	for _, path := range []string{"", "/heard"} {
		bench.Run("page"+path, func(b *testing.B) {
			h.t = b
			for b.Loop() {
				h.page(id, path)
			}
		})
	}
}

const media = `document.querySelector("[data-media]")`

func playsAndFollows(b *browser) {
	b.Key(" ")
	b.Wait(`!` + media + `.paused && ` + media + `.currentTime > 1.5 && document.querySelector(".antiphon-score .note.now") && document.querySelector(".now-line")`)
	b.Key(" ")
	b.Wait(media + `.paused`)
	b.Key("p")
	b.Wait(`!` + media + `.paused`)
	b.Key("p")
	b.Wait(media + `.paused`)
	b.Key("1")
	b.Wait(media + `.playbackRate === 0.5 && ` + media + `.preservesPitch`)
	b.Key("4")
	b.Wait(media + `.playbackRate === 1`)
	before := eval[float64](b, media+`.currentTime`)
	b.Key("]")
	b.Wait(fmt.Sprintf(`%s.currentTime > %f && document.querySelector(".chosen p").textContent.startsWith("Bar ")`, media, before))
	b.Key(kb.ArrowRight)
	b.Wait(`document.querySelector(".chosen p").textContent.includes("heard") && document.querySelector(".chosen-note")`)
}

func findingsByKey(b *browser) {
	b.Key(".")
	b.Wait(`!` + media + `.paused && document.querySelector(".finding.at [data-hear]") === document.activeElement && document.querySelector(".antiphon-score .meant")`)
	b.Key(".")
	b.Wait(`[...document.querySelectorAll(".finding")].indexOf(document.querySelector(".finding.at")) === 1`)
	b.Key("l")
	b.Wait(`document.querySelector("[data-act=again]").getAttribute("aria-pressed") === "true"`)
	// It comes round again: the place is reached, and then the time is before it once more.
	back := eval[bool](b, `new Promise((ok) => { const m = document.querySelector("[data-media]"); m.playbackRate = 4; let last = 0;
		const look = () => { if (m.currentTime < last - 0.5) ok(true); last = m.currentTime; setTimeout(look, 10) }; look(); setTimeout(() => ok(false), 20000) })`)
	if !back {
		b.t.Error("the place does not come round again")
	}
	b.Key("l")
	b.Key("4")
	b.Key("p")
	b.Wait(media + `.paused`)
}

func remedyTakenOver(b *browser) {
	before := eval[int](b, `document.querySelectorAll(".remark").length`)
	b.Key("t")
	b.Wait(`document.activeElement.id === "words" && document.activeElement.value.length > 20 && document.querySelector("[name=remedy]").value !== ""`)
	b.Press("And smile.")
	b.Key(kb.Tab)
	b.Wait(`document.activeElement.textContent === "Keep the remark"`)
	b.Key(kb.Enter)
	b.Wait(fmt.Sprintf(`document.querySelectorAll(".remark").length === %d && document.querySelector(".remarks").textContent.includes("And smile.")`, before+1))
	r, err := b.h.Desk.RemarksOf(b.t.Context(), b.h.Teacher, b.h.Okafor.Students[0].ID, 10)
	if err != nil || !slices.ContainsFunc(r, func(x studio.Remark) bool {
		return x.Remedy != "" && x.Anchor.Bar != "" && x.Anchor.Note != "" && strings.HasSuffix(x.Text, "And smile.")
	}) {
		b.t.Errorf("kept was %+v, %v", r, err)
	}
}

// enter goes to an element and presses the Enter key.
func (b *browser) enter(element string) {
	b.t.Helper()
	eval[bool](b, fmt.Sprintf(`(%s.focus(), true)`, element))
	b.Key(kb.Enter)
}

func noteAndWave(b *browser) {
	b.Key("p")
	b.Key("p")
	b.ClickOn(`document.querySelectorAll(".antiphon-score .note .notehead")[20]`)
	b.Wait(`!` + media + `.paused && document.querySelector(".chosen-note")`)
	b.Key("p")
	b.Wait(media + `.paused`)
	first := eval[string](b, `document.querySelector(".chosen p").textContent`)
	eval[bool](b, `(() => { const r = document.querySelector("[data-range]"); r.value = String(Number(r.max) * 0.8); r.dispatchEvent(new Event("input", { bubbles: true })); return true })()`)
	b.Wait(fmt.Sprintf(`document.querySelector(".chosen p").textContent !== %q && document.querySelector(".now-line")`, first))
	// After the wave was used, its arrows are its own and the letters the page's.
	eval[bool](b, `(document.querySelector("[data-range]").focus(), true)`)
	at := eval[float64](b, `Number(document.querySelector("[data-range]").value)`)
	b.Key(kb.ArrowLeft)
	b.Wait(fmt.Sprintf(`Number(document.querySelector("[data-range]").value) < %f`, at))
	b.Key("l")
	b.Wait(`document.querySelector("[data-act=again]").getAttribute("aria-pressed") === "true"`)
	b.Key("l")
	b.Wait(`document.querySelector("[data-act=again]").getAttribute("aria-pressed") === "false"`)
	if v := eval[string](b, `document.querySelector("[data-range]").getAttribute("aria-valuetext")`); !strings.Contains(v, ", bar ") {
		b.t.Errorf("the place in the recording is said as %q", v)
	}
}

func keysOff(b *browser) {
	eval[bool](b, `(document.activeElement.blur(), true)`)
	b.Key("?")
	b.Wait(`document.querySelector("dialog[open]")`)
	if said := eval[string](b, `document.querySelector("dialog").textContent`); !strings.Contains(said, "Hear the next finding") {
		b.t.Errorf("the keys are told as %q", said)
	}
	if arrow := eval[string](b, `[...document.querySelectorAll("dialog dt")].find((d) => d.nextElementSibling.textContent === "One note back")?.textContent ?? ""`); arrow != "←left arrow" {
		b.t.Errorf("the key for one note back is told as %q", arrow)
	}
	b.sound("the list of keys")
	eval[bool](b, `(document.querySelector("dialog input[type=checkbox]").click(), document.querySelector("dialog button").click(), true)`)
	b.Wait(`!document.querySelector("dialog[open]")`)
	b.Key(".")
	b.pause(200 * time.Millisecond)
	if eval[bool](b, `!`+media+`.paused`) {
		b.t.Error("a single key does something although they are switched off")
	}
	eval[bool](b, `(localStorage.removeItem("antiphon.keys"), true)`)
}

func drawing(b *browser) {
	before := eval[int](b, `document.querySelectorAll(".remark .drawing").length`)
	b.Key("d")
	b.Wait(`document.querySelector("[data-board] .frozen canvas") && !document.querySelector("[data-board]").hidden`)
	eval[bool](b, `(document.querySelector("[data-shape=angle]").focus(), true)`)
	b.Key(kb.Enter)
	b.Wait(`document.activeElement.dataset.handle === "0 0"`)
	was := eval[string](b, `document.querySelector("[data-board] .drawing text").textContent`)
	if was != "110°" { // worked by hand: 2·atan(128 px / 90 px) on a picture of 640 by 360
		b.t.Errorf("the angle is %s, want 110°", was)
	}
	for range 5 {
		b.Key(kb.ArrowRight)
	}
	if now := eval[string](b, `document.querySelector("[data-board] .drawing text").textContent`); now == was || !strings.HasSuffix(now, "°") {
		b.t.Errorf("the angle stayed %q", now)
	}
	b.sound("drawing")
	b.Shoot("take-drawing")
	eval[bool](b, `(document.querySelector("#words").value = "The wrist, at " + innerWidth, document.querySelector(".compose button.main").click(), true)`)
	b.Wait(fmt.Sprintf(`document.querySelectorAll(".remark .drawing").length === %d`, before+1))
	if said := eval[string](b, `document.querySelector(".remark .drawing").getAttribute("aria-label")`); !strings.Contains(said, "an angle of") {
		b.t.Errorf("the drawing is told as %q", said)
	}
}

func sayingIt(b *browser) {
	const kept = `[...document.querySelectorAll(".remark")].filter(r => r.textContent.includes("is safe and is being made ready")).length`
	for sort, player := range map[string]string{"voice": "audio", "video": "video"} {
		before := eval[int](b, kept)
		button := fmt.Sprintf(`document.querySelector("[data-do=%s]")`, sort)
		b.enter(button)
		b.Wait(button + `.textContent === "Stop"`)
		b.pause(1200 * time.Millisecond)
		b.enter(button)
		b.Wait(fmt.Sprintf(`document.querySelector("[data-aloud] %s[controls]")`, player))
		b.enter(`document.querySelector(".compose button.main")`)
		b.Wait(fmt.Sprintf(`%s === %d`, kept, before+1))
	}
}

func earCorrected(b *browser) {
	wrong := `document.querySelectorAll(".evidence g.wrong, .evidence g.missed").length`
	was := eval[int](b, wrong)
	if was == 0 {
		b.t.Fatal("no fault is drawn")
	}
	b.ClickOn(`document.querySelector(".evidence .wrong .point, .evidence .missed .ring")`)
	b.Wait(`!document.querySelector("[data-was-right]").hidden`)
	b.Key("p")
	b.Key("c")
	b.Wait(fmt.Sprintf(`%s === %d && document.querySelector(".correction")`, wrong, was-1))
}

func besideAnother(b *browser) {
	b.ClickOn(`document.querySelector("[data-both]")`)
	b.Wait(`!` + media + `.paused`)
	other := `document.querySelector("[data-other]")`
	b.Wait(`!` + other + `.paused && ` + media + `.paused && document.querySelector("[data-side=b]").getAttribute("aria-pressed") === "true"`)
	b.Wait(`document.querySelector(".now-line")`) // the music follows the other take, too
	b.Key("x")
	b.Wait(other + `.paused && document.querySelector("[data-side=a]").getAttribute("aria-pressed") === "true"`)
	b.ClickOn(`document.querySelector("[data-do=pictures]")`)
	b.Wait(`document.querySelectorAll("[data-two-pictures] canvas").length === 2`)
	b.sound("beside another take")
}

// comesMeanwhile: a page that was opened before the recording could be played shows it once it can.
func comesMeanwhile(b *browser) {
	b.h.t = b.t
	id := b.h.send(b.h.played(4, learner(), [2]int{0, 3}), "audio/wav", studio.Announcement{Assignment: b.h.asked})
	b.Go("/takes/" + string(id))
	b.Wait(`document.querySelector(".standing")?.textContent.includes("being heard") && !document.querySelector("[data-media]")`)
	stop := b.h.ticking()
	b.h.hear()
	stop()
	b.Wait(ready)
}

// heardMeanwhile: the page plays on while the take is heard again, and shows what was heard without being
// loaded again.
func heardMeanwhile(b *browser, id studio.TakeID) {
	b.Go("/takes/" + string(id))
	b.Wait(ready)
	eval[bool](b, `(window.before = true, document.querySelector("[data-act=play]").click(), true)`)
	if err := b.h.Desk.HearAgain(b.t.Context(), b.h.Teacher, id); err != nil {
		b.t.Fatal(err)
	}
	b.Wait(`document.querySelector(".standing")?.textContent.includes("being heard")`)
	b.h.t = b.t
	stop := b.h.ticking() // what changed is told by its time
	b.h.hear()
	stop()
	b.Wait(`window.before && !document.querySelector(".standing") && document.querySelector(".finding") && document.querySelector(".evidence")`)
	if !eval[bool](b, media+`.currentTime > 1`) {
		b.t.Error("the recording did not play on")
	}
}

// TestANoteThatItHurtInABrowser: the page of a note without a recording stands at every width, and complains of nothing.
func TestANoteThatItHurtInABrowser(t *testing.T) {
	h := open(t, "scale")
	x, err := h.Desk.Hurts(t.Context(), h.Okafor.Coach, h.Okafor.Students[0].ID, "", "Her left wrist, after five minutes.")
	if err != nil {
		t.Fatal(err)
	}
	b := look(t, h)
	for _, width := range []int64{1440, 390} {
		b.Look(width, "light")
		b.Go("/takes/" + string(x.ID))
		b.Wait(`document.querySelector(".take-page").dataset.awake === "yes"`)
		b.sound(fmt.Sprintf("%d px", width))
		b.Shoot(fmt.Sprintf("hurt-note-%d", width))
	}
}
