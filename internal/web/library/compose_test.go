package library_test

import (
	"html"
	"net/url"
	"regexp"
	"strings"
	"testing"

	"antiphon/internal/exercise"
	"antiphon/internal/notation"
	"antiphon/internal/studio"
)

// recipeForm fills the form of a recipe as the page shows it.
func recipeForm(text string) url.Values {
	q := url.Values{"ask": {"yes"}}
	for _, m := range regexp.MustCompile(`name="(r-[a-z-]+)" value="([^"]*)"`).FindAllStringSubmatch(text, -1) {
		q.Set(m[1], html.UnescapeString(m[2]))
	}
	return q
}

// TestRecipes: every recipe that comes with the program gives through the page the notes that it gives
// to the command.
func TestRecipes(t *testing.T) {
	s := open(t)
	all, err := exercise.Examples()
	if err != nil || len(all) < 10 {
		t.Fatal(len(all), err)
	}
	for _, e := range all {
		q := recipeForm(s.page("/library/compose?recipe=" + e.Name))
		has(t, s.page("/library/compose?"+q.Encode()), "Put it into the library", "/library/compose/picture?")
		q.Del("ask")
		status, to := s.post("/library/compose", q)
		if status != 303 {
			t.Errorf("%s: %d %s", e.Name, status, to)
			continue
		}
		w, err := s.Desk.Work(t.Context(), s.Teacher, studio.WorkID(strings.TrimPrefix(to, "/library/works/")))
		if err != nil {
			t.Fatal(err)
		}
		want, err := exercise.Compose(e.Recipe)
		if err != nil {
			t.Fatal(err)
		}
		var b strings.Builder
		if err := notation.WriteMusicXML(&b, want); err != nil {
			t.Fatal(err)
		}
		if w.Score != b.String() || !w.Exercise || w.Title != e.Recipe.Title {
			t.Errorf("%s: another exercise came of it (%q)", e.Name, w.Title)
		}
		// What is kept is a recipe that can be read again.
		if r, err := exercise.Read([]byte(w.Recipe), ""); err != nil || r.Pattern != e.Recipe.Pattern || r.RightHand != e.Recipe.RightHand {
			t.Errorf("%s: the recipe that was kept: %v\n%s", e.Name, err, w.Recipe)
		}
	}
	if n := len(s.works()); n != len(all) {
		t.Errorf("%d works of %d recipes", n, len(all))
	}
}

func TestComposeTwice(t *testing.T) {
	s := open(t)
	q := url.Values{"r-pattern": {"scale"}, "r-key": {"D major"}, "name": {"Monday <i>scale</i>"}}
	_, first := s.post("/library/compose", q)
	_, second := s.post("/library/compose", q)
	if first != second || len(s.works()) != 1 {
		t.Errorf("%s and %s, %d works", first, second, len(s.works()))
	}
	has(t, s.page(first), "Monday &lt;i&gt;scale&lt;/i&gt;")
}

func TestComposeRefusals(t *testing.T) {
	s := open(t)
	for ask, want := range map[string]string{
		"r-pattern=scale&r-key=H+sharp":             "Key: ",
		"r-pattern=scale&r-tempo=9000":              "Tempo to begin with: ",
		"r-pattern=nothing":                         "Pattern: ",
		"r-pattern=scale&r-position=12&r-octaves=3": "Position: ",
		"r-key=C+major":                             "pattern:",
		"r-pattern=scale&r-title=%22%0Akey%3A+x":    "", // it stays inside its line
		"r-pattern=scale&r-key=%26a+G":              "Key: ",
	} {
		text := s.page("/library/compose?ask=yes&" + ask)
		if got := alertOf(text); !strings.Contains(got, want) || (want == "") != (got == "") {
			t.Errorf("%s: %q, want %q", ask, got, want)
		}
	}
	if status, say := s.post("/library/compose", url.Values{"r-pattern": {"nothing"}}); status != 422 || !strings.Contains(say, "nothing") {
		t.Errorf("%d %s", status, say)
	}
	if status, _ := s.Get(t, s.TeacherDevice, "/library/compose?recipe=none"); status != 404 {
		t.Errorf("no such recipe: %d", status)
	}
	if len(s.works()) != 0 {
		t.Error("something was kept")
	}
}

// TestComposeFromPassage: bars of a work in other ways, and for what goes wrong in them.
func TestComposeFromPassage(t *testing.T) {
	s := open(t)
	w := s.added(ladder)
	// The passage is fingered first, as a teacher would.
	s.post("/library/works/"+string(w.ID)+"/fingering", keepForms(t, s.fingeredPage(w, ""))[0])
	base := url.Values{"ask": {"yes"}, "work": {string(w.ID)}, "from": {"2"}, "to": {"3"}}
	base["way"] = []string{"backwards", "long-short"}
	text := s.page("/library/compose?" + base.Encode())
	has(t, text, "Put it into the library")
	base.Del("ask")
	status, to := s.post("/library/compose", base)
	if status != 303 {
		t.Fatal(status, to)
	}
	has(t, s.page(to), "From Ladder, bars 2 to 3: backwards, long-short.")
	base.Del("way")
	base.Set("fault", "rushing")
	if status, to = s.post("/library/compose", base); status != 303 {
		t.Fatal(status, to)
	}
	has(t, s.page(to), "From Ladder, bars 2 to 3: rushing.")
	base.Set("ask", "yes")
	base.Set("fault", "bad weather")
	has(t, alertOf(s.page("/library/compose?"+base.Encode())), "bad weather")
	base.Set("from", "77")
	has(t, alertOf(s.page("/library/compose?"+base.Encode())), "There is no bar 77")
}
