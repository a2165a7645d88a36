package door

import (
	"crypto/rand"
	"sync"
	"time"

	"github.com/go-webauthn/webauthn/webauthn"

	"antiphon/internal/studio"
)

const (
	ceremonyFor  = 5 * time.Minute // between the question and the finger on the reader
	ceremoniesAt = 4096            // at once; beyond that the oldest is forgotten
)

// ceremony is a passkey's question that waits for its answer.
type ceremony struct {
	data   webauthn.SessionData
	person studio.PersonID // who adds a passkey; "" for signing in
	until  time.Time
}

// ceremonies are kept here and not in the browser: it holds only a name for its own one.
type ceremonies struct {
	now func() time.Time
	mu  sync.Mutex
	of  map[string]ceremony
}

func newCeremonies(now func() time.Time) *ceremonies {
	return &ceremonies{now: now, of: map[string]ceremony{}}
}

// begin keeps a question and gives its name.
func (c *ceremonies) begin(data webauthn.SessionData, person studio.PersonID) string {
	name := rand.Text()
	now := c.now()
	c.mu.Lock()
	defer c.mu.Unlock()
	oldest := ""
	for k, x := range c.of {
		if !x.until.After(now) {
			delete(c.of, k)
		} else if oldest == "" || x.until.Before(c.of[oldest].until) {
			oldest = k
		}
	}
	if len(c.of) >= ceremoniesAt {
		delete(c.of, oldest)
	}
	c.of[name] = ceremony{data, person, now.Add(ceremonyFor)}
	return name
}

// take gives a question back once, while it is fresh and asked of the same person.
func (c *ceremonies) take(name string, person studio.PersonID) (webauthn.SessionData, bool) {
	c.mu.Lock()
	defer c.mu.Unlock()
	x, ok := c.of[name]
	delete(c.of, name)
	if !ok || x.person != person || !x.until.After(c.now()) {
		return webauthn.SessionData{}, false
	}
	return x.data, true
}
