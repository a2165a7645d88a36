package jobs_test

import (
	"context"
	"errors"
	"fmt"
	"testing"
	"time"

	"antiphon/internal/jobs"
	"antiphon/internal/studio"
)

// toldToWait is a refusal that names a time.
type toldToWait struct{ wait time.Duration }

func (e toldToWait) Error() string { return "come back later" }

func (e toldToWait) Wait() time.Duration { return e.wait }

// TestToldToWait: who refused a job and named a time is left alone so long, while the others go on.
func TestToldToWait(t *testing.T) {
	both(t, func(t *testing.T, address string) {
		s, q := open(t, address, jobs.Options{Tries: 3, RetryAfter: func(int) time.Duration { return 0 }})
		tried := make(chan studio.TakeID, 20)
		work(t, q, func(_ context.Context, j studio.Job, _ bool) error {
			tried <- j.Take
			switch j.Take {
			case "waits":
				return fmt.Errorf("telling: %w", errors.Join(errors.New("another"), toldToWait{time.Hour}))
			case "hurries":
				return toldToWait{-time.Hour}
			}
			return nil
		})
		enqueue(t, s, q, nil, "waits")
		times := map[studio.TakeID]int{next(t, tried): 1}
		enqueue(t, s, q, nil, "hurries")
		for range 3 {
			times[next(t, tried)]++
		}
		enqueue(t, s, q, nil, "good")
		times[next(t, tried)]++
		if times["waits"] != 1 || times["hurries"] != 3 || times["good"] != 1 {
			t.Errorf("tried %v", times)
		}
		if left, err := q.Left(t.Context()); err != nil || !left {
			t.Errorf("what waits is forgotten: %v, %v", left, err)
		}
	})
}
