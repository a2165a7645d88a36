package library

import (
	"html/template"
	"net/http"
	"net/url"
	"slices"
	"strconv"
	"strings"

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
	Own      map[studio.StudentID]bool // who plays it with own fingers
	Earlier  []earlierView
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
	if view.Models, err = l.models(ctx, v, one.ID); err != nil {
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
	if view.Own, err = l.desk().OwnPlayers(ctx, v, one.ID); err != nil {
		return err
	}
	if view.Earlier, err = l.earlierOf(r, one); err != nil {
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
	if err := l.desk().DescribeWork(ctx, v, one); err != nil {
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
