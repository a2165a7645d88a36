package store

import "antiphon/internal/studio"

// noWork is under which id an assignment of no work stands.
func noWork(s studio.StudioID) studio.WorkID { return studio.WorkID(s) }

// more is of an assignment what nothing but a page looks at. Cut clips are files of the lesson, and are
// put in when it is read.
type more struct {
	Minutes                  int              `json:",omitzero"`
	Watch                    string           `json:",omitzero"`
	Coach                    []string         `json:",omitzero"`
	Like, Unlike, Best, Last studio.Clip      `json:",omitzero"`
	Ladder                   studio.Ladder    `json:",omitzero"`
	Question                 *studio.Question `json:",omitzero"`
	Second                   studio.Second    `json:",omitzero"`
	Ways                     [2]studio.Way    `json:",omitzero"`
	Opens                    string           `json:",omitzero"`
	For                      studio.WorkID    `json:",omitzero"`
	Recording                studio.MediaID   `json:",omitzero"`
}

func moreOf(a studio.Assignment) more {
	m := more{a.Minutes, a.Watch, a.Coach, a.Like, a.Unlike, a.Best, a.Last, a.Ladder, a.Question, a.Second, a.Ways, a.Opens, a.For, a.Recording}
	for _, c := range []*studio.Clip{&m.Like, &m.Unlike, &m.Best, &m.Last} {
		c.Media = ""
	}
	return m
}

func (m more) into(a *studio.Assignment) {
	a.Minutes, a.Watch, a.Coach, a.Like, a.Unlike, a.Best, a.Last = m.Minutes, m.Watch, m.Coach, m.Like, m.Unlike, m.Best, m.Last
	a.Ladder, a.Question, a.Second, a.Ways, a.Opens, a.For, a.Recording = m.Ladder, m.Question, m.Second, m.Ways, m.Opens, m.For, m.Recording
}
