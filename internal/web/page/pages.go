package page

import (
	"bytes"
	"embed"
	"encoding/json"
	"fmt"
	"html/template"
	"io"
	"io/fs"
	"net/http"
	"path"
	"strings"

	"antiphon/internal/studio"
	"antiphon/internal/web/tongue"
)

//go:embed *.html
var own embed.FS

// Pages are the templates of one web package, each in the frame's layout.
type Pages struct {
	f  *Frame
	of map[string]*template.Template // by file name
}

// Pages parses the *.html files at the top of fsys. A file whose name begins with _ is a partial and is
// there in all of them, as the frame's partials are; the others are pages, and each defines "main".
// A page may also define "head" and "foot".
func (f *Frame) Pages(fsys fs.FS) (*Pages, error) {
	layout, err := template.New("layout").Funcs(f.words()).ParseFS(own, "layout.html", "_*.html")
	if err != nil {
		return nil, err
	}
	partials, err := fs.Glob(fsys, "_*.html")
	if err != nil {
		return nil, err
	}
	if len(partials) > 0 {
		if layout, err = layout.ParseFS(fsys, partials...); err != nil {
			return nil, err
		}
	}
	files, err := fs.Glob(fsys, "*.html")
	if err != nil {
		return nil, err
	}
	p := &Pages{f, map[string]*template.Template{}}
	for _, file := range files {
		if strings.HasPrefix(file, "_") || file == "layout.html" {
			continue
		}
		t, err := layout.Clone()
		if err == nil {
			t, err = t.ParseFS(fsys, file)
		}
		if err != nil {
			return nil, err
		}
		p.of[path.Base(file)] = t
	}
	return p, nil
}

// View is one page: Title for the browser's tab, Here for the entry in the navigation (desk, students,
// library, studio, week), Lang the language of its words ("" means English), Data for the template.
type View struct {
	Title string
	Here  string
	Lang  string
	Data  any
	Wide  bool // uses the whole width of a desk
}

// framed is what the layout sees. Templates of pages see .Data as their dot.
type framed struct {
	View
	Role    studio.Role
	Skip    string // words of the link that skips the navigation
	Version string
}

// Render writes the page. Nothing is written where the template fails.
func (p *Pages) Render(w http.ResponseWriter, r *http.Request, name string, v View) error {
	return p.render(w, r, name, v, http.StatusOK)
}

func (p *Pages) render(w http.ResponseWriter, r *http.Request, name string, v View, status int) error {
	t := p.of[name]
	if t == nil {
		return fmt.Errorf("page: no template %s", name)
	}
	if v.Lang == "" {
		v.Lang = "en"
	}
	skip, err := tongue.Of(v.Lang).Say("frame.skip")
	if err != nil {
		return err
	}
	var b bytes.Buffer
	if err := t.ExecuteTemplate(&b, "layout.html", framed{v, Viewer(r).Role, skip, p.f.version}); err != nil {
		return err
	}
	w.Header().Set("Content-Type", "text/html; charset=utf-8")
	w.WriteHeader(status)
	_, err = b.WriteTo(w)
	return err
}

// WithStatus is w for a page that answers with another status than 200.
func WithStatus(w http.ResponseWriter, status int) http.ResponseWriter { return withStatus{w, status} }

type withStatus struct {
	http.ResponseWriter
	status int
}

func (s withStatus) WriteHeader(int) { s.ResponseWriter.WriteHeader(s.status) }

// Part writes one partial without the layout, for a script that puts it into the page. Name is that of
// a defined template; it is looked for in every page of the package.
func (p *Pages) Part(w http.ResponseWriter, name string, data any) error {
	for _, t := range p.of {
		if t.Lookup(name) == nil {
			continue
		}
		var b bytes.Buffer
		if err := t.ExecuteTemplate(&b, name, data); err != nil {
			return err
		}
		w.Header().Set("Content-Type", "text/html; charset=utf-8")
		_, err := b.WriteTo(w)
		return err
	}
	return fmt.Errorf("page: no part %s", name)
}

// JSON answers a script.
func JSON(w http.ResponseWriter, v any) error {
	w.Header().Set("Content-Type", "application/json")
	return json.NewEncoder(w).Encode(v)
}

// ReadJSON reads what a script sent, at most 1 MB.
func ReadJSON(w http.ResponseWriter, r *http.Request, into any) error {
	d := json.NewDecoder(http.MaxBytesReader(w, r.Body, 1<<20))
	d.DisallowUnknownFields()
	if err := d.Decode(into); err != nil {
		if _, tooLarge := err.(*http.MaxBytesError); tooLarge {
			return err
		}
		return &studio.Problem{Kind: studio.Invalid, Say: "The page sent something that makes no sense. Load it again.", Err: err}
	}
	if _, err := d.Token(); err != io.EOF {
		return &studio.Problem{Kind: studio.Invalid, Say: "The page sent something that makes no sense. Load it again."}
	}
	return nil
}
