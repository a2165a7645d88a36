// Package webtest opens a small studio for the tests of the pages: a real database and real files in the
// test's own folder, a teacher and two families with bound browsers, and jobs that only wait.
//
// It drives no browser and hears nothing; a test that needs a hearing keeps one through the Desk.
package webtest

import (
	"context"
	"io"
	"net/http"
	"net/http/cookiejar"
	"net/http/httptest"
	"net/url"
	"path/filepath"
	"slices"
	"strings"
	"sync"
	"testing"
	"time"

	"antiphon/internal/store"
	"antiphon/internal/store/disk"
	"antiphon/internal/studio"
	"antiphon/internal/web/page"
)

// Studio is an opened studio. The invented families are the Okafors, with Ada, and the Lindqvists, with
// Nils and Runa.
type Studio struct {
	Desk  *studio.Desk
	Store *store.Store
	Blobs *disk.Blobs
	Jobs  *Waiting
	Frame *page.Frame

	Teacher       studio.Viewer
	TeacherDevice string // the secret of the teacher's browser
	Okafor        Household
	Lindqvist     Household
	now           time.Time
	mu            sync.Mutex
}

// Household is a family with one bound phone.
type Household struct {
	Family   studio.Family
	Coach    studio.Viewer
	Device   string // secret
	Students []studio.Student
}

// Open makes the studio at a fixed moment, Wednesday 4 November 2026, 9:00 UTC.
func Open(t testing.TB) *Studio {
	t.Helper()
	ctx := t.Context()
	folder := t.TempDir()
	st, err := store.OpenSQLite(ctx, filepath.Join(folder, "studio.db"))
	if err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() {
		if err := st.Close(); err != nil {
			t.Error(err)
		}
	})
	blobs, err := disk.Open(filepath.Join(folder, "files"))
	if err != nil {
		t.Fatal(err)
	}
	s := &Studio{Store: st, Blobs: blobs, Jobs: &Waiting{}, now: time.Date(2026, 11, 4, 9, 0, 0, 0, time.UTC)}
	s.Desk = studio.NewDesk(st, blobs, s.Jobs, studio.DeskOptions{Now: s.Now})
	if s.Frame, err = page.New(page.Options{Desk: s.Desk, Now: s.Now}); err != nil {
		t.Fatal(err)
	}
	secret, err := s.Desk.OpenSetUp(ctx)
	if err != nil {
		t.Fatal(err)
	}
	s.Teacher, s.TeacherDevice, _, err = s.Desk.SetUp(ctx, secret, studio.NewTeacher{
		Studio: "Studio Under the Lime Tree", Name: "Marit Sandoval", Password: "eleven quiet guitars", Device: "desk"})
	if err != nil {
		t.Fatal(err)
	}
	s.Okafor = s.household(t, "Okafor", "Ngozi Okafor", studio.NewStudent{Name: "Ada", Media: studio.FullVideo})
	s.Lindqvist = s.household(t, "Lindqvist", "Per Lindqvist", studio.NewStudent{Name: "Nils"}, studio.NewStudent{Name: "Runa", Media: studio.HandsOnly})
	return s
}

func (s *Studio) household(t testing.TB, family, coach string, students ...studio.NewStudent) Household {
	t.Helper()
	ctx := t.Context()
	f, token, err := s.Desk.InviteFamily(ctx, s.Teacher, studio.NewFamily{Name: family, Students: students}, studio.Asked{})
	if err != nil {
		t.Fatal(err)
	}
	v, secret, err := s.Desk.Redeem(ctx, token, studio.Redemption{Name: coach, Device: "phone", Agrees: true})
	if err != nil {
		t.Fatal(err)
	}
	all, err := s.Store.Students(ctx, studio.OneFamily(v.Studio, f.ID))
	if err != nil {
		t.Fatal(err)
	}
	slices.SortFunc(all, func(a, b studio.Student) int { return strings.Compare(a.Name, b.Name) })
	return Household{f, v, secret, all}
}

// Now is the studio's clock.
func (s *Studio) Now() time.Time {
	s.mu.Lock()
	defer s.mu.Unlock()
	return s.now
}

// Wait moves the clock on.
func (s *Studio) Wait(d time.Duration) {
	s.mu.Lock()
	defer s.mu.Unlock()
	s.now = s.now.Add(d)
}

// Site is the studio behind HTTP.
type Site struct {
	*Studio
	URL string
}

// Serve puts routes behind the frame's guard on a loopback address.
func (s *Studio) Serve(t testing.TB, routes ...func(mux *http.ServeMux)) *Site {
	t.Helper()
	mux := http.NewServeMux()
	s.Frame.Routes(mux)
	for _, add := range routes {
		add(mux)
	}
	server := httptest.NewServer(s.Frame.Guard(mux))
	t.Cleanup(server.Close)
	return &Site{s, server.URL}
}

// Client is a browser that brings a device's secret, "" for a stranger's. It follows no redirect.
func (s *Site) Client(t testing.TB, device string) *http.Client {
	t.Helper()
	jar, err := cookiejar.New(nil)
	if err != nil {
		t.Fatal(err)
	}
	at, err := url.Parse(s.URL)
	if err != nil {
		t.Fatal(err)
	}
	if device != "" {
		jar.SetCookies(at, []*http.Cookie{{Name: "antiphon", Value: device, Path: "/"}})
	}
	return &http.Client{Jar: jar, CheckRedirect: func(*http.Request, []*http.Request) error { return http.ErrUseLastResponse }}
}

// Get fetches a page as the owner of device and returns its status and text.
func (s *Site) Get(t testing.TB, device, path string) (int, string) {
	t.Helper()
	return answer(t)(s.Client(t, device).Get(s.URL + path))
}

// Post sends a form as the owner of device, from a page of the site, and returns the status, the text
// and where it leads.
func (s *Site) Post(t testing.TB, device, path string, form url.Values) (status int, text, to string) {
	t.Helper()
	r, err := http.NewRequestWithContext(t.Context(), http.MethodPost, s.URL+path, strings.NewReader(form.Encode()))
	if err != nil {
		t.Fatal(err)
	}
	r.Header.Set("Content-Type", "application/x-www-form-urlencoded")
	r.Header.Set("Sec-Fetch-Site", "same-origin")
	a, err := s.Client(t, device).Do(r)
	if err == nil {
		to = a.Header.Get("Location")
	}
	status, text = answer(t)(a, err)
	return status, text, to
}

func answer(t testing.TB) func(*http.Response, error) (int, string) {
	return func(a *http.Response, err error) (int, string) {
		t.Helper()
		if err != nil {
			t.Fatal(err)
		}
		defer a.Body.Close()
		b, err := io.ReadAll(a.Body)
		if err != nil {
			t.Fatal(err)
		}
		return a.StatusCode, string(b)
	}
}

// Waiting holds jobs that nobody does.
type Waiting struct {
	mu   sync.Mutex
	jobs []studio.Job
}

// Enqueue implements studio.Jobs.
func (w *Waiting) Enqueue(_ context.Context, _ studio.Records, job studio.Job) error {
	w.mu.Lock()
	defer w.mu.Unlock()
	w.jobs = append(w.jobs, job)
	return nil
}

// Take empties the list.
func (w *Waiting) Take() []studio.Job {
	w.mu.Lock()
	defer w.mu.Unlock()
	jobs := w.jobs
	w.jobs = nil
	return jobs
}
