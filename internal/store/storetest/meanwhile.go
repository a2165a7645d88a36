package storetest

import (
	"fmt"
	"strings"
	"sync"
	"testing"

	"antiphon/internal/studio"
)

// meanwhile: what one hand writes into a take is not lost where another writes at the same moment.
func meanwhile(t *testing.T, h *House) {
	ctx := t.Context()
	f := h.Found(t, "Lindenhof")
	a, mira := h.Join(t, f, "Abel", "Mira")
	h.Desk = studio.NewDesk(h.Store, h.Blobs, h.Jobs, studio.DeskOptions{Rand: h.rand}) // with a clock that goes
	w, err := h.Desk.AddWork(ctx, f.Teacher, studio.Work{Title: "Ode to Joy", Score: "<score/>"})
	must(t, err)
	for n := range 20 {
		take := h.Send(t, a, mira, fmt.Sprint("take ", n)).Take
		m, err := h.Desk.BeginHearing(ctx, f.Ear, take.ID)
		must(t, err)
		var wg sync.WaitGroup
		errs := make([]error, 3)
		wg.Go(func() {
			_, errs[0] = h.Desk.KeepHearing(ctx, f.Ear, take.ID, studio.Heard{Doc: []byte(hearing), Turn: m.Turn, DurationS: 60, Summary: studio.Summary{Bpm: 60}})
		})
		wg.Go(func() { errs[1] = h.Desk.Answer(ctx, f.Teacher, take.ID) })
		wg.Go(func() {
			_, errs[2] = h.Desk.KeepRendition(ctx, f.Ear, take.ID, studio.Peaks, "application/json", strings.NewReader("[]"))
		})
		wg.Wait()
		for i, err := range errs {
			if err != nil {
				t.Errorf("hand %d: %v", i, err)
			}
		}
		r, err := h.Desk.ReviewTake(ctx, f.Teacher, take.ID)
		must(t, err)
		if r.Take.State != studio.Ready || r.Take.Answered.IsZero() || r.Take.Summary == nil || r.Hearing == nil || len(r.Media) != 2 {
			t.Errorf("after three hands: %+v", r.Take)
		}
		// The teacher says what it is while it is heard: the hearing against nothing is not kept, the next one is.
		must(t, h.Desk.HearAgain(ctx, f.Teacher, take.ID))
		m, err = h.Desk.BeginHearing(ctx, f.Ear, take.ID)
		must(t, err)
		must(t, h.Desk.Assign(ctx, f.Teacher, take.ID, "", w.ID))
		_, err = h.Desk.KeepHearing(ctx, f.Ear, take.ID, studio.Heard{Doc: []byte(hearing), Turn: m.Turn})
		refused(t, "a hearing of what it is not", err, studio.Conflict)
		h.heard(t, f.Ear, take.ID, hearing)
	}
}
