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
	l.Version, l.Words = version, lines(r.PostForm.Get("words"))
	if date := r.PostForm.Get("date"); stored.Date == "" || isDay(date) || !byScript(r) { // a day is typed figure by figure too
		l.Date = date
	}
	l.Assignments = nil
	for i, id := range ids {
		f := cardForm{form: r.PostForm, n: strconv.Itoa(i + 1), works: works}
		var a studio.Assignment
		// An id that is of no task of this lesson, or twice the same: the task gets its own.
		known := func(s studio.Assignment) bool { return string(s.ID) == id }
		if at := slices.IndexFunc(stored.Assignments, known); at >= 0 && !slices.ContainsFunc(l.Assignments, known) {
			a = stored.Assignments[at]
		}
		l.Assignments = append(l.Assignments, f.assignment(a))
	}
	if err := p.ownOnly(r, &l); err != nil {
		return l, err
	}
	return l, fits(l)
}

// cardForm reads the fields of one card: name.n each. What cannot be read, or not yet, is kept in half as it was typed.
type cardForm struct {
	form  url.Values
	n     string
	works prose.Titles
	half  map[string]string
}

// assignment reads a card over what is stored of it.
func (f *cardForm) assignment(a studio.Assignment) studio.Assignment {
	a.Ask = studio.Ask(f.word("ask"))
	a.Work, a.For = f.work("work", "title"), f.work("for", "fortitle")
	a.FromBar, a.ToBar, a.Do, a.Watch, a.Opens = f.word("from"), f.word("to"), f.text("do"), f.text("watch"), f.word("opens")
	a.Minutes = f.whole("minutes")
	a.Coach = f.list("coach")
	a.Goals = studio.Goals{FromBpm: f.bpm("tempofrom"), TempoBpm: f.bpm("tempo"), CleanRun: f.whole("clean"), ContrastDb: f.number("contrast"),
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
		a.Second = studio.Second{Kind: kind, AfterBars: f.whole("after"), Part: f.word("part"), Who: f.word("who")}
	}
	for i := range a.Ways {
		n := strconv.Itoa(i + 1)
		a.Ways[i] = studio.Way{Say: f.word("way" + n), Fingering: f.word("wayfingers" + n), Own: studio.FingeringID(f.word("wayown" + n))}
	}
	a.Half = f.half
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

// later keeps what was typed in a field, to be read once it is written to its end.
func (f *cardForm) later(name string) {
	if f.half == nil {
		f.half = map[string]string{}
	}
	f.half[name] = f.word(name)
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
		f.later(title)
		if _, ok := f.works[was]; !ok {
			return ""
		}
		return was
	}
	return w.ID
}

func (f *cardForm) whole(name string) int {
	s := f.word(name)
	if s == "" {
		return 0
	}
	n, err := strconv.Atoi(s)
	if err != nil || n < 0 || n > 10_000 {
		f.later(name)
		return 0
	}
	return n
}

func (f *cardForm) number(name string) float64 {
	s := strings.Replace(f.word(name), ",", ".", 1)
	if s == "" {
		return 0
	}
	x, err := strconv.ParseFloat(s, 64)
	if err != nil || !(x >= 0 && x <= 1000) {
		f.later(name)
		return 0
	}
	return x
}

func (f *cardForm) bpm(name string) float64 {
	x, err := bpm(f.get(name))
	if err != nil {
		f.later(name)
	}
	return x
}

// usualStepBpm is a step that is hardly felt (common practice, no source).
const usualStepBpm = 4

// ladder begins and ends with the tempos of the goal where it does not say its own.
func (f *cardForm) ladder(g studio.Goals) studio.Ladder {
	l := studio.Ladder{FromBpm: f.bpm("ladderfrom"), ToBpm: f.bpm("ladderto"), StepBpm: f.number("ladderstep"), Clean: f.whole("ladderclean")}
	if l.Clean == 0 { // no ladder, or not yet
		return l
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
	if c.ToS == 0 && f.half[name+".to"] == "" {
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
			f.later(name)
			return 0
		}
		at = at*60 + x
	}
	return at
}

// isDay says whether a lesson can have this day: a year is typed figure by figure, and 0002 is none.
func isDay(s string) bool {
	day, err := time.Parse(time.DateOnly, s)
	return err == nil && day.Year() >= 2000 && day.Year() < 2200
}

// byScript says that the page saves while it is being written, and nobody pressed a button.
func byScript(r *http.Request) bool {
	return strings.Contains(r.Header.Get("Accept"), "application/json")
}

// fits refuses what no lesson holds.
func fits(l studio.Lesson) error {
	if !isDay(l.Date) {
		return &studio.Problem{Kind: studio.Invalid, Say: "The lesson needs its day."}
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
