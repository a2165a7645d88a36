package week

import (
	"sync"
	"time"

	"golang.org/x/time/rate"

	"antiphon/internal/studio"
)

// letters are the mails that confirm an address. They go to addresses that anybody in a family types, so each person has
// few: nobody's mailbox is filled by way of the studio.
type letters struct {
	mu sync.Mutex
	of map[studio.PersonID]*rate.Limiter // as many as there are adults who asked
}

const (
	lettersAtOnce = 5
	lettersEvery  = 3 * time.Hour
)

// take counts one more letter of a person's, unless it is given back. False: it is one too many.
func (l *letters) take(p studio.PersonID, now time.Time) (giveBack func(), ok bool) {
	l.mu.Lock()
	defer l.mu.Unlock()
	if l.of == nil {
		l.of = map[studio.PersonID]*rate.Limiter{}
	}
	if l.of[p] == nil {
		l.of[p] = rate.NewLimiter(rate.Every(lettersEvery), lettersAtOnce)
	}
	one := l.of[p].ReserveN(now, 1)
	if one.DelayFrom(now) > 0 {
		one.CancelAt(now)
		return nil, false
	}
	return func() { one.CancelAt(now) }, true
}
