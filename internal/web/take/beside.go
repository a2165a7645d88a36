package take

import (
	"errors"
	"fmt"
	"net/http"
	"strings"

	"antiphon/internal/compare"
	"antiphon/internal/studio"
	"antiphon/internal/web/page"
)

type otherChoice struct {
	ID     studio.TakeID
	Say    string
	Chosen bool
}

// againstView is another take beside this one.
type againstView struct {
	Address, Name, Say string
	Playable           string
	Video, BothVideo   bool
	Bars               []barPair
}

type barPair struct {
	Bar, A, B, Say string
	Both           bool // played in both
}

// beside lists what this take can be compared with, and compares it with the one that was chosen.
func (p *Pages) beside(r *http.Request, v *view, rv studio.Review, l *listened) error {
	chosen := studio.TakeID(r.URL.Query().Get("against"))
	if m := rv.Model; m != nil && m.Hearing != nil {
		v.Others = append(v.Others, otherChoice{ID: m.ID, Say: "my own model take", Chosen: m.ID == chosen})
	}
	for _, t := range rv.Earlier {
		if t.State == studio.Ready {
			v.Others = append(v.Others, otherChoice{ID: t.ID, Say: "the take of " + page.Day(t.Arrived, p.f.Now()), Chosen: t.ID == chosen})
		}
	}
	if chosen == "" || l == nil {
		return nil
	}
	c, other, err := p.compared(r, rv, l, chosen)
	if isProblem(err, studio.NotFound) {
		return nil // a stale address: the choice stands there
	}
	if err != nil {
		return err
	}
	a := &againstView{Address: "/takes/" + string(rv.Take.ID) + "/against/" + string(chosen), Name: c.A.Name, Say: strings.Join(c.Say, " ")}
	var m view
	m.media(other.Media)
	a.Playable, a.Video, a.BothVideo = m.Playable, m.Video, m.Video && v.Video
	for _, b := range c.Bars {
		_, say, _ := strings.Cut(b.Say, ": ")
		a.Bars = append(a.Bars, barPair{Bar: b.Bar, A: pace(b.BBpm), B: pace(b.ABpm), Say: upper(say), Both: b.AS != nil && b.BS != nil})
	}
	v.Against = a
	return nil
}

// pace is beats a minute, or nothing where it is not known.
func pace(bpm float64) string {
	if bpm <= 0 {
		return ""
	}
	return fmt.Sprintf("%.0f", bpm)
}

// against answers the script with the comparison: see _against.ts.
func (p *Pages) against(w http.ResponseWriter, r *http.Request) error {
	rv, err := p.take(r)
	if err != nil {
		return err
	}
	l, err := p.listen(rv.Hearing, rv.Work, rv.Corrections, goalsOf(rv))
	if err != nil && !errors.Is(err, errAnotherScore) {
		return err
	}
	if l == nil {
		return nothingToCompare(err)
	}
	c, _, err := p.compared(r, rv, l, studio.TakeID(r.PathValue("other")))
	if err != nil {
		return err
	}
	return page.JSON(w, c)
}

func nothingToCompare(err error) error {
	return &studio.Problem{Kind: studio.NotFound, Say: "These two takes cannot be compared: one of them was not heard against this score.", Err: err}
}

// compared sets a take beside another one of the same student and work, or beside the model take.
func (p *Pages) compared(r *http.Request, rv studio.Review, l *listened, id studio.TakeID) (compare.Comparison, studio.Review, error) {
	none := compare.Comparison{}
	if !studio.IsID(id) {
		return none, studio.Review{}, nothingToCompare(nil)
	}
	other, err := p.desk.ReviewTake(r.Context(), page.Viewer(r), id)
	if err != nil {
		return none, other, err
	}
	if other.Take.Work != rv.Take.Work || (!other.Take.Model() && other.Take.Student != rv.Take.Student) {
		return none, other, nothingToCompare(nil) // children are compared with themselves only
	}
	o, err := p.listen(other.Hearing, rv.Work, other.Corrections, goalsOf(other))
	if err != nil && !errors.Is(err, errAnotherScore) {
		return none, other, err
	}
	if o == nil {
		return none, other, nothingToCompare(err)
	}
	name := "The take of " + page.Day(other.Take.Arrived, p.f.Now())
	if other.Take.Model() {
		name = "The model"
	}
	c, err := compare.Takes(compare.Side{Hearing: o.hearing, Name: name, Model: other.Take.Model()}, compare.Side{Hearing: l.hearing, Name: "This take"}, l.score)
	if errors.Is(err, compare.ErrNothing) || errors.Is(err, compare.ErrOtherScore) {
		return none, other, nothingToCompare(err)
	}
	return c, other, err
}
