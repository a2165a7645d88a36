// Package errand does work that outlives the request that asked for it: the page is answered in time, and a
// later request finds what became of it. Asking twice for the same does it once.
//
// What a person waits for comes before what is made ahead, and whoever asks for much waits behind whoever
// asks for little. It keeps what was found in memory only, and tries nothing again by itself.
package errand

import (
	"context"
	"errors"
	"fmt"
	"runtime/debug"
	"slices"
	"sync"
	"time"
)

// ErrCrowded refuses an errand of somebody for whom too many wait already. It can be asked for again later.
var ErrCrowded = errors.New("too many errands wait for the same asker")

// mostWaiting errands of one asker wait at a time, made ahead or waited for. A page of a family's week names
// some fifty sounds, and its phone asks for four at a time.
const mostWaiting = 12

// keptTurns is how many askers are remembered; who is forgotten comes first the next time.
const keptTurns = 1000

// Asker is for whom an errand is. The zero value is one asker like any other, who waits.
type Asker struct {
	Name  string // whoever shares one turn with others: a family
	Ahead bool   // nobody waits for it yet
}

// Errands are pieces of work of one kind. Make them with New, and End them when the last request was answered.
type Errands[T any] struct {
	atOnce int
	limit  time.Duration // for one of them
	keep   int           // results that are remembered

	ctx  context.Context // ends with End
	stop context.CancelFunc
	all  sync.WaitGroup

	mu      sync.Mutex
	of      map[string]*errand[T]
	order   []string // oldest first
	waiting []*errand[T]
	running int
	turn    map[string]int // when an asker's last errand was begun, counted in errands
	turns   int
}

type errand[T any] struct {
	key  string
	by   Asker
	do   func(context.Context) (T, error)
	done chan struct{}
	got  T
	err  error
}

// New makes Errands of which atOnce run at a time, each for limit at most; so many results are remembered.
func New[T any](atOnce, keep int, limit time.Duration) *Errands[T] {
	ctx, stop := context.WithCancel(context.Background())
	return &Errands[T]{atOnce: atOnce, limit: limit, keep: keep, ctx: ctx, stop: stop, of: map[string]*errand[T]{}, turn: map[string]int{}}
}

// End stops what can be stopped and waits for the rest.
func (e *Errands[T]) End() {
	e.stop()
	e.mu.Lock()
	for _, one := range e.waiting {
		e.end(one, e.ctx.Err())
	}
	e.waiting = nil
	e.mu.Unlock()
	e.all.Wait()
}

// Get gives the result of do under a key, and waits for it no longer than patience: ready is false
// where it is still on its way. A fault is told to those who wait for it and forgotten, so that it
// can be tried again.
func (e *Errands[T]) Get(ctx context.Context, key string, patience time.Duration, do func(context.Context) (T, error)) (got T, ready bool, err error) {
	return e.GetFor(ctx, Asker{}, key, patience, do)
}

// GetFor is Get for an asker, who gets ErrCrowded where too many wait for the same already.
func (e *Errands[T]) GetFor(ctx context.Context, by Asker, key string, patience time.Duration, do func(context.Context) (T, error)) (got T, ready bool, err error) {
	one, err := e.begin(by, key, do)
	if err != nil {
		return got, false, err
	}
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

func (e *Errands[T]) begin(by Asker, key string, do func(context.Context) (T, error)) (*errand[T], error) {
	e.mu.Lock()
	defer e.mu.Unlock()
	if one := e.of[key]; one != nil {
		if i := slices.Index(e.waiting, one); i >= 0 && !by.Ahead && one.by.Ahead {
			one.by = by // somebody waits for it now, behind those who did so before
			e.waiting = append(slices.Delete(e.waiting, i, i+1), one)
		}
		return one, nil
	}
	if err := e.ctx.Err(); err != nil {
		return nil, err
	}
	same := 0
	for _, one := range e.waiting {
		if one.by == by {
			same++
		}
	}
	if by.Name != "" && same >= mostWaiting {
		return nil, ErrCrowded
	}
	one := &errand[T]{key: key, by: by, do: do, done: make(chan struct{})}
	e.of[key] = one
	e.order = append(e.order, key)
	e.waiting = append(e.waiting, one)
	e.forget()
	e.next()
	return one, nil
}

// next begins what may be begun: first what somebody waits for, of that what is for whoever had a turn longest ago.
func (e *Errands[T]) next() {
	for e.running < e.atOnce && len(e.waiting) > 0 && e.ctx.Err() == nil {
		first := 0
		for i, one := range e.waiting {
			if e.before(one.by, e.waiting[first].by) {
				first = i
			}
		}
		one := e.waiting[first]
		e.waiting = slices.Delete(e.waiting, first, first+1)
		if len(e.turn) >= keptTurns {
			clear(e.turn)
		}
		e.turns++
		e.turn[one.by.Name] = e.turns
		e.running++
		e.all.Go(func() { e.run(one) })
	}
}

func (e *Errands[T]) before(a, b Asker) bool {
	if a.Ahead != b.Ahead {
		return b.Ahead
	}
	return e.turn[a.Name] < e.turn[b.Name]
}

func (e *Errands[T]) run(one *errand[T]) {
	ctx, cancel := context.WithTimeout(e.ctx, e.limit)
	defer cancel()
	err := e.try(ctx, one)
	e.mu.Lock()
	defer e.mu.Unlock()
	e.running--
	e.end(one, err)
	e.next()
}

// try does it. What breaks in one errand must not end the program with all the others.
func (e *Errands[T]) try(ctx context.Context, one *errand[T]) (err error) {
	defer func() {
		if broke := recover(); broke != nil {
			err = fmt.Errorf("an errand broke: %v\n%s", broke, debug.Stack())
		}
	}()
	one.got, err = one.do(ctx)
	return err
}

func (e *Errands[T]) end(one *errand[T], err error) {
	if one.err = err; err != nil {
		delete(e.of, one.key)
		e.order = slices.DeleteFunc(e.order, func(k string) bool { return k == one.key })
	}
	one.do = nil // what it holds is not remembered with the result
	close(one.done)
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
