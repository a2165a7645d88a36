package store

import (
	"context"

	"antiphon/internal/studio"
)

// noWork is under which id an assignment of no work stands.
func noWork(s studio.StudioID) studio.WorkID { return studio.WorkID(s) }

// more is of an assignment what nothing but a page looks at. What was cut or recorded for it are files of
// the lesson, and are put in when it is read.
type more struct {
	Minutes                  int               `json:",omitzero"`
	Watch                    string            `json:",omitzero"`
	Coach                    []string          `json:",omitzero"`
	Like, Unlike, Best, Last studio.Clip       `json:",omitzero"`
	Ladder                   studio.Ladder     `json:",omitzero"`
	Question                 *studio.Question  `json:",omitzero"`
	Second                   studio.Second     `json:",omitzero"`
	Ways                     [2]studio.Way     `json:",omitzero"`
	Opens                    string            `json:",omitzero"`
	For                      studio.WorkID     `json:",omitzero"`
	Half                     map[string]string `json:",omitzero"`
}

func moreOf(a studio.Assignment) more {
	m := more{a.Minutes, a.Watch, a.Coach, a.Like, a.Unlike, a.Best, a.Last, a.Ladder, a.Question, a.Second, a.Ways, a.Opens, a.For, a.Half}
	for _, c := range []*studio.Clip{&m.Like, &m.Unlike, &m.Best, &m.Last} {
		c.Media = ""
	}
	return m
}

func (m more) into(a *studio.Assignment) {
	a.Minutes, a.Watch, a.Coach, a.Like, a.Unlike, a.Best, a.Last = m.Minutes, m.Watch, m.Coach, m.Like, m.Unlike, m.Best, m.Last
	a.Ladder, a.Question, a.Second, a.Ways, a.Opens, a.For, a.Half = m.Ladder, m.Question, m.Second, m.Ways, m.Opens, m.For, m.Half
}

// heardIn puts into the assignments of lessons what was cut and recorded for them. At finds the lessons; p
// picks their rows.
func (r records) heardIn(ctx context.Context, p *picks, at map[studio.LessonID]*studio.Lesson) error {
	p.and("kind IN ('clip', 'recording')")
	ms, err := list(ctx, r.read, scanMedia, `SELECT `+mediaColumns+` FROM media WHERE `+p.String(), p.args...)
	if err != nil {
		return err
	}
	type file struct {
		lesson studio.LessonID
		kind   studio.MediaKind
		what   string
	}
	files := map[file]studio.MediaID{}
	for _, m := range ms {
		files[file{m.Lesson, m.Kind, m.What}] = m.ID
	}
	for id, l := range at {
		for i := range l.Assignments {
			a := &l.Assignments[i]
			a.Recording = files[file{id, studio.ToHear, string(a.ID)}]
			for _, c := range a.Clips() {
				c.Media = files[file{id, studio.CutClip, c.Key()}]
			}
		}
	}
	return nil
}
