package week_test

import (
	"fmt"
	"io"
	"net/http"
	"strings"
	"testing"
	"time"

	"antiphon/internal/studio"
	"antiphon/internal/web/sheet"
	"antiphon/internal/web/webtest"
	"antiphon/internal/web/webtest/chromium"
	"antiphon/internal/web/week"
)

// BenchmarkWeek asks for the family's pages after three years: two children, a lesson a week with six works
// of 100 KB each, four takes a week.
func BenchmarkWeek(b *testing.B) {
	s := webtest.Open(b)
	site := s.Serve(b, func(mux *http.ServeMux) {
		if err := week.Routes(mux, s.Frame, sheet.New(nil, s.Frame), week.Options{Sounds: true}); err != nil {
			b.Fatal(err)
		}
	})
	var works []studio.Work
	for i := range 12 {
		w, err := s.Desk.AddWork(b.Context(), s.Teacher, studio.Work{Title: fmt.Sprint("Study ", i), Score: tune + "<!--" + strings.Repeat("x", 100_000) + "-->"})
		if err != nil {
			b.Fatal(err)
		}
		works = append(works, w)
	}
	for i := range 150 {
		for _, c := range s.Lindqvist.Students {
			l := studio.Lesson{Student: c.ID, Date: s.Now().Format("2006-01-02")}
			for j := range 6 {
				l.Assignments = append(l.Assignments, studio.Assignment{Work: works[(i+j)%len(works)].ID, Do: "Slowly.", Goals: studio.Goals{TempoBpm: 60}})
			}
			l, err := s.Desk.SaveDraft(b.Context(), s.Teacher, l)
			if err != nil {
				b.Fatal(err)
			}
			if err := s.Desk.SendLesson(b.Context(), s.Teacher, l.ID, l.Version); err != nil {
				b.Fatal(err)
			}
			for j := range 2 {
				t, err := s.Desk.Announce(b.Context(), s.Lindqvist.Coach, studio.Announcement{Student: c.ID, Assignment: l.Assignments[j].ID})
				if err != nil {
					b.Fatal(err)
				}
				if _, err := s.Desk.Receive(b.Context(), s.Lindqvist.Coach, t.ID, "audio/mp4", strings.NewReader(fmt.Sprint(i, j, c.ID))); err != nil {
					b.Fatal(err)
				}
			}
		}
		s.Wait(7 * 24 * time.Hour)
	}
	client := site.Client(b, s.Lindqvist.Device)
	for _, path := range []string{"/week", "/week/data", "/week/send?child=" + string(s.Lindqvist.Students[0].ID), "/week/sent?child=" + string(s.Lindqvist.Students[0].ID)} {
		name, _, _ := strings.Cut(path, "?")
		b.Run(name[1:], func(b *testing.B) {
			for b.Loop() {
				a, err := client.Get(site.URL + path)
				if err != nil {
					b.Fatal(err)
				}
				n, err := io.Copy(io.Discard, a.Body)
				if a.Body.Close(); err != nil || a.StatusCode != 200 {
					b.Fatal(a.StatusCode, err)
				}
				b.ReportMetric(float64(n)/1000, "kB")
			}
			b.ReportMetric(b.Elapsed().Seconds()*1000/float64(b.N), "ms/page")
		})
	}
}

// BenchmarkOpen opens a week with ten tasks: on a phone whose processor is four times slower, the first time and again, and
// without a network on a phone as it is. ms until what can be tapped can be tapped, and until the first music is there.
func BenchmarkOpen(b *testing.B) {
	s, nils, _ := whole(b)
	everything(b, s, nils)
	l := chromium.LineTo(b, s.URL)
	w := chromium.Open(b, l.URL)
	w.Cookie("antiphon", s.Lindqvist.Device)
	w.Look(390, "light")
	w.Slow(4)
	at := "/week?child=" + string(nils.ID)
	open := func(b *testing.B, name string) {
		b.Run(name, func(b *testing.B) {
			w.On(b)
			var tap, music float64
			for b.Loop() {
				w.Go(at)
				tap += chromium.Eval[float64](w, "performance.now()")
				w.Wait(`document.querySelector(".sheet svg")`)
				music += chromium.Eval[float64](w, "performance.now()")
			}
			b.ReportMetric(tap/float64(b.N), "ms-to-tap")
			b.ReportMetric(music/float64(b.N), "ms-to-music")
		})
	}
	open(b, "first")
	w.Wait(`document.querySelector("footer [data-kept]").checkVisibility()`)
	open(b, "again")
	l.Cut(w)
	open(b, "offline-slow")
	w.Slow(1)
	open(b, "offline")
	w.On(b)
	w.Expect("ERR_")
}
