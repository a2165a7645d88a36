package errand

import (
	"context"
	"errors"
	"fmt"
	"sync"
	"sync/atomic"
	"testing"
	"testing/synctest"
	"time"
)

func TestErrands(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		e := New[int](1, 2, time.Minute)
		defer e.End()
		var times atomic.Int32
		slow := func(context.Context) (int, error) {
			times.Add(1)
			time.Sleep(10 * time.Second)
			return 7, nil
		}
		if _, ready, err := e.Get(t.Context(), "a", time.Second, slow); ready || err != nil {
			t.Fatalf("after a second: ready %v, %v", ready, err)
		}
		var all sync.WaitGroup
		for range 5 {
			all.Go(func() {
				if got, ready, err := e.Get(t.Context(), "a", time.Minute, slow); got != 7 || !ready || err != nil {
					t.Errorf("got %d, ready %v, %v", got, ready, err)
				}
			})
		}
		all.Wait()
		if n := times.Load(); n != 1 {
			t.Errorf("done %d times", n)
		}

		bad := errors.New("bad")
		fails := func(context.Context) (int, error) { times.Add(1); return 0, bad }
		for range 2 {
			if _, ready, err := e.Get(t.Context(), "b", time.Minute, fails); !ready || !errors.Is(err, bad) {
				t.Errorf("ready %v, %v", ready, err)
			}
		}
		if n := times.Load(); n != 3 {
			t.Errorf("a fault is remembered: done %d times", n)
		}

		for i := range 5 {
			if _, _, err := e.Get(t.Context(), fmt.Sprint("c", i), time.Minute, func(context.Context) (int, error) { return i, nil }); err != nil {
				t.Fatal(err)
			}
		}
		if len(e.of) > 3 || len(e.of) != len(e.order) {
			t.Errorf("%d results are kept, %d in order", len(e.of), len(e.order))
		}
	})
}

func TestErrandsEnd(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		e := New[int](1, 2, time.Hour)
		var stopped atomic.Bool
		_, ready, _ := e.Get(t.Context(), "a", time.Second, func(ctx context.Context) (int, error) {
			<-ctx.Done()
			stopped.Store(true)
			return 0, ctx.Err()
		})
		if ready {
			t.Fatal("ready")
		}
		e.End()
		if !stopped.Load() {
			t.Error("the end did not wait")
		}
	})
}
