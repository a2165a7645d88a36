package lesson_test

import (
	"bytes"
	"fmt"
	"net/http"
	"net/url"
	"reflect"
	"strings"
	"testing"
	"time"

	"antiphon/internal/notation"
	"antiphon/internal/studio"
	"antiphon/internal/web/lesson"
	"antiphon/internal/web/sheet"
	"antiphon/internal/web/webtest"
	"antiphon/internal/web/webtest/chromium"
)

// mice is "Three Blind Mice" (English, printed in 1609), and canon the beginning of Tallis's Canon (1567), from memory.
const (
	mice  = "X:1\nT:Three Blind Mice\nC:Traditional\nM:6/8\nL:1/8\nQ:3/8=60\nK:C\nE3 D3|C6|E3 D3|C6|G3 F2F|E6|G3 F2F|E6|]\n"
	canon = "X:1\nT:Tallis’s Canon\nC:Thomas Tallis\nM:4/4\nL:1/4\nQ:1/4=66\nK:G\nG|GFGG|A A B B|c B A D|G A B A|]\n"
)

// openWith serves lessons with their music.
func openWith(t testing.TB) *webtest.Site {
	t.Helper()
	s, e := webtest.Open(t), webtest.Engraver(t)
	sheets := sheet.New(e, s.Frame)
	return s.Serve(t, sheets.Routes, func(mux *http.ServeMux) {
		if err := lesson.Routes(mux, s.Frame, lesson.Options{Sheets: sheets, Engraver: e}); err != nil {
			t.Fatal(err)
		}
	})
}

// scored is a work with its music.
func scored(t testing.TB, s *webtest.Site, title, abc string) studio.Work {
	t.Helper()
	score, _, err := notation.Read(strings.NewReader(abc), "tune.abc", notation.Limits{})
	if err != nil {
		t.Fatal(err)
	}
	var b bytes.Buffer
	if err := notation.WriteMusicXML(&b, score); err != nil {
		t.Fatal(err)
	}
	w, err := s.Desk.AddWork(t.Context(), s.Teacher, studio.Work{Title: title, Rights: "traditional", Score: b.String()})
	if err != nil {
		t.Fatal(err)
	}
	return w
}

// everything is a draft that asks one thing of each kind, with all that a task can hold, and what stands beside it.
func everything(t testing.TB, s *webtest.Site) (sent, draft studio.Lesson) {
	t.Helper()
	ctx, ada := t.Context(), s.Okafor.Students[0]
	blind, tallis, ode := scored(t, s, "Three Blind Mice", mice), scored(t, s, "Tallis’s Canon", canon), s.Work(t, "Ode to Joy")
	model, err := s.Desk.ReceiveModel(ctx, s.Teacher, tallis.ID, "audio/mp4", strings.NewReader("how it should sound"))
	if err != nil {
		t.Fatal(err)
	}
	say := func(l studio.Lesson) studio.Lesson {
		t.Helper()
		l, err := s.Desk.SaveDraft(ctx, s.Teacher, l)
		if err != nil {
			t.Fatal(err)
		}
		return l
	}
	sent = say(studio.Lesson{Student: ada.ID, Date: s.Now().Format(time.DateOnly), Words: "A good week.", Assignments: []studio.Assignment{
		{Work: tallis.ID, FromBar: "1", ToBar: "4", Do: "Three times a day, slowly.", Goals: studio.Goals{TempoBpm: 60}},
		{Ask: studio.AskListen, Work: ode.ID, Do: "Listen to it twice.", Question: &studio.Question{Say: "Is it loud at the end?", Choices: []string{"loud", "soft"}, Right: []string{"loud"}}},
		{Ask: studio.AskRest, Do: "Sunday is free."}}})
	if err := s.Desk.SendLesson(ctx, s.Teacher, sent.ID, sent.Version); err != nil {
		t.Fatal(err)
	}
	s.Wait(6 * 24 * time.Hour)
	one := s.Take(t, s.Okafor.Coach, studio.Announcement{Student: ada.ID, Assignment: sent.Assignments[0].ID, Work: tallis.ID})
	s.Hear(t, one.ID, studio.Summary{Bpm: 61, Notes: 17, FromBar: "1", ToBar: "4", RightShare: 1})
	s.Remark(t, one.ID, "3", "The fourth finger comes late: let it wait above the string.")
	for _, text := range []string{"Let … rest on the string before you play.", "The tone is rounder than last week. Listen to … once more.", "Count aloud in bar …."} {
		if _, err := s.Desk.KeepPhrase(ctx, s.Teacher, studio.Phrase{Text: text}); err != nil {
			t.Fatal(err)
		}
	}
	draft = say(studio.Lesson{Student: ada.ID, Date: s.Now().Format(time.DateOnly), Words: "Dear Ada, what a step forward. The tune sings now.", Assignments: []studio.Assignment{
		{Work: tallis.ID, FromBar: "1", ToBar: "4", Minutes: 6, Do: "Bars 3 and 4 alone first. Then all of it.", Watch: "The fourth finger waits above the string.", Coach: []string{"The wrist stays low.", "The thumb is relaxed."},
			Goals:  studio.Goals{FromBpm: 60, TempoBpm: 72, CleanRun: 3, ContrastDb: 6, Dynamics: "Grow to the middle, then softer.", Tone: "hole", Stroke: "rest", Fingering: "1 and 4 in bar 3", DoneWhen: "three times without a stop"},
			Ladder: studio.Ladder{FromBpm: 60, ToBpm: 72, StepBpm: 4, Clean: 3}, Model: model.ID,
			Like: studio.Clip{Take: model.ID, FromS: 1, ToS: 6.5, Say: "the end of the line"}, Unlike: studio.Clip{Take: one.ID, FromS: 65.5, ToS: 71, Say: "the finger is late"}, Last: studio.Clip{Take: one.ID, FromS: 2, ToS: 12}},
		{Ask: studio.AskListen, Work: ode.ID, Minutes: 3, Do: "Listen to it together.", Question: &studio.Question{Say: "How often does the tune come?", Right: []string{"4", "four"}, Explain: "Four times, a little louder each time."}},
		{Ask: studio.AskNames, Work: blind.ID, FromBar: "1", ToBar: "4", Minutes: 2, Do: "Say each name."},
		{Ask: studio.AskTogether, Work: tallis.ID, Minutes: 4, Do: "As a round with the phone.", Second: studio.Second{Kind: studio.Round, AfterBars: 2, Who: studio.ByTool}},
		{Ask: studio.AskChoose, Work: blind.ID, FromBar: "5", ToBar: "6", Minutes: 2, Do: "Three times each way.", Ways: [2]studio.Way{{Say: "on the second string", Fingering: "1 3"}, {Say: "on the third string", Fingering: "4 2"}}},
		{Ask: studio.AskAdd, Work: blind.ID, Minutes: 2, Do: "Softer at the end.", Goals: studio.Goals{ContrastDb: 6}},
		{Ask: studio.AskHeld, Work: ode.ID, Opens: "The canon goes at 72."},
		{Ask: studio.AskKeep, For: tallis.ID, Minutes: 1, Do: "i and m in turn on the open strings."},
		{Ask: studio.AskRead, Work: blind.ID, FromBar: "7", ToBar: "8", For: tallis.ID, Minutes: 2, Do: "Read it once, before you play it."},
		{Ask: studio.AskRest, Do: "Sunday is free."}}})
	return sent, draft
}

// TestAFormHoldsEverything: a page that is sent as it came changes nothing, whatever a task holds; and each kind is
// added from a form.
func TestAFormHoldsEverything(t *testing.T) {
	s := openWith(t)
	_, draft := everything(t, s)
	at := "/lessons/" + string(draft.ID)
	before, err := s.Desk.Lesson(t.Context(), s.Teacher, draft.ID)
	if err != nil {
		t.Fatal(err)
	}
	v := form(t, s.Page(t, at))
	v.Set("act", "save")
	s.Sends(t, at, v)
	after, err := s.Desk.Lesson(t.Context(), s.Teacher, draft.ID)
	if err != nil {
		t.Fatal(err)
	}
	for i := range before.Assignments {
		if a, b := before.Assignments[i], after.Assignments[i]; !reflect.DeepEqual(a, b) {
			t.Errorf("task %d:\n%+v\n%+v", i+1, a, b)
		}
	}
	for i := len(before.Assignments); i > 0; i-- { // none is left
		v = form(t, s.Page(t, at))
		v.Set("act", fmt.Sprint("drop ", i))
		s.Sends(t, at, v)
	}
	for i, kind := range studio.Asks() {
		v = form(t, s.Page(t, at))
		v.Set("act", "add")
		v.Set("kind", string(kind))
		v.Set("more", map[bool]string{true: "tallis’s canon"}[kind.NeedsWork()])
		if to := s.Sends(t, at, v); to != fmt.Sprintf("%s?open=%d#do%d", at, i+1, i+1) {
			t.Errorf("%q leads to %s", kind, to)
		}
	}
	v = form(t, s.Page(t, at))
	v.Set("do.1", "Twice the same")
	v.Set("act", "twice 1")
	s.Sends(t, at, v)
	if v = form(t, s.Page(t, at)); v.Get("do.2") != "Twice the same" || v["id"][1] == v["id"][0] || v.Get("ask.3") != string(studio.AskListen) {
		t.Errorf("after copying the first: %v", v)
	}
	v.Set("title.3", "Something that nobody knows")
	v.Set("act", "save")
	s.Sends(t, at, v)
	webtest.Has(t, s.Page(t, at), "Task 3: “Something that nobod…” is not in the library", "Twice the same", `value="Something that nobody knows"`)
	v = form(t, s.Page(t, at))
	v.Set("title.3", "THREE BLIND MICE")
	v.Set("act", "save")
	s.Sends(t, at, v)
	webtest.Has(t, s.Page(t, at), "Three Blind Mice")
}

// TestWhatALadderTakesOver: what is not said is the goal's.
func TestWhatALadderTakesOver(t *testing.T) {
	s := open(t)
	at, _ := begun(t, s)
	v := form(t, s.Page(t, at))
	for name, value := range map[string]string{"tempofrom.1": "60", "tempo.1": "71", "ladderclean.1": "3", "minutes.1": "5", "act": "save"} {
		v.Set(name, value)
	}
	s.Sends(t, at, v)
	webtest.Has(t, s.Page(t, at), "Rungs: 60, 64, 68 and 71, each after three clean passes in a row.", "from 60 to 71", "Together 5 minutes a day.")
}

// TestMinutesOfADay are set beside what the family has, where the teacher said it.
func TestMinutesOfADay(t *testing.T) {
	s := open(t)
	at, _ := begun(t, s)
	if _, err := s.Desk.SettlePlan(t.Context(), s.Teacher, s.Okafor.Students[0].ID, studio.PlanSettings{Minutes: [7]int{15, 15, 0, 20, 15, 30, 0}}); err != nil {
		t.Fatal(err)
	}
	for minutes, want := range map[string]string{"10": "Together 10 minutes a day of the 15 minutes that the family has on its shortest day.", "25": "Together 25 minutes a day; on its shortest day the family has 15 minutes. Not everything has to come every day, or something can go out."} {
		v := form(t, s.Page(t, at))
		v.Set("minutes.1", minutes)
		v.Set("act", "save")
		s.Sends(t, at, v)
		webtest.Has(t, s.Page(t, at), want)
	}
}

// TestBeginningWithAProposal: every line has its reason, those that are taken off are not asked, and a question that
// nobody answered comes back.
func TestBeginningWithAProposal(t *testing.T) {
	s := openWith(t)
	_, draft := everything(t, s)
	if err := s.Desk.DropDraft(t.Context(), s.Teacher, draft.ID); err != nil {
		t.Fatal(err)
	}
	student := "/students/" + string(s.Okafor.Students[0].ID) + "/lesson"
	text := s.Page(t, student)
	webtest.Has(t, text, "What could come next", "Heard at 61 quarters a minute; asked was 60.", "The question waits for an answer.", "Not asked again: The rest is over.", "Begin with these", "Begin with what was asked on Wednesday")
	lines := map[string]string{}
	for _, part := range strings.Split(text, `name="line" value="`)[1:] {
		key, _, _ := strings.Cut(part, `"`)
		lines[key[:min(len(key), 6)]] = key
	}
	if len(lines) != 2 {
		t.Fatalf("the lines are %v", lines)
	}
	to := s.Sends(t, student, url.Values{"begin": {"proposed"}, "line": {lines["listen"], "nonsense"}})
	v := form(t, s.Page(t, to))
	if len(v["id"]) != 1 || v.Get("ask.1") != "listen" || v.Get("ask.say.1") != "Is it loud at the end?" || v.Get("ask.choices.1") != "loud\nsoft" {
		t.Errorf("the draft holds %v", v)
	}
	webtest.Has(t, s.Page(t, to), "The question waits for an answer.")
}

// TestPhrases are put in without a script too, with when they were said last.
func TestPhrases(t *testing.T) {
	s := open(t)
	at, _ := begun(t, s)
	s.Sends(t, at+"/phrases", url.Values{"text": {"Let ... rest."}})
	s.Sends(t, at+"/phrases", url.Values{"text": {"Let … rest."}})
	all, err := s.Desk.Phrases(t.Context(), s.Teacher)
	if err != nil || len(all) != 1 {
		t.Fatal(all, err)
	}
	webtest.Has(t, s.Page(t, at), "Let … rest.", "never said yet")
	v := form(t, s.Page(t, at))
	v.Set("act", "phrase "+all[0].ID)
	v.Set("open", "1")
	s.Sends(t, at, v)
	text := s.Page(t, at)
	if got := form(t, text).Get("do.1"); got != "Let … rest." {
		t.Errorf("what to do is %q", got)
	}
	webtest.Has(t, text, "said last today to Ada")
	for path, form := range map[string]url.Values{"/phrases": {"text": {" "}}, "/phrases/nothing/use": {}} {
		if status, _, _ := s.Post(t, s.TeacherDevice, at+path, form); status < 400 || status >= 500 {
			t.Errorf("%s: %d", path, status)
		}
	}
	s.Sends(t, at+"/phrases/"+all[0].ID+"/remove", nil)
	s.Sends(t, at+"/phrases/"+all[0].ID+"/remove", nil) // pressed twice
	webtest.HasNot(t, s.Page(t, at), "said last today to Ada")
}

// TestHints speak of sentences and never of points.
func TestHints(t *testing.T) {
	s := open(t)
	at, _ := begun(t, s)
	for text, want := range map[string]string{
		"Play it twice. Then rest.": "",
		"When the thumb has played the bass it has to go on lying there quietly until all of the other fingers have played their own notes above it as well": "A long sentence for a child’s parent: “When the thumb has played …”",
		strings.Repeat("Play it once more. ", 30): "That is much for one time.",
		"Consider articulation, especially accentuation. Anticipate positional alterations. Incorporate dynamic differentiation. Prioritise left-hand preparation. Internalise rhythmical subdivision. Reconsider characteristic ornamentation. Visualise accompaniment.": "Long words",
	} {
		v := form(t, s.Page(t, at))
		v.Set("do.1", text)
		v.Set("act", "save")
		s.Sends(t, at, v)
		page := s.Page(t, at)
		_, hint, _ := strings.Cut(page, `id="hint-do1">`)
		hint, _, _ = strings.Cut(hint, "</p>")
		if want == "" && hint != "" || !strings.HasPrefix(hint, want) {
			t.Errorf("%.30q gives %q", text, hint)
		}
	}
}

// TestSeenAndPrinted: the draft as the family will see it, and on paper; no draft is anybody else's.
func TestSeenAndPrinted(t *testing.T) {
	s := openWith(t)
	_, draft := everything(t, s)
	at := "/lessons/" + string(draft.ID)
	webtest.Has(t, s.Page(t, at+"/preview"), "This is how family Okafor will read it", "A round. Begin alone. After 2 bars the phone comes in", "How it opens:", "The canon goes at 72.", "The wrist stays low.", "6 minutes a day", "You can do this. It helps you with “Tallis’s Canon”.")
	webtest.HasNot(t, s.Page(t, at+"/preview"), "Four times", "quarter notes")
	for _, size := range []string{"a4", "letter", ""} {
		status, pdf := s.Get(t, s.TeacherDevice, at+"/paper?size="+size)
		if status != http.StatusOK || !strings.HasPrefix(pdf, "%PDF-") {
			t.Fatalf("%q: %d %.200s", size, status, pdf)
		}
		// 8.5 by 11 inches are 612 by 792 points; ISO 216 A4 is 595.28 by 841.89.
		if box := map[bool]string{true: "[0 0 612", false: "[0 0 595"}[size == "letter"]; !strings.Contains(pdf, box) {
			t.Errorf("%q is not of its size", size)
		}
	}
	for _, path := range []string{"/preview", "/paper?size=a4"} {
		if status, _ := s.Get(t, s.Okafor.Device, at+path); status != http.StatusNotFound && status != http.StatusForbidden {
			t.Errorf("a family gets %s of a draft: %d", path, status)
		}
	}
	v := form(t, s.Page(t, at))
	v.Set("act", "send")
	s.Sends(t, at, v)
	if status, pdf := s.Get(t, s.Okafor.Device, at+"/paper?size=a4"); status != http.StatusOK || !strings.HasPrefix(pdf, "%PDF-") {
		t.Errorf("its family cannot print it: %d", status)
	}
	if status, _ := s.Get(t, s.Lindqvist.Device, at+"/paper?size=a4"); status != http.StatusNotFound {
		t.Errorf("another family prints it: %d", status)
	}
	webtest.Has(t, s.Page(t, at), "60 to 72 quarter notes a minute", "Right: 4, four", "a round, two bars later, by the tool")
}

// TestPagesInABrowser shows the pages with everything in them: axe-core finds nothing, and nothing is too wide.
func TestPagesInABrowser(t *testing.T) {
	s := openWith(t)
	sent, draft := everything(t, s)
	at := "/lessons/" + string(draft.ID)
	upload(t, s, at+"/answers/opening", "video/mp4", "hello")
	upload(t, s, at+"/answers/"+string(draft.Assignments[0].ID), "audio/mp4", "listen")
	b := browse(t, s)
	b.Look(1440, "light")
	b.Go(at)
	look(t, b, "folded")
	b.Look(1440, "light")
	b.Click("#a1 > details > summary")
	b.Wait(`document.querySelector("#a1 [data-music] svg")`)
	look(t, b, "open")
	chromium.Eval[bool](b, `(document.querySelectorAll("#a1 details.leaf").forEach((d) => { d.open = true }), document.querySelector("#say0").open = true)`)
	look(t, b, "leaves")
	for n := 2; n <= 10; n++ {
		b.Click(fmt.Sprintf("#a%d > details > summary", n))
		b.Awake()
		if opened := chromium.Eval[int](b, `document.querySelectorAll("details[name=task][open]").length`); opened != 1 {
			t.Errorf("%d tasks are open", opened)
		}
		for _, fault := range b.Faults() {
			t.Errorf("task %d: %s", n, fault)
		}
		b.Shoot(fmt.Sprintf("task-%d", n))
	}
	b.Go(at + "/preview")
	look(t, b, "preview")
	b.Go("/lessons/" + string(sent.ID))
	look(t, b, "sent")
	if err := s.Desk.SendLesson(t.Context(), s.Teacher, draft.ID, draft.Version); err != nil {
		t.Fatal(err)
	}
	b.Go(at + "?done=sent")
	look(t, b, "just-sent")
	s.Wait(7 * 24 * time.Hour)
	b.Go("/students/" + string(draft.Student) + "/lesson")
	look(t, b, "begin")
}

// TestAPhraseAtTheCursor: it stands where the cursor was, its blank marked, and what is typed fills it.
func TestAPhraseAtTheCursor(t *testing.T) {
	s := openWith(t)
	_, draft := everything(t, s)
	b := browse(t, s)
	b.Look(1440, "light")
	b.Go("/lessons/" + string(draft.ID))
	b.Click("#a3 > details > summary")
	chromium.Eval[bool](b, `((e) => { e.focus(); e.setSelectionRange(3, 3) })(document.querySelector("#do3")) || true`)
	find := `[...document.querySelectorAll("[data-phrase]")].find((e) => e.textContent.includes("Count aloud"))`
	chromium.Eval[bool](b, `(`+find+`.querySelector("[data-insert]").click(), true)`)
	b.Press("5")
	b.Wait(`document.querySelector("#do3").value === "Say Count aloud in bar 5. each name."`)
	b.Wait(find + `.textContent.includes("said last today")`)
	b.Wait(`document.querySelector("input[name=version]").value === "2"`)
	b.Write("#seek-phrase", "ROUNDER")
	b.Wait(`[...document.querySelectorAll("[data-phrase]")].filter((e) => !e.hidden).length === 1`)

	// Another work is typed: its music comes without loading the page.
	b.Wait(`document.querySelector("#a3 [data-music] .sheet")?.dataset.source.includes("from=1")`)
	chromium.Eval[bool](b, `((f, e) => { f.value = ""; e.value = "Tallis’s Canon"; e.dispatchEvent(new Event("input", { bubbles: true })) })(document.querySelector("#to3"), document.querySelector("#work3")) || true`)
	canon := string(draft.Assignments[0].Work)
	b.Wait(`document.querySelector("#a3 [data-music] .sheet")?.dataset.source.includes("` + canon + `")`)
	b.Wait(`document.querySelector("#title3").textContent.startsWith("Tallis")`)
	l, err := s.Desk.Lesson(t.Context(), s.Teacher, draft.ID)
	if err != nil || !strings.Contains(l.Assignments[2].Do, "bar 5") {
		t.Errorf("%+v, %v", l.Assignments[2], err)
	}
}
