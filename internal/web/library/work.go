package library

import (
	"context"
	"fmt"
	"html/template"
	"net/http"
	"net/url"
	"slices"
	"strconv"
	"strings"
	"time"

	"antiphon/internal/difficulty"
	"antiphon/internal/guitar"
	"antiphon/internal/music"
	"antiphon/internal/studio"
	"antiphon/internal/web/page"
	"antiphon/internal/web/sheet"
)

const mostTitle = 160 // letters of a title or a composer's name

type workView struct {
	studio.Work
	Saved   bool
	Extent  string
	Sheet   template.HTML
	NoScore string // why there is none
	From    string // bars that are shown; "" all
	To      string
	Bars    []string // numbers of all bars
	Asks    asks
	Sound   soundView

	Passages []studio.Passage
	Models   []studio.ModelTake
	Filed    []studio.Collection
	Others   []studio.Collection // where it does not stand yet
	Players  []player
	Made     string // of an exercise: what it trains
}

// work shows one work. GET /library/works/{work}
func (l *library) work(w http.ResponseWriter, r *http.Request) error {
	ctx, v, q := r.Context(), page.Viewer(r), r.URL.Query()
	one, err := l.desk().Work(ctx, v, workID(r))
	if err != nil {
		return err
	}
	view := workView{Work: one, Saved: q.Get("saved") != ""}
	if view.Passages, err = l.desk().Passages(ctx, v, one.ID); err != nil {
		return err
	}
	if view.Models, err = l.desk().ModelTakes(ctx, v, one.ID); err != nil {
		return err
	}
	shelves, err := l.desk().Collections(ctx, v)
	if err != nil {
		return err
	}
	for _, c := range shelves {
		if slices.ContainsFunc(c.Items, func(it studio.CollectionItem) bool { return it.Work == one.ID }) {
			view.Filed = append(view.Filed, c)
		} else {
			view.Others = append(view.Others, c)
		}
	}
	if view.Players, err = l.playersOf(ctx, v, one.ID); err != nil {
		return err
	}
	if one.Score == "" {
		view.NoScore = "There is no score yet."
		return l.render(w, r, "work.html", one.Title, view)
	}
	s, err := l.o.Sheets.Score(one.Score) // shared: nothing is written into it
	if err != nil {
		return err
	}
	view.Extent = extent(s)
	for _, b := range s.Bars {
		view.Bars = append(view.Bars, b.Number)
	}
	first, last, err := barsOf(s, q.Get("from"), q.Get("to"))
	if err != nil {
		return err
	}
	if q.Get("from") != "" || q.Get("to") != "" {
		view.From, view.To = s.Bars[first].Number, s.Bars[last].Number
	}
	if view.Asks, err = l.asks(ctx, one, s); err != nil {
		return err
	}
	view.Sound = soundOf(one, s, view.From, view.To, q)
	if view.Sheet, err = sheet.Place(sheet.Placing{Work: one.ID, Title: one.Title, From: view.From, Until: view.To, NoTitle: true}); err != nil {
		return err
	}
	return l.render(w, r, "work.html", one.Title, view)
}

// reviseWork changes title, composer and rights. POST /library/works/{work}
func (l *library) reviseWork(w http.ResponseWriter, r *http.Request) error {
	if err := form(w, r); err != nil {
		return err
	}
	ctx, v := r.Context(), page.Viewer(r)
	one, err := l.desk().Work(ctx, v, workID(r))
	if err != nil {
		return err
	}
	for name, into := range map[string]*string{"title": &one.Title, "composer": &one.Composer, "rights": &one.Rights} {
		text := strings.TrimSpace(r.PostForm.Get(name))
		if most := map[string]int{"rights": mostRights}[name]; len([]rune(text)) > max(most, mostTitle) {
			return invalid("The %s is longer than %d letters. Shorten it.", name, max(most, mostTitle))
		}
		*into = text
	}
	if err := l.desk().ReviseWork(ctx, v, one); err != nil {
		return err
	}
	return see(w, r, workAddress(one.ID)+"?saved=yes")
}

func workID(r *http.Request) studio.WorkID { return studio.WorkID(r.PathValue("work")) }

func workAddress(id studio.WorkID) string { return "/library/works/" + string(id) }

// extent is a score's size in words.
func extent(s *music.Score) string {
	parts := ""
	if n := len(s.Parts); n > 1 {
		parts = page.Plural(n, "part") + ", "
	}
	return parts + page.Plural(len(s.Bars), "bar") + ", " + page.Plural(len(s.Sounding()), "note")
}

// barsOf finds a passage by the numbers of its bars, "" for the first and the last, by index.
func barsOf(s *music.Score, from, to string) (first, last int, err error) {
	if len(s.Bars) == 0 {
		return 0, 0, invalid("This score has no bars.")
	}
	find := func(number string, or int) (int, error) {
		if number == "" {
			return or, nil
		}
		i := slices.IndexFunc(s.Bars, func(b music.Bar) bool { return b.Number == number })
		if i < 0 {
			return 0, invalid("There is no bar %s in this score: it has bars %s to %s.", clipped(number, 12), s.Bars[0].Number, s.Bars[len(s.Bars)-1].Number)
		}
		return i, nil
	}
	if first, err = find(from, 0); err != nil {
		return 0, 0, err
	}
	if last, err = find(to, len(s.Bars)-1); err != nil {
		return 0, 0, err
	}
	if last < first {
		return 0, 0, invalid("Bar %s comes after bar %s. Name the earlier one first.", s.Bars[first].Number, s.Bars[last].Number)
	}
	return first, last, nil
}

// asks is what a score asks of the hands, in words.
type asks struct {
	Bars     []string // the bars that ask most, one sentence each
	Skills   []string // what the hands must be able to do
	Assumed  string   // of the tempo
	Unmarked int      // notes without a string or a finger
	Notes    int
	Guessed  bool // the marks say too little: it is what the program's own fingering asks
	Said     bool // something can be said
}

// glance is how long the page of a work waits for what nobody asked for.
const glance = 150 * time.Millisecond

// asks says what the marks in a score ask; where they say too little, what it would ask fingered. It
// says nothing while that is being worked out.
func (l *library) asks(ctx context.Context, one studio.Work, s *music.Score) (asks, error) {
	a, _, err := l.asking.get(ctx, sum(one.Score), glance, func(ctx context.Context) (asks, error) {
		marked := asksOf(difficulty.Profile(s, guitar.Instrument{}, guitar.Hand{}, difficulty.Options{}), len(s.Sounding()))
		if marked.Said = marked.Unmarked*10 <= marked.Notes; marked.Said {
			return marked, nil
		}
		found, err := finger(ctx, one, choices{Ways: 1})
		if _, refused := say(err); refused != nil {
			return marked, err
		}
		if err != nil { // nothing can be fingered, and so nothing said
			return marked, nil
		}
		a := found.Asks
		a.Unmarked, a.Notes, a.Guessed, a.Said = marked.Unmarked, marked.Notes, true, true
		return a, nil
	})
	return a, err
}

func asksOf(p difficulty.Report, notes int) asks {
	a := asks{Unmarked: p.Unmarked, Notes: notes}
	for _, h := range p.Hardest {
		a.Bars = append(a.Bars, h.Text)
	}
	for _, n := range p.Skills {
		a.Skills = append(a.Skills, n.String())
	}
	if !p.TempoSet && len(p.Hardest) > 0 {
		a.Assumed = fmt.Sprintf("No tempo is marked: this is counted at %d quarters a minute.", music.DefaultQuarterBpm)
	}
	return a
}

// player is a student who has a work.
type player struct {
	Student studio.Student
	Last    studio.Take // the newest; zero where none came
	Takes   int
	Asked   time.Time // day of the newest lesson that asks for it; zero not lately
}

// How far back the page looks for who has a work.
const (
	takesSeen   = 300
	lessonsSeen = 300
)

// playersOf lists who plays a work: who sent takes of it, and who was asked for it lately.
func (l *library) playersOf(ctx context.Context, v studio.Viewer, id studio.WorkID) ([]player, error) {
	takes, err := l.desk().TakesBy(ctx, v, studio.TakeQuery{Work: id, Limit: takesSeen})
	if err != nil {
		return nil, err
	}
	lessons, err := l.desk().Lessons(ctx, v, studio.LessonQuery{Limit: lessonsSeen})
	if err != nil {
		return nil, err
	}
	by := map[studio.StudentID]*player{}
	of := func(s studio.StudentID) *player {
		if by[s] == nil {
			by[s] = &player{}
		}
		return by[s]
	}
	for _, t := range takes {
		p := of(t.Student)
		if p.Takes++; p.Takes == 1 {
			p.Last = t
		}
	}
	for _, ls := range lessons {
		if slices.ContainsFunc(ls.Assignments, func(a studio.Assignment) bool { return a.Work == id }) {
			if p := of(ls.Student); p.Asked.IsZero() {
				p.Asked = ls.Sent
			}
		}
	}
	if len(by) == 0 {
		return nil, nil
	}
	students, err := l.desk().Students(ctx, v)
	if err != nil {
		return nil, err
	}
	var out []player
	for _, s := range students {
		if p := by[s.ID]; p != nil {
			p.Student = s
			out = append(out, *p)
		}
	}
	slices.SortStableFunc(out, func(a, b player) int { return b.Last.Announced.Compare(a.Last.Announced) })
	return out, nil
}

// soundView is how a work is played on its page.
type soundView struct {
	Bpm    string // asked for; "" as marked
	Marked string // the tempo of the score
	Said   string // where it is from
	Beat   string // what is counted: "quarter"
	Click  bool
	From   string
	To     string
	Source string // address of the sound
}

func soundOf(one studio.Work, s *music.Score, from, to string, q url.Values) soundView {
	unit := s.BeatUnitAt(music.Beats{})
	quarter, marked := s.TempoAt(music.Beats{})
	v := soundView{Marked: strconv.FormatFloat(roundTo(quarter/unit.Q(), 1), 'f', -1, 64), Beat: beatName(unit), Click: q.Get("click") != "", From: from, To: to}
	if v.Said = "No tempo is marked; " + v.Marked + " is a beginning."; marked {
		v.Said = "Marked: " + v.Marked + "."
	}
	if bpm, err := strconv.ParseFloat(q.Get("bpm"), 64); err == nil && bpm >= slowestBpm && bpm <= fastestBpm {
		v.Bpm = strconv.FormatFloat(bpm, 'f', -1, 64)
	}
	ask := url.Values{"of": {sum(one.Score)}}
	for name, value := range map[string]string{"bpm": v.Bpm, "from": from, "to": to} {
		if value != "" {
			ask.Set(name, value)
		}
	}
	if v.Click {
		ask.Set("click", "yes")
	}
	v.Source = workAddress(one.ID) + "/sound?" + ask.Encode()
	return v
}

// beatName is a length as the note that has it.
func beatName(b music.Beats) string {
	names := map[string]string{"4": "whole notes", "2": "half notes", "1": "quarter notes", "1/2": "eighth notes", "1/4": "sixteenth notes", "3": "dotted half notes",
		"3/2": "dotted quarter notes", "3/4": "dotted eighth notes"}
	if n, ok := names[b.String()]; ok {
		return n
	}
	return "beats"
}
