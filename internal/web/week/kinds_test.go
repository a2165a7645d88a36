package week_test

import (
	"bytes"
	"fmt"
	"net/http"
	"net/url"
	"strings"
	"testing"
	"time"

	"antiphon/internal/studio"
	"antiphon/internal/web/webtest"
	"antiphon/internal/web/webtest/chromium"
)

// everything is a lesson of all kinds of tasks, sent to Nils.
func everything(t testing.TB, s *webtest.Site, nils studio.Student) studio.Lesson {
	t.Helper()
	ctx := t.Context()
	works, err := s.Desk.Works(ctx, s.Teacher)
	if err != nil {
		t.Fatal(err)
	}
	var tune studio.WorkID
	for _, w := range works {
		if w.Title == "Frère Jacques" {
			tune = w.ID
		}
	}
	l, err := s.Desk.SaveDraft(ctx, s.Teacher, studio.Lesson{Student: nils.ID, Date: "2026-11-04", Words: "Dear Nils,\na short week, with something to hear in it.",
		Assignments: []studio.Assignment{
			{Ask: studio.AskKeep, Work: tune, FromBar: "1", ToBar: "1", Minutes: 2, Do: "Rest the finger after each note.", For: tune},
			{Ask: studio.AskPlay, Work: tune, FromBar: "1", ToBar: "2", Minutes: 6, Do: "First slowly, then a little faster.", Watch: "the left thumb stays behind the neck",
				Coach: []string{"The wrist is straight.", "Each finger falls on its tip."},
				Goals: studio.Goals{FromBpm: 60, TempoBpm: 84, CleanRun: 3, ContrastDb: 6}, Ladder: studio.Ladder{FromBpm: 60, ToBpm: 84, StepBpm: 8, Clean: 3}},
			{Ask: studio.AskNames, Work: tune, FromBar: "1", ToBar: "2", Minutes: 2},
			{Ask: studio.AskListen, Minutes: 3, Do: "Close your eyes first.", Question: &studio.Question{Say: "How often does the tune come?", Choices: []string{"Once", "Twice", "Four times"}, Right: []string{"Twice"}, Explain: "The second time it is an echo."}},
			{Ask: studio.AskTogether, Work: tune, Minutes: 4, Second: studio.Second{Kind: studio.Round, AfterBars: 2, Who: studio.ByTool}},
			{Ask: studio.AskChoose, Work: tune, FromBar: "2", ToBar: "2", Ways: [2]studio.Way{{Say: "with the second finger"}, {Say: "with the third finger"}}},
			{Ask: studio.AskAdd, Work: tune, Do: "Play the second line like an echo."},
			{Ask: studio.AskRead, Work: tune, FromBar: "3", ToBar: "4", Minutes: 2},
			{Ask: studio.AskHeld, Work: tune, Opens: "the first line comes three times without a slip"},
			{Ask: studio.AskRest, Do: "No guitar on Sunday. Sing the tune on a walk."},
		}})
	if err != nil {
		t.Fatal(err)
	}
	if err := s.Desk.SendLesson(ctx, s.Teacher, l.ID, l.Version); err != nil {
		t.Fatal(err)
	}
	s.Wait(time.Hour)
	return l
}

// TestEveryKind: each kind of task says in plain words what it is, in every language, and a question comes back until
// it is answered right, without the right answer standing in the page.
func TestEveryKind(t *testing.T) {
	s, nils, _ := whole(t)
	l := everything(t, s, nils)
	at := "/week?child=" + string(nils.ID)
	_, body := s.Get(t, s.Lindqvist.Device, at)
	has(t, "the week", body, "About 19 minutes in all.", "6 minutes a day", "You can do this. It helps you with “Frère Jacques”.", "the left thumb stays behind the neck",
		"Each finger falls on its tip.", "Play it 3 times in a row without a slip.", "Begin: about one beat a second. Then: ", "You can hear at once which is loud",
		"Say the name of each note aloud", "names=letters", "Listen to it together.", "How often does the tune come?", "After 2 bars the phone comes in",
		"with the third finger", "Today one thing in it is new.", "Look at each note before it sounds.", "This one waits.", "How it opens:", "Rest is part of it.")
	hasNot(t, "the week", body, "The second time it is an echo.")

	listen := l.Assignments[3].ID
	answer := func(say string) string {
		status, text, to := s.Post(t, s.Lindqvist.Device, "/week/answer", url.Values{"child": {string(nils.ID)}, "of": {string(listen)}, "answer": {say}})
		if status != http.StatusSeeOther || !strings.HasSuffix(to, "#a-"+string(listen)) {
			t.Fatalf("%d %s to %s", status, text, to)
		}
		_, body := s.Get(t, s.Lindqvist.Device, at)
		return body
	}
	hasNot(t, "after a wrong answer", answer("Once"), "The second time it is an echo.")
	has(t, "after the right one", answer("twice"), "Yes, that is it. The second time it is an echo.", "data-right")
	if status, _, _ := s.Post(t, s.Okafor.Device, "/week/answer", url.Values{"child": {string(nils.ID)}, "of": {string(listen)}, "answer": {"Twice"}}); status != http.StatusNotFound {
		t.Errorf("another family answers: %d", status)
	}
}

// TestTheLogOfAnother: a family logs for its own children only, and what makes no sense is refused whole.
func TestTheLogOfAnother(t *testing.T) {
	k := open(t)
	post := func(device, body string) int {
		r, err := http.NewRequestWithContext(t.Context(), http.MethodPost, k.URL+"/week/log", strings.NewReader(body))
		if err != nil {
			t.Fatal(err)
		}
		r.Header.Set("Accept", "application/json")
		r.Header.Set("Sec-Fetch-Site", "same-origin")
		a, err := k.Client(t, device).Do(r)
		if err != nil {
			t.Fatal(err)
		}
		a.Body.Close()
		return a.StatusCode
	}
	tap := func(s studio.Student, id, kind string) string {
		return fmt.Sprintf(`{"id":%q,"student":%q,"kind":%q,"at":"2026-11-04T09:30:00Z"}`, id, s.ID, kind)
	}
	for _, c := range []struct {
		name, device, body string
		want               int
	}{
		{"its own child", k.Okafor.Device, "[" + tap(k.ada, "11111111-1", "done") + "]", 200},
		{"the same again", k.Okafor.Device, "[" + tap(k.ada, "11111111-1", "done") + "]", 200},
		{"another's child", k.Lindqvist.Device, "[" + tap(k.ada, "22222222-2", "done") + "]", 404},
		{"an unknown kind", k.Okafor.Device, "[" + tap(k.ada, "33333333-3", "grade") + "]", 422},
		{"no list", k.Okafor.Device, `{"id":1}`, 422},
		{"the teacher", k.TeacherDevice, "[" + tap(k.ada, "44444444-4", "done") + "]", 403},
		{"a stranger", "", "[" + tap(k.ada, "55555555-5", "done") + "]", 403},
	} {
		if got := post(c.device, c.body); got != c.want {
			t.Errorf("%s: %d, want %d", c.name, got, c.want)
		}
	}
	taps, err := k.Desk.Taps(t.Context(), k.Teacher, studio.TapQuery{Student: k.ada.ID})
	if err != nil || len(taps) != 1 {
		t.Errorf("%d taps, %v", len(taps), err)
	}
}

// TestAVoiceNote: what is spoken on the page reaches the teacher with its words about what and whose it is.
func TestAVoiceNote(t *testing.T) {
	k := open(t)
	of := k.asked[k.ada.ID].Assignments[0].ID
	q := url.Values{"id": {"66666666-6"}, "student": {string(k.ada.ID)}, "assignment": {string(of)}, "at": {"2026-11-04T09:30:00Z"}, "seconds": {"4.5"}}
	r, err := http.NewRequestWithContext(t.Context(), http.MethodPost, k.URL+"/week/voice?"+q.Encode(), bytes.NewReader([]byte("the sound of a question")))
	if err != nil {
		t.Fatal(err)
	}
	r.Header.Set("Content-Type", "audio/webm;codecs=opus")
	r.Header.Set("Sec-Fetch-Site", "same-origin")
	a, err := k.Client(t, k.Okafor.Device).Do(r)
	if err != nil {
		t.Fatal(err)
	}
	a.Body.Close()
	taps, err := k.Desk.Taps(t.Context(), k.Teacher, studio.TapQuery{Student: k.ada.ID})
	if a.StatusCode != http.StatusOK || err != nil || len(taps) != 1 || taps[0].Kind != studio.TapVoice || taps[0].Media == "" || taps[0].Seconds != 4.5 || taps[0].Assignment != of {
		t.Errorf("%d, %+v, %v", a.StatusCode, taps, err)
	}
}

// TestTapsInABrowser: the list with everything in it, by mouse and by keyboard, in both languages.
func TestTapsInABrowser(t *testing.T) {
	s, nils, _ := whole(t)
	l := everything(t, s, nils)
	b := chromium.Open(t, s.URL)
	b.Cookie("antiphon", s.Lindqvist.Device)
	b.Look(390, "light")
	b.Go("/week?child=" + string(nils.ID))
	b.Wait(`document.querySelectorAll(".sheet svg").length >= 5`)
	look(t, b, "kinds")

	card := func(n int) string { return "#a-" + string(l.Assignments[n].ID) }
	// The keyboard: the button that undoes gets the focus of the one that was pressed.
	chromium.Eval[bool](b, fmt.Sprintf(`(document.querySelector('%s [data-tap="done"]').focus(), true)`, card(1)))
	b.Press("\r")
	b.Wait(fmt.Sprintf(`document.activeElement === document.querySelector('%s [data-tap="undone"]')`, card(1)))
	b.Wait(`document.querySelectorAll(".today [data-done]").length === 1`)
	b.Press("\r")
	b.Wait(fmt.Sprintf(`document.activeElement === document.querySelector('%s [data-tap="done"]')`, card(1)))
	b.Wait(`document.querySelectorAll(".today [data-done]").length === 0`)
	b.Click(card(1) + ` [data-tap="done"]`)

	b.Click(card(3) + ` input[value="Once"]`)
	b.Click(card(3) + ` [data-question] button`)
	b.Wait(fmt.Sprintf(`document.querySelector('%s [data-reply]').textContent === "Not yet. Listen once more, and try again."`, card(3)))
	b.Click(card(3) + ` input[value="Twice"]`)
	b.Click(card(3) + ` [data-question] button`)
	b.Wait(fmt.Sprintf(`document.querySelector('%s [data-reply]').textContent === "Yes, that is it. The second time it is an echo."`, card(3)))
	b.Click(card(5) + ` input[value="2"]`)
	b.Click(card(6) + ` [data-tap="hurt"]`)
	b.Wait(fmt.Sprintf(`document.querySelector('%s .stop .caution').checkVisibility() && !document.querySelector('%s .sheet').checkVisibility()`, card(6), card(6)))

	b.Click(card(0) + " .tell summary")
	b.Click(card(0) + " [data-speak]")
	b.Wait(fmt.Sprintf(`document.querySelector('%s [data-stop]').checkVisibility()`, card(0)))
	time.Sleep(1500 * time.Millisecond) // somebody speaks
	b.Click(card(0) + " [data-stop]")
	b.Wait(fmt.Sprintf(`document.querySelector('%s [data-spoken]').checkVisibility()`, card(0)))
	b.Click(card(0) + " [data-keepit]")
	look(t, b, "tapped")

	want := []studio.TapKind{studio.TapDone, studio.TapUndone, studio.TapDone, studio.TapAnswer, studio.TapAnswer, studio.TapChose, studio.TapHurt, studio.TapVoice}
	var taps []studio.Tap
	for range 100 {
		var err error
		if taps, err = s.Desk.Taps(t.Context(), s.Teacher, studio.TapQuery{Student: nils.ID}); err != nil {
			t.Fatal(err)
		}
		if len(taps) == len(want) {
			break
		}
		time.Sleep(50 * time.Millisecond) // the browser sends it
	}
	count := map[studio.TapKind]int{}
	for _, x := range taps {
		count[x.Kind]++
	}
	for _, k := range want {
		count[k]--
	}
	for k, n := range count {
		if n != 0 {
			t.Errorf("%s: %+d", k, n)
		}
	}
	b.Cookie("language", "es")
	b.Go("/week?child=" + string(nils.ID))
	b.Wait(`document.querySelector(".today [data-done]") && document.querySelector(".stop .caution") && document.querySelector("[data-question][data-right]") && document.querySelector(".ways input[value='2']").checked`)
	look(t, b, "kinds-es")
}
