package main

import (
	"context"
	"io"
	"net/http"
	"net/http/cookiejar"
	"path/filepath"
	"regexp"
	"strings"
	"sync"
	"testing"
	"time"

	"antiphon/internal/engrave"
)

// TestDemo: a studio opens, says where, and what waits in it was recorded and heard.
func TestDemo(t *testing.T) {
	if !engrave.Available() {
		t.Skip("built without make assets")
	}
	ctx, stop := context.WithCancel(t.Context())
	defer stop()
	out := &talk{}
	a := &app{ctx: ctx, in: strings.NewReader(""), out: out, err: out, now: time.Now}
	ended := make(chan int, 1)
	data := filepath.Join(t.TempDir(), "demo")
	go func() { ended <- run(a, []string{"demo", "--listen", "127.0.0.1:0", "--data", data}) }()
	for !strings.Contains(out.String(), "family: ") {
		select {
		case code := <-ended:
			t.Fatalf("exit %d before it was ready: %s", code, out.String())
		case <-time.After(50 * time.Millisecond):
		}
	}
	links := regexp.MustCompile(`(?m)^(teacher|family): (http://127\.0\.0\.1:\d+/enter/\S+)$`).FindAllStringSubmatch(out.String(), -1)
	if len(links) != 2 {
		t.Fatalf("it says %q", out.String())
	}
	for _, want := range []struct {
		link, path string
		words      []string
	}{
		{links[0][2], "/desk", []string{"Tilda", "Lison", "thumb hurt", "Emil"}},
		{links[1][2], "/week", []string{"Tilda", "Au clair de la lune"}},
	} {
		jar, err := cookiejar.New(nil)
		if err != nil {
			t.Fatal(err)
		}
		r, err := (&http.Client{Jar: jar}).Get(want.link)
		if err != nil {
			t.Fatal(err)
		}
		b, err := io.ReadAll(r.Body)
		r.Body.Close()
		if err != nil || r.StatusCode != http.StatusOK || r.Request.URL.Path != want.path {
			t.Fatalf("%s: %d at %s (%v)", want.path, r.StatusCode, r.Request.URL, err)
		}
		for _, w := range want.words {
			if !strings.Contains(string(b), w) {
				t.Errorf("%s does not say %q", want.path, w)
			}
		}
	}
	stop()
	if code := <-ended; code != exitDone {
		t.Errorf("stopped: exit %d", code)
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
