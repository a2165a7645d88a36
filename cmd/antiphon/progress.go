package main

import (
	"fmt"
	"strings"
	"time"
)

// progress is one line on stderr that shows how far long work has come. It appears only in a
// terminal, and only once the work has taken a while.
type progress struct {
	a     *app
	what  string
	start time.Time
	last  time.Time
	shown bool
}

// How long work may go on before it is shown, and how often the line changes.
const (
	quietFor  = 700 * time.Millisecond
	redrawFor = 100 * time.Millisecond
)

func newProgress(a *app, what string) *progress {
	now := a.now()
	return &progress{a: a, what: printable(what), start: now, last: now}
}

// at shows that share of the work, 0 to 1, is done.
func (p *progress) at(share float64) {
	if !p.a.errTerm {
		return
	}
	now := p.a.now()
	if now.Sub(p.start) < quietFor || now.Sub(p.last) < redrawFor {
		return
	}
	p.last, p.shown = now, true
	fmt.Fprintf(p.a.err, "\r%s  %3.0f %%", p.what, 100*min(1, max(0, share)))
}

// done takes the line away.
func (p *progress) done() {
	if p.shown {
		fmt.Fprintf(p.a.err, "\r%s\r", strings.Repeat(" ", len([]rune(p.what))+8))
		p.shown = false
	}
}
