package desk

import (
	"math"
	"net/http"
	"slices"
	"time"

	"antiphon/internal/studio"
	"antiphon/internal/web/page"
	"antiphon/internal/web/prose"
)

// standing is the desk in words.
type standing struct {
	Today    string
	Heading  string
	Lead     string
	First    []step // what to do before anything can arrive
	Next     string // whom the next click opens
	Waiting  []bundle
	Promise  string // "3 days"
	Unsorted string
	Look     []line
	Arriving []line
	Quiet    []line
	AtHome   string // how the week fills in; "" before the first lesson
}

type step struct {
	Say, Why, Way string
	Done          bool
}

// bundle is all that one student waits with.
type bundle struct {
	ID     studio.StudentID
	Name   string
	Family string
	Hurt   bool
	Takes  []sent
	More   string
	Due    string
	Silent string
	Time   string
}

// sent is one take in a line.
type sent struct {
	ID     studio.TakeID
	Work   string
	Length string
	Note   string
	Says   []string
}

// line is a student or a take that is only mentioned.
type line struct {
	ID     string
	Name   string
	Family string
	Work   string
	Sent   string
	Why    string
}

// takesShown of a bundle; the student's page has all.
const takesShown = 8

func (p *pages) standingPage(w http.ResponseWriter, r *http.Request) error { // GET /desk
	s, err := p.stand(r)
	if err != nil {
		return err
	}
	return p.Render(w, r, "desk.html", page.View{Title: "Desk", Here: "desk", Wide: true, Data: s})
}

func (p *pages) standingPart(w http.ResponseWriter, r *http.Request) error { // GET /desk/standing
	s, err := p.stand(r)
	if err != nil {
		return err
	}
	return p.Part(w, "standing", s)
}

func (p *pages) stand(r *http.Request) (standing, error) {
	ctx, v := r.Context(), page.Viewer(r)
	now := p.f.Now()
	d, err := p.desk.Look(ctx, v)
	if err != nil {
		return standing{}, err
	}
	home, _, err := p.desk.Home(ctx)
	if err != nil {
		return standing{}, err
	}
	works, err := p.works(r)
	if err != nil {
		return standing{}, err
	}
	s := standing{Today: now.Format("Monday, 2 January"), Promise: page.Plural(home.ReplyDays, "day")}
	whole := 0.0
	for _, b := range d.Waiting {
		whole += b.Minutes
		s.Waiting = append(s.Waiting, bundleOf(b, works, now))
	}
	s.Heading, s.Lead = headed(d.Waiting, whole, now)
	if len(s.Waiting) > 0 {
		s.Next = s.Waiting[0].Name
	}
	names := map[studio.StudentID]string{}
	if len(d.Arriving)+len(d.NeedsLook) > 0 || len(d.Waiting) == 0 {
		students, err := p.desk.Students(ctx, v)
		if err != nil {
			return standing{}, err
		}
		for _, st := range students {
			names[st.ID] = st.Name
		}
		if len(works) == 0 || len(students) == 0 {
			s.First = begin(len(works) > 0, len(students) > 0)
			s.Heading, s.Lead = "Welcome", "Your desk is ready and empty. Two things come first."
			if len(works)+len(students) > 0 {
				s.Lead = "One more thing, and the first recording can come."
			}
		}
	}
	for _, t := range d.NeedsLook {
		s.Look = append(s.Look, line{ID: string(t.ID), Name: names[t.Student], Work: works.Of(t), Sent: page.Ago(t.Arrived, now), Why: t.Why})
	}
	for _, t := range d.Arriving {
		s.Arriving = append(s.Arriving, line{ID: string(t.ID), Name: names[t.Student], Work: works.Of(t), Why: prose.Take(t)[0]})
	}
	if n := d.Unsorted; n > 0 {
		s.Unsorted = prose.Capital(prose.Number(n, "recording", "recordings")) + " without a student’s name: say whose " + map[bool]string{true: "it is", false: "they are"}[n == 1]
	}
	for _, q := range d.Quiet {
		s.Quiet = append(s.Quiet, line{ID: string(q.Student.ID), Name: q.Student.Name, Family: "Family " + q.Family.Name, Why: since(q.Last, now)})
	}
	weeks, err := p.desk.SoFar(ctx, v)
	if err != nil {
		return standing{}, err
	}
	s.AtHome = filled(weeks)
	return s, nil
}

func since(last, now time.Time) string {
	if last.IsZero() {
		return "No recording has come yet."
	}
	return "Last heard " + page.Day(last, now) + ", " + page.Ago(last, now) + "."
}

// headed says how many wait, how long that will take, and what is promised today.
func headed(waiting []studio.Bundle, minutes float64, now time.Time) (heading, lead string) {
	if len(waiting) == 0 {
		return "Nobody waits", "Everything that was sent is answered. What families send appears here by itself."
	}
	heading = prose.Capital(prose.Number(len(waiting), "student waits", "students wait"))
	lead = "About " + prose.Length(minutes) + " in all."
	var today, before []string
	for _, b := range waiting {
		switch day := page.Day(b.Due, now); {
		case b.Due.IsZero():
		case day == "today":
			today = append(today, b.Student.Name)
		case b.Due.Before(now):
			before = append(before, b.Student.Name)
		}
	}
	if len(before) > 0 {
		lead += " Promised before today: " + named(before) + "."
	}
	if len(today) > 0 {
		return heading, lead + " Promised for today: " + named(today) + "."
	}
	if len(before) == 0 {
		lead += " Nothing is promised for today."
	}
	return heading, lead
}

// named lists a few by name and counts the others.
func named(names []string) string {
	const few = 5
	if len(names) > few {
		return prose.Among(append(names[:few:few], prose.Number(len(names)-few, "other", "others")))
	}
	return prose.Among(names)
}

func begin(works, students bool) []step {
	return []step{
		{Say: "Import a score", Way: "/library", Done: works,
			Why: "MusicXML, MIDI or ABC. A take is heard against its score, so the first piece you will ask for comes first."},
		{Say: "Invite a family", Way: "/studio/families/new", Done: students,
			Why: "You write down the first names and get a link for them; it works once and connects one phone."},
	}
}

func bundleOf(b studio.Bundle, works prose.Titles, now time.Time) bundle {
	one := bundle{ID: b.Student.ID, Name: b.Student.Name, Family: "Family " + b.Family.Name, Hurt: b.Hurt, Due: due(b.Due, now)}
	playing := 0.0
	for i, t := range inOrder(b.Takes) {
		playing += t.DurationS
		if i < takesShown {
			one.Takes = append(one.Takes, sentOf(t, works))
		}
	}
	if n := len(b.Takes) - takesShown; n > 0 {
		one.More = "and " + prose.Number(n, "more recording", "more recordings")
	}
	one.Time = prose.Capital(played(playing) + "about " + prose.Length(b.Minutes) + " for you")
	if b.SilentDays >= longSilence {
		one.Silent = "Your last lesson went out " + prose.Number(b.SilentDays, "day", "days") + " ago"
	}
	return one
}

// inOrder puts the takes with which something hurt before the others; each part as it came.
func inOrder(takes []studio.Take) []studio.Take {
	return slices.SortedStableFunc(slices.Values(takes), func(a, b studio.Take) int {
		switch {
		case a.Hurt == b.Hurt:
			return 0
		case a.Hurt:
			return -1
		}
		return 1
	})
}

// longSilence is when it is said how long ago the last lesson was: two lessons of a weekly rhythm (our
// choice, no source).
const longSilence = 14

func sentOf(t studio.Take, works prose.Titles) sent {
	one := sent{ID: t.ID, Work: works.Of(t), Note: t.Note, Says: prose.Take(t)}
	if t.DurationS > 0 {
		one.Length = page.Clock(t.DurationS)
	}
	return one
}

// played says how much playing there is, where that is known.
func played(seconds float64) string {
	switch {
	case !(seconds > 0):
		return ""
	case seconds < 45:
		return "Less than a minute of playing, "
	}
	return prose.Capital(prose.Number(int(math.Round(seconds/60)), "minute", "minutes")) + " of playing, "
}

// due says by when an answer was promised.
func due(t, now time.Time) string {
	if t.IsZero() {
		return ""
	}
	switch d := page.Day(t, now); {
	case d == "today":
		return "Promised for today"
	case d == "tomorrow":
		return "Promised for tomorrow"
	case t.Before(now):
		return "Was promised for " + d
	default:
		return "Promised by " + d
	}
}

// next opens the recording that should be listened to next: after the one named, or the most pressing.
func (p *pages) next(w http.ResponseWriter, r *http.Request) error { // GET /desk/next?after=TAKE
	d, err := p.desk.Look(r.Context(), page.Viewer(r))
	if err != nil {
		return err
	}
	to := "/desk"
	if t, ok := following(d.Waiting, studio.TakeID(r.FormValue("after"))); ok {
		to = "/takes/" + string(t)
	}
	http.Redirect(w, r, to, http.StatusSeeOther)
	return nil
}

// following is the take after one in the order of the desk, or the first. After the last there is none.
func following(bs []studio.Bundle, after studio.TakeID) (studio.TakeID, bool) {
	var first studio.TakeID
	passed := false
	for _, b := range bs {
		for _, t := range inOrder(b.Takes) {
			if passed {
				return t.ID, true
			}
			if first == "" {
				first = t.ID
			}
			passed = t.ID == after
		}
	}
	return first, first != "" && !passed
}
