package desk

import (
	"net/http"
	"slices"
	"strings"
	"time"

	"antiphon/internal/studio"
	"antiphon/internal/web/page"
	"antiphon/internal/web/prose"
)

// month is a piece of a student's timeline.
type month struct {
	Name  string
	Lines []event
}

// event is a lesson or a take in the timeline.
type event struct {
	at     time.Time
	Kind   string // "lesson", "take"
	Date   string
	Title  string
	Way    string
	Length string
	Mark   string
	Note   string
	Hurt   bool
	Says   []string
	Delete string
}

// A page of the timeline asks for so many takes and so many lessons: as many as studio gives with a
// student's file. Where one day alone has more, the whole of what can be asked for at once.
const (
	timelinePage = 50
	timelineMost = 500
)

const isoDay = "2006-01-02"

// history is the timeline of a student from now or from before a day, 2026-10-04; earlier is the day from
// which to look further back, "" at the beginning.
func (p *pages) history(r *http.Request, sf studio.StudentFile, before string, works prose.Titles) (months []month, earlier string, err error) {
	now := p.f.Now()
	lessons, takes := sf.Lessons, sf.Takes
	if before == "" {
		before = now.AddDate(1, 0, 0).Format(isoDay)
	} else if lessons, takes, err = p.before(r, sf.Student.ID, before, timelinePage); err != nil {
		return nil, "", err
	}
	months, earlier = timeline(lessons, takes, timelinePage, works, now)
	if len(months) > 0 || earlier == "" {
		return months, earlier, nil
	}
	if lessons, takes, err = p.before(r, sf.Student.ID, before, timelineMost); err != nil {
		return nil, "", err
	}
	months, earlier = timeline(lessons, takes, timelineMost, works, now)
	return months, earlier, nil
}

// before asks for what happened before a day.
func (p *pages) before(r *http.Request, id studio.StudentID, day string, most int) ([]studio.Lesson, []studio.Take, error) {
	midnight, err := time.ParseInLocation(isoDay, day, p.f.Now().Location())
	if err != nil {
		return nil, nil, &studio.Problem{Kind: studio.NotFound, Say: "There is no such day to look back from.", Err: err}
	}
	const least = "!" // comes before every id, so nothing of the day itself is asked for
	ctx, v := r.Context(), page.Viewer(r)
	lessons, err := p.desk.Lessons(ctx, v, studio.LessonQuery{Student: id, Drafts: true, Before: studio.Lesson{Date: day}, Limit: most})
	if err != nil {
		return nil, nil, err
	}
	takes, err := p.desk.TakesBy(ctx, v, studio.TakeQuery{Student: id, Before: studio.Take{ID: least, Announced: midnight}, Limit: most})
	return lessons, takes, err
}

// timeline puts lessons and takes, each the newest first and at most so many, into one order. Where a list
// is full there may be more behind it: then its last day is left for the next page, and earlier is the day
// to ask from. No months and an earlier day: one day fills the page.
func timeline(lessons []studio.Lesson, takes []studio.Take, most int, works prose.Titles, now time.Time) (months []month, earlier string) {
	var cut string // the newest day that may not be whole
	if len(lessons) >= most {
		cut = lessons[len(lessons)-1].Date
	}
	if len(takes) >= most {
		cut = max(cut, dayOf(takes[len(takes)-1].Announced, now))
	}
	var all []event
	for _, l := range lessons {
		if l.Date > cut {
			all = append(all, lessonEvent(l, works, now))
		}
	}
	for _, t := range takes {
		if dayOf(t.Announced, now) > cut {
			all = append(all, takeEvent(t, works, now))
		}
	}
	if cut != "" {
		earlier = nextDay(cut)
	}
	return byMonth(all), earlier
}

func byMonth(all []event) (months []month) {
	slices.SortStableFunc(all, func(a, b event) int { return b.at.Compare(a.at) })
	for _, e := range all {
		if name := e.at.Format("January 2006"); len(months) == 0 || months[len(months)-1].Name != name {
			months = append(months, month{Name: name})
		}
		m := &months[len(months)-1]
		m.Lines = append(m.Lines, e)
	}
	return months
}

func dayOf(t, now time.Time) string { return t.In(now.Location()).Format(isoDay) }

func nextDay(day string) string {
	t, err := time.Parse(isoDay, day)
	if err != nil {
		return day
	}
	return t.AddDate(0, 0, 1).Format(isoDay)
}

func lessonEvent(l studio.Lesson, works prose.Titles, now time.Time) event {
	e := event{Kind: "lesson", Way: "/lessons/" + string(l.ID), Title: "Lesson", Note: ""}
	e.at = lessonTime(l, now)
	e.Date = dated(e.at, now)
	if l.Sent.IsZero() {
		e.Title, e.Mark = "Lesson, not sent yet", "only you see it"
	}
	for _, a := range l.Assignments {
		e.Says = append(e.Says, titleOf(a, works))
	}
	return e
}

// lessonTime places a lesson in its day: at the end of it, after the takes that it answers.
func lessonTime(l studio.Lesson, now time.Time) time.Time {
	t, err := time.ParseInLocation(isoDay, l.Date, now.Location())
	if err != nil {
		return l.Saved.In(now.Location())
	}
	return t.AddDate(0, 0, 1).Add(-time.Second)
}

func takeEvent(t studio.Take, works prose.Titles, now time.Time) event {
	at := t.Announced.In(now.Location())
	e := event{at: at, Kind: "take", Date: dated(at, now), Title: works.Of(t), Way: "/takes/" + string(t.ID),
		Length: page.Clock(t.DurationS), Note: t.Note, Hurt: t.Hurt, Says: prose.Take(t),
		Delete: "/students/" + string(t.Student) + "/takes/" + string(t.ID) + "/delete"}
	if t.DurationS == 0 {
		e.Length = ""
	}
	if !t.Arrived.IsZero() && t.Answered.IsZero() {
		e.Mark = "waits for your answer"
	}
	return e
}

// dated is a day in a list that has its month above it.
func dated(t, now time.Time) string {
	if d := page.Day(t, now); d == "today" || d == "yesterday" {
		return strings.ToUpper(d[:1]) + d[1:]
	}
	return t.Format("Mon 2")
}
