package lesson

import (
	"fmt"
	"net/http"
	"net/url"
	"slices"
	"strconv"

	"antiphon/internal/studio"
	"antiphon/internal/web/page"
)

// fingersView says whose fingers stand in a passage, and leads to where others are chosen.
type fingersView struct {
	Say string
	Do  string
	Way string
}

// fingers of a passage as the student of a draft plays it.
func (p *pages) fingers(r *http.Request, l studio.Lesson, work studio.Work, card, from, to string) (*fingersView, error) {
	sf, err := p.desk.Student(r.Context(), page.Viewer(r), l.Student)
	if err != nil {
		return nil, err
	}
	name := sf.Student.Name
	f := &fingersView{Say: "With the fingers that everybody has.", Do: "Choose other fingers for " + name, Way: fingerAt(l, work.ID, card, 0, from, to)}
	if work.Own == "" {
		return f, nil
	}
	kept, err := p.desk.Fingerings(r.Context(), page.Viewer(r), l.Student, work.ID)
	if i := slices.IndexFunc(kept, func(k studio.OwnFingering) bool { return k.ID == work.Own }); i >= 0 {
		f.Say = name + "’s own fingers, since " + page.Day(kept[i].Held, p.f.Now())
		if kept[i].Why != "" {
			f.Say += ": " + kept[i].Why
		}
		f.Say += "."
	}
	return f, err
}

// fingerAt is the address where fingers for the student of a lesson are chosen, from one of its tasks; way is 1 or 2
// where they are to be tried as one of two ways.
func fingerAt(l studio.Lesson, work studio.WorkID, card string, way int, from, to string) string {
	q := url.Values{"for": {string(l.Student)}, "lesson": {string(l.ID)}, "card": {card}}
	if way > 0 {
		q.Set("try", strconv.Itoa(way))
	}
	for name, v := range map[string]string{"from": from, "to": to} {
		if v != "" {
			q.Set(name, v)
		}
	}
	return "/library/works/" + url.PathEscape(string(work)) + "/fingering?" + q.Encode()
}

// wayCard is one of two ways in the form.
type wayCard struct {
	studio.Way
	Kept   []option // fingers that were kept for the student and the work
	Choose string   // where others are chosen; "" nowhere yet
}

// twoWays puts into a card which fingers there are for its two ways, and what was chosen of the last lesson's.
func (p *pages) twoWays(c *card, l studio.Lesson, a studio.Assignment, name string, kept []studio.OwnFingering, last studio.SoFar) {
	for i, w := range a.Ways {
		one := wayCard{Way: w, Kept: []option{{"", "as " + name + " plays it now", w.Own == ""}, {string(studio.AsEverybody), "as everybody plays it", w.Own == studio.AsEverybody}}}
		for _, k := range kept {
			if k.Work == a.Work && (k.Fits || k.ID == w.Own) {
				one.Kept = append(one.Kept, option{string(k.ID), p.keptSays(k), k.ID == w.Own})
			}
		}
		if a.Work != "" && l.ID != "" && a.ID != "" {
			one.Choose = fingerAt(l, a.Work, strconv.Itoa(c.N), i+1, a.FromBar, a.ToBar)
		}
		c.Ways[i] = one
	}
	for _, i := range last.Items {
		if i.Choice != "" && i.Assignment.Work == a.Work {
			c.Chosen = &chosenWay{i.Choice, fmt.Sprintf("“%s” was chosen at home; %s’s notes still have the fingers of before.", i.Chose, name), "Use these fingers for " + name + " from now on"}
		}
	}
}

// ownOnly leaves of the fingers that a form names those that are kept for the student and the work: a work that was
// changed in the form takes the fingers of the one before with it.
func (p *pages) ownOnly(r *http.Request, l *studio.Lesson) error {
	var kept []studio.OwnFingering
	for i := range l.Assignments {
		a := &l.Assignments[i]
		for n := range a.Ways {
			own := &a.Ways[n].Own
			if *own == "" || *own == studio.AsEverybody {
				continue
			}
			if kept == nil {
				var err error
				if kept, err = p.desk.Fingerings(r.Context(), page.Viewer(r), l.Student, ""); err != nil {
					return err
				}
			}
			if !slices.ContainsFunc(kept, func(k studio.OwnFingering) bool { return k.ID == *own && k.Work == a.Work }) {
				*own = ""
			}
		}
	}
	return nil
}

// chosenWay is a way that was chosen at home and is not the student's own yet.
type chosenWay struct {
	ID  studio.FingeringID
	Say string
	Do  string
}

// keptSays names a fingering in a list.
func (p *pages) keptSays(k studio.OwnFingering) string {
	say := k.Why
	if say == "" {
		say = "other fingers"
	}
	say += ", kept " + page.Day(k.Kept, p.f.Now())
	if k.Holds() {
		say += ", in the notes now"
	}
	return say
}
