package jobs

import (
	"context"
	"fmt"

	"github.com/riverqueue/river"
	"github.com/riverqueue/river/rivertype"
)

// Left tells whether work is left to be done, now or after a failed try. What is set for a later hour is
// not counted.
func (q *Queue) Left(ctx context.Context) (bool, error) {
	l, err := q.insert.JobList(ctx, river.NewJobListParams().First(1).States(rivertype.JobStateAvailable, rivertype.JobStatePending,
		rivertype.JobStateRetryable, rivertype.JobStateRunning))
	if err != nil {
		return false, fmt.Errorf("asking for the work that is left: %w", err)
	}
	return len(l.Jobs) > 0, nil
}
