package practice

import (
	"errors"
	"net/http"
	"slices"

	"antiphon/internal/music"
	"antiphon/internal/sound"
	"antiphon/internal/studio"
	"antiphon/internal/web/page"
)

// lessonsBack is how far back a page that is still open, or was kept on a phone, finds what it was made for.
const lessonsBack = 12

// asked is one assignment with its music.
type asked struct {
	studio.Assignment
	Student studio.StudentID
	Work    studio.Work
	Score   *music.Score // nil where there is none that can be read
	Beat    float64      // that the score begins with, in quarters
}

var errNotHere = &studio.Problem{Kind: studio.NotFound, Say: "This is not here, or not for you to see."}

// find looks an assignment up among the newest lessons of a child of the viewer's family.
func (p *Practice) find(r *http.Request, child studio.StudentID, of studio.AssignmentID) (asked, error) {
	ctx, v, d := r.Context(), page.Viewer(r), p.f.Desk()
	if of == "" {
		return asked{}, errNotHere
	}
	ls, err := d.Lessons(ctx, v, studio.LessonQuery{Student: child, Limit: lessonsBack})
	if err != nil {
		return asked{}, err
	}
	a := asked{Beat: 1}
	for _, l := range ls {
		if i := slices.IndexFunc(l.Assignments, func(x studio.Assignment) bool { return x.ID == of }); i >= 0 {
			a.Assignment, a.Student = l.Assignments[i], l.Student
			break
		}
	}
	if a.ID == "" {
		return asked{}, errNotHere
	}
	if a.Assignment.Work == "" {
		return a, nil
	}
	a.Work, err = d.WorkFor(ctx, v, a.Student, a.Assignment.Work)
	if pr, ok := errors.AsType[*studio.Problem](err); ok && pr.Kind == studio.NotFound {
		return a, nil // gone from the library: the click is there without it
	}
	if err != nil || a.Work.Score == "" {
		return a, err
	}
	a.Score, err = p.o.Sheets.Score(a.Work.Score)
	if pr, ok := errors.AsType[*studio.Problem](err); ok && pr.Kind != studio.Internal {
		a.Score, err = nil, nil
	}
	if a.Score != nil {
		if q := a.Score.BeatUnitAt(music.Quarters(0, 1)).Q(); q > 0 {
			a.Beat = q
		}
	}
	return a, err
}

// asRound says that somebody enters with the same tune.
func (a asked) asRound() bool { return a.Second.Kind == studio.Round }

// byTool says that the tool plays what is beside the child.
func (a asked) byTool() bool { return a.Second.Kind != "" && a.Second.Who != studio.ByParent }

// passage is what is played, as the sounds and the timeline have it alike.
func (a asked) passage() sound.Options {
	o := sound.Options{Mark: true}
	if a.FromBar != "" || a.ToBar != "" {
		o.Bars = &sound.Loop{From: a.FromBar, To: a.ToBar}
	}
	return o
}

// goalBpm is the tempo that is asked, in quarters a minute; that of the score where none is.
func (a asked) goalBpm() float64 {
	switch {
	case a.Goals.TempoBpm > 0:
		return a.Goals.TempoBpm
	case a.Ladder.ToBpm > 0:
		return a.Ladder.ToBpm
	case a.Score != nil:
		q, _ := a.Score.TempoAt(a.start())
		return q
	}
	return usualBpm
}

// usualBpm is where a click alone begins that nobody gave a tempo. Ours.
const usualBpm = 60

// start is where the passage begins.
func (a asked) start() music.Beats {
	for _, b := range a.Score.Bars {
		if b.Number == a.FromBar {
			return b.Start
		}
	}
	return music.Quarters(0, 1)
}
