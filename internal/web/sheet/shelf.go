package sheet

import (
	"container/list"
	"sync"
)

// shelf keeps the things that were asked for last, and has each made once however many ask for it.
type shelf struct {
	mu    sync.Mutex
	most  int
	order *list.List // of keys, the latest first
	at    map[string]*list.Element
	kept  map[string]*made
}

// made is a thing, or the wait for it.
type made struct {
	done chan struct{}
	v    any
	err  error
}

func newShelf(most int) *shelf {
	return &shelf{most: most, order: list.New(), at: map[string]*list.Element{}, kept: map[string]*made{}}
}

// get gives what is kept under key, or has it made. An error is told to all who wait and not kept.
func get[T any](s *shelf, key string, make func() (T, error)) (T, error) {
	s.mu.Lock()
	m, there := s.kept[key]
	if there {
		s.order.MoveToFront(s.at[key])
		s.mu.Unlock()
		<-m.done
	} else {
		m = &made{done: closedLater()}
		s.kept[key] = m
		s.at[key] = s.order.PushFront(key)
		for s.order.Len() > s.most {
			s.forget(s.order.Back().Value.(string))
		}
		s.mu.Unlock()
		s.fill(key, m, func() (any, error) { return make() })
	}
	v, _ := m.v.(T)
	return v, m.err
}

func closedLater() chan struct{} { return make(chan struct{}) }

// fill makes the thing; whatever happens, nobody waits for ever.
func (s *shelf) fill(key string, m *made, make func() (any, error)) {
	whole := false
	defer func() {
		if !whole || m.err != nil {
			s.mu.Lock()
			if s.kept[key] == m {
				s.forget(key)
			}
			s.mu.Unlock()
		}
		close(m.done)
	}()
	m.v, m.err = make()
	whole = true
}

// forget takes a key away; s.mu is held.
func (s *shelf) forget(key string) {
	if e := s.at[key]; e != nil {
		s.order.Remove(e)
	}
	delete(s.at, key)
	delete(s.kept, key)
}
