package main

import (
	"context"
	"fmt"
	"net/http"
	"path/filepath"
	"regexp"
	"strings"
	"sync"
	"testing"
	"time"

	"antiphon/internal/engrave"
	"antiphon/internal/web/webtest/chromium"
)

// openDemo opens the demo's studio and returns its links. It is stopped at the test's end.
func openDemo(t *testing.T) (teacher, family string) {
	t.Helper()
	if !engrave.Available() {
		t.Skip("built without make assets")
	}
	ctx, stop := context.WithCancel(t.Context())
	out := &talk{}
	a := &app{ctx: ctx, in: strings.NewReader(""), out: out, err: out, now: time.Now}
	ended := make(chan int, 1)
	data := filepath.Join(t.TempDir(), "demo")
	go func() { ended <- run(a, []string{"demo", "--listen", "127.0.0.1:0", "--data", data}) }()
	t.Cleanup(func() {
		stop()
		if code := <-ended; code != exitDone {
			t.Errorf("stopped: exit %d, %s", code, out.String())
		}
	})
	for !strings.Contains(out.String(), "family: ") {
		select {
		case code := <-ended:
			ended <- code
			t.Fatalf("exit %d before it was ready: %s", code, out.String())
		case <-time.After(50 * time.Millisecond):
		}
	}
	links := regexp.MustCompile(`(?m)^(teacher|family): (http://127\.0\.0\.1:\d+/enter/\S+)$`).FindAllStringSubmatch(out.String(), -1)
	if len(links) != 2 {
		t.Fatalf("it says %q", out.String())
	}
	return links[0][2], links[1][2]
}

// TestDemo walks through the demo as its people do: from the links to a take reviewed with a remark, by
// keyboard, at the width of a desk and of a phone, and to what the family then reads.
func TestDemo(t *testing.T) {
	teacher, family := openDemo(t)
	base, enter, _ := strings.Cut(teacher, "/enter/")
	b := chromium.Open(t, base)
	for i, width := range []int64{1440, 390} {
		b.Look(width, []string{"light", "dark"}[i])
		b.Go("/enter/" + enter)
		b.Wait(`location.pathname === "/desk"`)
		for _, want := range []string{"Tilda", "Lison", "thumb hurt", "Emil"} {
			b.Wait(`document.body.textContent.includes("` + want + `")`)
		}
		faults(t, b, "the desk", width)
		b.Key("n") // opens the next
		b.Wait(`location.pathname.startsWith("/takes/")`)
		b.Awake()
		b.Wait(`document.querySelector("[data-part=sheet] svg") !== null`)
		if bars := chromium.Eval[int](b, `document.querySelectorAll("[data-part=words] li").length`); bars < 4 {
			t.Errorf("%d px: %d bars in words", width, bars)
		}
		faults(t, b, "the take", width)
		b.Shoot(fmt.Sprint("demo-take-", width))
		b.Key(".") // the first finding
		b.Key("r") // a remark here
		b.Wait(`document.activeElement.tagName === "TEXTAREA"`)
		remark := fmt.Sprintf("Let the wrist hang, then play bar %d again.", i+1)
		b.Press(remark)
		b.Press("\t")
		b.Press("\r")
		b.Wait(`document.querySelector("[data-part=remarks]").textContent.includes("` + remark + `")`)
		if chromium.Eval[bool](b, `document.querySelector("[data-part=remarks]").textContent.includes("r`+remark+`")`) {
			t.Error("the key that opens the remark stands in it")
		}
		b.Go(chromium.Eval[string](b, `location.pathname`))
		b.Wait(`document.querySelector("[data-part=remarks]").textContent.includes("` + remark + `")`)
	}
	_, enter, _ = strings.Cut(family, "/enter/")
	b.Forget()
	b.Go("/enter/" + enter)
	b.Wait(`location.pathname === "/week" && document.body.textContent.includes("Mary Had a Little Lamb")`)
	b.ClickOn(`[...document.querySelectorAll(".children a")].find((a) => a.textContent === "Tilda")`)
	b.Wait(`location.search.startsWith("?child=") && document.querySelector("h2").textContent === "Tilda"`)
	b.Awake()
	faults(t, b, "the week", 390)
	b.Shoot("demo-week-390")
	if chromium.Eval[int](b, `fetch("/desk").then((r) => r.status)`) != http.StatusForbidden {
		t.Error("a family reads the teacher's desk")
	}
	b.Expect("403")
}

func faults(t *testing.T, b *chromium.Browser, page string, width int64) {
	t.Helper()
	for _, f := range b.Faults() {
		t.Errorf("%s at %d px: %s", page, width, f)
	}
}

func TestDemoWrongUse(t *testing.T) {
	for _, args := range [][]string{{"demo", "--listen", ":8080"}, {"demo", "--listen", "10.0.0.1:80"}, {"demo", "--prepare"}} {
		if code, out, errs := ran(t, args...); code != exitUsage || out != "" || strings.Count(errs, "\n") != 1 {
			t.Errorf("%q: exit %d, %q, %q", args, code, out, errs)
		}
	}
}

// talk is what a running command said so far.
type talk struct {
	mu sync.Mutex
	b  strings.Builder
}

func (t *talk) Write(p []byte) (int, error) {
	t.mu.Lock()
	defer t.mu.Unlock()
	return t.b.Write(p)
}

func (t *talk) String() string {
	t.mu.Lock()
	defer t.mu.Unlock()
	return t.b.String()
}
