package storetest

import (
	"fmt"
	"testing"
	"time"

	"antiphon/internal/studio"
)

// stuck: a phone that sends without end, or somebody who wants to annoy, buries neither the desk nor the disk.
func stuck(t *testing.T, h *House) {
	ctx := t.Context()
	f := h.Found(t, "Lindenhof")
	secret, err := h.Desk.AskEmail(ctx, f.Teacher, "marit@example.org")
	must(t, err)
	_, err = h.Desk.ConfirmEmail(ctx, secret)
	must(t, err)
	v, mira := h.Join(t, f, "Abel", "Mira")
	b, jon := h.Join(t, f, "Bartsch", "Jon")
	l := h.lessonFor(t, f, mira, studio.Assignment{Do: "One."}, studio.Assignment{Do: "Two."})
	one, two := l.Assignments[0].ID, l.Assignments[1].ID
	n := 0
	hurt := func(a studio.AssignmentID, say string) studio.Tap {
		n++
		return studio.Tap{ID: fmt.Sprintf("0d9c3a1e-%06d", n), Student: mira, Assignment: a, Kind: studio.TapHurt, At: h.Now, Text: say}
	}
	lie := func() int {
		t.Helper()
		view, err := h.Desk.Look(ctx, f.Teacher)
		must(t, err)
		n := 0
		for _, b := range view.Waiting {
			n += len(b.Takes)
		}
		return n
	}
	told := func() (n int) {
		for _, j := range h.Jobs.All {
			if j.Kind == studio.JobNotify {
				n++
			}
		}
		return n
	}
	h.Jobs.All = nil
	// Two phones tell of the same; other words, or another task, are another thing.
	must(t, h.Desk.Tap(ctx, v, []studio.Tap{hurt(one, "The wrist."), hurt(one, "The wrist.")}))
	must(t, h.Desk.Tap(ctx, v, []studio.Tap{hurt(one, "The wrist.")}))
	if lie() != 1 || told() != 1 {
		t.Errorf("the same told three times lies there %d times, and was told %d times", lie(), told())
	}
	must(t, h.Desk.Tap(ctx, v, []studio.Tap{hurt(two, "The wrist."), hurt(one, "The thumb.")}))
	if lie() != 3 || told() != 3 {
		t.Errorf("three things lie there %d times, and were told %d times", lie(), told())
	}
	h.Now = h.Now.Add(25 * time.Hour)
	must(t, h.Desk.Tap(ctx, v, []studio.Tap{hurt(one, "The wrist.")}))
	if lie() != 4 {
		t.Errorf("the next day it lies there %d times", lie())
	}
	var many []studio.Tap
	for i := range 400 {
		many = append(many, hurt(one, fmt.Sprint("The finger ", i)))
	}
	must(t, h.Desk.Tap(ctx, v, many))
	if lie() != 20 || told() != 20 {
		t.Errorf("four hundred lie there %d times, and were told %d times", lie(), told())
	}
	if taps, err := h.Desk.Taps(ctx, v, studio.TapQuery{Student: mira, Limit: 500}); err != nil || len(taps) != 406 {
		t.Errorf("the log has %d, %v", len(taps), err)
	}

	// A day has its measure; a hurt of another family is none of it.
	var refusal error
	for range 12 {
		many = many[:0]
		for range 500 {
			x := hurt(one, "")
			x.Kind, x.Bpm = studio.TapTry, 60
			many = append(many, x)
		}
		if refusal = h.Desk.Tap(ctx, v, many); refusal != nil {
			break
		}
	}
	refused(t, "thousands of taps", refusal, studio.TooMany)
	must(t, h.Desk.Tap(ctx, b, []studio.Tap{{ID: "0d9c3a1e-a", Student: jon, Kind: studio.TapDone, At: h.Now}}))
	if taps, err := h.Desk.Taps(ctx, v, studio.TapQuery{Student: mira, Told: true, Limit: 500}); err != nil || len(taps) != 406 {
		t.Errorf("without tries the log has %d, %v", len(taps), err)
	}
	h.Now = h.Now.Add(25 * time.Hour)
	must(t, h.Desk.Tap(ctx, v, many))
}
