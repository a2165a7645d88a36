package record_test

import (
	"bytes"
	"fmt"
	"io"
	"net/http"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"testing"

	"antiphon/internal/media"
	"antiphon/internal/notation"
	"antiphon/internal/sound"
	"antiphon/internal/studio"
	"antiphon/internal/web/arrive"
	"antiphon/internal/web/page"
	"antiphon/internal/web/record"
	"antiphon/internal/web/sheet"
	"antiphon/internal/web/webtest"
	"antiphon/internal/web/webtest/chromium"
)

// site is a studio with the recorder, what it sends to, and the pages that it leads to in the least form.
type site struct {
	*webtest.Site
	in         *arrive.Arrivals
	halves     string // folder of half recordings
	nils, runa studio.Student
	round      studio.AssignmentID // asked of both
}

func open(t *testing.T, o record.Options, more ...func(*http.ServeMux)) *site {
	t.Helper()
	e := webtest.Engraver(t)
	st := webtest.Open(t)
	halves := t.TempDir()
	in, err := arrive.New(st.Frame, arrive.Options{Dir: halves})
	if err != nil {
		t.Fatal(err)
	}
	o.Sheets = sheet.New(e, st.Frame)
	pages, err := st.Frame.Pages(os.DirFS("testdata"))
	if err != nil {
		t.Fatal(err)
	}
	s := &site{in: in, halves: halves, nils: st.Lindqvist.Students[0], runa: st.Lindqvist.Students[1]}
	s.Site = st.Serve(t, slices.Concat(more, []func(*http.ServeMux){o.Sheets.Routes, in.Routes, func(mux *http.ServeMux) {
		if err := record.Routes(mux, st.Frame, o); err != nil {
			t.Fatal(err)
		}
		mux.Handle("GET /week", st.Frame.Family(func(w http.ResponseWriter, r *http.Request) error {
			what, err := record.Pending(studio.StudentID(r.URL.Query().Get("child")), nil)
			if err != nil {
				return err
			}
			return pages.Render(w, r, "week.html", page.View{Title: "Week", Here: "week", Data: what})
		}))
		mux.Handle("GET /week/sw.js", st.Frame.Open(worker(st.Frame)))
		mux.Handle("GET /week/takes/{take}", st.Frame.Family(thanks))
	}})...)
	s.ask(t)
	return s
}

// worker is the service worker of the family's pages.
func worker(f *page.Frame) page.Handler {
	return func(w http.ResponseWriter, r *http.Request) error {
		b, err := f.Asset("sw.worker.js")
		w.Header().Set("Content-Type", "text/javascript")
		w.Header().Set("Service-Worker-Allowed", "/week")
		if err == nil {
			_, err = w.Write(b)
		}
		return err
	}
}

// thanks is where the recorder leads to.
func thanks(w http.ResponseWriter, r *http.Request) error {
	_, err := io.WriteString(w, "<!DOCTYPE html><html lang=en><link rel=icon href=data:,><title>Here</title><main><h1>Thank you.</h1></main>")
	return err
}

// ask sends both children a lesson with a round to play.
func (s *site) ask(t *testing.T) {
	t.Helper()
	round, err := s.Desk.AddWork(t.Context(), s.Teacher, studio.Work{Title: "Frère Jacques", Rights: "traditional", Score: string(score(t))})
	if err != nil {
		t.Fatal(err)
	}
	for _, c := range []studio.Student{s.nils, s.runa} {
		l, err := s.Desk.SaveDraft(t.Context(), s.Teacher, studio.Lesson{Student: c.ID, Date: "2026-11-03",
			Assignments: []studio.Assignment{{Work: round.ID, FromBar: "1", ToBar: "4", Ask: studio.AskTogether, Second: studio.Second{Kind: studio.Round, AfterBars: 2, Who: studio.ByTool},
				Do: "First sing it, then play it. Stop after each bar and breathe.", Watch: "The thumb of the left hand stays behind the neck.",
				Goals: studio.Goals{TempoBpm: 72, Dynamics: "the second time softer, like an echo", DoneWhen: "it goes three times in a row"}}}})
		if err != nil {
			t.Fatal(err)
		}
		if err := s.Desk.SendLesson(t.Context(), s.Teacher, l.ID, l.Version); err != nil {
			t.Fatal(err)
		}
		l, err = s.Desk.Lesson(t.Context(), s.Teacher, l.ID)
		if err != nil {
			t.Fatal(err)
		}
		if c.ID == s.nils.ID {
			s.round = l.Assignments[0].ID
		}
	}
}

func score(t testing.TB) []byte {
	t.Helper()
	xml, err := os.ReadFile("../../engrave/testdata/round.musicxml")
	if err != nil {
		t.Fatal(err)
	}
	return xml
}

// guitar is a rendered take of the round on our own strings, as a WAV file of at least half a minute.
func guitar(t testing.TB) string {
	t.Helper()
	s, _, err := notation.Read(bytes.NewReader(score(t)), "", notation.Limits{})
	if err != nil {
		t.Fatal(err)
	}
	a, err := sound.Render(t.Context(), s, sound.Options{Ladder: []float64{72, 72, 72}, Guitar: sound.Strings})
	if err != nil {
		t.Fatal(err)
	}
	if a.Seconds() < 30 {
		t.Fatalf("the take lasts only %.0f s", a.Seconds())
	}
	file := filepath.Join(t.TempDir(), "take.wav")
	f, err := os.Create(file)
	if err != nil {
		t.Fatal(err)
	}
	if err := a.Write(t.Context(), f, sound.WAV); err != nil {
		t.Fatal(err)
	}
	if err := f.Close(); err != nil {
		t.Fatal(err)
	}
	return file
}

func (s *site) address() string {
	return record.Card{Student: s.nils.ID, Assignment: s.round}.Address()
}

// watch notes in the page which microphone is opened, and when a recorder began.
const watch = `(() => {
	const media = navigator.mediaDevices, get = media.getUserMedia.bind(media)
	media.getUserMedia = async (c) => (window.microphone = await get(c))
	const start = MediaRecorder.prototype.start
	MediaRecorder.prototype.start = function (...a) { this.addEventListener("start", () => (window.began = performance.now())); return start.apply(this, a) }
	return true })()`

// record opens the microphone and records for so many seconds at least, and does not stop.
func (s *site) record(t testing.TB, b *chromium.Browser, seconds float64) {
	t.Helper()
	chromium.Eval[bool](b, watch)
	b.Click("[data-do=open]")
	b.Wait(`!document.querySelector("[data-live]").hidden`)
	b.Click("[data-do=go]")
	b.Wait(fmt.Sprintf(`performance.now() - window.began > %f`, 1000*seconds))
}

// arrived waits until the page leads to a take, and gives what the studio has of it, in a file.
func (s *site) arrived(t testing.TB, b *chromium.Browser) (studio.Take, string) {
	t.Helper()
	b.Wait(`location.pathname.startsWith("/week/takes/")`)
	id := studio.TakeID(strings.TrimPrefix(chromium.Eval[string](b, "location.pathname"), "/week/takes/"))
	return s.kept(t, id)
}

func (s *site) kept(t testing.TB, id studio.TakeID) (studio.Take, string) {
	t.Helper()
	ear := studio.Viewer{Studio: s.Teacher.Studio, Role: studio.Ear}
	all, err := s.Desk.TakesBy(t.Context(), s.Teacher, studio.TakeQuery{})
	if err != nil {
		t.Fatal(err)
	}
	var take studio.Take
	for _, x := range all {
		if x.ID == id {
			take = x
		}
	}
	return take, fileOf(t, s.Desk, ear, id)
}

// fileOf is the only file of a take, as it arrived.
func fileOf(t testing.TB, d *studio.Desk, ear studio.Viewer, id studio.TakeID) string {
	t.Helper()
	files, err := d.Files(t.Context(), ear, id)
	if err != nil || len(files) != 1 {
		t.Fatal(files, err)
	}
	f, err := d.Bytes(t.Context(), ear, files[0])
	if err != nil {
		t.Fatal(err)
	}
	defer f.Close()
	whole, err := io.ReadAll(f)
	if err != nil {
		t.Fatal(err)
	}
	file := filepath.Join(t.TempDir(), "arrived")
	if err := os.WriteFile(file, whole, 0o600); err != nil {
		t.Fatal(err)
	}
	return file
}

// decoded is the sound of a file as the ear gets it.
func decoded(t testing.TB, file string) media.PCM {
	t.Helper()
	pcm, _, err := media.Decode(t.Context(), file, media.Options{})
	if err != nil {
		t.Fatal(err)
	}
	return pcm
}

var looks = []struct {
	name   string
	width  int64
	scheme string
}{{"390", 390, "light"}, {"390-dark", 390, "dark"}, {"1440", 1440, "light"}, {"1440-dark", 1440, "dark"}}

// look shows a page at the width of a phone and of a desk, in light and dark, to axe-core.
func look(t testing.TB, b *chromium.Browser, name string) {
	t.Helper()
	for _, l := range looks {
		b.Look(l.width, l.scheme)
		for _, fault := range b.Faults() {
			t.Errorf("%s, %d px, %s: %s", name, l.width, l.scheme, fault)
		}
		b.Shoot(name + "-" + l.name)
	}
	b.Look(390, "light")
}
