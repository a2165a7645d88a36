package week

import (
	"encoding/json"
	"fmt"
	"image/color"
	"net/http"
)

// manifest is what a phone is told that puts the week on its home screen (W3C, Web Application Manifest).
type manifest struct {
	ID         string         `json:"id"`
	Name       string         `json:"name"`
	ShortName  string         `json:"short_name"`
	Lang       string         `json:"lang"`
	Start      string         `json:"start_url"`
	Scope      string         `json:"scope"`
	Display    string         `json:"display"`
	Background string         `json:"background_color"`
	Theme      string         `json:"theme_color"`
	Icons      []manifestIcon `json:"icons"`
}

type manifestIcon struct {
	Src     string `json:"src"`
	Sizes   string `json:"sizes"`
	Type    string `json:"type"`
	Purpose string `json:"purpose"`
}

// showManifest is GET /week/manifest.json. It says nothing about a family.
func (w *week) showManifest(rw http.ResponseWriter, r *http.Request) error {
	home, _, err := w.f.Desk().Home(r.Context())
	if err != nil {
		return err
	}
	t, err := w.f.Tongue(r)
	if err != nil {
		return err
	}
	short, err := t.Say("install.short")
	if err != nil {
		return err
	}
	m := manifest{ID: "/week", Name: home.Name, ShortName: short, Lang: t.Code, Start: "/week", Scope: "/week", Display: "standalone",
		Background: hex(paper), Theme: hex(paper)}
	for _, edge := range iconSizes {
		m.Icons = append(m.Icons, manifestIcon{fmt.Sprint("/week/icon/", edge), fmt.Sprintf("%dx%d", edge, edge), "image/png", "any maskable"})
	}
	rw.Header().Set("Content-Type", "application/manifest+json")
	return json.NewEncoder(rw).Encode(m)
}

// worker is GET /week/sw.js: the service worker, whose realm is /week and what lies below.
func (w *week) worker(rw http.ResponseWriter, r *http.Request) error {
	script, err := w.f.Asset("sw.worker.js")
	if err != nil {
		return err
	}
	h := rw.Header()
	h.Set("Content-Type", "text/javascript; charset=utf-8")
	h.Set("Cache-Control", "no-cache")
	h.Set("Service-Worker-Allowed", "/week")
	_, err = rw.Write(script)
	return err
}

// away is GET /week/away: what a phone shows without a network in place of a page that it does not have.
func (w *week) away(rw http.ResponseWriter, r *http.Request) error {
	c, err := w.common(r, "/week/away")
	if err != nil {
		return err
	}
	return w.render(rw, r, "away.html", "away.title", c.Tongue, c)
}

// hex is a colour as a browser reads it.
func hex(c color.RGBA) string { return fmt.Sprintf("#%02x%02x%02x", c.R, c.G, c.B) }
