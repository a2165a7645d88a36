// Package chromium shows pages to a real browser for tests: it clicks, types and looks, asks axe-core for
// faults, and notes whatever a page should not have done.
//
// It is skipped where Chromium is not installed, unless CI is set. With SHOTS=FOLDER it keeps pictures.
package chromium

import (
	"context"
	"errors"
	"fmt"
	"os"
	"os/exec"
	"path/filepath"
	"slices"
	"strings"
	"sync"
	"testing"
	"time"

	"github.com/chromedp/cdproto/cdp"
	"github.com/chromedp/cdproto/emulation"
	"github.com/chromedp/cdproto/input"
	"github.com/chromedp/cdproto/log"
	"github.com/chromedp/cdproto/network"
	"github.com/chromedp/cdproto/runtime"
	"github.com/chromedp/cdproto/serviceworker"
	"github.com/chromedp/cdproto/storage"
	"github.com/chromedp/cdproto/webauthn"
	"github.com/chromedp/chromedp"
	"github.com/chromedp/chromedp/kb"
)

// Browser is one window of a fresh profile.
type Browser struct {
	t    testing.TB
	ctx  context.Context
	base string
	axe  string
	free func() // waits for its end

	mu       sync.Mutex
	said     []string
	expected []expectation
	workers  map[string]serviceworker.RegistrationID // by their realm's address
}

// Option changes the browser that Open starts.
type Option = chromedp.ExecAllocatorOption

// Hearing lets the browser's microphone hear a WAV file, once, from the moment when a page opens it.
func Hearing(wav string) Option {
	return chromedp.Flag("use-file-for-fake-audio-capture", wav+"%noloop")
}

// Profile keeps what the browser keeps in a folder, for a browser that is opened there later.
func Profile(dir string) Option { return chromedp.UserDataDir(dir) }

// Open starts Chromium for the site at base. At the test's end it is closed, and what the pages did that
// they should not have fails the test.
func Open(t testing.TB, base string, options ...Option) *Browser {
	t.Helper()
	program, err := exec.LookPath("chromium")
	if err != nil {
		if os.Getenv("CI") != "" {
			t.Fatal("chromium is not installed: apt-get install chromium")
		}
		t.Skip("chromium is not installed")
	}
	axe, err := os.ReadFile(filepath.Join(root(t), "scripts", "web", "node_modules", "axe-core", "axe.min.js"))
	if err != nil {
		t.Fatal("axe-core is not there: run make assets: ", err)
	}
	b := &Browser{t: t, base: base, axe: string(axe), workers: map[string]serviceworker.RegistrationID{}}
	options = slices.Concat(chromedp.DefaultExecAllocatorOptions[:], []Option{chromedp.ExecPath(program),
		chromedp.Flag("no-sandbox", true), chromedp.Flag("disable-gpu", true), chromedp.Flag("disable-quic", true),
		chromedp.Flag("autoplay-policy", "no-user-gesture-required"), chromedp.Flag("use-fake-ui-for-media-stream", true),
		chromedp.Flag("use-fake-device-for-media-stream", true), chromedp.WSURLReadTimeout(2 * time.Minute)}, options)
	alloc, cancelAlloc := chromedp.NewExecAllocator(t.Context(), options...)
	t.Cleanup(cancelAlloc)
	b.free = cancelAlloc
	ctx, cancel := chromedp.NewContext(alloc, chromedp.WithListener(b.see))
	t.Cleanup(cancel)
	ctx, stop := context.WithTimeout(ctx, 8*time.Minute)
	t.Cleanup(stop)
	b.ctx = ctx
	call(b, log.Enable, struct{}{})
	call(b, serviceworker.Enable, struct{}{})
	t.Cleanup(func() {
		b.mu.Lock()
		defer b.mu.Unlock()
		slices.Sort(b.said)
		for _, s := range slices.Compact(b.said) {
			t.Errorf("a page did what it should not: %s", s)
		}
	})
	return b
}

// Kill ends the browser as an empty battery would: SIGKILL, and nobody is asked. No other method may follow.
func (b *Browser) Kill() {
	b.t.Helper()
	if err := chromedp.FromContext(b.ctx).Browser.Process().Kill(); err != nil {
		b.t.Fatal(err)
	}
	b.free() // waits until it has gone with its children, who may still have the profile open
}

// root is the folder of the module.
func root(t testing.TB) string {
	t.Helper()
	dir, err := os.Getwd()
	if err != nil {
		t.Fatal(err)
	}
	for ; dir != filepath.Dir(dir); dir = filepath.Dir(dir) {
		if _, err := os.Stat(filepath.Join(dir, "go.mod")); err == nil {
			return dir
		}
	}
	t.Fatal("there is no go.mod above the test")
	return ""
}

func (b *Browser) see(ev any) {
	b.mu.Lock()
	defer b.mu.Unlock()
	switch e := ev.(type) {
	case *network.EventRequestWillBeSent:
		if u := e.Request.URL; !strings.HasPrefix(u, "data:") && !strings.HasPrefix(u, "blob:") && !strings.HasPrefix(u, b.base) {
			b.said = append(b.said, "asked for "+u)
		}
	case *serviceworker.EventWorkerRegistrationUpdated:
		for _, r := range e.Registrations {
			b.workers[r.ScopeURL] = r.RegistrationID
		}
	case *log.EventEntryAdded:
		if said := e.Entry.Text + " " + e.Entry.URL; !b.forgives(said, time.UnixMicro(int64(1000*float64(e.Entry.Timestamp)))) {
			b.said = append(b.said, said)
		}
	case *runtime.EventConsoleAPICalled:
		b.said = append(b.said, "wrote to the console: "+string(e.Type))
	case *runtime.EventExceptionThrown:
		b.said = append(b.said, e.ExceptionDetails.Text)
	}
}

// expectation is what a page may say, as far as it says so until a moment; the zero time is the end of the test.
type expectation struct {
	part   string
	until  time.Time
	onward bool // it does not end with the page
	pages  int  // nor with so many more
}

// Expect takes away what a test brought about on purpose, such as the console's line on a refused request: what was said
// of it until now, and what the page that is open still says. Its other requests are under way, and fail later.
func (b *Browser) Expect(part string) {
	b.mu.Lock()
	defer b.mu.Unlock()
	b.said = slices.DeleteFunc(b.said, func(s string) bool { return strings.Contains(s, part) })
	b.expected = append(b.expected, expectation{part: part})
}

// forgives tells whether something that was said at a moment was expected.
func (b *Browser) forgives(said string, at time.Time) bool {
	return slices.ContainsFunc(b.expected, func(e expectation) bool {
		return strings.Contains(said, e.part) && (e.until.IsZero() || !at.After(e.until))
	})
}

// turned ends what was expected of the page that was open.
func (b *Browser) turned() {
	b.mu.Lock()
	defer b.mu.Unlock()
	for i := range b.expected {
		switch e := &b.expected[i]; {
		case !e.until.IsZero() || e.onward:
		case e.pages > 0:
			e.pages--
		default:
			e.until = time.Now()
		}
	}
}

// unreached expects that pages do not reach the site, until they do again.
func (b *Browser) unreached(yes bool) {
	b.mu.Lock()
	defer b.mu.Unlock()
	if yes {
		b.expected = append(b.expected, expectation{part: "net::ERR_", onward: true})
		return
	}
	for i := range b.expected { // what was under way fails when the next page is open already
		if e := &b.expected[i]; e.onward {
			e.onward, e.pages = false, 1
		}
	}
}

// call sends one command of the DevTools protocol.
func call[P, R any](b *Browser, command cdp.Command[P, R], params P) {
	b.t.Helper()
	if _, err := chromedp.Call(b.ctx, command, params); err != nil {
		b.t.Fatal(err)
	}
}

func (b *Browser) do(steps ...chromedp.Action[chromedp.Void]) {
	b.t.Helper()
	if err := chromedp.Do(b.ctx, steps...); err != nil {
		b.t.Fatal(err)
	}
}

// Cookie sets one for the site.
func (b *Browser) Cookie(name, value string) {
	b.t.Helper()
	call(b, network.SetCookie, network.SetCookieParams{Name: name, Value: value, URL: b.base})
}

// Forget takes all cookies away.
func (b *Browser) Forget() {
	b.t.Helper()
	call(b, network.ClearBrowserCookies, struct{}{})
}

// Network turns the page's own network off or on. A service worker has another one.
func (b *Browser) Network(on bool) {
	b.t.Helper()
	call(b, network.OverrideNetworkState, network.OverrideNetworkStateParams{Offline: !on, DownloadThroughput: -1, UploadThroughput: -1})
}

// Room says how many bytes the site may keep; 0 as many as the browser likes.
func (b *Browser) Room(bytes float64) {
	b.t.Helper()
	p := storage.OverrideQuotaForOriginParams{Origin: b.base}
	if bytes > 0 {
		p.QuotaSize = &bytes
	}
	call(b, storage.OverrideQuotaForOrigin, p)
}

// Sync wakes the service worker of a realm, such as "/week", as the browser does behind the pages once there is a
// network.
func (b *Browser) Sync(realm, tag string) {
	b.t.Helper()
	b.mu.Lock()
	id := b.workers[b.base+realm]
	b.mu.Unlock()
	if id == "" {
		b.t.Fatalf("no service worker serves %s", realm)
	}
	call(b, serviceworker.DispatchSyncEvent, serviceworker.DispatchSyncEventParams{Origin: b.base, RegistrationID: id, Tag: tag})
}

// Slow makes the page's processor so many times slower; 1 is as it is.
func (b *Browser) Slow(times float64) {
	b.t.Helper()
	call(b, emulation.SetCPUThrottlingRate, emulation.SetCPUThrottlingRateParams{Rate: times})
}

// Go opens a page of the site and waits until its islands are awake.
func (b *Browser) Go(path string) {
	b.t.Helper()
	b.turned()
	b.do(chromedp.Navigate(b.base + path))
	b.Awake()
}

// Leave shows an empty page, so that none of the site is open.
func (b *Browser) Leave() {
	b.t.Helper()
	b.do(chromedp.Navigate("about:blank"))
}

// Awake waits until the page is there with its islands.
func (b *Browser) Awake() {
	b.t.Helper()
	b.Wait(`document.readyState === "complete" && document.documentElement.classList.contains("js")
		&& [...document.querySelectorAll("[data-island]")].every((e) => e.dataset.awake === "yes")`)
}

// Eval gives the value of an expression in the page.
func Eval[T any](b *Browser, expression string) T {
	b.t.Helper()
	v, err := chromedp.Run(b.ctx, chromedp.Evaluate[T](expression, chromedp.EvalAwaitPromise))
	if err != nil && strings.Contains(err.Error(), "navigated or closed") { // a page that loads itself anew, since something changed
		b.Awake()
		v, err = chromedp.Run(b.ctx, chromedp.Evaluate[T](expression, chromedp.EvalAwaitPromise))
	}
	if err != nil {
		b.t.Fatalf("%s: %v", expression, err)
	}
	return v
}

// patience of Wait, in twentieths of a second: a busy machine renders sounds and hears takes beside the browser.
const patience = 1800

// Wait until an expression is true in the page, or in the one that follows it.
func (b *Browser) Wait(expression string) {
	b.t.Helper()
	for tries := range patience {
		v, err := chromedp.Run(b.ctx, chromedp.Evaluate[bool]("!!("+expression+")"))
		if err == nil && v {
			return
		}
		if b.ctx.Err() != nil || tries == patience-1 {
			at, _ := chromedp.Run(b.ctx, chromedp.Evaluate[string](`location.href + " " + document.querySelector("main").textContent.replace(/\s+/g, " ").slice(0, 600)`))
			b.t.Fatalf("never true: %s (%v) at %s", expression, err, at)
		}
		time.Sleep(50 * time.Millisecond) // the page itself works; there is nothing else to wait for
	}
}

// Click presses the first element that a selector finds.
func (b *Browser) Click(selector string) {
	b.t.Helper()
	Eval[bool](b, fmt.Sprintf(`(document.querySelector(%q).click(), true)`, selector))
}

// Write puts the cursor into a field and types.
func (b *Browser) Write(selector, text string) {
	b.t.Helper()
	Eval[bool](b, fmt.Sprintf(`(document.querySelector(%q).focus(), true)`, selector))
	b.do(chromedp.KeyEvent(text))
}

// On reports to another test from now on, a part of the one that opened the browser.
func (b *Browser) On(t testing.TB) { b.t = t }

// Key presses one key as a person does: a key that the page uses writes no letter.
func (b *Browser) Key(k string) {
	b.t.Helper()
	events := kb.Encode([]rune(k)[0])
	down, up := *events[0], *events[len(events)-1]
	if len(events) == 3 {
		down.Text = events[1].Text // with the key itself: it is not written where the page prevents it
	}
	down.Type = "keyDown"
	call(b, input.DispatchKeyEvent, down)
	call(b, input.DispatchKeyEvent, up)
}

// ClickOn clicks the middle of the element that an expression gives, as a mouse would.
func (b *Browser) ClickOn(element string) {
	b.t.Helper()
	at := Eval[[]float64](b, fmt.Sprintf(`(() => { const e = %s; e.scrollIntoView({ block: "center" }); const r = e.getBoundingClientRect(); return [r.x + r.width / 2, r.y + r.height / 2] })()`, element))
	b.do(chromedp.MouseClickXY(at[0], at[1]))
}

// Press types keys to whatever has the focus.
func (b *Browser) Press(keys string) {
	b.t.Helper()
	b.do(chromedp.KeyEvent(keys))
}

// Choose puts files into a file field.
func (b *Browser) Choose(selector string, files ...string) {
	b.t.Helper()
	b.do(chromedp.SetUploadFiles(selector, files))
}

// Look sets the width of the window in CSS pixels and the colour scheme, "light" or "dark"; less motion is asked for.
func (b *Browser) Look(width int64, scheme string) {
	b.t.Helper()
	height := int64(900)
	if width < 600 {
		height = 844
	}
	call(b, emulation.SetDeviceMetricsOverride, emulation.SetDeviceMetricsOverrideParams{Width: width, Height: height, DeviceScaleFactor: 1, Mobile: width < 600})
	call(b, emulation.SetEmulatedMedia, emulation.SetEmulatedMediaParams{Features: []*emulation.MediaFeature{
		{Name: "prefers-color-scheme", Value: scheme}, {Name: "prefers-reduced-motion", Value: "reduce"}}})
}

// Faults are what axe-core finds on the page, and whether it is wider than its window.
func (b *Browser) Faults() []string {
	b.t.Helper()
	if !Eval[bool](b, `typeof axe === "object"`) {
		Eval[bool](b, b.axe+"; true")
	}
	all := Eval[[]string](b, `axe.run(document, { resultTypes: ["violations"] }).then((r) =>
		r.violations.flatMap((v) => v.nodes.map((n) => v.id + ": " + n.html.slice(0, 160) + " " + (n.any[0]?.message ?? ""))))`)
	if over := Eval[float64](b, `document.documentElement.scrollWidth - innerWidth`); over > 0 {
		all = append(all, fmt.Sprintf("the page is %v px wider than the window", over))
	}
	return all
}

// Shoot keeps a picture of the whole page where SHOTS names a folder.
func (b *Browser) Shoot(name string) {
	b.t.Helper()
	dir := os.Getenv("SHOTS")
	if dir == "" {
		return
	}
	ctx, stop := context.WithTimeout(b.ctx, 20*time.Second)
	defer stop()
	png, err := chromedp.Run(ctx, chromedp.FullScreenshot(100))
	if errors.Is(err, context.DeadlineExceeded) {
		b.t.Logf("no picture %s: Chromium gave none within 20 s", name)
		return
	}
	if err != nil {
		b.t.Fatal(err)
	}
	if err := os.WriteFile(filepath.Join(dir, name+".png"), png, 0o644); err != nil {
		b.t.Fatal(err)
	}
}

// Authenticator gives the browser a passkey device of its own that says yes to everything.
func (b *Browser) Authenticator() {
	b.t.Helper()
	call(b, webauthn.Enable, webauthn.EnableParams{})
	call(b, webauthn.AddVirtualAuthenticator, webauthn.AddVirtualAuthenticatorParams{Options: &webauthn.VirtualAuthenticatorOptions{
		Protocol: webauthn.AuthenticatorProtocolCtap2, Transport: webauthn.AuthenticatorTransportInternal,
		HasResidentKey: true, HasUserVerification: true, IsUserVerified: true, AutomaticPresenceSimulation: true}})
}
