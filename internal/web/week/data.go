package week

import (
	"fmt"
	"io"
	"net/http"
	"strings"

	"antiphon/internal/studio"
	"antiphon/internal/web/page"
	"antiphon/internal/web/tongue"
)

// dataPage is GET /week/data: what is kept about the family, for how long, and who looked.
type dataPage struct {
	common
	Family   studio.Family
	People   []studio.Person
	Consents []consent
	Children []keptChild
	Problem  string // of the form that erases
}

// Modes are what a family can choose to send of a child.
func (dataPage) Modes() []studio.MediaMode {
	return []studio.MediaMode{studio.SoundOnly, studio.HandsOnly, studio.FullVideo}
}

// consent is what an adult agreed to, and when.
type consent struct {
	studio.Consent
	Date string
}

// keptChild is what is kept of one child.
type keptChild struct {
	*tongue.Tongue
	studio.Student
	Takes []kept
	More  bool // there are older ones
	Log   []looked
}

// Newest are the recordings that stand open on the page, and Older those that are folded away: what comes after them on
// the page is found without a long way.
func (k keptChild) Newest() []kept { return k.Takes[:min(len(k.Takes), standOpen)] }
func (k keptChild) Older() []kept  { return k.Takes[min(len(k.Takes), standOpen):] }

// kept is one recording with the end of its time.
type kept struct {
	ID    studio.TakeID
	Title string
	Day   string
	Until string
}

// looked is one line of the access log, or several alike of one day.
type looked struct {
	Day   string
	Who   string
	What  string
	Times int
}

const (
	mostKept  = 100 // recordings on the page; the export has all
	standOpen = 5   // of them
	mostLog   = 40  // lines on the page; the export has all
)

func (w *week) data(rw http.ResponseWriter, r *http.Request) error {
	return w.showData(rw, r, "")
}

func (w *week) showData(rw http.ResponseWriter, r *http.Request, problem string) error {
	ctx, v, d := r.Context(), page.Viewer(r), w.f.Desk()
	c, err := w.common(r, "/week/data")
	if err != nil {
		return err
	}
	p := dataPage{common: c, Problem: problem}
	if p.Family, err = w.household(r); err != nil {
		return err
	}
	if p.People, err = d.People(ctx, v); err != nil {
		return err
	}
	consents, err := d.Consents(ctx, v, v.Family)
	if err != nil {
		return err
	}
	for _, x := range consents {
		p.Consents = append(p.Consents, consent{x, c.Date(x.Given, w.f.Now())})
	}
	students, err := d.Students(ctx, v)
	if err != nil {
		return err
	}
	inOrder(students)
	read, err := w.read(r, c)
	if err != nil {
		return err
	}
	for _, s := range students {
		k, err := read.kept(s)
		if err != nil {
			return err
		}
		p.Children = append(p.Children, k)
	}
	return w.render(rw, r, "data.html", "data.title", c.Tongue, p)
}

func (w *week) household(r *http.Request) (studio.Family, error) {
	v := page.Viewer(r)
	families, err := w.f.Desk().Families(r.Context(), v)
	if err != nil {
		return studio.Family{}, err
	}
	for _, f := range families {
		if f.ID == v.Family {
			return f, nil
		}
	}
	return studio.Family{}, fmt.Errorf("week: no family of viewer %s", v.Person)
}

func (r *reader) kept(s studio.Student) (keptChild, error) {
	k := keptChild{Tongue: r.Tongue, Student: s}
	now := r.w.f.Now()
	takes, err := r.w.f.Desk().TakesBy(r.ctx, r.viewer, studio.TakeQuery{Student: s.ID, Limit: mostKept})
	if err != nil {
		return keptChild{}, err
	}
	for _, x := range takes {
		told, err := r.told(x)
		if err != nil {
			return keptChild{}, err
		}
		k.Takes = append(k.Takes, kept{x.ID, told.Title, r.Date(x.Announced, now), r.Date(x.KeepUntil, now)})
	}
	k.More = len(takes) == mostKept
	log, err := r.w.f.Desk().AccessLog(r.ctx, r.viewer, s.ID)
	if err != nil {
		return keptChild{}, err
	}
	k.Log, err = r.log(log)
	return k, err
}

// log puts lines together that say the same of one day.
func (r *reader) log(log []studio.Access) ([]looked, error) {
	var all []looked
	for _, a := range log {
		who := "log.you"
		switch {
		case a.Role == studio.Teacher:
			who = "log.teacher"
		case a.By != r.viewer.Person:
			who = "log.family"
		}
		l := looked{Times: 1}
		var err error
		if l.Day, err = r.Day(a.At, r.w.f.Now()); err != nil {
			return nil, err
		}
		if l.Who, err = r.Say(who); err != nil {
			return nil, err
		}
		what := "log.what." + a.What
		if !r.Has(what) {
			what = "log.what.looked"
		}
		if l.What, err = r.Say(what); err != nil {
			return nil, err
		}
		if n := len(all) - 1; n >= 0 && all[n].Day == l.Day && all[n].Who == l.Who && all[n].What == l.What {
			all[n].Times++
			continue
		}
		if len(all) == mostLog {
			break
		}
		all = append(all, l)
	}
	return all, nil
}

// changeChild is POST /week/data/children/{student}: what may be sent of a child from now on.
func (w *week) changeChild(rw http.ResponseWriter, r *http.Request) error {
	_, err := w.f.Desk().ChangeStudent(r.Context(), page.Viewer(r), studio.Student{
		ID: studio.StudentID(r.PathValue("student")), Media: studio.MediaMode(r.PostFormValue("media"))})
	if err != nil {
		return err
	}
	http.Redirect(rw, r, "/week/data", http.StatusSeeOther)
	return nil
}

// export is POST /week/data/export: everything in one file. It is a POST because it is written into the log.
func (w *week) export(rw http.ResponseWriter, r *http.Request) error {
	v := page.Viewer(r)
	h := rw.Header()
	h.Set("Content-Type", "application/zip")
	h.Set("Content-Disposition", `attachment; filename="antiphon-`+w.f.Now().Format("2006-01-02")+`.zip"`)
	out := &begun{w: rw}
	err := w.f.Desk().ExportFamily(r.Context(), v, v.Family, out)
	if err != nil && out.any {
		w.f.Log().Error("an export broke off", "error", err)
		panic(http.ErrAbortHandler) // the connection is cut: half a file must not look whole
	}
	if err != nil {
		h.Del("Content-Disposition")
	}
	return err
}

// begun knows whether anything was written.
type begun struct {
	w   io.Writer
	any bool
}

func (b *begun) Write(p []byte) (int, error) {
	b.any = true
	return b.w.Write(p)
}

// erase is POST /week/data/erase: the family goes, once its name is typed. What stays is the receipt.
func (w *week) erase(rw http.ResponseWriter, r *http.Request) error {
	c, err := w.common(r, "/week/data")
	if err != nil {
		return err
	}
	f, err := w.household(r)
	if err != nil {
		return err
	}
	if !strings.EqualFold(strings.TrimSpace(r.PostFormValue("name")), f.Name) {
		problem, err := c.Say("data.erase.typed", f.Name)
		if err != nil {
			return err
		}
		return w.showData(page.WithStatus(rw, http.StatusUnprocessableEntity), r, problem)
	}
	receipt, err := w.f.Desk().EraseFamily(r.Context(), page.Viewer(r), f.ID)
	if err != nil {
		return err
	}
	w.f.Leave(rw)
	return w.render(rw, r, "gone.html", "gone.title", c.Tongue, gonePage{common: c, Receipt: receipt, Date: c.Date(receipt.At, w.f.Now()), Whole: true})
}
