package page

import (
	"net/http"
	"net/netip"
	"sync"
	"time"

	"golang.org/x/time/rate"

	"antiphon/internal/studio"
)

const (
	paceEvery  = 6 * time.Second // one more try
	paceBurst  = 10              // tries at once
	paceForget = 30 * time.Minute
)

// paces holds one limit for each client that knocked lately.
type paces struct {
	now  func() time.Time
	mu   sync.Mutex
	of   map[netip.Prefix]*pace
	tidy time.Time
}

type pace struct {
	limit *rate.Limiter
	last  time.Time
}

func newPaces(now func() time.Time) *paces {
	return &paces{now: now, of: map[netip.Prefix]*pace{}}
}

func (p *paces) allow(a netip.Addr) bool {
	bits := 32
	if a = a.Unmap(); a.Is6() {
		bits = 64 // one household has as many addresses as it likes
	}
	home, _ := a.Prefix(bits)
	now := p.now()
	p.mu.Lock()
	defer p.mu.Unlock()
	if now.Sub(p.tidy) > paceForget {
		for k, v := range p.of {
			if now.Sub(v.last) > paceForget {
				delete(p.of, k)
			}
		}
		p.tidy = now
	}
	one := p.of[home]
	if one == nil {
		one = &pace{limit: rate.NewLimiter(rate.Every(paceEvery), paceBurst)}
		p.of[home] = one
	}
	one.last = now
	return one.limit.AllowN(now, 1)
}

// Paced is for what a stranger could try again and again: signing in, opening a link. Ten tries at
// once, then one in six seconds, for each address.
func (f *Frame) Paced(h Handler) Handler {
	return func(w http.ResponseWriter, r *http.Request) error {
		if !f.slow.allow(f.o.Client(r)) {
			w.Header().Set("Retry-After", "60")
			return &studio.Problem{Kind: TooMany, Say: "Too many tries. Wait a minute, then try again."}
		}
		return h(w, r)
	}
}

// TooMany is the kind of a problem that only waiting mends.
const TooMany studio.Kind = "too-many"
