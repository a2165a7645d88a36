package week_test

import (
	"bytes"
	"encoding/json"
	"html"
	"io"
	"net/http"
	"net/url"
	"regexp"
	"strings"
	"testing"
	"time"

	"antiphon/internal/music"
	"antiphon/internal/notation"
	"antiphon/internal/studio"
	"antiphon/internal/web/desk"
	"antiphon/internal/web/lesson"
	"antiphon/internal/web/practice"
	"antiphon/internal/web/record"
	"antiphon/internal/web/sheet"
	"antiphon/internal/web/webtest"
	"antiphon/internal/web/webtest/chromium"
	"antiphon/internal/web/week"
)

// mice is the beginning of "Three Blind Mice" (England, printed in 1609), each note with the same finger.
func mice(t testing.TB, finger string) string {
	t.Helper()
	s, _, err := notation.Read(strings.NewReader("X:1\nT:Three Blind Mice\nC:Traditional\nM:4/4\nL:1/4\nQ:1/4=60\nK:C\nE2 D2|C4|\n"), "mice.abc", notation.Limits{})
	if err != nil {
		t.Fatal(err)
	}
	for i := range s.Parts[0].Notes {
		s.Parts[0].Notes[i].Fingers, s.Parts[0].Notes[i].String = []music.Fingering{{Text: finger}}, 2
	}
	var b bytes.Buffer
	if err := notation.WriteMusicXML(&b, s); err != nil {
		t.Fatal(err)
	}
	return b.String()
}

// fingered is a studio in which the two children of one family play the same tune each with their own fingers.
type fingered struct {
	*webtest.Site
	t    *testing.T
	tune studio.Work
}

func openFingered(t *testing.T) *fingered {
	t.Helper()
	s, e := webtest.Open(t), webtest.Engraver(t)
	sheets := sheet.New(e, s.Frame)
	p, err := practice.New(s.Frame, practice.Options{Sheets: sheets, CacheDir: t.TempDir()})
	if err != nil {
		t.Fatal(err)
	}
	t.Cleanup(p.End)
	f := &fingered{t: t}
	f.Site = s.Serve(t, sheets.Routes, p.Routes, func(mux *http.ServeMux) {
		for _, err := range []error{
			week.Routes(mux, s.Frame, sheets, week.Options{Sounds: true}),
			record.Routes(mux, s.Frame, record.Options{Sheets: sheets}),
			lesson.Routes(mux, s.Frame, lesson.Options{Sheets: sheets, Engraver: e}),
			desk.Routes(mux, s.Frame, desk.Options{}),
		} {
			if err != nil {
				t.Fatal(err)
			}
		}
	})
	if f.tune, err = s.Desk.AddWork(t.Context(), s.Teacher, studio.Work{Title: "Three Blind Mice", Rights: "traditional", Score: mice(t, "1")}); err != nil {
		t.Fatal(err)
	}
	return f
}

func (f *fingered) keeps(by studio.Student, finger string, try bool) studio.FingeringID {
	f.t.Helper()
	k, err := f.Desk.KeepFingering(f.t.Context(), f.Teacher, studio.OwnFingering{Student: by.ID, Work: f.tune.ID, Score: mice(f.t, finger), Why: "of " + by.Name}, try)
	if err != nil {
		f.t.Fatal(err)
	}
	return k.ID
}

func (f *fingered) sends(to studio.Student, as ...studio.Assignment) studio.Lesson {
	f.t.Helper()
	ctx := f.t.Context()
	l, err := f.Desk.SaveDraft(ctx, f.Teacher, studio.Lesson{Student: to.ID, Date: f.Now().Format(time.DateOnly), Words: "For " + to.Name, Assignments: as})
	if err == nil {
		err = f.Desk.SendLesson(ctx, f.Teacher, l.ID, l.Version)
	}
	if err != nil {
		f.t.Fatal(err)
	}
	return l
}

// music fetches all music that stands in a page, as its script does, and gives for each the fingers that it has.
func (f *fingered) music(device, page string) (fingers []string) {
	f.t.Helper()
	status, text := f.Get(f.t, device, page)
	if status != http.StatusOK {
		f.t.Fatalf("%s: %d %s", page, status, webtest.Seen(text))
	}
	for _, m := range regexp.MustCompile(`data-source="([^"]*)"`).FindAllStringSubmatch(text, -1) {
		status, had := f.sheet(device, html.UnescapeString(m[1]))
		if status != http.StatusOK {
			f.t.Fatalf("%s in %s: %d", m[1], page, status)
		}
		fingers = append(fingers, had)
	}
	return fingers
}

// sheet is the music at an address: the finger of its notes, each once.
func (f *fingered) sheet(device, address string) (status int, finger string) {
	f.t.Helper()
	r, err := http.NewRequestWithContext(f.t.Context(), http.MethodGet, f.URL+address, nil)
	if err != nil {
		f.t.Fatal(err)
	}
	r.Header.Set("Accept", "application/json")
	a, err := f.Client(f.t, device).Do(r)
	if err != nil {
		f.t.Fatal(err)
	}
	defer a.Body.Close()
	b, err := io.ReadAll(a.Body)
	if err != nil {
		f.t.Fatal(err)
	}
	if a.StatusCode != http.StatusOK {
		return a.StatusCode, ""
	}
	var s sheet.Sheet
	if err := json.Unmarshal(b, &s); err != nil {
		f.t.Fatal(err)
	}
	for _, bar := range s.Bars {
		for _, m := range regexp.MustCompile(`finger (\d)`).FindAllStringSubmatch(bar.Say, -1) {
			if !strings.Contains(finger, m[1]) {
				finger += m[1]
			}
		}
	}
	return a.StatusCode, finger
}

func (f *fingered) is(what string, got []string, want ...string) {
	f.t.Helper()
	if strings.Join(got, " ") != strings.Join(want, " ") {
		f.t.Errorf("%s: fingers %q, want %q", what, got, want)
	}
}

// TestOwnFingers: the same tune has other fingers for two children of one family, wherever it stands, and nobody
// else's page shows either's.
func TestOwnFingers(t *testing.T) {
	f := openFingered(t)
	nils, runa, ada := f.Lindqvist.Students[0], f.Lindqvist.Students[1], f.Okafor.Students[0]
	f.keeps(nils, "2", false)
	f.keeps(runa, "3", false)
	home, other := f.Lindqvist.Device, f.Okafor.Device
	ask := studio.Assignment{Work: f.tune.ID, FromBar: "1", ToBar: "2", Do: "Calmly.", Goals: studio.Goals{TempoBpm: 60}}
	names := ask
	names.Ask = studio.AskNames
	for s, want := range map[*studio.Student]string{&nils: "2", &runa: "3", &ada: "1"} {
		device := home
		if s.ID == ada.ID {
			device = other
		}
		l := f.sends(*s, ask, names)
		of := url.Values{"child": {string(s.ID)}, "of": {string(l.Assignments[0].ID)}}.Encode()
		f.is(s.Name+"’s week", f.music(device, "/week?child="+string(s.ID)), want, want, want) // the names stand under the same notes
		f.is(s.Name+" practises", f.music(device, "/week/practice?"+of), want)
		f.is(s.Name+" records", f.music(device, "/week/record?"+of), want)
		f.is(s.Name+"’s lesson", f.music(device, "/lessons/"+string(l.ID)), want, want)
		f.is(s.Name+"’s lesson, to the teacher", f.music(f.TeacherDevice, "/lessons/"+string(l.ID)), want, want)
		draft, err := f.Desk.SaveDraft(t.Context(), f.Teacher, studio.Lesson{Student: s.ID, Date: "2026-11-10", Assignments: []studio.Assignment{ask}})
		if err != nil {
			t.Fatal(err)
		}
		at := "/lessons/" + string(draft.ID)
		f.is("the preview for "+s.Name, f.music(f.TeacherDevice, at+"/preview"), want)
		card := at + "/music?" + url.Values{"work": {string(f.tune.ID)}, "card": {"1"}, "from": {"1"}, "to": {"2"}}.Encode()
		f.is("the card for "+s.Name, f.music(f.TeacherDevice, card), want)
		_, text := f.Get(t, f.TeacherDevice, card)
		says := []string{"Choose other fingers for " + s.Name, "lesson=" + string(draft.ID), "from=1"}
		if want == "1" {
			says = append(says, "With the fingers that everybody has.")
		} else {
			says = append(says, s.Name+"’s own fingers, since today: of "+s.Name+".")
		}
		webtest.Has(t, html.UnescapeString(text), says...)
	}
	// Whoever asks by hand gets the own child's, and of another family's child nothing.
	at := "/sheets/" + string(f.tune.ID)
	for _, c := range []struct {
		device, query, want string
		status              int
	}{{home, "?for=" + string(nils.ID), "2", 200}, {home, "?for=" + string(runa.ID), "3", 200}, {home, "", "1", 200}, {other, "?for=" + string(nils.ID), "", 404},
		{other, "?for=" + string(runa.ID), "", 404}, {f.TeacherDevice, "?for=" + string(runa.ID), "3", 200}, {other, "?for=" + string(ada.ID), "1", 200}} {
		if status, had := f.sheet(c.device, at+c.query); status != c.status || had != c.want {
			t.Errorf("%s: %d %q, want %d %q", c.query, status, had, c.status, c.want)
		}
	}
}

// TestTwoWaysToTry: each way stands with its own notes; what the child chose is told in words, and once the teacher
// says so it is the child's own, on the page of the same lesson too.
func TestTwoWaysToTry(t *testing.T) {
	f := openFingered(t)
	nils, runa := f.Lindqvist.Students[0], f.Lindqvist.Students[1]
	home := f.Lindqvist.Device
	four := f.keeps(nils, "4", true)
	ask := studio.Assignment{Ask: studio.AskChoose, Work: f.tune.ID, FromBar: "1", ToBar: "1", Do: "Three times each way.", Ways: [2]studio.Way{{Say: "as before"}, {Say: "with the little finger", Own: four}}}
	l := f.sends(nils, ask)
	f.sends(runa, studio.Assignment{Work: f.tune.ID, Do: "Play."})
	at := "/week?child=" + string(nils.ID)
	f.is("two ways", f.music(home, at), "1", "4")
	f.is("on the lesson's page", f.music(home, "/lessons/"+string(l.ID)), "1", "4")
	f.is("the sister's", f.music(home, "/week?child="+string(runa.ID)), "1")
	line := chromium.LineTo(t, f.URL)
	b := chromium.Open(t, line.URL)
	b.Cookie("antiphon", home)
	b.Look(390, "light")
	b.Go(at)
	b.Wait(`document.querySelectorAll("fieldset.ways .sheet svg").length === 2`)
	look(t, b, "two-ways")
	b.Click(`fieldset.ways input[value="2"]`)
	b.Wait(`document.querySelector("[data-kept]").textContent !== ""`)
	// Without a network each child has the own fingers still, at the address of the same work.
	shown := `[...document.querySelectorAll(".items .sheet svg")].map((s) => [...s.querySelectorAll("text")].map((t) => t.textContent).filter((x) => /^[1-4]$/.test(x)).join("")).join(" ")`
	b.Wait(`document.querySelector("footer [data-kept]").checkVisibility()`)
	line.Cut(b)
	for child, want := range map[*studio.Student]string{&nils: "112 442", &runa: "1112"} {
		b.Go("/week?child=" + string(child.ID))
		b.Wait(`document.querySelector(".items .sheet svg")`)
		b.Awake()
		if got := chromium.Eval[string](b, shown); got != want { // the fingers of each note, and the number of their string
			t.Errorf("%s without a network: %s, want %s", child.Name, got, want)
		}
	}
	line.Mend(b)
	sister := "/sheets/" + string(f.tune.ID) + "?for=" + string(runa.ID) + "&own=" + string(four)
	if status, _ := f.sheet(home, sister); status != http.StatusNotFound {
		t.Errorf("the brother's way as the sister's: %d", status)
	}
	f.Wait(24 * time.Hour)
	if err := f.Desk.Tap(t.Context(), f.Lindqvist.Coach, []studio.Tap{{ID: "chose-by-phone", Student: nils.ID, Assignment: l.Assignments[0].ID, Kind: studio.TapChose, Text: "2", At: f.Now()}}); err != nil {
		t.Fatal(err)
	}
	webtest.Has(t, f.Page(t, "/desk/at-home"), "chose “with the little finger”", "Use these fingers for Nils from now on", "/fingerings/"+string(four))
	// The next lesson is begun with the proposal: its task offers to make them the child's own.
	proposed, _, err := f.Desk.ProposeLesson(t.Context(), f.Teacher, nils.ID)
	if err == nil {
		proposed, err = f.Desk.SaveDraft(t.Context(), f.Teacher, proposed)
	}
	if err != nil {
		t.Fatal(err)
	}
	draft := "/lessons/" + string(proposed.ID)
	text := f.Page(t, draft)
	webtest.Has(t, text, "“with the little finger” was chosen at home; Nils’s notes still have the fingers of before.", "Use these fingers for Nils from now on", `value="hold `+string(four)+`"`, "as everybody plays it")
	b.Forget()
	b.Cookie("antiphon", f.TeacherDevice)
	b.Go(draft + "?open=1")
	b.Wait(`document.querySelector(".music .sheet svg") && document.querySelector(".fingers")`)
	look(t, b, "card-fingers")
	b.Expect("/live") // what has just come is told by another package
	form := formOf(t, text)
	form.Set("act", "hold "+string(four))
	form.Set("wayown1.1", string(studio.AsEverybody))
	form.Set("wayown2.1", "another’s")
	if to := f.Sends(t, draft, form); !strings.HasPrefix(to, draft) {
		t.Error("leads to " + to)
	}
	if kept, err := f.Desk.Lesson(t.Context(), f.Teacher, proposed.ID); err != nil || kept.Assignments[0].Ways[0].Own != studio.AsEverybody || kept.Assignments[0].Ways[1].Own != "" {
		t.Errorf("the ways of the form: %+v, %v", kept.Assignments[0].Ways, err)
	}
	webtest.HasNot(t, f.Page(t, draft), "Use these fingers for Nils")
	webtest.HasNot(t, f.Page(t, "/desk/at-home"), "Use these fingers for Nils")
	webtest.Has(t, f.Page(t, "/students/"+string(nils.ID)), `fingering?for=`+string(nils.ID), "Own fingers")
	webtest.HasNot(t, f.Page(t, "/students/"+string(runa.ID)), "Own fingers")
	f.is("his practice from now on", f.music(home, "/week/practice?"+url.Values{"child": {string(nils.ID)}, "of": {string(l.Assignments[0].ID)}}.Encode()), "4")
	f.is("the sister's still", f.music(home, "/week?child="+string(runa.ID)), "1")
	f.is("the two ways stay what they were", f.music(home, at), "1", "4")
	f.is("and on the lesson's page", f.music(home, "/lessons/"+string(l.ID)), "1", "4")
}

// TestNewFingersReachThePhone: a week that lies on the phone is kept anew where only the fingers in its notes have changed.
func TestNewFingersReachThePhone(t *testing.T) {
	f := openFingered(t)
	nils := f.Lindqvist.Students[0]
	f.sends(nils, studio.Assignment{Work: f.tune.ID, Do: "Calmly."})
	line := chromium.LineTo(t, f.URL)
	b := chromium.Open(t, line.URL)
	b.Cookie("antiphon", f.Lindqvist.Device)
	b.Look(390, "light")
	at := "/week?child=" + string(nils.ID)
	b.Go(at)
	b.Wait(isKept)
	b.Wait("(" + onShelf("finger 1") + ")")
	f.keeps(nils, "4", false)
	b.Go(at)
	b.Wait("(" + onShelf("finger 4") + ")")
	b.Wait(isKept)
	b.Expect("/live") // what has just come is told by another package
	line.Cut(b)
	b.Go(at)
	b.Wait(`document.querySelector(".items .sheet svg")`)
	if words := chromium.Eval[string](b, `document.querySelector(".items .sheet").textContent`); !strings.Contains(words, "finger 4") || strings.Contains(words, "finger 1") {
		t.Errorf("without a network: %s", words)
	}
}

// formOf reads the form of a draft as a browser without a script would send it.
func formOf(t *testing.T, text string) url.Values {
	t.Helper()
	q := url.Values{}
	for _, m := range regexp.MustCompile(`<input[^>]*name="([^"]+)"[^>]*value="([^"]*)"`).FindAllStringSubmatch(text, -1) {
		q.Add(m[1], html.UnescapeString(m[2]))
	}
	for _, m := range regexp.MustCompile(`(?s)<textarea[^>]*name="([^"]+)"[^>]*>(.*?)</textarea>`).FindAllStringSubmatch(text, -1) {
		q.Add(m[1], html.UnescapeString(m[2]))
	}
	for _, m := range regexp.MustCompile(`(?s)<select[^>]*name="([^"]+)"[^>]*>(.*?)</select>`).FindAllStringSubmatch(text, -1) {
		if c := regexp.MustCompile(`<option value="([^"]*)" selected`).FindStringSubmatch(m[2]); c != nil {
			q.Add(m[1], html.UnescapeString(c[1]))
		}
	}
	return q
}
