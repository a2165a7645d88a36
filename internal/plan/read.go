package plan

import (
	"bytes"
	"cmp"
	"encoding/json"
	"errors"
	"fmt"
	"io"
	"math"
	"slices"

	"antiphon/internal/plan/calendar"
	"antiphon/internal/plan/memory"
	"antiphon/internal/plan/skills"
)

// Limits of a state. Far beyond a real studio.
const (
	mostBytes    = 64 << 20
	mostStudents = 5_000
	mostWorks    = 5_000
	mostItems    = 2_000
	mostPlayed   = 20_000
	mostPassages = 100
	mostWeeks    = 1_500
	mostLoad     = 100
)

// ErrState is a state that no plan can be made from; its text says what is wrong, where, and what to do.
var ErrState = errors.New("state of a studio")

func wrong(format string, args ...any) error { return &stateError{fmt.Sprintf(format, args...)} }

type stateError struct{ say string }

func (e *stateError) Error() string { return e.say }
func (e *stateError) Unwrap() error { return ErrState }

// Read reads the state of a studio as JSON and checks it. A field that is not known is an error, so that a slip of the
// pen is not passed over.
func Read(r io.Reader) (*Studio, error) {
	text, err := io.ReadAll(io.LimitReader(r, mostBytes))
	if err != nil {
		return nil, wrong("the state cannot be read to its end: %v", err)
	}
	d := json.NewDecoder(bytes.NewReader(text))
	d.DisallowUnknownFields()
	var s Studio
	if err := d.Decode(&s); err != nil {
		if se, ok := errors.AsType[*json.SyntaxError](err); ok {
			return nil, wrong("this is no JSON (%v, at byte %d): write it as antiphon plan --example shows", err, se.Offset)
		}
		if errors.Is(err, io.EOF) || errors.Is(err, io.ErrUnexpectedEOF) {
			return nil, wrong("the file ends before the state does: send all of it")
		}
		if te, ok := errors.AsType[*json.UnmarshalTypeError](err); ok {
			return nil, wrong("%s: a %s stands there, and that cannot be read (at byte %d): write it as antiphon plan --example shows", cmp.Or(te.Field, "the state"), te.Value, te.Offset)
		}
		return nil, wrong("%v: see antiphon plan --example", err)
	}
	if d.More() {
		return nil, wrong("something follows after the state: one file holds one studio")
	}
	if err := checkRows(text); err != nil {
		return nil, err
	}
	s.sort()
	return &s, s.Check()
}

// checkRows refuses rows of another length than they have: the reader of JSON fills what is missing with 0, and drops the rest.
func checkRows(text []byte) error {
	var rows struct {
		Students []struct {
			ID      string `json:"id"`
			Minutes []int  `json:"minutes"`
		} `json:"students"`
		Forecasts []struct {
			Weeks []float64  `json:"weeks"`
			Raw   *[]float64 `json:"model"`
		} `json:"forecasts"`
	}
	if err := json.NewDecoder(bytes.NewReader(text)).Decode(&rows); err != nil {
		return wrong("%v: see antiphon plan --example", err)
	}
	for _, st := range rows.Students {
		if n := len(st.Minutes); n != 0 && n != 7 {
			return wrong("student %s: minutes has %d numbers: write seven, from Monday on", st.ID, n)
		}
	}
	for i, f := range rows.Forecasts {
		if len(f.Weeks) != 5 || f.Raw != nil && len(*f.Raw) != 5 {
			return wrong("forecast %d: weeks, and model where it is there, have five numbers each", i+1)
		}
	}
	return nil
}

// sort puts what was played into the order of days, in which it is gone through.
func (s *Studio) sort() {
	byDay := func(a, b Played) int { return cmp.Compare(a.Day, b.Day) }
	for i := range s.Students {
		for k := range s.Students[i].Items {
			it := &s.Students[i].Items[k]
			slices.SortStableFunc(it.Played, byDay)
			for n := range it.Passages {
				slices.SortStableFunc(it.Passages[n].Played, byDay)
			}
		}
	}
}

// Check says what is wrong with a state.
func (s *Studio) Check() error {
	switch {
	case s.Schema != Schema:
		return wrong("schema is %q, and %q is read", s.Schema, Schema)
	case s.Today == 0:
		return wrong("today is missing: write \"today\": \"2026-11-28\"")
	case len(s.Students) > mostStudents:
		return wrong("%d students are more than the %d that can be planned", len(s.Students), mostStudents)
	case len(s.Works) > mostWorks:
		return wrong("%d works are more than the %d that can be planned", len(s.Works), mostWorks)
	}
	if err := checkFree("", s.Holidays); err != nil {
		return err
	}
	if !paceIs(s.Pace) {
		return wrong("pace: scale is above 0, growth 0 to 2, slip 0 to 1")
	}
	works := map[string]*Work{}
	for i := range s.Works {
		w := &s.Works[i]
		if w.ID == "" || works[w.ID] != nil {
			return wrong("work %d has no id of its own (%q)", i+1, w.ID)
		}
		works[w.ID] = w
	}
	for i := range s.Works {
		if err := s.checkWork(&s.Works[i], works); err != nil {
			return err
		}
	}
	if _, err := s.Shelf(); err != nil {
		return wrong("works: %v", err)
	}
	if err := s.checkRest(works); err != nil {
		return err
	}
	seen := map[string]bool{}
	for i := range s.Students {
		st := &s.Students[i]
		if st.ID == "" || seen[st.ID] {
			return wrong("student %d has no id of its own (%q)", i+1, st.ID)
		}
		seen[st.ID] = true
		if err := s.checkStudent(st, works); err != nil {
			return err
		}
	}
	return nil
}

func checkFree(of string, all calendar.Free) error {
	for _, h := range all {
		if h.From == 0 || h.To < h.From {
			return wrong("%sholiday %q ends before it begins, or has no dates", of, h.Name)
		}
	}
	return nil
}

func paceIs(p *memory.Pace) bool {
	return p == nil || p.Scale > 0 && number(p.Scale) && p.Growth >= 0 && p.Growth <= 2 && p.Slip >= 0 && p.Slip < 1
}

func number(x float64) bool { return !math.IsNaN(x) && !math.IsInf(x, 0) }

func (s *Studio) checkWork(w *Work, works map[string]*Work) error {
	switch {
	case w.Kind != "" && !slices.Contains([]Kind{Piece, Exercise, Technique, Listening}, w.Kind):
		return wrong("work %s is of kind %q: write piece, exercise, technique or listening", w.ID, w.Kind)
	case !number(w.Load) || w.Load < 0 || w.Load > mostLoad:
		return wrong("work %s has load %v: write 0 to %d, 1 for the usual", w.ID, w.Load, mostLoad)
	case w.Minutes < 0 || w.Minutes > 120:
		return wrong("work %s takes %d minutes: write 1 to 120", w.ID, w.Minutes)
	case w.For != "" && (works[w.For] == nil || w.For == w.ID || works[w.For].For != ""):
		return wrong("work %s serves %q, which is no work or serves another", w.ID, w.For)
	case w.Group != "" && !slices.ContainsFunc(s.Groups, func(g Group) bool { return g.Name == w.Group }):
		return wrong("work %s is in group %q, which is not among the groups", w.ID, w.Group)
	}
	return nil
}

func (s *Studio) checkRest(works map[string]*Work) error {
	for _, g := range s.Groups {
		if g.Name == "" || !limitIs(g.LimitDays) {
			return wrong("group %q has a limit of %d days: write 2 to 400", g.Name, g.LimitDays)
		}
	}
	for _, c := range s.Collections {
		if c.ID == "" {
			return wrong("a collection has no id")
		}
		for _, id := range c.Works {
			if works[id] == nil {
				return wrong("collection %s has the work %q, which is not among the works", c.ID, id)
			}
		}
	}
	for i, f := range s.Forecasts {
		if !slices.IsSorted(f.Weeks[:]) || f.Weeks[0] < 0 || !number(f.Weeks[4]) || f.Since < 0 || f.Came < 0 {
			return wrong("forecast %d: its five weeks do not rise, or a number is below 0", i+1)
		}
	}
	return nil
}

func (s *Studio) checkStudent(st *Student, works map[string]*Work) error {
	if !paceIs(st.Pace) {
		return wrong("student %s, pace: scale is above 0, growth 0 to 2, slip 0 to 1", st.ID)
	}
	if err := checkFree("student "+st.ID+": ", st.Holidays); err != nil {
		return err
	}
	for d, m := range st.Minutes {
		if m < 0 || m > 300 {
			return wrong("student %s has %d minutes on day %d of the week: write 0 to 300", st.ID, m, d+1)
		}
	}
	if err := s.checkLimits(st); err != nil {
		return err
	}
	if n := st.mostNew(); n < 0 || n > 2 {
		return wrong("student %s: most_new is %d: write 0, 1 or 2", st.ID, n)
	}
	if len(st.Items) > mostItems || len(st.Weeks) > mostWeeks {
		return wrong("student %s has more than %d items or %d weeks", st.ID, mostItems, mostWeeks)
	}
	mine := map[string]bool{}
	for i := range st.Items {
		it := &st.Items[i]
		if works[it.Work] == nil || mine[it.Work] {
			return wrong("student %s has the work %q, which is not among the works or stands there twice", st.ID, it.Work)
		}
		mine[it.Work] = true
		if err := s.checkItem(st, it); err != nil {
			return err
		}
	}
	for _, h := range st.Hurts {
		if h.Level < 0 || h.Level > 3 || h.Day == 0 {
			return wrong("student %s: something hurts with level %d: write a day and 0 to 3", st.ID, h.Level)
		}
	}
	for _, w := range st.Weeks {
		if w.Minutes != nil && (!number(*w.Minutes) || *w.Minutes < 0) {
			return wrong("student %s has a week of %v minutes", st.ID, *w.Minutes)
		}
	}
	for _, k := range st.Skills {
		for _, x := range k.Times {
			if works[x.Work] == nil || x.Day == 0 || x.Day > s.Today {
				return wrong("student %s, %s: heard in %q on %q, which is no work or no day up to today (%s)", st.ID, k.Name, x.Work, x.Day, s.Today)
			}
		}
	}
	wished := map[string]bool{}
	for _, w := range st.Wishes {
		if works[w.Work] == nil || wished[w.Work] {
			return wrong("student %s: the wish for %q is for no work, or the second for it", st.ID, w.Work)
		}
		wished[w.Work] = true
		for _, d := range w.On {
			if d < s.Today || d >= s.Today+7 {
				return wrong("student %s: %s is pinned to %s, outside the week of this plan", st.ID, w.Work, d)
			}
		}
	}
	if st.Collection != "" && !slices.ContainsFunc(s.Collections, func(c Collection) bool { return c.ID == st.Collection }) {
		return wrong("student %s goes through the collection %q, which is not among the collections", st.ID, st.Collection)
	}
	if st.Trial != nil {
		for _, t := range st.Trial.Takes {
			if works[t.Work] == nil || t.Rating < 1 || t.Rating > 4 {
				return wrong("student %s: the trial has %q rated %d: write a work and 1 to 4", st.ID, t.Work, t.Rating)
			}
		}
		if !number(st.Trial.Years) || st.Trial.Years < 0 || st.Trial.Years > 90 {
			return wrong("student %s: %v years of playing", st.ID, st.Trial.Years)
		}
	}
	if st.Recital != nil {
		for _, id := range st.Recital.Works {
			if works[id] == nil {
				return wrong("student %s: the recital has %q, which is not among the works", st.ID, id)
			}
		}
		if st.Recital.Day == 0 {
			return wrong("student %s: the recital has no day", st.ID)
		}
	}
	return nil
}

func limitIs(days int) bool { return days >= 2 && days <= 400 }

func (s *Studio) checkLimits(st *Student) error {
	seen := map[string]bool{}
	for _, l := range st.Limits {
		switch {
		case seen[l.Group] || !slices.ContainsFunc(s.Groups, func(g Group) bool { return g.Name == l.Group }):
			return wrong("student %s has a limit for %q, which is not among the groups or stands there twice", st.ID, l.Group)
		case l.Lifted && l.LimitDays != 0, !l.Lifted && !limitIs(l.LimitDays):
			return wrong("student %s, limit of %s: write limit_days 2 to 400, or \"lifted\": true", st.ID, l.Group)
		}
		seen[l.Group] = true
	}
	return nil
}

func (s *Studio) checkItem(st *Student, it *Item) error {
	switch {
	case !slices.Contains([]Stage{Learning, Kept, Rested}, it.Stage):
		return wrong("student %s, %s: stage is %q: write learning, kept or rested", st.ID, it.Work, it.Stage)
	case it.Target < 0 || it.Target > 0.97:
		return wrong("student %s, %s: target is %v: write 0 to 0.97, 0 for the usual 0.85", st.ID, it.Work, it.Target)
	case !number(it.GoalBpm) || it.GoalBpm < 0 || it.GoalBpm > 400:
		return wrong("student %s, %s: goal_bpm is %v: write 1 to 400", st.ID, it.Work, it.GoalBpm)
	case len(it.Played) > mostPlayed:
		return wrong("student %s, %s: played on more than %d days", st.ID, it.Work, mostPlayed)
	case it.Finished != 0 && it.Begun > it.Finished:
		return wrong("student %s, %s: finished before it was begun", st.ID, it.Work)
	}
	if len(it.Passages) > mostPassages {
		return wrong("student %s, %s: more than %d passages", st.ID, it.Work, mostPassages)
	}
	for i := range it.Passages {
		ps := &it.Passages[i]
		name := it.Work + ", " + ps.Name()
		switch {
		case ps.From == "" || ps.To == "":
			return wrong("student %s, %s: a passage without its first or its last bar", st.ID, it.Work)
		case !number(ps.GoalBpm) || ps.GoalBpm < 0 || ps.GoalBpm > 400:
			return wrong("student %s, %s: goal_bpm is %v: write 1 to 400", st.ID, name, ps.GoalBpm)
		case len(ps.Played) > mostPlayed:
			return wrong("student %s, %s: played on more than %d days", st.ID, name, mostPlayed)
		}
		if err := s.checkPlayed(st, name, ps.Played); err != nil {
			return err
		}
	}
	return s.checkPlayed(st, it.Work, it.Played)
}

func (s *Studio) checkPlayed(st *Student, name string, all []Played) error {
	for _, p := range all {
		switch {
		case p.Day == 0 || p.Day > s.Today:
			return wrong("student %s, %s: played on %q, which is no day or lies after today (%s)", st.ID, name, p.Day, s.Today)
		case p.Rating < 0 || p.Rating > 4:
			return wrong("student %s, %s: rating %d: write 1 to 4", st.ID, name, p.Rating)
		case p.Right < 0 || p.Right > p.Tries:
			return wrong("student %s, %s: %d right of %d tries", st.ID, name, p.Right, p.Tries)
		case !number(p.Bpm) || p.Bpm < 0 || p.Bpm > 400:
			return wrong("student %s, %s: %v beats a minute: write 1 to 400", st.ID, name, p.Bpm)
		case p.Heard != nil && (!number(p.Heard.RightShare) || p.Heard.RightShare < 0 || p.Heard.RightShare > 1):
			return wrong("student %s, %s: right_share %v: write 0 to 1", st.ID, name, p.Heard.RightShare)
		case p.Heard != nil && (p.Heard.Stops < 0 || p.Heard.Notes < 0 || !number(p.Heard.SpreadPct) || p.Heard.SpreadPct < 0):
			return wrong("student %s, %s: heard on %s with stops, notes or a spread below 0", st.ID, name, p.Day)
		}
	}
	return nil
}

// Shelf is all works with the way from one to another.
func (s *Studio) Shelf() (*skills.Shelf, error) {
	all := make([]skills.Work, len(s.Works))
	for i := range s.Works {
		w := &s.Works[i]
		all[i] = skills.Work{ID: w.ID, Title: w.Title, Needs: w.Needs, Builds: w.Builds, After: w.After, Load: w.load()}
	}
	return skills.NewShelf(all)
}

// Student by id; nil if there is none.
func (s *Studio) Student(id string) *Student {
	for i := range s.Students {
		if s.Students[i].ID == id {
			return &s.Students[i]
		}
	}
	return nil
}

// lastDay is the newest of some days, 0 for none.
func lastDay(days []calendar.Day) calendar.Day {
	if len(days) == 0 {
		return 0
	}
	return slices.Max(days)
}
