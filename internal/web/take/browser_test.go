package take_test

import (
	"bytes"
	"compress/gzip"
	"context"
	"errors"
	"fmt"
	"io"
	"net/http"
	"net/url"
	"os"
	"os/exec"
	"path/filepath"
	"slices"
	"strings"
	"sync"
	"testing"
	"time"

	"antiphon/internal/studio"
	"github.com/chromedp/cdproto/emulation"
	"github.com/chromedp/cdproto/input"
	"github.com/chromedp/cdproto/log"
	"github.com/chromedp/cdproto/network"
	"github.com/chromedp/cdproto/runtime"
	"github.com/chromedp/chromedp"
	"github.com/chromedp/chromedp/kb"
)

// watched is what a page did that it should not have.
type watched struct {
	mu    sync.Mutex
	asked []string // addresses of other hosts
	said  []string // console errors, exceptions, policy violations
	host  string
}

func (w *watched) see(ev any) {
	w.mu.Lock()
	defer w.mu.Unlock()
	switch e := ev.(type) {
	case *network.EventRequestWillBeSent:
		if u, err := url.Parse(e.Request.URL); err == nil && u.Host != "" && u.Host != w.host {
			w.asked = append(w.asked, e.Request.URL)
		}
	case *log.EventEntryAdded:
		w.said = append(w.said, e.Entry.Text)
	case *runtime.EventExceptionThrown:
		w.said = append(w.said, e.ExceptionDetails.Text)
	case *runtime.EventConsoleAPICalled:
		w.said = append(w.said, string(e.Type))
	}
}

// browser is Chromium with the teacher's cookie.
type browser struct {
	t   testing.TB
	ctx context.Context
	w   *watched
	h   *hall
}

func chromium(t testing.TB, h *hall) *browser {
	t.Helper()
	path, err := exec.LookPath("chromium")
	if err != nil {
		if os.Getenv("CI") != "" {
			t.Fatal("chromium is not installed: apt-get install chromium")
		}
		t.Skip("chromium is not installed")
	}
	alloc, cancelAlloc := chromedp.NewExecAllocator(t.Context(), append(chromedp.DefaultExecAllocatorOptions[:], chromedp.ExecPath(path),
		chromedp.Flag("no-sandbox", true), chromedp.Flag("disable-gpu", true), chromedp.Flag("disable-quic", true),
		chromedp.Flag("autoplay-policy", "no-user-gesture-required"), chromedp.Flag("use-fake-ui-for-media-stream", true),
		chromedp.Flag("use-fake-device-for-media-stream", true), chromedp.WSURLReadTimeout(2*time.Minute))...)
	t.Cleanup(cancelAlloc)
	u, err := url.Parse(h.URL)
	if err != nil {
		t.Fatal(err)
	}
	w := &watched{host: u.Host}
	ctx, cancel := chromedp.NewContext(alloc, chromedp.WithListener(w.see))
	t.Cleanup(cancel)
	ctx, stop := context.WithTimeout(ctx, 6*time.Minute)
	t.Cleanup(stop)
	b := &browser{t, ctx, w, h}
	if _, err := chromedp.Call(ctx, log.Enable, struct{}{}); err != nil {
		t.Log(err)
	}
	_, err = chromedp.Call(ctx, network.SetCookie, network.SetCookieParams{Name: "antiphon", Value: h.TeacherDevice, URL: h.URL})
	if err != nil {
		t.Fatal(err)
	}
	return b
}

func (b *browser) open(path string) {
	b.t.Helper()
	if err := chromedp.Do(b.ctx, chromedp.Navigate(b.h.URL+path)); err != nil {
		b.t.Fatal(err)
	}
}

func (b *browser) size(width, height int64) {
	b.t.Helper()
	if err := chromedp.Do(b.ctx, chromedp.EmulateViewport(width, height)); err != nil {
		b.t.Fatal(err)
	}
}

func (b *browser) scheme(name string) {
	b.t.Helper()
	_, err := chromedp.Call(b.ctx, emulation.SetEmulatedMedia, emulation.SetEmulatedMediaParams{Features: []*emulation.MediaFeature{{Name: "prefers-color-scheme", Value: name}, {Name: "prefers-reduced-motion", Value: "reduce"}}})
	if err != nil {
		b.t.Fatal(err)
	}
}

// key presses one key as a person does: a key that the page uses writes no letter.
func (b *browser) key(k string) {
	b.t.Helper()
	events := kb.Encode([]rune(k)[0])
	down, up := *events[0], *events[len(events)-1]
	if len(events) == 3 {
		down.Text = events[1].Text // with the key itself: it is not written where the page prevents it
	}
	down.Type = "keyDown"
	for _, e := range []input.DispatchKeyEventParams{down, up} {
		if _, err := chromedp.Call(b.ctx, input.DispatchKeyEvent, e); err != nil {
			b.t.Fatal(err)
		}
	}
}

func (b *browser) write(text string) {
	b.t.Helper()
	if err := chromedp.Do(b.ctx, chromedp.KeyEvent(text)); err != nil {
		b.t.Fatal(err)
	}
}

func (b *browser) pause(d time.Duration) {
	b.t.Helper()
	eval[bool](b, fmt.Sprintf(`new Promise((ok) => setTimeout(() => ok(true), %d))`, d.Milliseconds()))
}

func eval[T any](b *browser, expression string) T {
	b.t.Helper()
	v, err := chromedp.Run(b.ctx, chromedp.Evaluate[T](expression, chromedp.EvalAwaitPromise))
	if err != nil {
		b.t.Fatalf("%s: %v", expression, err)
	}
	return v
}

// wait until an expression is true in the page.
func (b *browser) wait(expression string) {
	b.t.Helper()
	const settled = `new Promise((ok, no) => { const end = Date.now() + 30000;
		const look = () => (%s) ? ok(true) : Date.now() > end ? no(new Error("never")) : setTimeout(look, 20); look(); })`
	if _, err := chromedp.Run(b.ctx, chromedp.Evaluate[bool](fmt.Sprintf(settled, expression), chromedp.EvalAwaitPromise)); err != nil {
		b.t.Fatalf("waiting for %s: %v; the page says %q", expression, err, eval[string](b, `document.getElementById("said").textContent`))
	}
}

// shot keeps a picture of the window, or of the whole page, where SHOTS names a folder.
func (b *browser) shot(name string, whole bool) {
	b.t.Helper()
	dir := os.Getenv("SHOTS")
	if dir == "" {
		return
	}
	var png []byte
	var err error
	if whole {
		png, err = chromedp.Run(b.ctx, chromedp.FullScreenshot(100))
	} else {
		png, err = chromedp.Run(b.ctx, chromedp.CaptureScreenshot())
	}
	if err == nil {
		err = os.WriteFile(filepath.Join(dir, name+".png"), png, 0o644)
	}
	if err != nil {
		b.t.Fatal(err)
	}
}

// axe runs the accessibility rules of axe-core and lists what they find.
func (b *browser) axe(where string) {
	b.t.Helper()
	js, err := os.ReadFile("../../../scripts/web/node_modules/axe-core/axe.min.js")
	if err != nil {
		if os.Getenv("CI") != "" {
			b.t.Fatal(err)
		}
		b.t.Skip("axe-core is not installed: run make assets")
	}
	if !eval[bool](b, `typeof axe !== "undefined"`) {
		eval[bool](b, string(js)+`; true`)
	}
	found := eval[[]string](b, `axe.run(document, { resultTypes: ["violations"] }).then((r) => r.violations.map((v) =>
		v.id + ": " + v.help + " " + v.nodes.slice(0, 4).map((n) => n.html.slice(0, 140) + " " + n.failureSummary.slice(0, 200)).join(" | ")))`)
	for _, f := range found {
		b.t.Errorf("%s: %s", where, f)
	}
}

// quiet checks that the page asked nobody else and complained of nothing.
func (b *browser) quiet() {
	b.t.Helper()
	b.w.mu.Lock()
	defer b.w.mu.Unlock()
	if len(b.w.asked) > 0 {
		b.t.Errorf("the page asked elsewhere: %q", b.w.asked)
	}
	if len(b.w.said) > 0 {
		b.t.Errorf("the console says %q", b.w.said)
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
	b := chromium(t, h)
	at := "/takes/" + string(id)
	for _, width := range []int64{1440, 390} {
		b.size(width, 900)
		for _, scheme := range []string{"light", "dark"} {
			b.scheme(scheme)
			b.open(at + "?against=" + string(early))
			b.wait(ready)
			name := fmt.Sprintf("%d px %s", width, scheme)
			t.Run("rules, "+name, func(t *testing.T) {
				b.on(t)
				b.shot(fmt.Sprintf("take-%d-%s", width, scheme), false)
				b.shot(fmt.Sprintf("take-%d-%s-whole", width, scheme), true)
				if over := eval[float64](b, `document.documentElement.scrollWidth - innerWidth`); over > 0 {
					t.Errorf("the page is %v px too wide", over)
				}
				eval[bool](b, `(document.querySelectorAll("details").forEach((d) => { d.open = true }), true)`)
				b.axe(name)
				b.shot(fmt.Sprintf("take-%d-%s-opened", width, scheme), true)
			})
		}
		b.open(at)
		b.wait(ready)
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
		b.open(at + "?against=" + string(early))
		b.wait(ready)
		t.Run(fmt.Sprintf("beside another take, %d px", width), func(t *testing.T) {
			b.on(t)
			besideAnother(b)
			b.shot(fmt.Sprintf("take-%d-against", width), false)
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
	b.quiet()
}

// BenchmarkTakePageReady is how long it takes until the page of a take of half a minute plays and shows
// what was heard, in Chromium, from the press of a link.
func BenchmarkTakePageReady(bench *testing.B) {
	h := open(bench, "round")
	id := h.send(h.filmed(h.played(3, learner(), [2]int{0, 9})), "video/mp4", studio.Announcement{Assignment: h.asked})
	h.hear()
	b := chromium(bench, h)
	b.size(1440, 900)
	b.open("/takes/" + string(id))
	b.wait(ready)
	sum, n := 0.0, 0
	for bench.Loop() {
		b.open("/takes/" + string(id))
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

// on reports to another test from now on.
func (b *browser) on(t testing.TB) { b.t = t }

const media = `document.querySelector("[data-media]")`

func playsAndFollows(b *browser) {
	b.key(" ")
	b.wait(`!` + media + `.paused && ` + media + `.currentTime > 1.5 && document.querySelector(".antiphon-score .note.now") && document.querySelector(".now-line")`)
	b.key(" ")
	b.wait(media + `.paused`)
	b.key("p")
	b.wait(`!` + media + `.paused`)
	b.key("p")
	b.wait(media + `.paused`)
	b.key("1")
	b.wait(media + `.playbackRate === 0.5 && ` + media + `.preservesPitch`)
	b.key("4")
	b.wait(media + `.playbackRate === 1`)
	before := eval[float64](b, media+`.currentTime`)
	b.key("]")
	b.wait(fmt.Sprintf(`%s.currentTime > %f && document.querySelector(".chosen p").textContent.startsWith("Bar ")`, media, before))
	b.key(kb.ArrowRight)
	b.wait(`document.querySelector(".chosen p").textContent.includes("heard") && document.querySelector(".chosen-note")`)
}

func findingsByKey(b *browser) {
	b.key(".")
	b.wait(`!` + media + `.paused && document.querySelector(".finding.at [data-hear]") === document.activeElement && document.querySelector(".antiphon-score .meant")`)
	b.key(".")
	b.wait(`[...document.querySelectorAll(".finding")].indexOf(document.querySelector(".finding.at")) === 1`)
	b.key("l")
	b.wait(`document.querySelector("[data-act=again]").getAttribute("aria-pressed") === "true"`)
	// It comes round again: the place is reached, and then the time is before it once more.
	back := eval[bool](b, `new Promise((ok) => { const m = document.querySelector("[data-media]"); m.playbackRate = 4; let last = 0;
		const look = () => { if (m.currentTime < last - 0.5) ok(true); last = m.currentTime; setTimeout(look, 10) }; look(); setTimeout(() => ok(false), 20000) })`)
	if !back {
		b.t.Error("the place does not come round again")
	}
	b.key("l")
	b.key("4")
	b.key("p")
	b.wait(media + `.paused`)
}

func remedyTakenOver(b *browser) {
	before := eval[int](b, `document.querySelectorAll(".remark").length`)
	b.key("t")
	b.wait(`document.activeElement.id === "words" && document.activeElement.value.length > 20 && document.querySelector("[name=remedy]").value !== ""`)
	b.write("And smile.")
	b.key(kb.Tab)
	b.wait(`document.activeElement.textContent === "Keep the remark"`)
	b.key(kb.Enter)
	b.wait(fmt.Sprintf(`document.querySelectorAll(".remark").length === %d && document.querySelector(".remarks").textContent.includes("And smile.")`, before+1))
	r, err := b.h.Desk.RemarksOf(b.ctx, b.h.Teacher, b.h.Okafor.Students[0].ID, 10)
	if err != nil || !slices.ContainsFunc(r, func(x studio.Remark) bool {
		return x.Remedy != "" && x.Anchor.Bar != "" && x.Anchor.Note != "" && strings.HasSuffix(x.Text, "And smile.")
	}) {
		b.t.Errorf("kept was %+v, %v", r, err)
	}
}

// press clicks on the middle of an element as a mouse would.
func (b *browser) press(element string) {
	b.t.Helper()
	at := eval[[]float64](b, fmt.Sprintf(`(() => { const e = %s; e.scrollIntoView({ block: "center" }); const r = e.getBoundingClientRect(); return [r.x + r.width / 2, r.y + r.height / 2] })()`, element))
	if err := chromedp.Do(b.ctx, chromedp.MouseClickXY(at[0], at[1])); err != nil {
		b.t.Fatal(err)
	}
}

// enter goes to an element and presses the Enter key.
func (b *browser) enter(element string) {
	b.t.Helper()
	eval[bool](b, fmt.Sprintf(`(%s.focus(), true)`, element))
	b.key(kb.Enter)
}

func noteAndWave(b *browser) {
	b.key("p")
	b.key("p")
	b.press(`document.querySelectorAll(".antiphon-score .note .notehead")[20]`)
	b.wait(`!` + media + `.paused && document.querySelector(".chosen-note")`)
	b.key("p")
	b.wait(media + `.paused`)
	first := eval[string](b, `document.querySelector(".chosen p").textContent`)
	eval[bool](b, `(() => { const r = document.querySelector("[data-range]"); r.value = String(Number(r.max) * 0.8); r.dispatchEvent(new Event("input", { bubbles: true })); return true })()`)
	b.wait(fmt.Sprintf(`document.querySelector(".chosen p").textContent !== %q && document.querySelector(".now-line")`, first))
	// After the wave was used, its arrows are its own and the letters the page's.
	eval[bool](b, `(document.querySelector("[data-range]").focus(), true)`)
	at := eval[float64](b, `Number(document.querySelector("[data-range]").value)`)
	b.key(kb.ArrowLeft)
	b.wait(fmt.Sprintf(`Number(document.querySelector("[data-range]").value) < %f`, at))
	b.key("l")
	b.wait(`document.querySelector("[data-act=again]").getAttribute("aria-pressed") === "true"`)
	b.key("l")
	b.wait(`document.querySelector("[data-act=again]").getAttribute("aria-pressed") === "false"`)
	if v := eval[string](b, `document.querySelector("[data-range]").getAttribute("aria-valuetext")`); !strings.Contains(v, ", bar ") {
		b.t.Errorf("the place in the recording is said as %q", v)
	}
}

func keysOff(b *browser) {
	eval[bool](b, `(document.activeElement.blur(), true)`)
	b.key("?")
	b.wait(`document.querySelector("dialog[open]")`)
	if said := eval[string](b, `document.querySelector("dialog").textContent`); !strings.Contains(said, "Hear the next finding") {
		b.t.Errorf("the keys are told as %q", said)
	}
	if arrow := eval[string](b, `[...document.querySelectorAll("dialog dt")].find((d) => d.nextElementSibling.textContent === "One note back")?.textContent ?? ""`); arrow != "←left arrow" {
		b.t.Errorf("the key for one note back is told as %q", arrow)
	}
	b.axe("the list of keys")
	eval[bool](b, `(document.querySelector("dialog input[type=checkbox]").click(), document.querySelector("dialog button").click(), true)`)
	b.wait(`!document.querySelector("dialog[open]")`)
	b.key(".")
	b.pause(200 * time.Millisecond)
	if eval[bool](b, `!`+media+`.paused`) {
		b.t.Error("a single key does something although they are switched off")
	}
	eval[bool](b, `(localStorage.removeItem("antiphon.keys"), true)`)
}

func drawing(b *browser) {
	before := eval[int](b, `document.querySelectorAll(".remark .drawing").length`)
	b.key("d")
	b.wait(`document.querySelector("[data-board] .frozen canvas") && !document.querySelector("[data-board]").hidden`)
	eval[bool](b, `(document.querySelector("[data-shape=angle]").focus(), true)`)
	b.key(kb.Enter)
	b.wait(`document.activeElement.dataset.handle === "0 0"`)
	was := eval[string](b, `document.querySelector("[data-board] .drawing text").textContent`)
	if was != "110°" { // worked by hand: 2·atan(128 px / 90 px) on a picture of 640 by 360
		b.t.Errorf("the angle is %s, want 110°", was)
	}
	for range 5 {
		b.key(kb.ArrowRight)
	}
	if now := eval[string](b, `document.querySelector("[data-board] .drawing text").textContent`); now == was || !strings.HasSuffix(now, "°") {
		b.t.Errorf("the angle stayed %q", now)
	}
	b.axe("drawing")
	b.shot("take-drawing", false)
	eval[bool](b, `(document.querySelector("#words").value = "The wrist, at " + innerWidth, document.querySelector(".compose button.main").click(), true)`)
	b.wait(fmt.Sprintf(`document.querySelectorAll(".remark .drawing").length === %d`, before+1))
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
		b.wait(button + `.textContent === "Stop"`)
		b.pause(1200 * time.Millisecond)
		b.enter(button)
		b.wait(fmt.Sprintf(`document.querySelector("[data-aloud] %s[controls]")`, player))
		b.enter(`document.querySelector(".compose button.main")`)
		b.wait(fmt.Sprintf(`%s === %d`, kept, before+1))
	}
}

func earCorrected(b *browser) {
	wrong := `document.querySelectorAll(".evidence g.wrong, .evidence g.missed").length`
	was := eval[int](b, wrong)
	if was == 0 {
		b.t.Fatal("no fault is drawn")
	}
	b.press(`document.querySelector(".evidence .wrong .point, .evidence .missed .ring")`)
	b.wait(`!document.querySelector("[data-was-right]").hidden`)
	b.key("p")
	b.key("c")
	b.wait(fmt.Sprintf(`%s === %d && document.querySelector(".correction")`, wrong, was-1))
}

func besideAnother(b *browser) {
	b.press(`document.querySelector("[data-both]")`)
	b.wait(`!` + media + `.paused`)
	other := `document.querySelector("[data-other]")`
	b.wait(`!` + other + `.paused && ` + media + `.paused && document.querySelector("[data-side=b]").getAttribute("aria-pressed") === "true"`)
	b.wait(`document.querySelector(".now-line")`) // the music follows the other take, too
	b.key("x")
	b.wait(other + `.paused && document.querySelector("[data-side=a]").getAttribute("aria-pressed") === "true"`)
	b.press(`document.querySelector("[data-do=pictures]")`)
	b.wait(`document.querySelectorAll("[data-two-pictures] canvas").length === 2`)
	b.axe("beside another take")
}

// comesMeanwhile: a page that was opened before the recording could be played shows it once it can.
func comesMeanwhile(b *browser) {
	b.h.t = b.t
	id := b.h.send(b.h.played(4, learner(), [2]int{0, 3}), "audio/wav", studio.Announcement{Assignment: b.h.asked})
	b.open("/takes/" + string(id))
	b.wait(`document.querySelector(".standing")?.textContent.includes("being heard") && !document.querySelector("[data-media]")`)
	stop := b.h.ticking()
	b.h.hear()
	stop()
	b.wait(ready)
}

// heardMeanwhile: the page plays on while the take is heard again, and shows what was heard without being
// loaded again.
func heardMeanwhile(b *browser, id studio.TakeID) {
	b.open("/takes/" + string(id))
	b.wait(ready)
	eval[bool](b, `(window.before = true, document.querySelector("[data-act=play]").click(), true)`)
	if err := b.h.Desk.HearAgain(b.ctx, b.h.Teacher, id); err != nil {
		b.t.Fatal(err)
	}
	b.wait(`document.querySelector(".standing")?.textContent.includes("being heard")`)
	b.h.t = b.t
	stop := b.h.ticking() // what changed is told by its time
	b.h.hear()
	stop()
	b.wait(`window.before && !document.querySelector(".standing") && document.querySelector(".finding") && document.querySelector(".evidence")`)
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
	b := chromium(t, h)
	for _, width := range []int64{1440, 390} {
		b.size(width, 900)
		b.open("/takes/" + string(x.ID))
		b.wait(`document.querySelector(".take-page").dataset.awake === "yes"`)
		b.axe(fmt.Sprintf("%d px", width))
		if over := eval[float64](b, `document.documentElement.scrollWidth - innerWidth`); over > 0 {
			t.Errorf("the page is %v px wider than %d px", over, width)
		}
		b.shot(fmt.Sprintf("hurt-note-%d", width), true)
	}
	b.quiet()
}
