package desk

import (
	"net/http"

	"antiphon/internal/web/page"
	"antiphon/internal/web/prose"
)

// works are the studio's, without their scores.
func (p *pages) works(r *http.Request) (prose.Titles, error) {
	all, err := p.desk.Works(r.Context(), page.Viewer(r))
	return prose.TitlesOf(all), err
}
