package library

import (
	"net/http"
	"strings"

	"antiphon/internal/studio"
	"antiphon/internal/web/page"
)

const mostPassageName = 80 // letters

// addPassage cuts a passage. POST /library/works/{work}/passages
func (l *library) addPassage(w http.ResponseWriter, r *http.Request) error {
	if err := form(w, r); err != nil {
		return err
	}
	ctx, v := r.Context(), page.Viewer(r)
	one, err := l.desk().Work(ctx, v, workID(r))
	if err != nil {
		return err
	}
	s, err := scoreOf(one)
	if err != nil {
		return err
	}
	first, last, err := barsOf(s, strings.TrimSpace(r.PostForm.Get("from")), strings.TrimSpace(r.PostForm.Get("to")))
	if err != nil {
		return err
	}
	p := studio.Passage{Work: one.ID, Name: clipped(r.PostForm.Get("name"), mostPassageName), FromBar: s.Bars[first].Number, ToBar: s.Bars[last].Number}
	if p.Name == "" {
		p.Name = "Bars " + p.FromBar + "–" + p.ToBar
		if p.FromBar == p.ToBar {
			p.Name = "Bar " + p.FromBar
		}
	}
	l.adding.Lock()
	defer l.adding.Unlock()
	there, err := l.desk().Passages(ctx, v, one.ID)
	if err != nil {
		return err
	}
	for _, t := range there {
		if t.Name == p.Name && t.FromBar == p.FromBar && t.ToBar == p.ToBar {
			return see(w, r, workAddress(one.ID)+"#passages")
		}
	}
	if _, err := l.desk().AddPassage(ctx, v, p); err != nil {
		return err
	}
	return see(w, r, workAddress(one.ID)+"#passages")
}

// removePassage takes a passage out of the list; the score stays as it is.
// POST /library/works/{work}/passages/{passage}/remove
func (l *library) removePassage(w http.ResponseWriter, r *http.Request) error {
	err := l.desk().RemovePassage(r.Context(), page.Viewer(r), studio.PassageID(r.PathValue("passage")))
	if err := gone(err); err != nil {
		return err
	}
	return see(w, r, workAddress(workID(r))+"#passages")
}
