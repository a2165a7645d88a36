package studio

import (
	"context"
	"encoding/json"
	"fmt"
	"slices"
	"strings"
	"time"
)

const (
	mostQuotes    = 3
	mostTempoDots = 60
	fewestDots    = 3 // for a chart
)

// DraftLetter writes a letter about a student's days from one to another, from nothing but what was logged in
// them, each fact with its place, in the family's language. It is kept nowhere. Where nothing was logged it says so kindly.
func (d *Desk) DraftLetter(ctx context.Context, v Viewer, id StudentID, from, to string) (Letter, error) {
	if err := v.must(itsTheLetters, Teacher); err != nil {
		return Letter{}, err
	}
	begin, end, err := d.stretch(from, to)
	if err != nil {
		return Letter{}, err
	}
	s, err := d.store.Student(ctx, v.scope(), id)
	if err != nil {
		return Letter{}, problemOf(err)
	}
	t := term{begin: begin, end: end, zone: d.o.Zone, student: s, letter: Letter{Studio: s.Studio, Family: s.Family, Student: id, From: from, To: to}}
	if err := d.lookBack(ctx, &t); err != nil {
		return Letter{}, problemOf(err)
	}
	t.write()
	return t.letter, nil
}

// term is what was logged in the days of a letter.
type term struct {
	begin, end time.Time
	zone       *time.Location
	student    Student
	letter     Letter
	words      letterWords
	title      map[WorkID]string
	lessons    []Lesson // the oldest first
	takes      []Take   // that were heard, the oldest first
	remarks    []Remark // with words, the newest first
	taps       []Tap    // the oldest first
}

func (t *term) has(at time.Time) bool { return !at.Before(t.begin) && at.Before(t.end) }

func (t *term) dayOf(at time.Time) string { return at.In(t.zone).Format(time.DateOnly) }

func (d *Desk) lookBack(ctx context.Context, t *term) error {
	in := OneFamily(t.student.Studio, t.student.Family)
	for _, ask := range []func() error{
		func() error {
			code, err := spokenIn(ctx, d.store, in, "")
			t.words = lettersIn(code)
			return err
		},
		func() error {
			ws, err := d.store.Works(ctx, t.student.Studio)
			t.title = map[WorkID]string{}
			for _, w := range ws {
				t.title[w.ID] = w.Title
			}
			return err
		},
		func() error {
			ls, err := d.store.Lessons(ctx, in, LessonQuery{Student: t.student.ID})
			for _, l := range slices.Backward(ls) {
				if t.has(l.Sent) {
					t.lessons = append(t.lessons, l)
				}
			}
			return err
		},
		func() error {
			ts, err := d.store.Takes(ctx, in, TakeQuery{Student: t.student.ID, Since: t.begin.AddDate(0, -1, 0)})
			for _, x := range slices.Backward(ts) {
				if t.has(x.Arrived) && x.Summary != nil && x.Work != "" {
					t.takes = append(t.takes, x)
				}
			}
			return err
		},
		func() error {
			rs, err := d.store.RemarksTo(ctx, in, t.student.ID, 0)
			for _, r := range rs {
				if t.has(r.Made) && r.Text != "" {
					t.remarks = append(t.remarks, r)
				}
			}
			return err
		},
		func() error {
			xs, err := d.store.Taps(ctx, in, TapQuery{Student: t.student.ID, Since: t.begin})
			for _, x := range slices.Backward(xs) {
				if t.has(x.At) {
					t.taps = append(t.taps, x)
				}
			}
			return err
		},
	} {
		if err := ask(); err != nil {
			return err
		}
	}
	return nil
}

func (t *term) write() {
	w, child := t.words, t.student.Name
	from, to := w.day(t.letter.From), w.day(t.letter.To)
	for _, part := range []func() (LetterPart, bool){t.worked, t.heard, t.home, t.said, t.next} {
		if p, any := part(); any {
			t.letter.Parts = append(t.letter.Parts, p)
		}
	}
	if len(t.letter.Parts) == 0 {
		t.letter.Parts = []LetterPart{{Heading: w.quiet, Text: say(w.quietText, child, from, to)}}
		return
	}
	t.letter.Parts = slices.Insert(t.letter.Parts, 0, LetterPart{Heading: w.hello, Text: say(w.helloText, child, from, to)})
}

// worked lists the works that lessons asked for.
func (t *term) worked() (LetterPart, bool) {
	type asked struct {
		n    int
		last Lesson
	}
	by := map[WorkID]*asked{}
	var order []WorkID
	for _, l := range t.lessons {
		seen := map[WorkID]bool{}
		for _, a := range l.Assignments {
			if a.Work == "" || a.Ask == AskHeld || seen[a.Work] {
				continue
			}
			seen[a.Work] = true
			if by[a.Work] == nil {
				by[a.Work] = &asked{}
				order = append(order, a.Work)
			}
			by[a.Work].n++
			by[a.Work].last = l
		}
	}
	p := LetterPart{Heading: say(t.words.worked, t.student.Name), Text: say(t.words.workedText, t.words.count(len(t.lessons), "lesson"))}
	for _, id := range order {
		p.Facts = append(p.Facts, Fact{Say: say(t.words.askedFact, t.title[id], t.words.count(by[id].n, "lesson")), Day: by[id].last.Date, Lesson: by[id].last.ID})
	}
	return p, len(p.Facts) > 0
}

// heard is how fast each work was played first and last, and a chart of the one that came most often.
func (t *term) heard() (LetterPart, bool) {
	by := map[WorkID][]Take{}
	var order []WorkID
	most := WorkID("")
	for _, x := range t.takes {
		if x.Summary.Bpm <= 0 {
			continue
		}
		if by[x.Work] == nil {
			order = append(order, x.Work)
		}
		by[x.Work] = append(by[x.Work], x)
		if len(by[x.Work]) > len(by[most]) {
			most = x.Work
		}
	}
	p := LetterPart{Heading: t.words.heard, Text: t.words.heardText}
	for _, id := range order {
		first, last := by[id][0], by[id][len(by[id])-1]
		f := Fact{Say: say(t.words.oneTempoFact, t.title[id], tempo(last)), Day: t.dayOf(last.Arrived), Take: last.ID}
		if first.ID != last.ID {
			f.Say = say(t.words.tempoFact, t.title[id], tempo(first), tempo(last))
		}
		p.Facts = append(p.Facts, f)
	}
	if len(by[most]) >= fewestDots {
		c := LetterChart{Kind: "tempo", Title: say(t.words.tempoChart, t.title[most])}
		for _, x := range by[most][max(0, len(by[most])-mostTempoDots):] {
			c.Points = append(c.Points, ChartPoint{Day: t.dayOf(x.Arrived), Value: x.Summary.Bpm})
		}
		p.Chart = c.doc()
	}
	return p, len(p.Facts) > 0
}

func tempo(t Take) string { return fmt.Sprintf("%.0f", t.Summary.Bpm) }

// doc is the chart as a letter keeps it. Its numbers were read from JSON, so they can be written as such.
func (c LetterChart) doc() json.RawMessage {
	b, err := json.Marshal(c)
	if err != nil {
		return nil
	}
	return b
}

// home counts the days on which something was tapped, week by week.
func (t *term) home() (LetterPart, bool) {
	var so SoFar
	so.fill(t.taps, t.zone)
	if len(so.Days) == 0 {
		return LetterPart{}, false
	}
	week := map[string]int{}
	for _, day := range so.Days {
		week[monday(day)]++
	}
	p := LetterPart{Heading: t.words.home, Text: say(t.words.homeText, t.words.count(len(so.Days), "day"))}
	c := LetterChart{Kind: "days", Title: t.words.homeChart}
	for m := monday(so.Days[0]); m <= so.Days[len(so.Days)-1]; m = later(m, 7) {
		c.Points = append(c.Points, ChartPoint{Day: m, Value: float64(week[m])})
		if week[m] > 0 {
			p.Facts = append(p.Facts, Fact{Say: say(t.words.homeFact, t.words.count(week[m], "day")), Day: m})
		}
	}
	p.Chart = c.doc()
	return p, true
}

// monday of the week of a day; days are written like 2026-11-25.
func monday(day string) string {
	at, err := time.Parse(time.DateOnly, day)
	if err != nil {
		return day
	}
	return at.AddDate(0, 0, -(int(at.Weekday())+6)%7).Format(time.DateOnly)
}

func later(day string, days int) string {
	at, err := time.Parse(time.DateOnly, day)
	if err != nil {
		return "9999-12-31"
	}
	return at.AddDate(0, 0, days).Format(time.DateOnly)
}

// said are the newest remarks, in the teacher's own words.
func (t *term) said() (LetterPart, bool) {
	p := LetterPart{Heading: t.words.said, Text: t.words.saidText}
	for _, r := range t.remarks {
		if len(p.Facts) == mostQuotes {
			break
		}
		line, _, _ := strings.Cut(r.Text, "\n")
		if !slices.ContainsFunc(p.Facts, func(f Fact) bool { return f.Say == line }) {
			p.Facts = append(p.Facts, Fact{Say: line, Day: t.dayOf(r.Made), Take: r.Take})
		}
	}
	return p, len(p.Facts) > 0
}

// next is what the newest lesson asks.
func (t *term) next() (LetterPart, bool) {
	if len(t.lessons) == 0 {
		return LetterPart{}, false
	}
	l := slices.MaxFunc(t.lessons, func(a, b Lesson) int { return a.Sent.Compare(b.Sent) })
	p := LetterPart{Heading: t.words.next, Text: t.words.nextText}
	for _, a := range l.Assignments {
		do, _, _ := strings.Cut(a.Do, "\n")
		name := t.title[a.Work]
		switch {
		case a.Ask == AskRest || name == "" && do == "":
			continue
		case a.Ask == AskHeld && a.Opens != "":
			do = say(t.words.heldFact, sentence(name, do), a.Opens)
		default:
			do = sentence(name, do)
		}
		p.Facts = append(p.Facts, Fact{Say: do, Day: l.Date, Lesson: l.ID})
	}
	return p, len(p.Facts) > 0
}

func sentence(title, do string) string {
	switch {
	case title == "":
		return do
	case do == "":
		return title + "."
	}
	return title + ": " + do
}
