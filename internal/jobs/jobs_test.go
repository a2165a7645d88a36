package jobs_test

import (
	"bufio"
	"context"
	"errors"
	"fmt"
	"os"
	"os/exec"
	"path/filepath"
	"strings"
	"syscall"
	"testing"
	"time"

	"antiphon/internal/jobs"
	"antiphon/internal/store"
	"antiphon/internal/store/disk"
	"antiphon/internal/store/storetest"
	"antiphon/internal/studio"
)

const (
	leftAddress = "ANTIPHON_TEST_LEFT_ADDRESS" // set in the process that is killed
	waitAtMost  = time.Minute                  // for what should happen at once; only a broken queue waits so long
)

func open(t *testing.T, address string, o jobs.Options) (*store.Store, *jobs.Queue) {
	t.Helper()
	ctx := t.Context()
	var s *store.Store
	var q *jobs.Queue
	var err error
	if strings.HasPrefix(address, "host=") {
		if s, err = store.OpenPostgres(ctx, address); err == nil {
			q, err = jobs.OpenPostgres(ctx, s.DB(), address, o)
		}
	} else {
		if s, err = store.OpenSQLite(ctx, address); err == nil {
			q, err = jobs.OpenSQLite(ctx, s.DB(), o)
		}
	}
	if err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() {
		q.Close()
		if err := s.Close(); err != nil {
			t.Error(err)
		}
	})
	return s, q
}

func both(t *testing.T, run func(t *testing.T, address string)) {
	t.Run("SQLite", func(t *testing.T) { run(t, filepath.Join(t.TempDir(), "studio.db")) })
	t.Run("PostgreSQL", func(t *testing.T) { run(t, storetest.Postgres(t)(t)) })
}

// work starts q and stops it when the test ends; until then done gives what do did.
func work(t *testing.T, q *jobs.Queue, do jobs.Hand) {
	t.Helper()
	ctx, stop := context.WithCancel(t.Context())
	ended := make(chan error, 1)
	go func() { ended <- q.Work(ctx, do) }()
	t.Cleanup(func() {
		stop()
		if err := <-ended; err != nil {
			t.Error(err)
		}
	})
}

func next[T any](t *testing.T, c <-chan T) (v T) {
	t.Helper()
	select {
	case v = <-c:
	case <-time.After(waitAtMost):
		t.Fatal("nothing happens")
	}
	return v
}

func enqueue(t *testing.T, s *store.Store, q *jobs.Queue, end error, ids ...studio.TakeID) {
	t.Helper()
	err := s.Within(t.Context(), func(tx studio.Records) error {
		for _, id := range ids {
			if err := q.Enqueue(t.Context(), tx, studio.Job{Kind: studio.JobHear, Studio: "s", Take: id}); err != nil {
				t.Error(err)
			}
		}
		return end
	})
	if !errors.Is(err, end) {
		t.Fatal(err)
	}
}

func TestWithTheTransaction(t *testing.T) {
	both(t, func(t *testing.T, address string) {
		s, q := open(t, address, jobs.Options{})
		done := make(chan studio.Job, 10)
		work(t, q, func(_ context.Context, j studio.Job, _ bool) error { done <- j; return nil })
		enqueue(t, s, q, errors.New("not now"), "never")
		enqueue(t, s, q, nil, "one")
		enqueue(t, s, q, nil, "two")
		for _, want := range []studio.TakeID{"one", "two"} {
			if got := next(t, done); got != (studio.Job{Kind: studio.JobHear, Studio: "s", Take: want}) {
				t.Errorf("got %+v, want %s", got, want)
			}
		}
		if err := q.Enqueue(t.Context(), s, studio.Job{Kind: studio.JobHear}); err == nil {
			t.Error("a job outside a transaction is taken")
		}
	})
}

func TestTriedAgain(t *testing.T) {
	both(t, func(t *testing.T, address string) {
		s, q := open(t, address, jobs.Options{Tries: 3, RetryAfter: func(int) time.Duration { return 0 }})
		lasts := make(chan bool, 10)
		work(t, q, func(_ context.Context, j studio.Job, last bool) error {
			if j.Take == "good" {
				close(lasts)
				return nil
			}
			lasts <- last
			return errors.New("not today")
		})
		enqueue(t, s, q, nil, "bad")
		for n, want := range []bool{false, false, true} {
			if got := next(t, lasts); got != want {
				t.Errorf("try %d: last is %v", n+1, got)
			}
		}
		enqueue(t, s, q, nil, "good")
		if _, more := <-lasts; more {
			t.Error("tried a fourth time")
		}
	})
}

// TestHeldUntilKilled is the process that is killed with a job in hand.
func TestHeldUntilKilled(t *testing.T) {
	address := os.Getenv(leftAddress)
	if address == "" {
		t.Skip("only for TestKilledInHand")
	}
	_, q := open(t, address, jobs.Options{})
	if err := q.Work(t.Context(), func(_ context.Context, j studio.Job, _ bool) error {
		fmt.Println("holding", j.Take)
		select {}
	}); err != nil {
		t.Fatal(err)
	}
}

func TestKilledInHand(t *testing.T) {
	both(t, func(t *testing.T, address string) {
		s, q := open(t, address, jobs.Options{Alone: true})
		enqueue(t, s, q, nil, "left")
		cmd := exec.Command(os.Args[0], "-test.run=^TestHeldUntilKilled$")
		cmd.Env = append(os.Environ(), leftAddress+"="+address)
		cmd.SysProcAttr = &syscall.SysProcAttr{Pdeathsig: syscall.SIGKILL}
		out, err := cmd.StdoutPipe()
		if err != nil {
			t.Fatal(err)
		}
		if err := cmd.Start(); err != nil {
			t.Fatal(err)
		}
		line, err := bufio.NewReader(out).ReadString('\n')
		cmd.Process.Kill()
		cmd.Wait()
		if err != nil || line != "holding left\n" {
			t.Fatalf("%q, %v", line, err)
		}
		done := make(chan studio.Job, 1)
		work(t, q, func(_ context.Context, j studio.Job, _ bool) error { done <- j; return nil })
		if got := next(t, done); got.Take != "left" {
			t.Errorf("got %+v", got)
		}
	})
}

// TestTakeIsHeard: a take that is received is heard by whoever works, through the real store and disk.
func TestTakeIsHeard(t *testing.T) {
	both(t, func(t *testing.T, address string) {
		ctx := t.Context()
		s, q := open(t, address, jobs.Options{AtOnce: 2})
		b, err := disk.Open(t.TempDir())
		if err != nil {
			t.Fatal(err)
		}
		defer b.Close()
		d := studio.NewDesk(s, b, q, studio.DeskOptions{})
		st, p, err := d.Found(ctx, "Lindenhof", "Teacher")
		if err != nil {
			t.Fatal(err)
		}
		ear := studio.Viewer{Studio: st.ID, Role: studio.Ear}
		heard := make(chan studio.TakeID, 10)
		work(t, q, func(ctx context.Context, j studio.Job, _ bool) error {
			if _, err := d.BeginHearing(ctx, ear, j.Take); err != nil {
				return err
			}
			if _, err := d.KeepHearing(ctx, ear, j.Take, studio.Heard{Doc: []byte(`{"schema":"antiphon.hearing/1"}`)}); err != nil {
				return err
			}
			heard <- j.Take
			return nil
		})
		teacher := studio.Viewer{Studio: st.ID, Role: studio.Teacher, Person: p.ID}
		if _, _, err := d.InviteFamily(ctx, teacher, studio.NewFamily{Name: "Abel", Students: []studio.NewStudent{{Name: "Mira"}}}, studio.Asked{}); err != nil {
			t.Fatal(err)
		}
		children, err := s.Students(ctx, studio.WholeStudio(st.ID))
		if err != nil || len(children) != 1 {
			t.Fatal(children, err)
		}
		sent := map[studio.TakeID]bool{}
		for n := range 5 {
			a, err := d.Announce(ctx, teacher, studio.Announcement{Student: children[0].ID})
			if err != nil {
				t.Fatal(err)
			}
			if _, err := d.Receive(ctx, teacher, a.ID, "audio/mp4", strings.NewReader(fmt.Sprint("take ", n))); err != nil {
				t.Fatal(err)
			}
			sent[a.ID] = true
		}
		for range 5 {
			id := next(t, heard)
			if !sent[id] {
				t.Errorf("take %s was heard twice, or never sent", id)
			}
			delete(sent, id)
			if tk, err := s.Take(ctx, studio.WholeStudio(st.ID), id); err != nil || tk.State != studio.Ready {
				t.Errorf("%+v, %v", tk, err)
			}
		}
	})
}

// TestNobodyWaitsForThePatient: what pages play and draw is made beside the hearings, never before one.
func TestNobodyWaitsForThePatient(t *testing.T) {
	both(t, func(t *testing.T, address string) {
		s, q := open(t, address, jobs.Options{})
		heard, began := make(chan struct{}), make(chan struct{}, 10)
		work(t, q, func(ctx context.Context, j studio.Job, _ bool) error {
			if j.Kind == studio.JobHear {
				close(heard)
				return nil
			}
			began <- struct{}{}
			select { // until the hearing is done, which is asked for later
			case <-heard:
			case <-time.After(waitAtMost):
				t.Error("a hearing waits for a rendition")
			}
			return nil
		})
		err := s.Within(t.Context(), func(tx studio.Records) error {
			return errors.Join(q.Enqueue(t.Context(), tx, studio.Job{Kind: studio.JobRender, Studio: "s", Take: "a"}),
				q.Enqueue(t.Context(), tx, studio.Job{Kind: studio.JobSweep, Studio: "s"}))
		})
		if err != nil {
			t.Fatal(err)
		}
		next(t, began)
		enqueue(t, s, q, nil, "b")
		next(t, heard)
		next(t, began)
	})
}
