package desk

import (
	"fmt"
	"math"
	"net/http"
	"slices"
	"time"

	"antiphon/internal/studio"
	"antiphon/internal/web/page"
	"antiphon/internal/web/prose"
)

// athome is how the week of all families fills in, without opening each.
type athome struct {
	Lead    string
	First   []weekAtHome // with something that wants an answer
	Playing []weekAtHome
	Still   []weekAtHome // nothing was tapped since the lesson
	None    string       // who has no lesson yet
}

// weekAtHome is what was tapped at home of one student's lesson.
type weekAtHome struct {
	ID     studio.StudentID
	Name   string
	Family string
	Lesson studio.LessonID
	Since  string // the lesson, and whether it was opened
	Days   []dayAtHome
	Played string // the days in words
	Items  []itemAtHome
	Asked  []word
	Hurts  []word
}

// dayAtHome is one day of the row that is drawn.
type dayAtHome struct {
	Name   string
	Played bool
}

type itemAtHome struct {
	Title  string
	Says   []string
	Work   studio.WorkID
	Choice studio.FingeringID // chosen at home, and not the child's own yet; "" none
}

// word is something a family said: a question, a voice note, that something hurt.
type word struct {
	Tap   string
	Text  string
	Day   string
	Voice studio.MediaID
	Waits bool // for a word from the teacher
}

// daysDrawn are the last days of a week at home that are drawn: an unanswered lesson may be old.
const daysDrawn = 14

func (p *pages) athome(w http.ResponseWriter, r *http.Request) error { // GET /desk/at-home
	weeks, err := p.desk.SoFar(r.Context(), page.Viewer(r))
	if err != nil {
		return err
	}
	works, err := p.works(r)
	if err != nil {
		return err
	}
	a := athome{Lead: filled(weeks)}
	var none []string
	for _, s := range weeks {
		if s.Lesson == "" {
			none = append(none, s.Student.Name)
			continue
		}
		one := weekOf(s, works, p.f.Now())
		switch {
		case waiting(s.Hurts)+waiting(s.Questions) > 0:
			a.First = append(a.First, one)
		case len(s.Days) > 0:
			a.Playing = append(a.Playing, one)
		default:
			a.Still = append(a.Still, one)
		}
	}
	slices.SortStableFunc(a.First, func(x, y weekAtHome) int { return first(y.Hurts) - first(x.Hurts) })
	if len(none) > 0 {
		a.None = "No lesson was sent yet to " + named(none) + "."
	}
	return p.Render(w, r, "athome.html", page.View{Title: "The week at home", Here: "desk", Wide: true, Data: a})
}

// filled says in a sentence how far the week has filled in; "" where no lesson was sent.
func filled(weeks []studio.SoFar) string {
	played, lessons, asked, hurt := 0, 0, 0, 0
	for _, s := range weeks {
		if s.Lesson == "" {
			continue
		}
		lessons++
		played += min(len(s.Days), 1)
		asked += waiting(s.Questions)
		hurt += min(waiting(s.Hurts), 1)
	}
	if lessons == 0 {
		return ""
	}
	say := fmt.Sprintf("%s of %s tapped something at home since the lesson.", prose.Capital(prose.Count(played)), prose.Number(lessons, "student", "students"))
	if asked > 0 {
		say += " " + prose.Capital(prose.Number(asked, "question waits", "questions wait")) + " for a word from you."
	}
	if hurt > 0 {
		say += " " + prose.Capital(prose.Number(hurt, "student", "students")) + " said that something hurt."
	}
	return say
}

func weekOf(s studio.SoFar, works prose.Titles, now time.Time) weekAtHome {
	one := weekAtHome{ID: s.Student.ID, Name: s.Student.Name, Family: "Family " + s.Family.Name, Lesson: s.Lesson,
		Since: "Lesson of " + page.Day(s.Sent, now)}
	if s.Opened.IsZero() {
		one.Since += ", not opened yet"
	} else {
		one.Since += ", opened " + page.Day(s.Opened, now)
	}
	one.Days, one.Played = daysOf(s, now)
	for _, i := range s.Items {
		if says := tapped(i); len(says) > 0 {
			one.Items = append(one.Items, itemAtHome{titleOf(i.Assignment, works), says, i.Assignment.Work, i.Choice})
		}
	}
	one.Asked, one.Hurts = wordsOf(s.Questions, now), wordsOf(s.Hurts, now)
	return one
}

// daysOf are the days since the lesson up to today, and the same in words.
func daysOf(s studio.SoFar, now time.Time) (drawn []dayAtHome, say string) {
	y, m, d := s.Sent.In(now.Location()).Date()
	first := time.Date(y, m, d, 0, 0, 0, 0, now.Location())
	var days []string
	whole := 0
	for day := first; !day.After(now); day = day.AddDate(0, 0, 1) {
		whole++
		played := slices.Contains(s.Days, day.Format(isoDay))
		drawn = append(drawn, dayAtHome{day.Format("Mon"), played})
		if played {
			days = append(days, day.Format("Mon"))
		}
	}
	if over := len(drawn) - daysDrawn; over > 0 {
		drawn = drawn[over:]
	}
	switch {
	case len(days) == 0:
		return drawn, "Nothing tapped yet."
	case len(days) > daysDrawn/2:
		return drawn, fmt.Sprintf("On %d of %s.", len(days), page.Plural(whole, "day"))
	}
	return drawn, fmt.Sprintf("On %d of %s: %s.", len(days), page.Plural(whole, "day"), prose.Among(days))
}

// titleOf names what was asked.
func titleOf(a studio.Assignment, works prose.Titles) string {
	if a.Work == "" {
		if a.Do != "" {
			return firstWords(a.Do, 60)
		}
		return map[studio.Ask]string{studio.AskListen: "Listening", studio.AskRest: "A rest", studio.AskRead: "Reading notes", studio.AskKeep: "Kept alive", studio.AskHeld: "Held back"}[a.Ask]
	}
	if where := prose.Bars(a.FromBar, a.ToBar); where != "" {
		return works.Name(a.Work) + ", " + where
	}
	return works.Name(a.Work)
}

// firstWords cuts a text for a heading, between words.
func firstWords(s string, most int) string {
	letters := []rune(s)
	if len(letters) <= most {
		return s
	}
	for i := most; i > most/2; i-- {
		if letters[i] == ' ' {
			return string(letters[:i]) + " …"
		}
	}
	return string(letters[:most]) + "…"
}

// tapped says what was tapped of one thing, as it would be told and not as a mark.
func tapped(i studio.ItemSoFar) (says []string) {
	if i.Stopped {
		says = append(says, "stopped, because it hurt")
	}
	if i.Done > 0 {
		says = append(says, "done "+prose.Times(i.Done))
	}
	if i.Tries > 0 {
		says = append(says, fmt.Sprintf("%d of %s went well", i.Clean, page.Plural(i.Tries, "try", "tries")))
	}
	if i.TopBpm > 0 {
		say := fmt.Sprintf("up to %.0f a minute", math.Round(i.TopBpm))
		if goal := i.Goals.TempoBpm; goal > 0 {
			say += fmt.Sprintf(", %.0f is asked", math.Round(goal))
		}
		says = append(says, say)
	}
	if i.Heard {
		says = append(says, "listened to")
	}
	if i.Answer != "" {
		how := "not what you have in mind"
		if i.Right {
			how = "which is right"
		}
		says = append(says, "answered “"+i.Answer+"”, "+how)
	}
	if i.Chose != "" {
		says = append(says, "chose “"+i.Chose+"”")
	}
	return says
}

func wordsOf(taps []studio.Tap, now time.Time) (all []word) {
	for _, t := range taps {
		all = append(all, word{t.ID, t.Text, page.Day(t.At, now), t.Media, t.Answered.IsZero()})
	}
	return all
}

// waiting counts what nobody has answered.
func waiting(taps []studio.Tap) (n int) {
	for _, t := range taps {
		if t.Answered.IsZero() {
			n++
		}
	}
	return n
}

// first is 1 where one of them waits, for an order in which those come first.
func first(words []word) int {
	if slices.ContainsFunc(words, func(w word) bool { return w.Waits }) {
		return 1
	}
	return 0
}

// answered marks a question, a voice note or a pain as answered. POST /students/{student}/taps/{tap}
func (p *pages) answered(w http.ResponseWriter, r *http.Request) error {
	if err := p.desk.AnswerTap(r.Context(), page.Viewer(r), studio.StudentID(r.PathValue("student")), r.PathValue("tap")); err != nil {
		return err
	}
	return p.back(w, r, "/desk/at-home#h-"+r.PathValue("student"))
}
