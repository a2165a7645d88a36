// Package errand does work that outlives the request that asked for it: the page is answered in time, and a
// later request finds what became of it. Asking twice for the same does it once.
//
// It keeps what was found in memory only, and tries nothing again by itself.
package errand

import (
	"context"
	"slices"
	"sync"
	"time"
)

// Errands are pieces of work of one kind. Make them with New, and End them when the last request was answered.
type Errands[T any] struct {
	room  chan struct{} // one sign for each that may run at once
	limit time.Duration // for one of them
	keep  int           // results that are remembered

	ctx  context.Context // ends with End
	stop context.CancelFunc
	all  sync.WaitGroup

	mu    sync.Mutex
	of    map[string]*errand[T]
	order []string // oldest first
}

type errand[T any] struct {
	done chan struct{}
	got  T
	err  error
}

// New makes Errands of which atOnce run at a time, each for limit at most; so many results are remembered.
func New[T any](atOnce, keep int, limit time.Duration) *Errands[T] {
	ctx, stop := context.WithCancel(context.Background())
	return &Errands[T]{room: make(chan struct{}, atOnce), limit: limit, keep: keep, ctx: ctx, stop: stop, of: map[string]*errand[T]{}}
}

// End stops what can be stopped and waits for the rest.
func (e *Errands[T]) End() {
	e.stop()
	e.all.Wait()
}

// Get gives the result of do under a key, and waits for it no longer than patience: ready is false
// where it is still on its way. A fault is told to those who wait for it and forgotten, so that it
// can be tried again.
func (e *Errands[T]) Get(ctx context.Context, key string, patience time.Duration, do func(context.Context) (T, error)) (got T, ready bool, err error) {
	one := e.begin(key, do)
	timer := time.NewTimer(patience)
	defer timer.Stop()
	select {
	case <-one.done:
		return one.got, true, one.err
	case <-timer.C:
		return got, false, nil
	case <-ctx.Done():
		return got, false, ctx.Err()
	}
}

func (e *Errands[T]) begin(key string, do func(context.Context) (T, error)) *errand[T] {
	e.mu.Lock()
	defer e.mu.Unlock()
	if one := e.of[key]; one != nil {
		return one
	}
	one := &errand[T]{done: make(chan struct{})}
	e.of[key] = one
	e.order = append(e.order, key)
	e.forget()
	e.all.Go(func() {
		defer close(one.done)
		select {
		case e.room <- struct{}{}:
			defer func() { <-e.room }()
		case <-e.ctx.Done():
			one.err = e.ctx.Err()
		}
		if one.err == nil {
			ctx, cancel := context.WithTimeout(e.ctx, e.limit)
			defer cancel()
			one.got, one.err = do(ctx)
		}
		if one.err != nil {
			e.drop(key)
		}
	})
	return one
}

func (e *Errands[T]) drop(key string) {
	e.mu.Lock()
	defer e.mu.Unlock()
	delete(e.of, key)
	e.order = slices.DeleteFunc(e.order, func(k string) bool { return k == key })
}

// forget lets go of the oldest results; what still runs stays.
func (e *Errands[T]) forget() {
	for i := 0; len(e.of) > e.keep && i < len(e.order); {
		one := e.of[e.order[i]]
		select {
		case <-one.done:
			delete(e.of, e.order[i])
			e.order = slices.Delete(e.order, i, i+1)
		default:
			i++
		}
	}
}
