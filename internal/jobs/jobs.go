// Package jobs hands work on through River, in the studio's own database.
//
// A job is written in the caller's transaction, so it exists exactly when what it is about exists.
// A job may be done more than once, after an error or a kill, so whoever does it must not mind; two
// jobs about one take may follow each other, and are not made one: a take that is sent to the ear again
// while its first job is just ending would otherwise wait for ever. It decides nothing about takes.
package jobs

import (
	"context"
	"database/sql"
	"errors"
	"fmt"
	"log/slog"
	"time"

	"antiphon/internal/studio"

	"github.com/jackc/pgx/v5/pgxpool"
	"github.com/riverqueue/river"
	"github.com/riverqueue/river/riverdriver"
	"github.com/riverqueue/river/riverdriver/riverdatabasesql"
	"github.com/riverqueue/river/riverdriver/riversqlite"
	"github.com/riverqueue/river/rivermigrate"
	"github.com/riverqueue/river/rivertype"
)

// Options: the zero value is one job at once and one patient one beside it, ten minutes for each, three
// times that for a patient one, five tries, and no log.
type Options struct {
	AtOnce     int                            // 0 means 1; patient jobs are done one at a time beside them
	TryFor     time.Duration                  // then a try is given up; 0 means 10 minutes
	Tries      int                            // 0 means 5
	RetryAfter func(failed int) time.Duration // after so many failed tries; nil means River's, 1 s, 16 s, 81 s …
	Alone      bool                           // no other process works on this database: what a killed one had in hand is taken up at once, not after TryFor
	Log        *slog.Logger                   // nil means discard
}

// Queue implements studio.Jobs.
type Queue struct {
	db     *sql.DB
	listen *pgxpool.Pool // PostgreSQL only
	driver riverdriver.Driver[*sql.Tx]
	insert *river.Client[*sql.Tx]
	o      Options
}

// OpenSQLite puts the queue into the database that db writes to, with one connection.
func OpenSQLite(ctx context.Context, db *sql.DB, o Options) (*Queue, error) {
	return open(ctx, &Queue{db: db, driver: riversqlite.New(db), o: o})
}

// OpenPostgres puts the queue into db. Address is the same database's: a job that comes is heard of there.
func OpenPostgres(ctx context.Context, db *sql.DB, address string, o Options) (*Queue, error) {
	pool, err := pgxpool.New(ctx, address)
	if err != nil {
		return nil, fmt.Errorf("opening the queue: %w", err)
	}
	return open(ctx, &Queue{db: db, listen: pool, driver: riverdatabasesql.NewWithPgxListener(db, pool), o: o})
}

func open(ctx context.Context, q *Queue) (*Queue, error) {
	if q.o.AtOnce == 0 {
		q.o.AtOnce = 1
	}
	if q.o.TryFor == 0 {
		q.o.TryFor = 10 * time.Minute
	}
	if q.o.Tries == 0 {
		q.o.Tries = 5
	}
	if q.o.Log == nil {
		q.o.Log = slog.New(slog.DiscardHandler)
	}
	err := func() error {
		if err := q.migrate(ctx); err != nil {
			return err
		}
		var err error
		q.insert, err = river.NewClient(q.driver, &river.Config{Logger: q.o.Log})
		return err
	}()
	if err != nil {
		q.Close()
		return nil, fmt.Errorf("opening the queue: %w", err)
	}
	return q, nil
}

// Two programs that start at once both want to make River's tables, and one of them is refused: it
// looks again, for as long as the other may need.
const (
	migrateTries = 50
	migrateRest  = 100 * time.Millisecond
)

func (q *Queue) migrate(ctx context.Context) error {
	m, err := rivermigrate.New(q.driver, &rivermigrate.Config{Logger: q.o.Log})
	if err != nil {
		return err
	}
	for try := 1; ; try++ {
		_, err := m.Migrate(ctx, rivermigrate.DirectionUp, nil)
		if err == nil || try == migrateTries {
			return err
		}
		select {
		case <-ctx.Done():
			return errors.Join(err, ctx.Err())
		case <-time.After(migrateRest):
		}
	}
}

// Close leaves the database to its owner.
func (q *Queue) Close() {
	if q.listen != nil {
		q.listen.Close()
	}
}

// inSQL is a transaction that shows what is behind it.
type inSQL interface{ SQL() *sql.Tx }

var errNoTransaction = errors.New("a job must be handed on in a transaction of the studio's database")

// Enqueue implements studio.Jobs.
func (q *Queue) Enqueue(ctx context.Context, tx studio.Records, job studio.Job) error {
	t, ok := tx.(inSQL)
	if !ok {
		return errNoTransaction
	}
	if _, err := q.insert.InsertTx(ctx, t.SQL(), args{Job: job}, &river.InsertOpts{MaxAttempts: q.o.Tries, Queue: queueOf(job), ScheduledAt: job.At}); err != nil {
		return fmt.Errorf("handing on job %s: %w", job.Kind, err)
	}
	return nil
}

// args is a job as River keeps it. The kind is ours, so one queue holds all.
type args struct {
	Job studio.Job

	wait time.Duration // that the last try was told to wait; not kept
}

func (args) Kind() string { return "studio" }

// patient is the queue of what nobody waits for, so that a hearing never stands behind it.
const patient = "patient"

// patience is how many times as long a patient job may take: encoding an hour of video is one.
const patience = 3

func queueOf(j studio.Job) string {
	if j.Kind == studio.JobRender || j.Kind == studio.JobDemands || j.Kind == studio.JobSweep || j.Kind == studio.JobFilm {
		return patient
	}
	return river.QueueDefault
}

// waiting is an error of somebody who said how long to leave it alone.
type waiting interface {
	error
	Wait() time.Duration
}

// longestWait is how long a job is left alone at most, whatever somebody said.
const longestWait = 24 * time.Hour

// Hand does a job. After an error it is tried again, unless this was the last try; where the error has a
// method Wait() time.Duration, not before that is over.
type Hand func(ctx context.Context, job studio.Job, last bool) error

type worker struct {
	river.WorkerDefaults[args]
	hand   Hand
	tryFor time.Duration
	policy river.ClientRetryPolicy
}

// Timeout implements river.Worker.
func (w *worker) Timeout(j *river.Job[args]) time.Duration {
	if queueOf(j.Args.Job) == patient {
		return patience * w.tryFor
	}
	return w.tryFor
}

func (w *worker) Work(ctx context.Context, j *river.Job[args]) error {
	err := w.hand(ctx, j.Args.Job, j.Attempt >= j.MaxAttempts)
	j.Args.wait = 0
	if x, ok := errors.AsType[waiting](err); ok {
		j.Args.wait = min(x.Wait(), longestWait)
	}
	return err
}

// NextRetry implements river.Worker; the zero time leaves it to the policy. A wait that is shorter than the
// policy's does not hurry anything.
func (w *worker) NextRetry(j *river.Job[args]) time.Time {
	if j.Args.wait <= 0 {
		return time.Time{}
	}
	at := w.policy.NextRetry(j.JobRow)
	if later := time.Now().Add(j.Args.wait); later.After(at) {
		return later
	}
	return at
}

type retry func(failed int) time.Duration

func (r retry) NextRetry(j *rivertype.JobRow) time.Time {
	return time.Now().Add(r(len(j.Errors) + 1))
}

// Work does jobs until ctx ends, and then waits for what is in hand.
func (q *Queue) Work(ctx context.Context, do Hand) error {
	if q.o.Alone {
		// River gives up on a worker that was killed only when TryFor is over.
		const orphans = `UPDATE river_job SET state = 'available' WHERE state = 'running'`
		if _, err := q.db.ExecContext(ctx, orphans); err != nil {
			return fmt.Errorf("taking up what was left: %w", err)
		}
	}
	var policy river.ClientRetryPolicy = &river.DefaultClientRetryPolicy{}
	if q.o.RetryAfter != nil {
		policy = retry(q.o.RetryAfter)
	}
	ws := river.NewWorkers()
	if err := river.AddWorkerSafely(ws, &worker{hand: do, tryFor: q.o.TryFor, policy: policy}); err != nil {
		return fmt.Errorf("working: %w", err)
	}
	cfg := &river.Config{
		Logger:               q.o.Log,
		Queues:               map[string]river.QueueConfig{river.QueueDefault: {MaxWorkers: q.o.AtOnce}, patient: {MaxWorkers: 1}},
		Workers:              ws,
		RetryPolicy:          policy,
		JobTimeout:           q.o.TryFor,
		RescueStuckJobsAfter: patience*q.o.TryFor + time.Minute,
		// Jobs hold ids of takes, and takes may be erased.
		CompletedJobRetentionPeriod: time.Hour,
		DiscardedJobRetentionPeriod: time.Hour,
	}
	c, err := river.NewClient(q.driver, cfg)
	if err != nil {
		return fmt.Errorf("working: %w", err)
	}
	// The client has its own end: Stop lets what is in hand come to its end, a cancelled context does not.
	if err := c.Start(context.WithoutCancel(ctx)); err != nil {
		return fmt.Errorf("working: %w", err)
	}
	<-ctx.Done()
	if err := c.Stop(context.WithoutCancel(ctx)); err != nil {
		return fmt.Errorf("ending work: %w", err)
	}
	return nil
}
