package practice_test

import (
	"bytes"
	"net/http"
	"strings"
	"testing"

	"antiphon/internal/notation"
	"antiphon/internal/studio"
	"antiphon/internal/web/practice"
	"antiphon/internal/web/sheet"
	"antiphon/internal/web/webtest"
	"antiphon/internal/web/week"
)

// canon is the beginning of Tallis's Canon (printed about 1567), as it is sung.
const canon = "X:1\nT:Tallis's Canon\nC:Thomas Tallis\nM:4/4\nL:1/4\nQ:1/4=72\nK:G\nG|G F G A|G B A G|c c B B|A A G:|\n"

// two is a little study of our own in two parts.
const two = "X:1\nT:Two hands\nC:Own\nM:3/4\nL:1/4\nQ:1/4=80\nK:C\nV:1 name=\"Upper\"\nEGc|dBG|c3|\nV:2 name=\"Lower\"\nC3|G,3|C3|\n"

// kit is a studio with a lesson for Ada Okafor.
type kit struct {
	*webtest.Site
	ada    studio.Student
	lesson studio.Lesson
	steps  studio.Assignment // a ladder
	round  studio.Assignment // with the tool
	part   studio.Assignment
	click  studio.Assignment // without a score
}

func open(t testing.TB) *kit {
	t.Helper()
	e := webtest.Engraver(t)
	s := webtest.Open(t)
	sheets := sheet.New(e, s.Frame)
	p, err := practice.New(s.Frame, practice.Options{Sheets: sheets, CacheDir: t.TempDir()})
	if err != nil {
		t.Fatal(err)
	}
	k := &kit{ada: s.Okafor.Students[0]}
	work := func(title, score string) studio.WorkID {
		w, err := s.Desk.AddWork(t.Context(), s.Teacher, studio.Work{Title: title, Score: xml(t, score)})
		if err != nil {
			t.Fatal(err)
		}
		return w.ID
	}
	tune := work("Tallis’s Canon", canon)
	open, err := s.Desk.AddWork(t.Context(), s.Teacher, studio.Work{Title: "Open strings", Exercise: true})
	if err != nil {
		t.Fatal(err)
	}
	l, err := s.Desk.SaveDraft(t.Context(), s.Teacher, studio.Lesson{Student: k.ada.ID, Date: "2026-11-03", Words: "Calmly.", Assignments: []studio.Assignment{
		{Work: tune, FromBar: "1", ToBar: "2", Do: "Sing it, then play it.", Minutes: 5, Goals: studio.Goals{TempoBpm: 160}, Ladder: studio.Ladder{FromBpm: 120, ToBpm: 160, StepBpm: 16, Clean: 2}},
		{Work: tune, Ask: studio.AskTogether, Do: "As a round.", Goals: studio.Goals{TempoBpm: 72}, Second: studio.Second{Kind: studio.Round, AfterBars: 1, Who: studio.ByTool}},
		{Work: work("Two hands", two), Ask: studio.AskTogether, Do: "You play the upper part.", Second: studio.Second{Kind: studio.SecondPart, Part: "Lower", Who: studio.ByTool}},
		{Work: open.ID, Do: "Slowly.", Goals: studio.Goals{TempoBpm: 97}},
	}})
	if err != nil {
		t.Fatal(err)
	}
	if err := s.Desk.SendLesson(t.Context(), s.Teacher, l.ID, l.Version); err != nil {
		t.Fatal(err)
	}
	k.lesson = l
	k.steps, k.round, k.part, k.click = l.Assignments[0], l.Assignments[1], l.Assignments[2], l.Assignments[3]
	k.Site = s.Serve(t, sheets.Routes, p.Routes, func(mux *http.ServeMux) {
		if err := week.Routes(mux, s.Frame, sheets, week.Options{}); err != nil {
			t.Fatal(err)
		}
	})
	t.Cleanup(p.End)
	return k
}

func xml(t testing.TB, abc string) string {
	t.Helper()
	s, _, err := notation.Read(strings.NewReader(abc), "own.abc", notation.Limits{})
	if err != nil {
		t.Fatal(err)
	}
	var b bytes.Buffer
	if err := notation.WriteMusicXML(&b, s); err != nil {
		t.Fatal(err)
	}
	return b.String()
}

// page is the address of one of Ada's assignments.
func (k *kit) page(a studio.Assignment) string {
	return practice.Card{Student: k.ada.ID, Assignment: a.ID}.Address()
}
