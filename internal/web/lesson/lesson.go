package lesson

import (
	"net/http"
	"slices"
	"strconv"
	"strings"
	"time"

	"antiphon/internal/studio"
	"antiphon/internal/web/page"
	"antiphon/internal/web/prose"
	"antiphon/internal/web/tongue"
)

// editor is a draft in a form.
type editor struct {
	ID      studio.LessonID
	Student studio.StudentID
	Name    string
	Family  string
	Version int
	Date    string
	Words   string
	Hint    string // on the words
	Cards   []card
	Kinds   []option // of a task to be added
	Library []string // titles to choose from
	Minutes string   // of all tasks together
	Phrases []phrase

	HasMinutes int // a day, of the family; 0 nobody said

	SendSays string
	Saved    string
	Unsaved  bool // what stands in the form is not in the store
	Problem  string
	Conflict bool // somebody saved in between
	WasSent  bool // somebody sent it in between
	OtherAt  string
	Hurt     bool // in a recording that waits
	Takes    []reviewed
	Opening  answer
	Film     film
	Goes     string // when it goes out by itself; "" it does not
	Missed   string // when it was to go out and did not; "" it never was
	SendAt   string // the same, as a field has it
	Now      string // what has just been done
}

// reviewed is a take that waits, with what was said about it.
type reviewed struct {
	ID      studio.TakeID
	Work    string
	Sent    string
	Note    string
	Says    []string
	Remarks []remarked
}

// remarked is a remark, and where it was made.
type remarked struct {
	ID    studio.RemarkID
	Text  string
	Where string
	Aloud bool // there are no words to put into the lesson
}

func saidIn(m studio.Remark) remarked {
	one := remarked{ID: m.ID, Text: m.Text, Where: "at " + page.Clock(m.Anchor.AtS)}
	if one.Text == "" {
		one.Text, one.Aloud = "Said aloud", true
	}
	if m.Anchor.Bar != "" {
		one.Where = "bar " + m.Anchor.Bar
	}
	return one
}

// lessonPage shows a draft to the teacher, and a lesson that was sent to its family too.
func (p *pages) lessonPage(w http.ResponseWriter, r *http.Request) error { // GET /lessons/{lesson}
	l, err := p.desk.Lesson(r.Context(), page.Viewer(r), studio.LessonID(r.PathValue("lesson")))
	if err != nil {
		return err
	}
	if !l.Sent.IsZero() {
		return p.readLesson(w, r, l)
	}
	e, err := p.edit(r, l)
	if err != nil {
		return err
	}
	return p.renderEditor(w, r, e)
}

func (p *pages) renderEditor(w http.ResponseWriter, r *http.Request, e editor) error {
	return p.Render(w, r, "lesson.html", page.View{Title: "Lesson for " + e.Name, Here: "students", Wide: true, Data: e})
}

// edit puts a draft into words, with what waits beside it.
func (p *pages) edit(r *http.Request, l studio.Lesson) (editor, error) {
	ctx, v, now := r.Context(), page.Viewer(r), p.f.Now()
	works, err := p.works(r)
	if err != nil {
		return editor{}, err
	}
	sf, err := p.desk.Student(ctx, v, l.Student)
	if err != nil {
		return editor{}, err
	}
	takes, err := p.desk.TakesBy(ctx, v, studio.TakeQuery{Student: l.Student, Unanswered: true, Limit: takesCounted})
	if err != nil {
		return editor{}, err
	}
	remarks, err := p.desk.RemarksOf(ctx, v, l.Student, remarksRead)
	if err != nil {
		return editor{}, err
	}
	e := editor{ID: l.ID, Student: l.Student, Name: sf.Student.Name, Family: sf.Family.Name, Version: l.Version,
		Date: l.Date, Words: l.Words, Kinds: kindsFor(studio.AskPlay), Saved: savedSays(l, now)}
	for _, w := range works.InOrder() {
		e.Library = append(e.Library, prose.Listed(w))
	}
	slices.Reverse(takes) // as they came
	unsaid := 0
	for _, t := range takes {
		one := reviewed{ID: t.ID, Work: works.Of(t), Sent: page.Ago(t.Arrived, now), Note: t.Note, Says: prose.Take(t)}
		for _, m := range slices.Backward(remarks) {
			if m.Take == t.ID {
				one.Remarks = append(one.Remarks, saidIn(m))
			}
		}
		if len(one.Remarks) == 0 {
			unsaid++
		}
		e.Hurt = e.Hurt || t.Hurt
		e.Takes = append(e.Takes, one)
	}
	e.SendSays = sendSays(e.Name, namesOf(sf.People), len(takes), unsaid)
	if err := p.cards(r, &e, l, works); err != nil {
		return editor{}, err
	}
	if l.ID == "" {
		return e, nil
	}
	as, err := p.desk.Answers(ctx, v, l.ID)
	if err != nil {
		return editor{}, err
	}
	torn, err := p.desk.Torn(ctx, v, l.ID)
	if err != nil {
		return editor{}, err
	}
	e.answers(l, as, torn, works)
	e.Problem, e.Missed = halfSays(l), missedSays(l, now)
	if !l.SendAt.IsZero() {
		e.Goes, e.SendAt = hourSays(l.SendAt, now), l.SendAt.In(now.Location()).Format(hourLayout)
	}
	e.Now = doneWords[r.FormValue("done")]
	if e.Phrases, err = p.phrases(r); err != nil {
		return editor{}, err
	}
	e.Film, err = p.filmOf(r, l, as, works)
	return e, err
}

// cards are the tasks of a draft, each with what can be chosen for it.
func (p *pages) cards(r *http.Request, e *editor, l studio.Lesson, works prose.Titles) error {
	ctx, v := r.Context(), page.Viewer(r)
	in, err := p.tongue(r, l.Family)
	if err != nil {
		return err
	}
	m, err := p.moments(r, l.Student, works)
	if err != nil {
		return err
	}
	if e.HasMinutes, err = p.minutesOf(r, l.Student); err != nil {
		return err
	}
	reasons, err := p.reasons(r, l)
	if err != nil {
		return err
	}
	e.Hint, e.Minutes = hint(in, l.Words), minutesSay(l.Assignments, e.HasMinutes)
	kept, err := p.desk.Fingerings(ctx, v, l.Student, "")
	if err != nil {
		return err
	}
	last, err := p.desk.SoFarOf(ctx, v, l.Student)
	if err != nil {
		return err
	}
	open, _ := strconv.Atoi(r.FormValue("open"))
	for i, a := range l.Assignments {
		c := cardOf(i, a, works)
		c.First, c.Final, c.Open = i == 0, i == len(l.Assignments)-1, open == c.N || len(l.Assignments) == 1
		c.DoHint, c.Reasons = hint(in, a.Do), reasons[i]
		if a.Work != "" {
			passages, err := p.desk.Passages(ctx, v, a.Work)
			if err != nil {
				return err
			}
			c.Passages, c.Music = passagesSay(passages), musicAt(l.ID, c.N, a)
		}
		p.twoWays(&c, l, a, e.Name, kept, last)
		if err := m.choices(r, &c, l.ID, a); err != nil {
			return err
		}
		e.Cards = append(e.Cards, c)
	}
	return nil
}

// reasons say why the tasks of a draft were proposed, for each that asks what a proposal of today asks.
func (p *pages) reasons(r *http.Request, l studio.Lesson) ([][]string, error) {
	say := make([][]string, len(l.Assignments))
	proposed, all, err := p.desk.ProposeLesson(r.Context(), page.Viewer(r), l.Student)
	if err != nil {
		return nil, err
	}
	keys := keysOf(l.Assignments)
	for i, k := range keysOf(proposed.Assignments) {
		if at := slices.Index(keys, k); at >= 0 {
			say[at] = reasonsFor(i, all)
		}
	}
	return say, nil
}

// minutesOf is what a family has on its shortest day of practice, 0 where the teacher never said.
func (p *pages) minutesOf(r *http.Request, s studio.StudentID) (least int, err error) {
	v, err := p.desk.PlanOf(r.Context(), page.Viewer(r), s)
	if err != nil {
		return 0, err
	}
	for _, m := range v.Says.Minutes {
		if m > 0 && (least == 0 || m < least) {
			least = m
		}
	}
	return least, nil
}

// tongue is the language in which a family reads: its page of a lesson, what is printed and what is hinted at.
func (p *pages) tongue(r *http.Request, family studio.FamilyID) (*tongue.Tongue, error) {
	v := page.Viewer(r)
	if v.Role != studio.Teacher {
		return p.f.Tongue(r)
	}
	code, err := p.desk.FamilyLanguage(r.Context(), v, family)
	return tongue.Of(code), err
}

func passagesSay(all []studio.Passage) string {
	var parts []string
	for _, one := range all {
		parts = append(parts, one.Name+" ("+prose.Bars(one.FromBar, one.ToBar)+")")
	}
	return strings.Join(parts, ", ")
}

func savedSays(l studio.Lesson, now time.Time) string {
	if l.Version == 0 {
		return ""
	}
	return "Saved " + savedWhen(l, now) + "."
}

// savedWhen is the moment of the last saving: "at 18:09" for today, else "yesterday at 18:09", "on Monday at 18:09".
func savedWhen(l studio.Lesson, now time.Time) string {
	at := l.Saved.In(now.Location())
	clock := "at " + at.Format("15:04")
	if day := page.Day(at, now); day != "today" {
		return prose.On(day) + " " + clock
	}
	return clock
}

// sendSays is what pressing the button does, before it is pressed.
func sendSays(student string, adults []string, waiting, unsaid int) string {
	who := prose.Among(adults)
	if who == "" {
		who = "the family, as soon as a phone is connected,"
	}
	say := prose.Capital(who) + " and " + student + " see this lesson at once. For ten minutes you can take it back; then it stays, and a new one can follow any time."
	switch {
	case waiting == 1:
		say += " The recording that waits counts as answered."
	case waiting > 1:
		say += " The " + prose.Number(waiting, "recording", "recordings") + " that wait count as answered."
	}
	if waiting > 0 && unsaid > 0 && unsaid < waiting {
		say += " " + prose.Capital(prose.Number(unsaid, "of them has", "of them have")) + " no remark yet."
	}
	return say
}

func namesOf(people []studio.Person) (names []string) {
	for _, one := range people {
		names = append(names, one.Name)
	}
	return names
}
