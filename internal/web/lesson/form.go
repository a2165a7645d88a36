package lesson

import (
	"fmt"
	"net/http"
	"net/url"
	"slices"
	"strconv"
	"strings"
	"time"
	"unicode"

	"antiphon/internal/studio"
	"antiphon/internal/web/prose"
)

// written reads the form into a lesson. Of the stored lesson come the ids that may be used and what no field holds;
// everything else is what stands in the form, at the version that the form was made from.
func (p *pages) written(r *http.Request, stored studio.Lesson) (studio.Lesson, error) {
	l := stored
	version, err := strconv.Atoi(r.PostForm.Get("version"))
	if err != nil || version < 0 {
		return l, &studio.Problem{Kind: studio.Invalid, Say: "The page sent something that makes no sense. Load it again."}
	}
	ids := r.PostForm["id"]
	if len(ids) > assignmentsMost {
		return l, &studio.Problem{Kind: studio.Invalid, Say: fmt.Sprintf("A lesson holds at most %d tasks.", assignmentsMost)}
	}
	if !r.PostForm.Has("end") || len(ids) > 0 && !r.PostForm.Has(fmt.Sprintf("do.%d", len(ids))) || r.PostForm.Has(fmt.Sprintf("do.%d", len(ids)+1)) {
		return l, &studio.Problem{Kind: studio.Invalid, Say: "A part of the lesson did not arrive. Send it again."}
	}
	works, err := p.works(r)
	if err != nil {
		return l, err
	}
	l.Version, l.Date, l.Words = version, r.PostForm.Get("date"), lines(r.PostForm.Get("words"))
	l.Assignments = nil
	var wrong error
	for i, id := range ids {
		f := cardForm{form: r.PostForm, n: strconv.Itoa(i + 1), works: works}
		var a studio.Assignment
		// An id that is of no task of this lesson, or twice the same: the task gets its own.
		known := func(s studio.Assignment) bool { return string(s.ID) == id }
		if at := slices.IndexFunc(stored.Assignments, known); at >= 0 && !slices.ContainsFunc(l.Assignments, known) {
			a = stored.Assignments[at]
		}
		a = f.assignment(a)
		if f.wrong != nil && wrong == nil {
			wrong = f.wrong
		}
		l.Assignments = append(l.Assignments, a)
	}
	if wrong == nil {
		wrong = fits(l)
	}
	return l, wrong
}

// cardForm reads the fields of one card: name.n each. The first that makes no sense is kept in wrong; the others are
// read all the same.
type cardForm struct {
	form  url.Values
	n     string
	works prose.Titles
	wrong error
}

// assignment reads a card over what is stored of it.
func (f *cardForm) assignment(a studio.Assignment) studio.Assignment {
	a.Ask = studio.Ask(f.word("ask"))
	a.Work, a.For = f.work("work", "title"), f.work("for", "fortitle")
	a.FromBar, a.ToBar, a.Do, a.Watch, a.Opens = f.word("from"), f.word("to"), f.text("do"), f.text("watch"), f.word("opens")
	a.Minutes = f.whole("minutes", "The minutes a day")
	a.Coach = f.list("coach")
	a.Goals = studio.Goals{FromBpm: f.bpm("tempofrom"), TempoBpm: f.bpm("tempo"), CleanRun: f.whole("clean", "How often in a row"), ContrastDb: f.number("contrast", "The decibels between loud and soft"),
		Dynamics: f.word("dynamics"), Tone: kept(tones(), f.word("tone")), Stroke: kept(strokes(), f.word("stroke")), Fingering: f.word("fingering"), DoneWhen: f.word("done")}
	a.Ladder = f.ladder(a.Goals)
	a.Like, a.Unlike, a.Best, a.Last = f.clip("like"), f.clip("unlike"), f.clip("best"), f.clip("last")
	a.Model = studio.TakeID(f.word("model"))
	a.Question = nil
	if q := (studio.Question{Say: f.word("ask.say"), Choices: f.list("ask.choices"), Right: f.list("ask.right"), Explain: f.text("ask.explain")}); q.Say != "" || q.Choices != nil || q.Right != nil {
		a.Question = &q
	}
	a.Second = studio.Second{}
	if kind := f.word("second"); kind != "" {
		a.Second = studio.Second{Kind: kind, AfterBars: f.whole("after", "The bars before the second voice"), Part: f.word("part"), Who: f.word("who")}
	}
	for i := range a.Ways {
		n := strconv.Itoa(i + 1)
		a.Ways[i] = studio.Way{Say: f.word("way" + n), Fingering: f.word("wayfingers" + n)}
	}
	return a
}

func (f *cardForm) get(name string) string  { return f.form.Get(name + "." + f.n) }
func (f *cardForm) word(name string) string { return word(f.get(name)) }
func (f *cardForm) text(name string) string { return lines(f.get(name)) }

func (f *cardForm) list(name string) (all []string) {
	for l := range strings.SplitSeq(f.text(name), "\n") {
		if l = word(l); l != "" {
			all = append(all, l)
		}
	}
	return all
}

func (f *cardForm) refuse(err error, format string, args ...any) {
	if f.wrong == nil {
		f.wrong = &studio.Problem{Kind: studio.Invalid, Say: "Task " + f.n + ": " + fmt.Sprintf(format, args...) + " Everything else you wrote stands here still.", Err: err}
	}
}

// work is the one whose title stands in the field, or the one that stood there before where the title is still its.
func (f *cardForm) work(id, title string) studio.WorkID {
	was, says := studio.WorkID(f.word(id)), f.word(title)
	if says == "" && f.form.Has(title+"."+f.n) {
		return ""
	}
	if w, ok := f.works[was]; ok && (says == "" || says == word(w.Title)) {
		return was
	}
	w, ok := f.works.Called(says)
	if !ok {
		f.refuse(nil, "“%s” is not in the library. Choose a title from the list.", short(says))
		return was
	}
	return w.ID
}

func (f *cardForm) whole(name, what string) int {
	s := f.word(name)
	if s == "" {
		return 0
	}
	n, err := strconv.Atoi(s)
	if err != nil || n < 0 || n > 10_000 {
		f.refuse(err, "%s are a whole number; “%s” is none.", what, short(s))
		return 0
	}
	return n
}

func (f *cardForm) number(name, what string) float64 {
	s := strings.Replace(f.word(name), ",", ".", 1)
	if s == "" {
		return 0
	}
	x, err := strconv.ParseFloat(s, 64)
	if err != nil || !(x >= 0 && x <= 1000) {
		f.refuse(err, "%s are a number; “%s” is none.", what, short(s))
		return 0
	}
	return x
}

func (f *cardForm) bpm(name string) float64 {
	s := f.get(name)
	x, err := bpm(s)
	if err != nil {
		f.refuse(err, "The tempo is a number of quarter notes a minute, such as 66; “%s” is not.", short(s))
	}
	return x
}

// usualStepBpm is a step that is hardly felt (common practice, no source).
const usualStepBpm = 4

// ladder begins and ends with the tempos of the goal where it does not say its own.
func (f *cardForm) ladder(g studio.Goals) studio.Ladder {
	l := studio.Ladder{FromBpm: f.bpm("ladderfrom"), ToBpm: f.bpm("ladderto"), StepBpm: f.number("ladderstep", "The step of the ladder"), Clean: f.whole("ladderclean", "The clean passes for the next rung")}
	if l.Clean == 0 {
		return studio.Ladder{}
	}
	if l.FromBpm == 0 {
		l.FromBpm = g.FromBpm
	}
	if l.ToBpm == 0 {
		l.ToBpm = g.TempoBpm
	}
	if l.StepBpm == 0 {
		l.StepBpm = usualStepBpm
	}
	return l
}

// usualClipS is how long a clip is that says no end.
const usualClipS = 10

func (f *cardForm) clip(name string) studio.Clip {
	c := studio.Clip{Take: studio.TakeID(f.word(name)), Say: f.word(name + ".say")}
	if c.Take == "" {
		return studio.Clip{}
	}
	c.FromS, c.ToS = f.moment(name+".from"), f.moment(name+".to")
	if c.ToS == 0 {
		c.ToS = c.FromS + usualClipS
	}
	return c
}

// moment is a place in a take: "1:05.5", "65,5" or "".
func (f *cardForm) moment(name string) float64 {
	s := strings.Replace(f.word(name), ",", ".", 1)
	if s == "" {
		return 0
	}
	at := 0.0
	for part := range strings.SplitSeq(s, ":") {
		x, err := strconv.ParseFloat(strings.TrimSpace(part), 64)
		if err != nil || !(x >= 0 && x < 1e5) {
			f.refuse(err, "“%s” is no place in a recording. Write minutes and seconds, such as 1:05.", short(s))
			return 0
		}
		at = at*60 + x
	}
	return at
}

// fits refuses what no lesson holds.
func fits(l studio.Lesson) error {
	if _, err := time.Parse(time.DateOnly, l.Date); err != nil {
		return &studio.Problem{Kind: studio.Invalid, Say: "The lesson needs its day.", Err: err}
	}
	long := len(l.Words)
	for _, a := range l.Assignments {
		g := a.Goals
		long = max(long, len(a.Do), len(a.FromBar), len(a.ToBar), len(g.Tone), len(g.Dynamics), len(g.Stroke), len(g.Fingering), len(g.DoneWhen))
	}
	if long > lessonBytes {
		return &studio.Problem{Kind: studio.Invalid, Say: "One of the texts is longer than a lesson holds. Make two of it."}
	}
	return nil
}

// lines keeps the line ends that a person typed, in one way of writing them, and no other control signs.
func lines(s string) string {
	s = strings.ReplaceAll(strings.ToValidUTF8(s, ""), "\r\n", "\n")
	s = strings.Map(func(r rune) rune {
		if unicode.IsControl(r) && r != '\n' {
			return ' '
		}
		return r
	}, s)
	return strings.TrimRight(s, " \n")
}

// word is what fits into one line.
func word(s string) string { return strings.Join(strings.Fields(lines(s)), " ") }

func short(s string) string {
	if r := []rune(s); len(r) > 20 {
		return string(r[:20]) + "…"
	}
	return s
}
