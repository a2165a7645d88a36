package desk_test

import (
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

// practised sends Ada a lesson, and lets the family tap a week of it: played on two days, five tries, a question
// and something that hurt. Nils gets a lesson and nobody taps.
func practised(t testing.TB, s *webtest.Site) studio.Lesson {
	t.Helper()
	ctx := t.Context()
	mice, joy := s.Work(t, "Three Blind Mice"), s.Work(t, "Ode to Joy")
	var sent []studio.Lesson
	for _, student := range []studio.Student{s.Okafor.Students[0], s.Lindqvist.Students[0]} {
		l, err := s.Desk.SaveDraft(ctx, s.Teacher, studio.Lesson{Student: student.ID, Date: "2026-11-04", Words: "A good week.", Assignments: []studio.Assignment{
			{Work: mice.ID, FromBar: "1", ToBar: "4", Goals: studio.Goals{TempoBpm: 84}, Do: "Slowly, three times.",
				Question: &studio.Question{Say: "How many mice are there?", Right: []string{"three"}}},
			{Work: joy.ID, Do: "Once, for pleasure."}}})
		if err == nil {
			err = s.Desk.SendLesson(ctx, s.Teacher, l.ID, l.Version)
		}
		if err == nil {
			l, err = s.Desk.Lesson(ctx, s.Teacher, l.ID)
		}
		if err != nil {
			t.Fatal(err)
		}
		sent = append(sent, l)
	}
	s.Wait(5 * 24 * time.Hour)
	ada, one := s.Okafor.Students[0].ID, sent[0].Assignments[0].ID
	at := func(days, hours int) time.Time { return sent[0].Sent.Add(time.Duration(24*days+hours) * time.Hour) }
	tap := func(id string, kind studio.TapKind, when time.Time) studio.Tap {
		return studio.Tap{ID: "tap-of-ada-" + id, Student: ada, Assignment: one, Kind: kind, At: when}
	}
	taps := []studio.Tap{tap("1", studio.TapDone, at(1, 1)), tap("2", studio.TapDone, at(3, 1))}
	for i, clean := range []bool{true, false, true, true, false} {
		try := tap("try-"+string(rune('a'+i)), studio.TapTry, at(3, 2))
		try.Clean, try.Bpm = clean, 60+4*float64(i)
		taps = append(taps, try)
	}
	question, hurt, answer := tap("ask", studio.TapQuestion, at(3, 3)), tap("hurt", studio.TapHurt, at(4, 1)), tap("answer", studio.TapAnswer, at(3, 4))
	question.Text, hurt.Text, answer.Text = "Which finger for the high <A>?", "the thumb, after the second time", "Three"
	if err := s.Desk.Tap(ctx, s.Okafor.Coach, append(taps, question, hurt, answer)); err != nil {
		t.Fatal(err)
	}
	return sent[0]
}

func TestWeekAtHome(t *testing.T) {
	s := open(t)
	practised(t, s)
	_, text := s.Get(t, s.TeacherDevice, "/desk/at-home")
	for _, want := range []string{"One of two students tapped something at home since the lesson", "One question waits", "One student said that something hurt",
		"On 2 of 6 days: Thu and Sat", "done twice", "3 of 5 tries went well", "up to 72 a minute, 84 is asked", "answered “Three”, which is right",
		"Which finger for the high &lt;A&gt;?", "the thumb, after the second time", "stopped, because it hurt", "no playing while it hurts", "Nils", "Lesson of Wednesday, not opened yet"} {
		if !strings.Contains(text, want) {
			t.Errorf("no %q", want)
		}
	}
	if strings.Contains(text, "Runa") && !strings.Contains(text, "No lesson was sent yet to Runa.") {
		t.Error("Runa has no lesson, and it is not said")
	}
	if ada, nils := strings.Index(text, ">Ada<"), strings.Index(text, ">Nils<"); ada < 0 || nils < ada {
		t.Errorf("what wants a word stands at %d, behind what is still at %d", ada, nils)
	}
	if _, desk := s.Get(t, s.TeacherDevice, "/desk"); !strings.Contains(desk, "/desk/at-home") || !strings.Contains(desk, "One question waits") {
		t.Error("the desk does not lead to the week at home")
	}
	if _, student := s.Get(t, s.TeacherDevice, "/students/"+string(s.Okafor.Students[0].ID)); !strings.Contains(student, "3 of 5 tries went well") {
		t.Error("the student's page does not tell the week")
	}
	if code, _ := s.Get(t, s.Okafor.Device, "/desk/at-home"); code != http.StatusForbidden {
		t.Errorf("a family looks into the weeks of others: %d", code)
	}
}

func TestAnsweredAtHome(t *testing.T) {
	s := open(t)
	practised(t, s)
	ada := "/students/" + string(s.Okafor.Students[0].ID)
	if code, _, _ := s.Post(t, s.Okafor.Device, ada+"/taps/tap-of-ada-ask", url.Values{}); code != http.StatusForbidden {
		t.Errorf("a family answers for the teacher: %d", code)
	}
	for _, tap := range []string{"ask", "hurt"} {
		if code, _, to := s.Post(t, s.TeacherDevice, ada+"/taps/tap-of-ada-"+tap, url.Values{}); code != http.StatusSeeOther || !strings.HasPrefix(to, "/desk/at-home") {
			t.Errorf("%s: %d to %s", tap, code, to)
		}
	}
	_, text := s.Get(t, s.TeacherDevice, "/desk/at-home")
	if strings.Contains(text, "question waits") || strings.Contains(text, "stopped, because it hurt") {
		t.Error("what was answered still waits")
	}
	if code, _, _ := s.Post(t, s.TeacherDevice, ada+"/taps/no-such-tap", url.Values{}); code != http.StatusNotFound {
		t.Errorf("a tap that is none: %d", code)
	}
}

func TestWeekAtHomeInTheBrowser(t *testing.T) {
	s := open(t)
	practised(t, s)
	b := chromium.Open(t, s.URL)
	b.Cookie("antiphon", s.TeacherDevice)
	for i, width := range []int64{1440, 390} {
		b.Look(width, []string{"light", "dark"}[i])
		b.Go("/desk/at-home")
		for _, f := range b.Faults() {
			t.Errorf("%d px: %s", width, f)
		}
		b.Shoot(fmt.Sprint("desk-at-home-", width))
		b.Go("/students/" + string(s.Okafor.Students[0].ID) + "/note")
		for _, f := range b.Faults() {
			t.Errorf("the note at %d px: %s", width, f)
		}
		b.Shoot(fmt.Sprint("desk-note-", width))
	}
}

func TestNote(t *testing.T) {
	s := open(t)
	practised(t, s)
	at := "/students/" + string(s.Okafor.Students[0].ID) + "/note"
	_, text := s.Get(t, s.TeacherDevice, at)
	if !strings.Contains(text, "2 days of practice") || strings.Contains(text, "What the family sees now") {
		t.Errorf("the draft says %q", text)
	}
	if _, shown, err := s.Desk.NudgeFor(t.Context(), s.Okafor.Coach, s.Okafor.Students[0].ID); err != nil || shown {
		t.Errorf("a draft went out by itself: %v, %v", shown, err)
	}
	if code, _, _ := s.Post(t, s.TeacherDevice, at, url.Values{"text": {"Lovely <week>!"}}); code != http.StatusSeeOther {
		t.Fatalf("sent: %d", code)
	}
	if n, shown, err := s.Desk.NudgeFor(t.Context(), s.Okafor.Coach, s.Okafor.Students[0].ID); err != nil || !shown || n.Text != "Lovely <week>!" {
		t.Errorf("the family sees %q, %v, %v", n.Text, shown, err)
	}
	if _, text = s.Get(t, s.TeacherDevice, at); !strings.Contains(text, "Lovely &lt;week&gt;!") {
		t.Error("what was sent is not shown")
	}
	if code, _, _ := s.Post(t, s.TeacherDevice, at, url.Values{"text": {" "}}); code != http.StatusUnprocessableEntity && code != http.StatusBadRequest {
		t.Errorf("an empty note: %d", code)
	}
	if code, _ := s.Get(t, s.Okafor.Device, at); code != http.StatusForbidden {
		t.Errorf("a family writes notes: %d", code)
	}
	if err := s.Desk.ChooseLanguage(t.Context(), s.Okafor.Coach, "es"); err != nil {
		t.Fatal(err)
	}
	if _, text = s.Get(t, s.TeacherDevice, at); !strings.Contains(text, "a first wording in Español") || !strings.Contains(text, "Veo 2 días de práctica") {
		t.Errorf("to a family that reads Spanish: %s", text)
	}
}
