package scenario

import (
	"context"
	"encoding/json"
	"fmt"
	"time"

	"antiphon/internal/findings"
	"antiphon/internal/remedies"
	"antiphon/internal/studio"
)

// speak makes the remark that the teacher made on a take: of the first trouble in it, in the words of the
// book of remedies, or a kind word where there was none.
func (b *builder) speak(ctx context.Context, l Learner, t studio.Take, measured []byte) error {
	var doc struct {
		Findings []struct {
			Kind    string  `json:"kind"`
			FromS   float64 `json:"from_s"`
			FromBar string  `json:"from_bar"`
		} `json:"findings"`
	}
	if err := json.Unmarshal(measured, &doc); err != nil {
		return fmt.Errorf("the hearing of %s: %w", t.ID, err)
	}
	rng := dice(l.Name, int(b.o.Now.Sub(t.Arrived)/(24*time.Hour)), "remark")
	for _, f := range doc.Findings {
		kind := findings.Kind(f.Kind)
		if kind.Well() || kind == findings.StringTuning && rng.IntN(6) > 0 || rng.IntN(4) == 0 {
			continue
		}
		offers := b.book.For(findings.Finding{Kind: kind}, remedies.Context{})
		if len(offers) == 0 || offers[0].Entry.ID == b.said[t.Student] && l.Habit != restarts { // said last week
			continue
		}
		b.said[t.Student] = offers[0].Entry.ID
		at := studio.Anchor{AtS: f.FromS, Bar: f.FromBar}
		_, err := b.desk.Remark(ctx, b.v, t.ID, at, offers[0].Entry.Remark, offers[0].Entry.ID)
		return err
	}
	if rng.IntN(2) == 0 {
		return nil
	}
	_, err := b.desk.Remark(ctx, b.v, t.ID, studio.Anchor{}, kindWords[rng.IntN(len(kindWords))], "")
	return err
}
