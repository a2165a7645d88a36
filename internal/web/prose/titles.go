package prose

import (
	"slices"
	"strings"

	"antiphon/internal/studio"
)

// Titles are the works of a studio by id.
type Titles map[studio.WorkID]studio.Work

// TitlesOf are works by their ids.
func TitlesOf(all []studio.Work) Titles {
	by := make(Titles, len(all))
	for _, w := range all {
		by[w.ID] = w
	}
	return by
}

// Of names what a take is of: its work, or what little is known.
func (ts Titles) Of(t studio.Take) string {
	if w, ok := ts[t.Work]; ok {
		return w.Title
	}
	if t.FileName != "" {
		return t.FileName
	}
	return "A recording"
}

// Name is the title of a work, or that it is gone.
func (ts Titles) Name(id studio.WorkID) string {
	if w, ok := ts[id]; ok {
		return w.Title
	}
	return "A work that is not in the library any more"
}

// InOrder is what a list to choose from shows.
func (ts Titles) InOrder() []studio.Work {
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
