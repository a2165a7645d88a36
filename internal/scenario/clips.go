package scenario

import (
	"context"
	"fmt"
	"os"

	"golang.org/x/sync/errgroup"

	"antiphon/internal/studio"
)

// shown is how the teacher plays what a child is learning: as it should sound, and as it should not.
type shown struct {
	model        studio.TakeID
	like, unlike studio.Clip
}

var teacherAsLearner = Learner{Name: TeacherName, Tempo: [2]float64{1, 1}, Wobble: .008, Habit: steady, Record: phoneOnTable}

// ownTakes are the teacher's own, of what Tilda is learning: the whole tune, and its beginning with what she does again
// and again. They are there before the lessons that show them.
func (b *builder) ownTakes(ctx context.Context) error {
	goesBack := teacherAsLearner
	goesBack.Habit = restarts
	type own struct {
		as     Learner
		asked  Asked
		sent   Sent
		days   int // ago
		path   string
		kind   string
		forget func()
	}
	all := []own{
		{as: goesBack, asked: Asked{Piece: "au-clair", FromBar: "1", ToBar: "8", Share: 1}, sent: Sent{Key: "own-au-clair-going-back"}, days: 21},
		{as: teacherAsLearner, asked: Asked{Piece: "au-clair", Share: 1}, sent: Sent{Key: "own-au-clair", Known: 1}, days: 20},
	}
	g, _ := errgroup.WithContext(ctx)
	for i := range all {
		g.Go(func() error {
			spec, err := Played(all[i].as, all[i].asked, all[i].sent, b.pieces)
			if err == nil {
				all[i].path, all[i].kind, all[i].forget, err = b.o.Recorder.Record(spec)
			}
			return err
		})
	}
	err := g.Wait()
	for i := range all {
		if all[i].forget != nil {
			defer all[i].forget()
		}
	}
	if err != nil {
		return err
	}
	var ids []studio.TakeID
	for _, o := range all {
		b.at(b.o.Now.AddDate(0, 0, -o.days))
		f, err := os.Open(o.path)
		if err != nil {
			return fmt.Errorf("scenario: %w", err)
		}
		m, err := b.desk.ReceiveModel(ctx, b.v, b.works["au-clair"].ID, o.kind, f)
		f.Close()
		if err != nil {
			return err
		}
		ids = append(ids, m.ID)
	}
	b.shown = shown{ids[1], studio.Clip{Take: ids[1], FromS: .5, ToS: 12, Say: "One breath to the end of the line."},
		studio.Clip{Take: ids[0], FromS: .5, ToS: 18, Say: "Back to the start of the bar."}}
	return nil
}
