package library_test

import (
	"fmt"
	"net/url"
	"os"
	"path/filepath"
	"strings"
	"testing"

	"github.com/chromedp/chromedp/kb"

	"antiphon/internal/studio"
	"antiphon/internal/web/library"
	"antiphon/internal/web/webtest/chromium"
)

// browser is the teacher's.
func browser(t *testing.T, s *site) *chromium.Browser {
	t.Helper()
	b := chromium.Open(t, s.URL)
	b.Cookie("antiphon", s.TeacherDevice)
	return b
}

// show opens a page and waits until what it began is done and its music is set.
func show(b *chromium.Browser, path string) {
	b.Go(path)
	settled(b)
}

func settled(b *chromium.Browser) {
	b.Wait(`!document.querySelector('[data-island="again"]') && [...document.querySelectorAll(".sheet")].every((e) => e.querySelector("svg") || !e.clientWidth)`)
	b.Awake()
}

// TestPagesInABrowser: every page of the library on a phone and on a desk, in light and dark.
func TestPagesInABrowser(t *testing.T) {
	s := open(t)
	b := browser(t, s)
	green, err := os.ReadFile("../../engrave/testdata/greensleeves.musicxml")
	if err != nil {
		t.Fatal(err)
	}
	status, text := s.upload(s.TeacherDevice, "/library/add", "scores", "traditional", file{"greensleeves.musicxml", string(green)})
	if status != 200 {
		t.Fatal(status, mainOf(text))
	}
	tune := s.works()[0]
	line := s.added(ladder)
	mouse := s.added(mice)
	s.post("/library/compose", recipeForm(s.page("/library/compose?recipe=two-octaves-in-g")))
	_, shelf := s.post("/library/collections", url.Values{"name": {"First winter"}})
	add := url.Values{}
	for _, w := range []studio.Work{line, mouse, tune} {
		add.Add("work", string(w.ID))
	}
	s.post(shelf+"/works", add)
	s.post(shelf+"/works/"+string(tune.ID), url.Values{"do": {"after"}, "after": {string(line.ID), string(mouse.ID)}})
	s.post("/library/works/"+string(tune.ID)+"/passages", url.Values{"from": {"5"}, "to": {"8"}, "name": {"second part"}})
	s.fingeredPage(line, "")
	s.model(tune)
	s.playedBy(s.Okafor, tune)

	at := "/library/works/" + string(tune.ID)
	recipe := recipeForm(s.page("/library/compose?recipe=two-octaves-in-g"))
	for _, width := range []int64{390, 1440} {
		for _, p := range []struct{ name, path string }{
			{"library", "/library"}, {"add", "/library/add"}, {"work", at}, {"passage", at + "?from=5&to=8&bpm=30&click=yes"},
			{"fingering", "/library/works/" + string(line.ID) + "/fingering?ask=yes&bar=3"}, {"compose", "/library/compose?" + recipe.Encode()},
			{"collections", "/library/collections"}, {"collection", shelf},
			{"remedies", "/library/remedies?words=buzz"}, {"remedy", "/library/remedies/wrong-string"}, {"words", "/library/remedies/wrong-string/words"}, {"own", "/library/remedies/new"},
		} {
			b.Look(width, "light")
			show(b, p.path)
			if p.name == "work" {
				b.Wait(`document.querySelector("#models").textContent.includes("1:15, today")`)
			}
			for _, scheme := range []string{"light", "dark"} {
				b.Look(width, scheme)
				for _, f := range b.Faults() {
					t.Errorf("%s, %d px, %s: %s", p.name, width, scheme, f)
				}
				b.Shoot(fmt.Sprintf("%s-%d-%s", p.name, width, scheme))
			}
		}
	}
}

// TestDriven: what the islands add, by keyboard and by dropping files.
func TestDriven(t *testing.T) {
	s := open(t)
	b := browser(t, s)
	at, _ := s.shelf()
	t.Run("steps move by keyboard", func(t *testing.T) {
		show(b, at)
		chromium.Eval[bool](b, `(document.querySelector('[aria-label="A: later"]').focus(), window.same = true)`)
		b.Press(kb.Enter)
		b.Wait(`document.querySelector("#said").textContent === "A is at place 2 now."`)
		if !chromium.Eval[bool](b, `window.same === true && document.activeElement.getAttribute("aria-label") === "A: later"`) {
			t.Error("the keyboard lost its place, or the page was loaded anew")
		}
		b.Press(kb.Enter)
		b.Wait(`document.querySelector("#said").textContent === "A is at place 3 now."`)
		b.Press(kb.Enter)
		b.Wait(`document.querySelector("#said").textContent === "A is at place 4 now."`)
		if got := s.order(at); got != "BCDA" {
			t.Error(got)
		}
		if !chromium.Eval[bool](b, `document.activeElement.getAttribute("aria-label") === "A: earlier"`) {
			t.Error("at the end the keyboard is nowhere")
		}
	})
	t.Run("steps are dragged", func(t *testing.T) {
		show(b, at)
		chromium.Eval[bool](b, `(() => { const step = (t) => [...document.querySelectorAll(".steps > li")].find((l) => l.querySelector(".title").textContent === t);
			const data = new DataTransfer(), send = (on, name) => on.dispatchEvent(new DragEvent(name, { bubbles: true, cancelable: true, dataTransfer: data }));
			send(step("A"), "dragstart"); send(step("C"), "dragover"); send(step("C"), "drop"); return true; })()`)
		b.Wait(`document.querySelector("#said").textContent === "A is at place 2 now."`)
		if got := s.order(at); got != "BACD" {
			t.Error(got)
		}
	})
	t.Run("what may not be is said", func(t *testing.T) {
		works := map[string]studio.WorkID{}
		for _, w := range s.works() {
			works[w.Title] = w.ID
		}
		s.post(at+"/works/"+string(works["A"]), url.Values{"do": {"after"}, "after": {string(works["B"])}})
		show(b, at)
		chromium.Eval[bool](b, `(document.querySelector('[aria-label="A: earlier"]').click(), true)`)
		b.Wait(`document.querySelector("#said").textContent.includes("“A” needs “B” first")`)
		b.Expect("409") // the refusal is in the console too
	})
	t.Run("scores are dropped", func(t *testing.T) {
		show(b, "/library/add")
		chromium.Eval[bool](b, fmt.Sprintf(`(() => { const form = document.querySelector(".drop"), data = new DataTransfer();
			data.items.add(new File([%q], "mice.abc")); document.querySelector("#rights").value = "traditional";
			form.dispatchEvent(new DragEvent("drop", { bubbles: true, cancelable: true, dataTransfer: data })); return true; })()`, mice))
		b.Wait(`document.querySelector("#answers") && document.querySelector(".answers").textContent.includes("Three Blind Mice")`)
		for _, f := range b.Faults() {
			t.Error(f)
		}
		b.Shoot("answers")
	})
	t.Run("another tempo is heard on the page", func(t *testing.T) {
		w := s.added(ladder)
		show(b, "/library/works/"+string(w.ID))
		chromium.Eval[bool](b, `(() => { const f = document.querySelector("#bpm"); f.value = "144"; f.dispatchEvent(new Event("change", { bubbles: true })); return true; })()`)
		b.Wait(`document.querySelector("audio").src.includes("bpm=144")`)
		chromium.Eval[bool](b, `document.querySelector("audio").play().then(() => true)`)
		b.Wait(`document.querySelector("audio").currentTime > 0.2 && document.querySelector("audio").duration < 13`)
		chromium.Eval[bool](b, `(document.querySelector("audio").pause(), true)`)
	})
	t.Run("a take of the teacher's own arrives in pieces", func(t *testing.T) {
		w := s.added(strings.Replace(ladder, "T:Ladder", "T:Third ladder", 1))
		recording := filepath.Join(t.TempDir(), "mine.wav")
		if err := os.WriteFile(recording, []byte("RIFF\x24\x00\x00\x00WAVEfmt invented"), 0o600); err != nil {
			t.Fatal(err)
		}
		show(b, "/library/works/"+string(w.ID))
		chromium.Eval[bool](b, `(document.querySelector("#take").closest("details").open = true)`)
		b.Choose("#take", recording)
		b.Click("#models form[data-kind=model] button")
		b.Wait(`location.hash === "#models" && document.querySelector("#models [data-take]")`)
		settled(b)
		models, err := s.Desk.ModelTakes(t.Context(), s.Teacher, w.ID)
		if err != nil || len(models) != 1 {
			t.Errorf("%d model takes (%v)", len(models), err)
		}
		for _, f := range b.Faults() {
			t.Error(f)
		}
		b.Shoot("model")
	})
	t.Run("fingers by forms", func(t *testing.T) {
		w := s.added(strings.Replace(ladder, "T:Ladder", "T:Second ladder", 1))
		show(b, "/library/works/"+string(w.ID)+"/fingering")
		chromium.Eval[bool](b, `(document.querySelector("[name=no-barre]").click(), document.querySelector("button[name=ask]").click(), true)`)
		b.Wait(`location.search.includes("no-barre=yes") && document.querySelector("#way-0")`)
		settled(b)
		chromium.Eval[bool](b, `([...document.querySelectorAll("[data-island=onenote] svg g.note")].find((g) => /(^|-)n5$/.test(g.id)).firstElementChild.dispatchEvent(new MouseEvent("click", { bubbles: true })), true)`)
		b.Wait(`location.hash === "#note-n5" && document.querySelector("#note-n5 a")`)
		b.Click("#note-n5 a")
		b.Wait(`location.search.includes("fix=n5") && document.querySelector("#way-0")`)
		settled(b)
		chromium.Eval[bool](b, `(document.querySelector("form[action$='/fingering'] button.main:not([name])").click(), true)`)
		b.Wait(`location.search === "?saved=fingering" && document.querySelector(".kept")`)
		settled(b)
	})
}

// TestLooksAgain: a page that waits for fingers shows them by itself, and only tells somebody who is
// changing the choices.
func TestLooksAgain(t *testing.T) {
	s := openWith(t, library.Options{Patience: 1})
	w := s.added(long(60))
	b := browser(t, s)
	at := "/library/works/" + string(w.ID) + "/fingering?ask=yes&no-barre=yes"
	b.Go(at)
	b.Wait(`document.querySelector("#way-0")`)
	b.Go("/library/works/" + string(w.ID) + "/fingering?ask=yes&no-stretch=yes")
	if chromium.Eval[bool](b, `!!document.querySelector("[data-island=again]")`) {
		b.Click("[name=no-fourth]")
		b.Wait(`document.querySelector("[data-island=again] a")?.textContent === "The fingers are chosen: show them."`)
		if !chromium.Eval[bool](b, `document.querySelector("[name=no-fourth]").checked`) {
			t.Error("what was chosen is lost")
		}
		b.Click("[data-island=again] a")
	}
	b.Wait(`document.querySelector("#way-0")`)
}
