package jobs_test

import (
	"context"
	"testing"
	"time"

	"antiphon/internal/jobs"
	"antiphon/internal/studio"
)

// TestAtAnHour: a job that is set for later is not done before, is not counted as left, and outlives the
// program that handed it on.
func TestAtAnHour(t *testing.T) {
	both(t, func(t *testing.T, address string) {
		s, q := open(t, address, jobs.Options{})
		at := time.Now().Add(3 * time.Second)
		err := s.Within(t.Context(), func(tx studio.Records) error {
			return q.Enqueue(t.Context(), tx, studio.Job{Kind: studio.JobSend, Studio: "s", Lesson: "one", At: at})
		})
		if err != nil {
			t.Fatal(err)
		}
		if left, err := q.Left(t.Context()); err != nil || left {
			t.Errorf("left: %v, %v", left, err)
		}
		ctx, stop := context.WithCancel(t.Context())
		stop()
		if err := q.Work(ctx, func(context.Context, studio.Job, bool) error { t.Error("done before its hour"); return nil }); err != nil {
			t.Fatal(err)
		}
		type done struct {
			studio.Job
			when time.Time
		}
		seen := make(chan done, 1)
		work(t, q, func(_ context.Context, j studio.Job, _ bool) error { seen <- done{j, time.Now()}; return nil })
		got := next(t, seen)
		if got.Kind != studio.JobSend || got.Lesson != "one" || !got.At.Equal(at) {
			t.Errorf("got %+v", got.Job)
		}
		if got.when.Before(at) {
			t.Errorf("done %v before its hour", at.Sub(got.when))
		}
	})
}
