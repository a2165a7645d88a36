package library

import (
	"net/http"
	"net/url"
	"slices"
	"strconv"
	"strings"

	"html/template"

	"antiphon/internal/studio"
	"antiphon/internal/web/page"
	"antiphon/internal/web/prose"
	"antiphon/internal/web/sheet"
)

// forWhom says whose fingering is chosen, and from which task of which lesson. The zero value is everybody's.
type forWhom struct {
	Student studio.StudentID
	Lesson  studio.LessonID
	Card    int // of the lesson, from 1; 0 none
	Try     int // 1 or 2: it is to be tried as one of two ways; 0 it is not
}

func forWhomOf(q url.Values) forWhom {
	f := forWhom{Student: studio.StudentID(q.Get("for")), Lesson: studio.LessonID(q.Get("lesson"))}
	f.Card, _ = strconv.Atoi(q.Get("card")) // what is no number is none
	if f.Try, _ = strconv.Atoi(q.Get("try")); f.Try != 1 && f.Try != 2 || f.Card < 1 || f.Lesson == "" {
		f.Try = 0
	}
	return f
}

// into adds it to an address or a form.
func (f forWhom) into(q url.Values) url.Values {
	for name, v := range map[string]string{"for": string(f.Student), "lesson": string(f.Lesson)} {
		if v != "" {
			q.Set(name, v)
		}
	}
	for name, n := range map[string]int{"card": f.Card, "try": f.Try} {
		if n > 0 {
			q.Set(name, strconv.Itoa(n))
		}
	}
	return q
}

// ownView is one fingering that was kept for the child.
type ownView struct {
	ID    studio.FingeringID
	Say   string
	Why   string // as the teacher wrote it
	Unfit string
	Do    string // what its button says; "" none
	Holds bool
	Sheet template.HTML // folded; "" where it does not fit the notes
}

// students to choose from, by their names.
func (l *library) students(r *http.Request) ([]studio.Student, error) {
	all, err := l.desk().Students(r.Context(), page.Viewer(r))
	slices.SortStableFunc(all, func(a, b studio.Student) int { return strings.Compare(a.Name, b.Name) })
	return all, err
}

// owns lists what was kept for the child and the work, the newest first.
func (l *library) owns(r *http.Request, who studio.Student, work studio.Work) (all []ownView, err error) {
	kept, err := l.desk().Fingerings(r.Context(), page.Viewer(r), who.ID, work.ID)
	if err != nil {
		return nil, err
	}
	now := l.f.Now()
	for _, k := range kept {
		o := ownView{ID: k.ID, Why: k.Why, Holds: k.Holds()}
		switch {
		case o.Holds:
			o.Say = "In " + who.Name + "’s notes since " + page.Day(k.Held, now) + "."
		case k.Held.IsZero():
			o.Say, o.Do = "To be tried, kept "+page.Day(k.Kept, now)+".", "Use these fingers for "+who.Name+" from now on"
		case k.Ended.IsZero():
			o.Say = "In " + who.Name + "’s notes until the score was changed."
		default:
			o.Say, o.Do = "In "+who.Name+"’s notes until "+page.Day(k.Ended, now)+".", "Use these fingers for "+who.Name+" again"
		}
		if !k.Fits {
			o.Do = ""
			o.Unfit = "These fingers do not fit the notes as they are now. They wait here."
		} else if o.Sheet, err = sheet.Place(sheet.Placing{Work: work.ID, For: who.ID, Own: k.ID, Title: work.Title, NoTitle: true}); err != nil {
			return nil, err
		}
		all = append(all, o)
	}
	return all, nil
}

// knownHands are the limits that are known of a child's hands: what was asked the last time, and what the teacher says
// that these hands do without. Of the marks, those that stand make way.
func (l *library) knownHands(r *http.Request, s studio.StudentID, c choices) (choices, error) {
	asked, without, err := l.desk().AskedOfHands(r.Context(), page.Viewer(r), s)
	if err != nil {
		return c, err
	}
	if q, err := url.ParseQuery(asked); err == nil {
		if last, err := choicesOf(q); err == nil { // what cannot be read any more is nothing that is known
			last.From, last.To = c.From, c.To
			c = last
		}
	}
	for _, w := range without {
		switch w {
		case "fourth finger":
			c.NoFourth = true
		case "small barre", "full barre":
			c.NoBarre = true
		case "stretching":
			c.NoStretch = true
		case "higher positions":
			c.FirstPosition = true
		case "ring finger":
			c.NoA = true
		}
	}
	c.Anew = true
	return c, nil
}

// hands are of the choices those that hold for a hand and its guitar, whatever the work.
func (c choices) hands() choices {
	return choices{FirstPosition: c.FirstPosition, NoFourth: c.NoFourth, NoBarre: c.NoBarre, NoStretch: c.NoStretch, NoA: c.NoA, Hardest: c.Hardest,
		SpanMm: c.SpanMm, ScaleMm: c.ScaleMm, Ways: usualWays}
}

// inWords is what the hands were spared, for whoever reads later why these fingers were chosen.
func (c choices) inWords() string {
	var parts []string
	h := c.hands()
	for _, t := range h.switches() {
		if t.On() {
			parts = append(parts, strings.ToLower(t.Words))
		}
	}
	if c.SpanMm > 0 {
		parts = append(parts, "a span of "+decimal(c.SpanMm)+" mm")
	}
	return prose.Capital(prose.Among(parts))
}

// useForOne keeps a way for one child, and leads back to where it was asked for.
func (l *library) useForOne(w http.ResponseWriter, r *http.Request, who forWhom, work studio.WorkID, c choices, xml string) error {
	ctx, v := r.Context(), page.Viewer(r)
	why := firstOf(clipped(strings.Join(strings.Fields(r.PostForm.Get("why")), " "), mostTitle), c.inWords())
	f := studio.OwnFingering{Student: who.Student, Work: work, Score: xml, Asked: c.hands().values().Encode(), Why: why, Lesson: who.Lesson}
	if r.PostForm.Get("as") == "try" && who.Try > 0 {
		if _, err := l.desk().TryFingering(ctx, v, f, who.Card, who.Try); err != nil {
			return err
		}
	} else if _, err := l.desk().KeepFingering(ctx, v, f, false); err != nil {
		return err
	}
	return see(w, r, who.back(work))
}

// back is where the teacher goes on: the task that it was for, or the list of what is kept for the child.
func (f forWhom) back(work studio.WorkID) string {
	if f.Lesson != "" && f.Card > 0 {
		n := strconv.Itoa(f.Card)
		return "/lessons/" + url.PathEscape(string(f.Lesson)) + "?open=" + n + "#a" + n
	}
	return workAddress(work) + "/fingering?" + url.Values{"for": {string(f.Student)}, "saved": {"yes"}}.Encode() + "#own"
}

// holdFingering makes one that was kept the child's own again. POST /library/works/{work}/fingerings/{fingering}
func (l *library) holdFingering(w http.ResponseWriter, r *http.Request) error {
	if err := form(w, r); err != nil {
		return err
	}
	f, err := l.desk().HoldFingering(r.Context(), page.Viewer(r), studio.FingeringID(r.PathValue("fingering")))
	if err != nil {
		return err
	}
	who := forWhomOf(r.PostForm)
	who.Student = f.Student
	return see(w, r, who.back(f.Work))
}

// dropFingering lets a child play a work as everybody does. POST /library/works/{work}/fingerings
func (l *library) dropFingering(w http.ResponseWriter, r *http.Request) error {
	if err := form(w, r); err != nil {
		return err
	}
	who := forWhomOf(r.PostForm)
	if err := l.desk().DropFingering(r.Context(), page.Viewer(r), who.Student, workID(r)); err != nil {
		return err
	}
	return see(w, r, who.back(workID(r)))
}
