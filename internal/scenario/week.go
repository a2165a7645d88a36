package scenario

import (
	"context"
	"fmt"
	"time"

	"antiphon/internal/studio"
)

// home is where what a family taps comes from: its device, and the newest lesson of the child.
type home struct {
	coach   studio.Viewer
	student studio.StudentID
	lesson  studio.Lesson
}

// atHome is what the Vargas tapped since the lesson of this week, and the words that the teacher uses again
// and again.
func (b *builder) atHome(ctx context.Context) error {
	tilda, bence := b.homes["Tilda"], b.homes["Bence"]
	b.at(b.o.Now.Add(-90 * time.Minute))
	sent := tilda.lesson.Sent
	n := 0
	tap := func(of home, line int, day int, minute int, kind studio.TapKind, more studio.Tap) studio.Tap {
		n++
		more.ID, more.Student, more.Kind = fmt.Sprintf("demo-tap-%04d", n), of.student, kind
		if line >= 0 {
			more.Assignment = of.lesson.Assignments[line].ID
		}
		more.At = sent.Truncate(24*time.Hour).AddDate(0, 0, day).Add(16*time.Hour + time.Duration(minute)*time.Minute)
		return more
	}
	rungs := tilda.lesson.Assignments[1].Ladder.Rungs()
	var taps []studio.Tap
	for day := 1; day <= 3; day++ {
		bpm := rungs[min(day-1, len(rungs)-1)]
		for try := range 4 {
			taps = append(taps, tap(tilda, 1, day, try, studio.TapTry, studio.Tap{Clean: try > 0, Bpm: bpm, Seconds: 20}))
		}
		taps = append(taps, tap(tilda, 1, day, 5, studio.TapRung, studio.Tap{Bpm: rungs[min(day, len(rungs)-1)]}),
			tap(tilda, 0, day, 12, studio.TapDone, studio.Tap{}))
	}
	listen := -1
	for i, a := range tilda.lesson.Assignments {
		if a.Ask == studio.AskListen {
			listen = i
		}
	}
	taps = append(taps,
		tap(tilda, listen, 2, 20, studio.TapHeard, studio.Tap{}),
		tap(tilda, listen, 2, 22, studio.TapAnswer, studio.Tap{Text: "higher"}),
		tap(tilda, 0, 3, 15, studio.TapQuestion, studio.Tap{Text: "In bar 11 she does not know which finger comes first. May she begin with the second?"}),
		tap(bence, 1, 1, 30, studio.TapDone, studio.Tap{}),
		tap(bence, 0, 2, 30, studio.TapTry, studio.Tap{Clean: true, Bpm: bence.lesson.Assignments[0].Goals.TempoBpm}),
		tap(bence, 0, 2, 33, studio.TapHurt, studio.Tap{Text: "The tips of his fingers burned, so we stopped."}))
	if err := b.desk.Tap(ctx, tilda.coach, taps); err != nil {
		return err
	}
	return b.phrases(ctx, tilda.student)
}

func (b *builder) phrases(ctx context.Context, to studio.StudentID) error {
	for i, text := range phrases {
		p, err := b.desk.KeepPhrase(ctx, b.v, studio.Phrase{Text: text})
		if err != nil {
			return err
		}
		if i%2 == 0 {
			b.at(b.o.Now.AddDate(0, 0, -7*(i+1)))
			if _, err := b.desk.UsePhrase(ctx, b.v, p.ID, to); err != nil {
				return err
			}
		}
	}
	return nil
}

// tomorrow is a lesson that goes out by itself.
func (b *builder) tomorrow(ctx context.Context, name string) error {
	of := b.homes[name]
	b.at(b.o.Now.Add(-25 * time.Minute))
	next, _, err := b.desk.ProposeLesson(ctx, b.v, of.student)
	if err != nil {
		return err
	}
	next.Words = "A short lesson, so that there is time to play it for somebody."
	if next, err = b.desk.SaveDraft(ctx, b.v, next); err != nil {
		return err
	}
	y, m, d := b.o.Now.Date()
	return b.desk.SendLater(ctx, b.v, next.ID, next.Version, time.Date(y, m, d+1, 17, 0, 0, 0, b.o.Now.Location()))
}
