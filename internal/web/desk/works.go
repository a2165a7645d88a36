package desk

import (
	"net/http"
	"slices"
	"strings"

	"antiphon/internal/studio"
	"antiphon/internal/web/page"
)

// titles are the works of the studio by id, without their scores.
type titles map[studio.WorkID]studio.Work

func (p *pages) works(r *http.Request) (titles, error) {
	all, err := p.desk.Works(r.Context(), page.Viewer(r))
	if err != nil {
		return nil, err
	}
	by := make(titles, len(all))
	for _, w := range all {
		by[w.ID] = w
	}
	return by, nil
}

// of names what a take is of: its work, or what little is known.
func (ts titles) of(t studio.Take) string {
	if w, ok := ts[t.Work]; ok {
		return w.Title
	}
	if t.FileName != "" {
		return t.FileName
	}
	return "A recording"
}

func (ts titles) name(id studio.WorkID) string {
	if w, ok := ts[id]; ok {
		return w.Title
	}
	return "A work that is not in the library any more"
}

// inOrder is what a list to choose from shows.
func (ts titles) inOrder() []studio.Work {
	all := make([]studio.Work, 0, len(ts))
	for _, w := range ts {
		all = append(all, w)
	}
	slices.SortFunc(all, func(a, b studio.Work) int {
		if c := strings.Compare(strings.ToLower(a.Title), strings.ToLower(b.Title)); c != 0 {
			return c
		}
		return strings.Compare(string(a.ID), string(b.ID))
	})
	return all
}
