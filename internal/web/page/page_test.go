package page_test

import (
	"io"
	"io/fs"
	"net/http"
	"net/http/httptest"
	"net/netip"
	"os"
	"path/filepath"
	"regexp"
	"strings"
	"testing"
	"testing/fstest"
	"time"

	"antiphon/internal/studio"
	"antiphon/internal/web/page"
)

func frame(t *testing.T, o page.Options) *page.Frame {
	t.Helper()
	f, err := page.New(o)
	if err != nil {
		t.Fatal(err)
	}
	return f
}

func site(t *testing.T, f *page.Frame, pages fs.FS) http.Handler {
	t.Helper()
	p, err := f.Pages(pages)
	if err != nil {
		t.Fatal(err)
	}
	mux := http.NewServeMux()
	f.Routes(mux)
	show := func(w http.ResponseWriter, r *http.Request) error {
		return p.Render(w, r, "one.html", page.View{Title: "One", Data: map[string]string{"Say": r.FormValue("say")}})
	}
	mux.Handle("GET /one", f.Open(show))
	mux.Handle("POST /one", f.Open(f.Paced(show)))
	mux.Handle("GET /mine", f.Teacher(show))
	mux.Handle("GET /ours", f.Family(show))
	mux.Handle("GET /broken", f.Open(func(http.ResponseWriter, *http.Request) error { return io.ErrUnexpectedEOF }))
	mux.Handle("GET /gone", f.Open(func(http.ResponseWriter, *http.Request) error {
		return &studio.Problem{Kind: studio.Gone, Say: "Used already."}
	}))
	return f.Guard(mux)
}

var onePage = fstest.MapFS{"one.html": {Data: []byte(`{{define "main"}}<h1>{{.Say}}</h1>{{end}}`)}}

func ask(h http.Handler, r *http.Request) *http.Response {
	w := httptest.NewRecorder()
	h.ServeHTTP(w, r)
	return w.Result()
}

func body(t *testing.T, a *http.Response) string {
	t.Helper()
	b, err := io.ReadAll(a.Body)
	if err != nil {
		t.Fatal(err)
	}
	return string(b)
}

func TestRefusals(t *testing.T) {
	h := site(t, frame(t, page.Options{}), onePage)
	for _, c := range []struct {
		path   string
		status int
		say    string
	}{
		{"/one?say=a%3Cb", 200, "<h1>a&lt;b</h1>"},
		{"/nowhere", 404, "There is no page at this address."},
		{"/gone", 410, "Used already."},
		{"/broken", 500, "Something broke on our side."},
		{"/mine", 303, ""},
		{"/ours", 403, "Open the link that the teacher sent you"},
	} {
		a := ask(h, httptest.NewRequest("GET", c.path, nil))
		if text := body(t, a); a.StatusCode != c.status || !strings.Contains(text, c.say) {
			t.Errorf("%s: %d %s", c.path, a.StatusCode, text)
		}
		if p := a.Header.Get("Content-Security-Policy"); !strings.Contains(p, "default-src 'self'") || strings.Contains(p, "unsafe") {
			t.Errorf("%s: policy %q", c.path, p)
		}
		if a.Header.Get("Cache-Control") != "no-store" {
			t.Errorf("%s may be kept", c.path)
		}
	}
	r := httptest.NewRequest("GET", "/gone", nil)
	r.Header.Set("Accept", "application/json")
	if a := ask(h, r); !strings.Contains(body(t, a), `"say":"Used already."`) {
		t.Error("a script is not answered in JSON")
	}
}

// TestOtherSites: a form on another site changes nothing here (Fetch Metadata, W3C: Sec-Fetch-Site).
func TestOtherSites(t *testing.T) {
	h := site(t, frame(t, page.Options{}), onePage)
	for from, want := range map[string]int{"same-origin": 200, "none": 200, "cross-site": 403, "same-site": 403} {
		r := httptest.NewRequest("POST", "/one", nil)
		r.Header.Set("Sec-Fetch-Site", from)
		if a := ask(h, r); a.StatusCode != want {
			t.Errorf("from %s: %d, want %d", from, a.StatusCode, want)
		}
	}
}

func TestPace(t *testing.T) {
	now := time.Date(2026, 11, 2, 9, 0, 0, 0, time.UTC)
	who := netip.MustParseAddr("2001:db8::1")
	h := site(t, frame(t, page.Options{
		Now:    func() time.Time { return now },
		Client: func(*http.Request) netip.Addr { return who },
	}), onePage)
	try := func() int { return ask(h, httptest.NewRequest("POST", "/one", nil)).StatusCode }
	for i := range 10 {
		if got := try(); got != 200 {
			t.Fatalf("try %d: %d", i, got)
		}
	}
	who = netip.MustParseAddr("2001:db8::2") // the same household
	if got := try(); got != 429 {
		t.Errorf("the eleventh try at once: %d", got)
	}
	who = netip.MustParseAddr("2001:db8:0:1::1")
	if got := try(); got != 200 {
		t.Errorf("another household waits too: %d", got)
	}
	who = netip.MustParseAddr("2001:db8::1")
	now = now.Add(7 * time.Second)
	if got := try(); got != 200 {
		t.Errorf("after a pause: %d", got)
	}
}

// TestColours: a colour stands in tokens.css and nowhere else.
func TestColours(t *testing.T) {
	colour := regexp.MustCompile(`#[0-9a-fA-F]{3,8}\b|\b(rgb|rgba|hsl|hsla|oklch|lab)\(`)
	sheets, err := filepath.Glob("../*/*.css")
	if err != nil || len(sheets) < 2 {
		t.Fatal(sheets, err)
	}
	for _, file := range sheets {
		if filepath.Base(file) == "tokens.css" {
			continue
		}
		b, err := os.ReadFile(file)
		if err != nil {
			t.Fatal(err)
		}
		for i, line := range strings.Split(string(b), "\n") {
			if c := colour.FindString(line); c != "" {
				t.Errorf("%s:%d: %s belongs into tokens.css", file, i+1, c)
			}
		}
	}
}

// TestNothingInline: the policy runs no script and no style that stands in a page.
func TestNothingInline(t *testing.T) {
	inline := regexp.MustCompile(`(?i)<style|\sstyle=|\son[a-z]+=|<script[^>]*>[^<]|javascript:`)
	pages, err := filepath.Glob("../*/*.html")
	if err != nil || len(pages) == 0 {
		t.Fatal(pages, err)
	}
	for _, file := range pages {
		b, err := os.ReadFile(file)
		if err != nil {
			t.Fatal(err)
		}
		if c := inline.FindString(string(b)); c != "" {
			t.Errorf("%s: %q would not work", file, c)
		}
	}
}

// TestKeys: a single key does the same on every page that knows it, as far as its first three words tell.
func TestKeys(t *testing.T) {
	pages, err := filepath.Glob("../*/*.html")
	if err != nil || len(pages) == 0 {
		t.Fatal(pages, err)
	}
	key := regexp.MustCompile(`data-key="([^"{]+)"(?: data-does="([^"]*)")?`)
	does, at := map[string]string{}, map[string]string{}
	for _, file := range pages {
		b, err := os.ReadFile(file)
		if err != nil {
			t.Fatal(err)
		}
		for _, m := range key.FindAllStringSubmatch(string(b), -1) {
			words := strings.Fields(strings.ReplaceAll(m[2], ":", ""))
			say := strings.Join(words[:min(3, len(words))], " ")
			if say == "" || strings.Contains(say, "{{") {
				t.Errorf("%s: the key %s does not say what it does", file, m[1])
			}
			if before, ok := does[m[1]]; ok && before != say {
				t.Errorf("the key %s does %q in %s and %q in %s", m[1], say, file, before, at[m[1]])
			}
			does[m[1]], at[m[1]] = say, file
		}
	}
	if len(does) < 15 {
		t.Errorf("only these keys were found: %v", does)
	}
}

func TestWords(t *testing.T) {
	now := time.Date(2026, 11, 4, 9, 0, 0, 0, time.UTC) // a Wednesday
	for _, c := range []struct{ got, want string }{
		{page.Day(now, now), "today"},
		{page.Day(now.Add(-10*time.Hour), now), "yesterday"},
		{page.Day(now.Add(-50*time.Hour), now), "Monday"},
		{page.Day(now.AddDate(0, 0, 2), now), "Friday"},
		{page.Day(now.AddDate(0, -1, 0), now), "4 October"},
		{page.Day(now.AddDate(-1, 0, 0), now), "4 November 2025"},
		{page.Ago(now.Add(-time.Minute), now), "1 minute ago"},
		{page.Ago(now.Add(-3*time.Hour), now), "3 hours ago"},
		{page.Ago(now.AddDate(0, 0, -34), now), "34 days ago"},
		{page.Clock(185.9), "3:05"},
		{page.Clock(3661), "1:01:01"},
		{page.Plural(2, "family", "families"), "2 families"},
	} {
		if c.got != c.want {
			t.Errorf("got %q, want %q", c.got, c.want)
		}
	}
}

// TestHalfAnAnswerIsCutOff: who downloads sees that it broke off.
func TestHalfAnAnswerIsCutOff(t *testing.T) {
	f := frame(t, page.Options{})
	s := httptest.NewServer(f.Guard(f.Open(func(w http.ResponseWriter, _ *http.Request) error {
		w.Header().Set("Content-Type", "application/zip")
		if _, err := w.Write([]byte("PK and so on")); err != nil {
			return err
		}
		return io.ErrUnexpectedEOF
	})))
	defer s.Close()
	a, err := http.Get(s.URL)
	if err == nil {
		defer a.Body.Close()
		_, err = io.ReadAll(a.Body)
	}
	if err == nil {
		t.Error("half an answer ends like a whole one")
	}
}

// TestPagesArePacked: text is sent packed to who takes it so.
func TestPagesArePacked(t *testing.T) {
	h := site(t, frame(t, page.Options{}), onePage)
	r := httptest.NewRequest("GET", "/one?say="+strings.Repeat("la", 2000), nil)
	r.Header.Set("Accept-Encoding", "gzip")
	a := ask(h, r)
	if b := body(t, a); a.Header.Get("Content-Encoding") != "gzip" || len(b) > 1500 {
		t.Errorf("%q, %d bytes", a.Header.Get("Content-Encoding"), len(b))
	}
}

// TestForWhom: a phone's own store keeps what is for its family, so every answer says whose it is, and none who it is.
func TestForWhom(t *testing.T) {
	h := site(t, frame(t, page.Options{}), onePage)
	for _, path := range []string{"/one", "/ours", "/nowhere"} {
		if got := ask(h, httptest.NewRequest("GET", path, nil)).Header.Get("Antiphon-For"); got != "nobody" {
			t.Errorf("%s is for %q", path, got)
		}
	}
}
