package week

import (
	"cmp"
	"net/http"
	"slices"
	"strconv"
	"strings"

	"antiphon/internal/listen"
	"antiphon/internal/studio"
	"antiphon/internal/web/page"
)

// mostSent is how many recordings the week shows; older ones stand with our data.
const mostSent = 4

// sent is one recording that was sent.
type sent struct {
	ID       studio.TakeID
	Title    string
	Day      string
	State    string // what became of it, in words
	Promise  string // until when the answer comes; "" where it is there, or the day is past
	Hint     string // for the next time; "" none
	Answered bool
}

func (r *reader) sent(s studio.StudentID) ([]sent, error) {
	takes, err := r.w.f.Desk().TakesBy(r.ctx, r.viewer, studio.TakeQuery{Student: s, Limit: mostSent})
	if err != nil {
		return nil, err
	}
	all := make([]sent, len(takes))
	for i, x := range takes {
		if all[i], err = r.told(x); err != nil {
			return nil, err
		}
	}
	return all, nil
}

// told says a take in the family's words.
func (r *reader) told(x studio.Take) (sent, error) {
	s := sent{ID: x.ID, Answered: !x.Answered.IsZero()}
	work, err := r.work(x.Student, x.Work)
	if err != nil {
		return sent{}, err
	}
	untitled := "sent.untitled"
	if s.Title = work.Title; x.OnlyTold() {
		s.Title, untitled = "", "sent.hurt"
	}
	if s.Title == "" {
		if s.Title, err = r.Say(untitled); err != nil {
			return sent{}, err
		}
	}
	if s.Day, err = r.Day(x.Announced, r.w.f.Now()); err != nil {
		return sent{}, err
	}
	state := string(x.State)
	if s.Answered {
		state = "answered"
	}
	if s.State, err = r.Say("sent." + state); err != nil {
		return sent{}, err
	}
	if s.Promise, err = r.promised(x); err != nil {
		return sent{}, err
	}
	// Only what the phone can do better next time, and only while it helps: never what was played.
	for _, c := range x.Concerns {
		if key := "hint." + c.Kind; !s.Answered && r.Has(key) {
			s.Hint, err = r.Say(key)
			return s, err
		}
	}
	return s, nil
}

// promised says by which day the answer comes. A day that is past is not held up to anybody: the desk shows it
// to the teacher.
func (r *reader) promised(x studio.Take) (string, error) {
	now := r.w.f.Now()
	if !x.Answered.IsZero() || x.Arrived.IsZero() || r.replyDays == 0 {
		return "", nil
	}
	due := x.Arrived.AddDate(0, 0, r.replyDays)
	if due.Before(now) {
		return "", nil
	}
	day, err := r.Day(due, now)
	if err != nil {
		return "", err
	}
	return r.Say("sent.promise", day)
}

// takePage is GET /week/takes/{take}.
type takePage struct {
	common
	sent
	Done    string // key of what has just been done; "" nothing
	Of      studio.TakeState
	Child   string
	Note    string
	Hurt    bool
	Until   string // it is kept
	Media   studio.MediaID
	Video   bool
	Remarks []remark
	Heard   *heard // nil where nothing is told of the hearing
}

// remark is what the teacher says about a place.
type remark struct {
	AtS   float64
	Clock string
	// Seconds is AtS as an address takes it.
	Seconds string
	Text    string
	Media   studio.MediaID // said or filmed; "" none, or not ready
	Coming  bool           // it is being made ready
	Video   bool
	// Drawing on the picture as it is kept, and said in words; both "" where there is none.
	Drawing, Drawn string
}

func (w *week) take(rw http.ResponseWriter, r *http.Request) error {
	v := page.Viewer(r)
	c, err := w.common(r, "/week/takes")
	if err != nil {
		return err
	}
	review, err := w.f.Desk().ReviewTake(r.Context(), v, studio.TakeID(r.PathValue("take")))
	if err != nil {
		return err
	}
	x := review.Take
	p := takePage{common: c, Note: x.Note, Hurt: x.Hurt, Of: x.State, Child: review.Student.Name, Until: c.Date(x.KeepUntil, w.f.Now())}
	read, err := w.read(r, c)
	if err != nil {
		return err
	}
	if p.sent, err = read.told(x); err != nil {
		return err
	}
	if p.Heard, err = read.heard(review); err != nil {
		return err
	}
	switch q := r.URL.Query(); {
	case q.Get("sent") == "before":
		p.Done = "send.before"
	case q.Has("sent"):
		p.Done = "send.done"
	}
	clean := map[studio.MediaID]string{} // types
	for _, m := range review.Media {
		if m.Clean {
			clean[m.ID] = m.Type
		}
	}
	if m, ok := listen.Player(review.Media); ok {
		p.Media, p.Video = m.ID, strings.HasPrefix(m.Type, "video/")
	}
	if x.Answered.IsZero() {
		review.Remarks = nil // the teacher is still at it
	}
	for _, m := range review.Remarks {
		one := remark{AtS: m.Anchor.AtS, Clock: page.Clock(m.Anchor.AtS), Seconds: strconv.FormatFloat(m.Anchor.AtS, 'f', 2, 64),
			Text: m.Text}
		if typ, ok := clean[m.Media]; ok {
			one.Media, one.Video = m.Media, strings.HasPrefix(typ, "video/")
		} else {
			one.Coming = m.Media != ""
		}
		if one.Drawn, err = read.drawing(m.Anchor.Frame); err != nil {
			return err
		}
		if one.Drawn != "" {
			one.Drawing = string(m.Anchor.Frame)
		}
		p.Remarks = append(p.Remarks, one)
	}
	slices.SortStableFunc(p.Remarks, func(a, b remark) int { return cmp.Compare(a.AtS, b.AtS) })
	return w.render(rw, r, "take.html", "take.title", c.Tongue, p)
}

// deleteTake is POST /week/takes/{take}/delete.
func (w *week) deleteTake(rw http.ResponseWriter, r *http.Request) error {
	c, err := w.common(r, "/week")
	if err != nil {
		return err
	}
	if r.PostFormValue("sure") != "yes" {
		return say(c.Tongue, "take.delete.sure")
	}
	receipt, err := w.f.Desk().DeleteTake(r.Context(), page.Viewer(r), studio.TakeID(r.PathValue("take")))
	if err != nil {
		return err
	}
	return w.render(rw, r, "gone.html", "gone.title", c.Tongue, gonePage{common: c, Receipt: receipt, Date: c.Date(receipt.At, w.f.Now())})
}

// gonePage is a receipt for what was deleted.
type gonePage struct {
	common
	Receipt studio.Receipt
	Date    string
	Whole   bool // the whole family
}
