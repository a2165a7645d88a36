package errand

import (
	"context"
	"errors"
	"fmt"
	"slices"
	"testing"
	"testing/synctest"
	"time"
)

// queue is errands of which each takes a second and writes down that it was done.
type queue struct {
	*Errands[int]
	t    *testing.T
	done []string
}

func newQueue(t *testing.T) *queue { return &queue{New[int](1, 500, time.Minute), t, nil} }

func (q *queue) ask(by Asker, key string) error {
	q.t.Helper()
	_, ready, err := q.GetFor(q.t.Context(), by, key, time.Nanosecond, func(context.Context) (int, error) {
		time.Sleep(time.Second)
		q.done = append(q.done, key)
		return 0, nil
	})
	if ready {
		q.t.Errorf("%s is ready at once", key)
	}
	return err
}

// What a person waits for is done before what is only made ahead, also where it was to be made ahead already.
func TestWhatAPersonWaitsForComesFirst(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		q := newQueue(t)
		defer q.End()
		for i := range 5 {
			if err := q.ask(Asker{"reed", true}, fmt.Sprint("ahead", i)); err != nil {
				t.Fatal(err)
			}
		}
		if err := errors.Join(q.ask(Asker{"reed", false}, "tap"), q.ask(Asker{"reed", false}, "ahead4")); err != nil {
			t.Fatal(err)
		}
		time.Sleep(time.Minute)
		synctest.Wait()
		if want := []string{"ahead0", "tap", "ahead4", "ahead1", "ahead2", "ahead3"}; !slices.Equal(q.done, want) {
			t.Errorf("done in this order: %v, want %v", q.done, want)
		}
	})
}

// Whoever asks for hundreds of things is refused, and waits longer than who asks for one.
func TestNobodyTakesAllTheTurns(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		q := newQueue(t)
		defer q.End()
		crowded := 0
		for i := range 300 {
			if err := q.ask(Asker{"greedy", false}, fmt.Sprint("greedy", i)); errors.Is(err, ErrCrowded) {
				crowded++
			} else if err != nil {
				t.Fatal(err)
			}
		}
		if crowded != 300-1-mostWaiting {
			t.Errorf("%d of 300 are refused", crowded)
		}
		if err := errors.Join(q.ask(Asker{"modest", false}, "one"), q.ask(Asker{"modest", false}, "two")); err != nil {
			t.Fatal(err)
		}
		time.Sleep(time.Minute)
		synctest.Wait()
		if one, two := slices.Index(q.done, "one"), slices.Index(q.done, "two"); one != 1 || two != 3 {
			t.Errorf("done in this order: %v", q.done)
		}
		if err := q.ask(Asker{"greedy", false}, "later"); err != nil {
			t.Errorf("once its own are done: %v", err)
		}
	})
}

// An errand that breaks is a fault of that errand.
func TestAnErrandThatBreaks(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		e := New[int](1, 5, time.Minute)
		defer e.End()
		if _, ready, err := e.Get(t.Context(), "a", time.Minute, func(context.Context) (int, error) { panic("a string snapped") }); err == nil || !ready {
			t.Errorf("ready %v, %v", ready, err)
		}
		if got, ready, err := e.Get(t.Context(), "a", time.Minute, func(context.Context) (int, error) { return 7, nil }); got != 7 || !ready || err != nil {
			t.Errorf("after it: %d, %v, %v", got, ready, err)
		}
	})
}

// What waits when everything ends is told so.
func TestTheEndOfWhatWaits(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		q := newQueue(t)
		if err := q.ask(Asker{}, "first"); err != nil {
			t.Fatal(err)
		}
		told := make(chan error)
		go func() {
			_, _, err := q.Get(t.Context(), "second", time.Hour, func(context.Context) (int, error) { return 0, nil })
			told <- err
		}()
		synctest.Wait()
		q.stop()
		go q.End()
		if err := <-told; !errors.Is(err, context.Canceled) {
			t.Errorf("told %v", err)
		}
		q.End()
	})
}
