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

// Called finds a work by what a person typed or chose: its title, or its title with the composer as Listed has it,
// without regard to capitals. Of two with one name it is the one that Listed puts first.
func (ts Titles) Called(s string) (studio.Work, bool) {
	s = strings.Join(strings.Fields(s), " ")
	for _, w := range ts.InOrder() {
		if s != "" && (strings.EqualFold(s, strings.Join(strings.Fields(w.Title), " ")) || strings.EqualFold(s, Listed(w))) {
			return w, true
		}
	}
	return studio.Work{}, false
}

// Listed is a work in a list: its title, and who made it.
func Listed(w studio.Work) string {
	t := strings.Join(strings.Fields(w.Title), " ")
	if c := strings.Join(strings.Fields(w.Composer), " "); c != "" {
		t += " (" + c + ")"
	}
	return t
}
