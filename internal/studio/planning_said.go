package studio

import (
	"context"
	"slices"
	"strings"
	"time"

	"antiphon/internal/remedies"
)

// SaidQuery looks for remarks. The zero value asks for all.
type SaidQuery struct {
	Words   string    // all of them, in any order, small or capital
	Work    WorkID    // "" any
	FromBar string    // with ToBar: only about these bars of Work
	ToBar   string    //
	Skill   string    // only what is about this skill, by the book of remedies; "" any
	Since   time.Time // said then or later
}

// finds says that a remark is one of those looked for.
func (p *planning) finds(q SaidQuery, r SaidOnce, h *History, meant map[string][]string) bool {
	if r.At.Before(q.Since) || q.Work != "" && r.Work != q.Work || q.Skill != "" && !slices.Contains(meant[r.Remedy], q.Skill) {
		return false
	}
	if q.Work != "" && (q.FromBar != "" || q.ToBar != "") {
		bars := p.barsOf(q.Work, h.Heard)
		s, ok := bars.stretch(q.FromBar, q.ToBar)
		at, there := bars.of(r)
		if !ok || !there || at < s.From || at > s.To {
			return false
		}
	}
	text := fold(r.Text)
	for _, w := range strings.Fields(fold(q.Words)) {
		if !strings.Contains(text, w) {
			return false
		}
	}
	return true
}

// meant are the skills that each entry of the book of remedies, as this teacher keeps it, is about.
func (d *Desk) meant(ctx context.Context, v Viewer) (map[string][]string, error) {
	book, err := remedies.Printed()
	if err != nil {
		return nil, err
	}
	own, err := d.store.OwnRemedies(ctx, v.Studio)
	if err != nil {
		return nil, err
	}
	book, _ = book.With(own) // what cannot be used is told where the book is kept
	out := map[string][]string{}
	for _, e := range book.Entries() {
		if len(e.Applies.Skills) > 0 {
			out[e.ID] = e.Applies.Skills
		}
	}
	return out, nil
}
