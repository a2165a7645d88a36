package library

import (
	"context"
	"slices"
	"time"

	"antiphon/internal/studio"
)

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
