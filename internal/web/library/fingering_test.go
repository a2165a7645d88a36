package library_test

import (
	"html"
	"net/url"
	"regexp"
	"strings"
	"testing"
	"time"

	"antiphon/internal/guitar"
	"antiphon/internal/notation"
	"antiphon/internal/playable"
	"antiphon/internal/studio"
	"antiphon/internal/web/library"
)

// fingeredPage asks for fingers until they are chosen.
func (s *site) fingeredPage(w studio.Work, q string) string {
	s.t.Helper()
	for range 600 {
		text := s.page("/library/works/" + string(w.ID) + "/fingering?ask=yes&" + q)
		if !strings.Contains(text, `http-equiv="refresh"`) {
			return text
		}
		time.Sleep(20 * time.Millisecond) // as a browser would, which looks again
	}
	s.t.Fatal("the fingers are never chosen")
	return ""
}

// forms reads the hidden fields of each form that keeps a way.
func keepForms(t testing.TB, text string) (out []url.Values) {
	t.Helper()
	for _, f := range regexp.MustCompile(`(?s)<form method="post" action="[^"]*/fingering".*?</form>`).FindAllString(text, -1) {
		q := url.Values{}
		for _, m := range regexp.MustCompile(`<input type="hidden" name="([^"]*)" value="([^"]*)">`).FindAllStringSubmatch(f, -1) {
			q.Add(m[1], html.UnescapeString(m[2]))
		}
		out = append(out, q)
	}
	return out
}

// TestFinger: the ways are offered side by side; the one that is used is in the score, and hands can
// play it (package playable, which shares no code with the one that chose).
func TestFinger(t *testing.T) {
	s := open(t)
	w := s.added(ladder)
	text := s.fingeredPage(w, "")
	has(t, text, "First way", "Another way (1), in bar", "Use this one", "ringed is what changes", "One note otherwise")
	forms := keepForms(t, text)
	if len(forms) < 2 {
		t.Fatalf("%d ways", len(forms))
	}
	at := "/library/works/" + string(w.ID)
	for range 2 { // the second of two equal posts changes nothing
		if status, to := s.post(at+"/fingering", forms[1]); status != 303 || to != at+"?saved=fingering" {
			t.Fatal(status, to)
		}
	}
	kept, err := s.Desk.Work(t.Context(), s.Teacher, w.ID)
	if err != nil {
		t.Fatal(err)
	}
	score, _, err := notation.Read(strings.NewReader(kept.Score), "", notation.Limits{})
	if err != nil {
		t.Fatal(err)
	}
	for _, n := range score.Sounding() {
		if n.String == 0 || n.Fret < 0 || n.Finger == "" || n.Pluck == "" {
			t.Errorf("%s in bar %s is not marked: %+v", n.ID, n.Bar, n)
		}
	}
	if f := playable.Only(playable.Check(score, guitar.Instrument{}, guitar.Hand{}), playable.Impossible); len(f) > 0 {
		t.Errorf("no hand can play it: %v", f)
	}
	has(t, s.page(at), "The hands must be able to do")
	// A page that shows the score as it was before is told so, and nothing is overwritten.
	if status, say := s.post(at+"/fingering", forms[0]); status != 409 || !strings.Contains(say, "was changed in the meantime") {
		t.Errorf("an old page: %d %s", status, say)
	}
}

// TestFingerWaits: a page that may not wait is answered at once, and looks again.
func TestFingerWaits(t *testing.T) {
	s := openWith(t, library.Options{Patience: 1})
	w := s.added(long(60))
	has(t, s.page("/library/works/"+string(w.ID)+"/fingering?ask=yes&no-barre=yes"), "The fingers are being chosen.", `http-equiv="refresh"`, "no-barre=yes")
	has(t, s.fingeredPage(w, "no-barre=yes"), "First way", "Use this one")
}

func TestFingerBeside(t *testing.T) {
	s := open(t)
	w := s.added(ladder)
	q := keepForms(t, s.fingeredPage(w, "no-fourth=yes"))[0]
	if q.Get("no-fourth") == "" {
		t.Error("the choices are not in the form")
	}
	q.Set("beside", "yes")
	for range 2 {
		if status, to := s.post("/library/works/"+string(w.ID)+"/fingering", q); status != 303 || strings.Contains(to, string(w.ID)) {
			t.Fatal(status, to)
		}
	}
	if n := len(s.works()); n != 2 {
		t.Errorf("%d works", n)
	}
	if same, err := s.Desk.Work(t.Context(), s.Teacher, w.ID); err != nil || same != w {
		t.Errorf("the old one was changed (%v)", err)
	}
}

// TestFingerSkills: what a child has not learnt yet is not asked for.
func TestFingerSkills(t *testing.T) {
	s := open(t)
	w := s.added(ladder)
	for ask, limit := range map[string]playable.Limit{"no-fourth=yes": playable.NoFourthFinger, "no-barre=yes": playable.NoBarre, "first=yes": playable.FirstPosition} {
		q := keepForms(t, s.fingeredPage(w, ask+"&to=2"))[0]
		q.Set("beside", "yes")
		_, to := s.post("/library/works/"+string(w.ID)+"/fingering", q)
		id, _, _ := strings.Cut(strings.TrimPrefix(to, "/library/works/"), "?")
		kept, err := s.Desk.Work(t.Context(), s.Teacher, studio.WorkID(id))
		if err != nil {
			t.Fatal(ask, to, err)
		}
		score, _, err := notation.Read(strings.NewReader(kept.Score), "", notation.Limits{})
		if err != nil {
			t.Fatal(err)
		}
		for _, f := range playable.Check(score, guitar.Instrument{}, guitar.Hand{}, limit) {
			if f.Kind == playable.BrokenLimit {
				t.Errorf("%s: %s", ask, f.Text)
			}
		}
		for _, n := range score.Sounding() {
			if inside := n.Bar == "1" || n.Bar == "2"; inside != (n.Finger != "") {
				t.Errorf("%s: bars 1 to 2 were asked for; %s in bar %s has finger %q", ask, n.ID, n.Bar, n.Finger)
			}
		}
	}
}

// TestFingerFixed: a note that was chosen by hand stays where it was put.
func TestFingerFixed(t *testing.T) {
	s := open(t)
	w := s.added(ladder)
	fix := regexp.MustCompile(`href="\?([^"]*fix=(n\d+)%3A(\d)%2F(\d)[^"]*)"`).FindStringSubmatch(s.fingeredPage(w, "no-barre=yes&bar=2"))
	if fix == nil {
		t.Fatal("no note can be taken otherwise")
	}
	text := s.fingeredPage(w, html.UnescapeString(fix[1]))
	q := keepForms(t, text)[0]
	if q.Get("fix") != fix[2]+":"+fix[3]+"/"+fix[4] || q.Get("no-barre") == "" {
		t.Errorf("the form has %v", q)
	}
	s.post("/library/works/"+string(w.ID)+"/fingering", q)
	kept, err := s.Desk.Work(t.Context(), s.Teacher, w.ID)
	if err != nil {
		t.Fatal(err)
	}
	score, _, err := notation.Read(strings.NewReader(kept.Score), "", notation.Limits{})
	if err != nil {
		t.Fatal(err)
	}
	for _, n := range score.Sounding() {
		if n.ID == fix[2] && (string(rune('0'+n.String)) != fix[3] || n.Finger != fix[4]) {
			t.Errorf("%s is on string %d with finger %s, not as %s", n.ID, n.String, n.Finger, fix[0])
		}
	}
	// With marks in the score, they are kept, unless all is to be chosen anew.
	if again := s.fingeredPage(w, ""); len(keepForms(t, again)) != 1 {
		t.Error("a score that is marked throughout is fingered otherwise")
	}
	if again := s.fingeredPage(w, "anew=yes"); len(keepForms(t, again)) < 2 {
		t.Error("chosen anew there is one way only")
	}
}

func TestFingerRefusals(t *testing.T) {
	s := open(t)
	w := s.added(ladder)
	rests := s.added("X:1\nT:Rests\nM:4/4\nL:1/4\nK:C\nz4|z4|]\n")
	at := "/library/works/" + string(w.ID) + "/fingering?ask=yes&"
	for ask, want := range map[string]string{
		at + "from=88":          "There is no bar 88",
		at + "span=9":           "Give 80 to 280",
		at + "scale=x":          "Give 300 to 900",
		at + "tuning=banjo":     "This tuning is not known",
		at + "fix=n1":           "makes no sense",
		at + "fix=n999%3A1%2F1": "n999",
		at + "ways=70":          "Give 1 to 6",
		at + "pattern=x+y":      "pattern",
		at + "pattern=%3Cb%3E":  "pattern",
		"/library/works/" + string(rests.ID) + "/fingering?ask=yes": "no notes here that could be fingered",
	} {
		status, text := s.Get(t, s.TeacherDevice, ask)
		if status != 422 || !strings.Contains(mainOf(text), want) || strings.Contains(text, "<b>") {
			t.Errorf("%s: %d %s", ask, status, mainOf(text))
		}
	}
	for _, q := range []url.Values{{"way": {"-1"}}, {"way": {"9"}}, {}} {
		if status, say := s.post("/library/works/"+string(w.ID)+"/fingering", q); status != 422 {
			t.Errorf("%v: %d %s", q, status, say)
		}
	}
}

// TestFingeringPictures: the sheets of both ways, with what changes ringed.
func TestFingeringPictures(t *testing.T) {
	s := open(t)
	w := s.added(ladder)
	text := s.fingeredPage(w, "")
	sources := regexp.MustCompile(`data-source="(/library/works/[^"]*picture[^"]*)"`).FindAllStringSubmatch(text, -1)
	if len(sources) < 3 {
		t.Fatalf("%d sheets in %s", len(sources), mainOf(text))
	}
	for i, m := range sources[:3] {
		svg := s.page(html.UnescapeString(m[1]) + "&width=560")
		if !strings.HasPrefix(svg, "<svg") {
			t.Errorf("%s is no picture: %.80s", m[1], svg)
		}
		if ringed := strings.Contains(svg, "otherwise"); ringed != (i > 0) {
			t.Errorf("picture %d: ringed %v", i, ringed)
		}
	}
}
