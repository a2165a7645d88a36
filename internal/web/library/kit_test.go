package library_test

import (
	"bytes"
	"io"
	"mime/multipart"
	"net/http"
	"net/url"
	"regexp"
	"strings"
	"testing"

	"antiphon/internal/studio"
	"antiphon/internal/web/arrive"
	"antiphon/internal/web/library"
	"antiphon/internal/web/sheet"
	"antiphon/internal/web/webtest"
)

// mice is "Three Blind Mice" (English, printed in 1609), the first bars.
const mice = "X:1\nT:Three Blind Mice\nC:Traditional\nM:6/8\nL:1/8\nQ:3/8=60\nK:C\n" +
	"E3 D3|C6|E3 D3|C6|G3 F2F|E6|G3 F2F|E6|]\n"

// ladder is a line of our own that a hand can take in several ways.
const ladder = "X:1\nT:Ladder\nC:Own\nM:4/4\nL:1/4\nQ:1/4=72\nK:C\nC, D, E, F,|G, A, B, C|D E F G|C B, A, G,|F, E, D, C,|]\n"

type site struct {
	*webtest.Site
	t testing.TB
}

func open(t testing.TB) *site {
	t.Helper()
	return openWith(t, library.Options{})
}

func openWith(t testing.TB, o library.Options) *site {
	t.Helper()
	s := webtest.Open(t)
	e := webtest.Engraver(t)
	sheets := sheet.New(e, s.Frame)
	o.Sheets, o.Engraver, o.CacheDir = sheets, e, t.TempDir()
	arrivals, err := arrive.New(s.Frame, arrive.Options{Dir: t.TempDir()})
	if err != nil {
		t.Fatal(err)
	}
	var end func()
	at := s.Serve(t, sheets.Routes, arrivals.Routes, func(mux *http.ServeMux) {
		if end, err = library.Routes(mux, s.Frame, o); err != nil {
			t.Fatal(err)
		}
	})
	t.Cleanup(end)
	return &site{at, t}
}

// file is one file of a form.
type file struct{ name, text string }

// upload sends files in one form, the note on rights before them.
func (s *site) upload(device, path, field, rights string, files ...file) (int, string) {
	s.t.Helper()
	var b bytes.Buffer
	form := multipart.NewWriter(&b)
	if err := form.WriteField("rights", rights); err != nil {
		s.t.Fatal(err)
	}
	for _, f := range files {
		w, err := form.CreateFormFile(field, f.name)
		if err == nil {
			_, err = io.WriteString(w, f.text)
		}
		if err != nil {
			s.t.Fatal(err)
		}
	}
	if err := form.Close(); err != nil {
		s.t.Fatal(err)
	}
	return s.send(device, path, form.FormDataContentType(), &b)
}

func (s *site) send(device, path, kind string, body io.Reader) (int, string) {
	s.t.Helper()
	r, err := http.NewRequestWithContext(s.t.Context(), http.MethodPost, s.URL+path, body)
	if err != nil {
		s.t.Fatal(err)
	}
	r.Header.Set("Content-Type", kind)
	r.Header.Set("Sec-Fetch-Site", "same-origin")
	a, err := s.Client(s.t, device).Do(r)
	if err != nil {
		s.t.Fatal(err)
	}
	defer a.Body.Close()
	text, err := io.ReadAll(a.Body)
	if err != nil {
		s.t.Fatal(err)
	}
	return a.StatusCode, string(text)
}

// added puts a score into the library through the page and gives back the work.
func (s *site) added(abc string) studio.Work {
	s.t.Helper()
	status, text := s.upload(s.TeacherDevice, "/library/add", "scores", "traditional", file{"tune.abc", abc})
	id := regexp.MustCompile(`/library/works/([0-9a-z]{26})`).FindStringSubmatch(text)
	if status != 200 || id == nil {
		s.t.Fatalf("not added: %d %s", status, mainOf(text))
	}
	w, err := s.Desk.Work(s.t.Context(), s.Teacher, studio.WorkID(id[1]))
	if err != nil {
		s.t.Fatal(err)
	}
	return w
}

// page fetches a page as the teacher; it must be there.
func (s *site) page(path string) string {
	s.t.Helper()
	status, text := s.Get(s.t, s.TeacherDevice, path)
	if status != 200 {
		s.t.Fatalf("%s: %d %s", path, status, mainOf(text))
	}
	return text
}

// post sends a form as the teacher and follows to the page that it leads to.
func (s *site) post(path string, form url.Values) (status int, to string) {
	s.t.Helper()
	status, text, to := s.Post(s.t, s.TeacherDevice, path, form)
	if status >= 400 {
		to = mainOf(text)
	}
	return status, to
}

// mainOf is what stands in the main part of a page.
func mainOf(text string) string {
	_, text, _ = strings.Cut(text, "<main")
	text, _, _ = strings.Cut(text, "</main>")
	_, text, _ = strings.Cut(text, ">")
	text = strings.Join(strings.Fields(regexp.MustCompile(`<[^>]*>`).ReplaceAllString(text, " ")), " ")
	return text[:min(len(text), 6000)]
}

// alertOf is the sentence that a page puts before everything else; "" none.
func alertOf(text string) string {
	m := regexp.MustCompile(`(?s)<p class="caution" role="alert"[^>]*>(.*?)</p>`).FindStringSubmatch(text)
	if m == nil {
		return ""
	}
	return m[1]
}

func has(t testing.TB, text string, parts ...string) {
	t.Helper()
	for _, p := range parts {
		if !strings.Contains(text, p) {
			t.Errorf("%q is not in %s", p, mainOf(text))
		}
	}
}

func (s *site) works() []studio.Work {
	s.t.Helper()
	all, err := s.Desk.Works(s.t.Context(), s.Teacher)
	if err != nil {
		s.t.Fatal(err)
	}
	return all
}
