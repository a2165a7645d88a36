package report

import (
	"context"
	"fmt"
	"os"
	"os/exec"
	"path/filepath"
	"regexp"
	"strings"
	"sync"
	"testing"
	"time"

	"github.com/chromedp/cdproto/emulation"
	"github.com/chromedp/cdproto/log"
	"github.com/chromedp/cdproto/network"
	"github.com/chromedp/cdproto/runtime"
	"github.com/chromedp/chromedp"
	"github.com/chromedp/chromedp/kb"
)

// watched is what a page did that it should not have.
type watched struct {
	mu    sync.Mutex
	asked []string // addresses asked for
	said  []string // console errors, exceptions, policy violations
}

func (w *watched) see(ev any) {
	w.mu.Lock()
	defer w.mu.Unlock()
	switch e := ev.(type) {
	case *network.EventRequestWillBeSent:
		if u := e.Request.URL; !strings.HasPrefix(u, "data:") && !strings.HasPrefix(u, "blob:") {
			w.asked = append(w.asked, u)
		}
	case *log.EventEntryAdded:
		w.said = append(w.said, e.Entry.Text)
	case *runtime.EventExceptionThrown:
		w.said = append(w.said, e.ExceptionDetails.Text)
	case *runtime.EventConsoleAPICalled:
		w.said = append(w.said, string(e.Type))
	}
}

// open shows the page in Chromium and gives back a function that evaluates an expression there.
func open(t *testing.T, page string) (ctx context.Context, w *watched, address string) {
	t.Helper()
	browser, err := exec.LookPath("chromium")
	if err != nil {
		if os.Getenv("CI") != "" {
			t.Fatal("chromium is not installed: apt-get install chromium")
		}
		t.Skip("chromium is not installed")
	}
	if !HasPlayer() {
		t.Fatal("the page has no script: run make assets")
	}
	path := filepath.Join(t.TempDir(), "take.html")
	if err := os.WriteFile(path, []byte(page), 0o644); err != nil {
		t.Fatal(err)
	}
	alloc, cancelAlloc := chromedp.NewExecAllocator(t.Context(), append(chromedp.DefaultExecAllocatorOptions[:], chromedp.ExecPath(browser),
		chromedp.Flag("no-sandbox", true), chromedp.Flag("disable-gpu", true), chromedp.Flag("disable-quic", true),
		chromedp.Flag("autoplay-policy", "no-user-gesture-required"), chromedp.WSURLReadTimeout(2*time.Minute))...)
	t.Cleanup(cancelAlloc)
	w = &watched{}
	ctx, cancel := chromedp.NewContext(alloc, chromedp.WithListener(w.see))
	t.Cleanup(cancel)
	ctx, stop := context.WithTimeout(ctx, 3*time.Minute)
	t.Cleanup(stop)
	address = "file://" + path
	if _, err := chromedp.Call(ctx, log.Enable, struct{}{}); err != nil {
		t.Log(err)
	}
	if err := chromedp.Do(ctx, chromedp.Navigate(address)); err != nil {
		t.Fatal(err)
	}
	return ctx, w, address
}

func eval[T any](t *testing.T, ctx context.Context, expression string) T {
	t.Helper()
	v, err := chromedp.Run(ctx, chromedp.Evaluate[T](expression, chromedp.EvalAwaitPromise))
	if err != nil {
		t.Fatalf("%s: %v", expression, err)
	}
	return v
}

// settled waits until an expression is true in the page.
const settled = `new Promise((ok, no) => { const end = Date.now() + 60000;
	const look = () => (%s) ? ok(true) : Date.now() > end ? no(new Error("never: %[1]s")) : setTimeout(look, 20); look(); })`

func wait(t *testing.T, ctx context.Context, expression string) {
	t.Helper()
	eval[bool](t, ctx, strings.ReplaceAll(fmt.Sprintf(settled, expression), `never: `+expression, "never: "+strings.ReplaceAll(expression, `"`, `'`)))
}

// TestPageInABrowser: the page asks for nothing but itself, says nothing in the console, and its
// buttons do what they say.
func TestPageInABrowser(t *testing.T) {
	ctx, w, address := open(t, pageOf(t, fixture(), soundPage()))
	wait(t, ctx, `document.querySelector("audio").readyState >= 2`)

	t.Run("a finding jumps to its place", func(t *testing.T) {
		at := eval[float64](t, ctx, `Number(document.querySelectorAll("ol.findings button")[1].dataset.s)`)
		eval[bool](t, ctx, `document.querySelectorAll("ol.findings button")[1].click(), true`)
		wait(t, ctx, `!document.querySelector("audio").paused`)
		now := eval[float64](t, ctx, `document.querySelector("audio").currentTime`)
		if now < at-leadIn-0.01 || now > at+5 {
			t.Errorf("the finding is at %.2f s, the sound at %.2f s", at, now)
		}
		wait(t, ctx, `document.querySelectorAll(".bar.now").length === 1`)
	})
	t.Run("speed keeps the pitch", func(t *testing.T) {
		eval[bool](t, ctx, `document.querySelector("#speed50").click(), true`)
		if rate := eval[float64](t, ctx, `document.querySelector("audio").playbackRate`); rate != 0.5 {
			t.Errorf("rate %v", rate)
		}
		if !eval[bool](t, ctx, `document.querySelector("audio").preservesPitch`) {
			t.Error("the pitch is not kept")
		}
	})
	t.Run("play and pause", func(t *testing.T) {
		eval[bool](t, ctx, `document.querySelector("[data-play]").click(), true`)
		wait(t, ctx, `document.querySelector("audio").paused && document.querySelector("[data-play]").textContent === "Play"`)
	})
	t.Run("the slider goes anywhere and says where", func(t *testing.T) {
		eval[bool](t, ctx, `(() => { const s = document.querySelector("[data-slider]"); s.value = "13"; s.dispatchEvent(new Event("input")); return true; })()`)
		wait(t, ctx, `Math.abs(document.querySelector("audio").currentTime - 13) < 0.05`)
		if v := eval[string](t, ctx, `document.querySelector("[data-slider]").getAttribute("aria-valuetext")`); !strings.HasPrefix(v, "0:13, bar ") {
			t.Errorf("the slider says %q", v)
		}
	})
	t.Run("bars by keyboard", func(t *testing.T) {
		eval[bool](t, ctx, `document.querySelector("[data-thread] button").focus(), true`)
		if err := chromedp.Do(ctx, chromedp.KeyEvent(kb.ArrowRight)); err != nil {
			t.Fatal(err)
		}
		if got := eval[string](t, ctx, `document.activeElement.getAttribute("aria-label")`); got != "Play from bar 1, pass 1" {
			t.Errorf("the arrow key went to %q", got)
		}
		if err := chromedp.Do(ctx, chromedp.KeyEvent(kb.Enter)); err != nil {
			t.Fatal(err)
		}
		wait(t, ctx, `!document.querySelector("audio").paused && document.querySelector("audio").currentTime < 4`)
	})
	t.Run("a place comes round again", func(t *testing.T) {
		eval[bool](t, ctx, `document.querySelector("[data-again]").click(), document.querySelector("audio").playbackRate = 4,
			document.querySelectorAll("[data-thread] button")[2].click(), true`)
		eval[bool](t, ctx, `new Promise((ok) => { let last = 0; document.querySelector("audio").addEventListener("seeked", () => ok(true), { once: false }); })`)
		from := eval[float64](t, ctx, `Number(document.querySelectorAll("[data-thread] button")[2].dataset.s)`)
		wait(t, ctx, fmt.Sprintf(`document.querySelector("audio").currentTime < %f`, from+4))
		eval[bool](t, ctx, `document.querySelector("audio").pause(), true`)
	})
	for _, width := range []int64{390, 1440} {
		for _, scheme := range []string{"light", "dark"} {
			t.Run(fmt.Sprintf("%d px %s", width, scheme), func(t *testing.T) {
				_, err := chromedp.Call(ctx, emulation.SetEmulatedMedia, emulation.SetEmulatedMediaParams{Features: []*emulation.MediaFeature{{Name: "prefers-color-scheme", Value: scheme}}})
				if err != nil {
					t.Fatal(err)
				}
				if err := chromedp.Do(ctx, chromedp.EmulateViewport(width, 900)); err != nil {
					t.Fatal(err)
				}
				if over := eval[float64](t, ctx, `document.documentElement.scrollWidth - innerWidth`); over > 0 {
					t.Errorf("the page is %v px wider than the window", over)
				}
				small := eval[[]string](t, ctx, `[...document.querySelectorAll("button")].filter((b) => { const r = b.getBoundingClientRect();
					return r.width > 0 && (r.width < 16 || r.height < 16); }).map((b) => b.outerHTML)`)
				if len(small) > 0 {
					t.Errorf("too small to hit: %v", small)
				}
				if low := eval[[]string](t, ctx, contrast); len(low) > 0 {
					t.Errorf("too faint to read: %v", low)
				}
				if dir := os.Getenv("SHOTS"); dir != "" {
					png, err := chromedp.Run(ctx, chromedp.FullScreenshot(100))
					if err != nil {
						t.Fatal(err)
					}
					os.WriteFile(filepath.Join(dir, fmt.Sprintf("page-%d-%s.png", width, scheme)), png, 0o644)
				}
			})
		}
	}
	w.mu.Lock()
	defer w.mu.Unlock()
	if len(w.asked) != 1 || w.asked[0] != address {
		t.Errorf("the page asked for %q", w.asked)
	}
	if len(w.said) > 0 {
		t.Errorf("the console says %q", w.said)
	}
}

// TestPageWithoutItsScript: what only the script brings to life is not shown, the browser's own player
// is, and the page still asks for nothing.
func TestPageWithoutItsScript(t *testing.T) {
	page := regexp.MustCompile(`(?s)<script>.*</script>`).ReplaceAllString(pageOf(t, fixture(), soundPage()), "")
	ctx, w, _ := open(t, page)
	wait(t, ctx, `document.querySelector("audio").readyState >= 1`)
	if shown := eval[[]string](t, ctx, `[...document.querySelectorAll(".needs-js")].filter((e) => e.getClientRects().length > 0).map((e) => e.outerHTML.slice(0, 80))`); len(shown) > 0 {
		t.Errorf("shown without a script: %v", shown)
	}
	if !eval[bool](t, ctx, `document.querySelector("audio").controls && document.querySelector("audio").getClientRects().length > 0`) {
		t.Error("no player")
	}
	if n := eval[int](t, ctx, `[...document.querySelectorAll("ol.findings a")].filter((a) => !document.getElementById(a.hash.slice(1))).length`); n > 0 {
		t.Errorf("%d findings link nowhere", n)
	}
	w.mu.Lock()
	defer w.mu.Unlock()
	if len(w.asked) != 1 || len(w.said) > 0 {
		t.Errorf("asked for %q, said %q", w.asked, w.said)
	}
}

// contrast lists texts whose colour is too near to that of their ground: below 4.5 to 1 (WCAG 2.2,
// success criterion 1.4.3, with its formula for relative luminance).
const contrast = `(() => {
	const rgb = (c) => (c.match(/[\d.]+/g) || []).map(Number);
	const lum = ([r, g, b]) => [r, g, b].map((v) => v / 255).map((v) => v <= 0.04045 ? v / 12.92 : ((v + 0.055) / 1.055) ** 2.4)
		.reduce((s, v, i) => s + v * [0.2126, 0.7152, 0.0722][i], 0);
	const ground = (e) => { for (; e; e = e.parentElement) { const c = rgb(getComputedStyle(e).backgroundColor); if (c.length === 3 || c[3] > 0) return c; } return [255, 255, 255]; };
	const low = [];
	for (const e of document.querySelectorAll("h1,h2,h3,p,dt,dd,li,a,button,label,td,th,figcaption,output,svg text")) {
		if (!e.textContent.trim() || !e.getClientRects().length || e.closest(".vh,.skip")) continue;
		const s = getComputedStyle(e), a = lum(rgb(e.closest("svg") ? s.fill : s.color)), b = lum(ground(e));
		const ratio = (Math.max(a, b) + 0.05) / (Math.min(a, b) + 0.05);
		if (ratio < 4.5) low.push(e.tagName + " " + e.textContent.trim().slice(0, 30) + " " + ratio.toFixed(2));
	}
	return low;
})()`
