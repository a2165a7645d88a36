package scenario

import (
	"context"
	"io"
	"time"

	"antiphon/internal/studio"
)

// beside is what lies on the desk beside the takes of this week: a file that came by mail without a name on
// it, a lesson half written, one that goes out tomorrow, what a family tapped at home, and what was settled for plans.
func (b *builder) beside(ctx context.Context) error {
	for _, h := range Households() {
		for _, l := range h.Learners {
			if l.Name == "Hana" {
				if err := b.byMail(l); err != nil {
					return err
				}
			}
		}
	}
	if err := b.draft(ctx, "Yusuf"); err != nil {
		return err
	}
	if err := b.atHome(ctx); err != nil {
		return err
	}
	if err := b.settled(ctx); err != nil {
		return err
	}
	return b.tomorrow(ctx, "Kenji")
}

// byMail is a file that nobody's name is on but the child's own in the file's name.
func (b *builder) byMail(l Learner) error {
	story := l.Story("")
	now := story[len(story)-1]
	spec, err := Played(l, now.Asked[0], Sent{Key: "hana-by-mail", Known: .6}, b.pieces)
	if err != nil {
		return err
	}
	b.fresh = append(b.fresh, fresh{at: b.o.Now.Add(-3 * time.Hour), spec: spec, bring: func(ctx context.Context, mediaType string, r io.Reader) error {
		_, err := b.desk.Drop(ctx, b.v, "Hana saturday morning.m4a", mediaType, r)
		return err
	}})
	return nil
}

// draft is a lesson that the teacher began and did not send.
func (b *builder) draft(ctx context.Context, name string) error {
	students, err := b.desk.Students(ctx, b.v)
	if err != nil {
		return err
	}
	for _, s := range students {
		if s.Name != name {
			continue
		}
		b.at(b.o.Now.Add(-26 * time.Hour))
		work := b.works["wheel"].ID
		_, err := b.desk.SaveDraft(ctx, b.v, studio.Lesson{Student: s.ID, Date: b.now().Format(time.DateOnly), Words: "The walkers go well together now. One new thing this week:",
			Assignments: []studio.Assignment{{Work: work, FromBar: "1", ToBar: "2", Do: "Only the right hand: p i m a on open strings, then with the first shape.",
				Goals: studio.Goals{TempoBpm: 54, DoneWhen: "four times round without looking at the right hand"}}}})
		return err
	}
	return nil
}
