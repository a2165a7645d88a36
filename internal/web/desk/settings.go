package desk

import (
	"errors"
	"fmt"
	"net/http"
	"strconv"
	"strings"
	"time"

	"antiphon/internal/studio"
	"antiphon/internal/web/page"
	"antiphon/internal/web/tongue"
)

// settings are the studio's own page.
type settings struct {
	Name      string
	Reply     string
	Keep      string
	KeepSays  string
	Languages []language
	Families  string
	Told      string
	Said      string
	Problem   string
}

type language struct {
	Code, Name string
	Chosen     bool
}

func (p *pages) studio(w http.ResponseWriter, r *http.Request) error { // GET /studio
	st, err := p.desk.OwnStudio(r.Context(), page.Viewer(r))
	if err != nil {
		return err
	}
	s := settings{Name: st.Name, Reply: strconv.Itoa(st.ReplyDays), Keep: strconv.Itoa(st.KeepDays), Said: doneWords[r.FormValue("done")]}
	return p.showStudio(w, r, st, s)
}

func (p *pages) showStudio(w http.ResponseWriter, r *http.Request, st studio.Studio, s settings) error {
	ctx, v, now := r.Context(), page.Viewer(r), p.f.Now()
	families, err := p.desk.Families(ctx, v)
	if err != nil {
		return err
	}
	students, err := p.desk.Students(ctx, v)
	if err != nil {
		return err
	}
	s.Families = fmt.Sprintf("%s with %s.", page.Plural(len(families), "family", "families"), page.Plural(len(students), "student"))
	s.KeepSays = "One that arrives today is deleted on " + now.AddDate(0, 0, st.KeepDays).Format("2 January 2006") + "."
	if s.Told, err = p.toldSays(ctx, v); err != nil {
		return err
	}
	for _, t := range tongue.All() {
		s.Languages = append(s.Languages, language{t.Code, t.Name, t.Code == st.Language})
	}
	return p.Render(w, r, "studio.html", page.View{Title: "Studio", Here: "studio", Data: s})
}

func (p *pages) changeStudio(w http.ResponseWriter, r *http.Request) error { // POST /studio
	ctx, v := r.Context(), page.Viewer(r)
	s := settings{Name: r.PostFormValue("name"), Reply: r.PostFormValue("reply"), Keep: r.PostFormValue("keep")}
	reply, err := wholeNumber(s.Reply, "the days until you answer")
	var keep int
	if err == nil {
		keep, err = wholeNumber(s.Keep, "the days that recordings are kept")
	}
	if err == nil {
		_, err = p.desk.ChangeStudio(ctx, v, studio.Settings{Name: s.Name, ReplyDays: reply, KeepDays: keep, Language: r.PostFormValue("language")})
	}
	if say, ok := mendable(err); ok {
		st, err := p.desk.OwnStudio(ctx, v)
		if err != nil {
			return err
		}
		s.Problem = say
		return p.showStudio(page.WithStatus(w, http.StatusUnprocessableEntity), r, st, s)
	}
	if err != nil {
		return err
	}
	return p.back(w, r, "/studio?done=kept")
}

// mendable gives the sentence of a refusal that a person can mend in the form at hand.
func mendable(err error) (string, bool) {
	problem, ok := errors.AsType[*studio.Problem](err)
	if !ok || problem.Kind != studio.Invalid {
		return "", false
	}
	return problem.Say, true
}

func wholeNumber(s, what string) (int, error) {
	n, err := strconv.Atoi(strings.TrimSpace(s))
	if err != nil {
		return 0, &studio.Problem{Kind: studio.Invalid, Say: fmt.Sprintf("For %s write a whole number; %q is none.", what, short(s)), Err: err}
	}
	return n, nil
}

func (p *pages) corrections(w http.ResponseWriter, r *http.Request) error { // POST /studio/corrections
	d := &download{w: w, kind: "application/jsonl", name: "corrections-" + p.f.Now().Format(isoDay) + ".jsonl"}
	return d.done(p.desk.ExportCorrections(r.Context(), page.Viewer(r), d))
}

// receiptLine is one receipt in words.
type receiptLine struct {
	ID           studio.ReceiptID
	At, Say, How string
}

func (p *pages) receipts(w http.ResponseWriter, r *http.Request) error { // GET /studio/receipts?new=ID
	all, err := p.desk.Receipts(r.Context(), page.Viewer(r))
	if err != nil {
		return err
	}
	var d struct {
		New      *receiptLine
		Receipts []receiptLine
	}
	for i := len(all) - 1; i >= 0; i-- { // the newest first
		one := receiptOf(all[i], p.f.Now().Location())
		if string(one.ID) == r.FormValue("new") {
			d.New = &one
		}
		d.Receipts = append(d.Receipts, one)
	}
	return p.Render(w, r, "receipts.html", page.View{Title: "Receipts", Here: "studio", Data: d})
}

func receiptOf(c studio.Receipt, in *time.Location) receiptLine {
	by := map[studio.Role]string{studio.Teacher: "by you", studio.Coach: "by the family", studio.Ear: "by the clock"}[c.By]
	what := map[string]string{"take": "A recording was deleted", "family": "A family was erased", "retention": "Recordings whose time was over were deleted"}[c.What]
	if what == "" {
		what = "Something was deleted"
	}
	parts := []string{page.Plural(c.Takes, "recording"), page.Plural(c.Files, "file")}
	if c.Students > 0 {
		parts = append([]string{page.Plural(c.Students, "student")}, parts...)
	}
	return receiptLine{c.ID, c.At.In(in).Format("2 January 2006, 15:04"), strings.TrimSpace(what + " " + by), strings.Join(parts, ", ")}
}

func short(s string) string {
	if r := []rune(s); len(r) > 20 {
		return string(r[:20]) + "…"
	}
	return s
}
