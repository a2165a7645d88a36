package lesson

import (
	"net/http"
	"time"

	"antiphon/internal/studio"
	"antiphon/internal/web/page"
	"antiphon/internal/web/prose"
)

// hourLayout is what a field for a day and an hour sends (HTML, local date and time).
const hourLayout = "2006-01-02T15:04"

// later sets the hour at which a draft goes out by itself.
func (p *pages) later(r *http.Request, l studio.Lesson) error {
	at, err := time.ParseInLocation(hourLayout, r.PostForm.Get("sendat"), p.f.Now().Location())
	if err != nil {
		return &studio.Problem{Kind: studio.Invalid, Say: "Choose the day and the hour at which the lesson is to go out.", Err: err}
	}
	return p.desk.SendLater(r.Context(), page.Viewer(r), l.ID, l.Version, at)
}

// cancelSending leaves the draft a draft. POST /lessons/{lesson}/cancel
func (p *pages) cancelSending(w http.ResponseWriter, r *http.Request) error {
	id := studio.LessonID(r.PathValue("lesson"))
	if err := p.desk.CancelSending(r.Context(), page.Viewer(r), id); err != nil {
		return err
	}
	return p.back(w, r, "/lessons/"+string(id)+"#sending")
}

// takeBack makes a lesson that was just sent a draft again. POST /lessons/{lesson}/back
func (p *pages) takeBack(w http.ResponseWriter, r *http.Request) error {
	l, err := p.desk.TakeBack(r.Context(), page.Viewer(r), studio.LessonID(r.PathValue("lesson")))
	if err != nil {
		return err
	}
	return p.back(w, r, "/lessons/"+string(l.ID)+"?done=back")
}

// hourSays is when a draft goes out: "today at 18:00", "on Monday at 18:00".
func hourSays(at, now time.Time) string {
	at = at.In(now.Location())
	return prose.On(page.Day(at, now)) + " at " + at.Format("15:04")
}

// missedSays that a draft did not go out at its hour.
func missedSays(l studio.Lesson, now time.Time) string {
	if l.Missed.IsZero() {
		return ""
	}
	return "This lesson was to go out " + hourSays(l.Missed, now) + " and did not, because something in it was not written to its end. Look it through, then send it."
}

// regret is how a sent lesson can be taken back.
type regret struct {
	Until string // 18:19
	Left  string // in words
	LeftS int    // the same, for a script
}

// regretOf is nil once the lesson stays sent.
func regretOf(l studio.Lesson, now time.Time) *regret {
	until := l.Sent.Add(studio.UnsendFor)
	if l.Sent.IsZero() || !now.Before(until) {
		return nil
	}
	left := "less than a minute is left"
	switch m := int(until.Sub(now) / time.Minute); {
	case m == 1:
		left = "one minute is left"
	case m > 1:
		left = prose.Count(m) + " minutes are left"
	}
	return &regret{until.In(now.Location()).Format("15:04"), left, int(until.Sub(now) / time.Second)}
}

// openedSays whether the family has opened a lesson.
func openedSays(l studio.Lesson, family string, now time.Time) string {
	if l.Opened.IsZero() {
		return family + " has not opened it yet."
	}
	return family + " opened it " + hourSays(l.Opened, now) + "."
}
