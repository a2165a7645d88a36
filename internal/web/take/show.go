package take

import (
	"errors"
	"fmt"
	"html/template"
	"net/http"
	"strings"

	"antiphon/internal/studio"
	"antiphon/internal/web/page"
	"antiphon/internal/web/sheet"
)

// Room below each system in which the evidence is drawn, in staff spaces: for one staff, and for each
// further one. See _evidence.ts.
const (
	underStaff  = 8
	underOthers = 2
	mostUnder   = 16
)

// view is what the page shows, in words.
type view struct {
	ID                   studio.TakeID
	State                studio.TakeState
	Title, Student       string
	StudentPage          string
	Came, Length, Lesson string
	DurationS            string
	Hurt                 bool
	Told                 bool // in writing only: there is nothing to hear
	Note                 string
	FileName             string // where it says more than the title

	Playable, Poster, Peaks string // addresses
	Video                   bool
	Speeds                  []speed

	Asked, PlayedSay string
	Apart            []string // how the one stands to the other
	Standing         *standing
	Likely, Works    []workChoice
	Concerns         []studio.Concern
	Twin             studio.TakeID

	Sheet   template.HTML
	NoSheet string
	Hearing studio.HearingID
	Passes  []passView

	Findings, Well []findingView
	NoFindings     string

	Remarks     []remarkView
	Draft       draft
	Corrections []correctionView
	Restarts    []restart

	Others  []otherChoice
	Against *againstView
	Plots   []plot

	CanAnswer  bool
	AnswerPage string
	Next       studio.TakeID // of the same student, waiting; "" none
}

type (
	speed struct {
		Rate, Key string
		Is        bool
	}
	// standing says where the take is on its way, and what to do.
	standing struct {
		Say                    string
		Working, Choose, Again bool
	}
	workChoice struct {
		ID         studio.WorkID
		Title, Say string
	}
	passView struct {
		N    int
		Say  string
		Best bool
		Bars []barView
	}
	barView struct {
		Bar, Say   string
		FromS, ToS string
	}
	draft   struct{ At, Bar, Remedy, Text string }
	restart struct {
		AtS float64
		Say string
	}
)

func (p *Pages) show(w http.ResponseWriter, r *http.Request) error {
	rv, err := p.take(r)
	if err != nil {
		return err
	}
	l, err := p.listen(rv.Hearing, rv.Work, rv.Corrections, goalsOf(rv))
	stale := errors.Is(err, errAnotherScore)
	if err != nil && !stale {
		return err
	}
	v, err := p.view(r, rv, l, stale)
	if err != nil {
		return err
	}
	return p.pages.Render(w, r, "take.html", page.View{Title: v.Title + ", " + v.Student, Here: "desk", Data: v, Wide: true})
}

func (p *Pages) view(r *http.Request, rv studio.Review, l *listened, stale bool) (*view, error) {
	t := rv.Take
	v := &view{ID: t.ID, State: t.State, Student: rv.Student.Name, Hurt: t.Hurt, Note: t.Note, Twin: t.SameAs, Concerns: t.Concerns,
		Length: page.Clock(t.DurationS), DurationS: fmt.Sprintf("%.2f", max(0, t.DurationS)),
		CanAnswer: t.Answered.IsZero() && t.State != studio.Arriving, Speeds: speeds()}
	if t.DurationS <= 0 {
		v.Length = ""
	}
	if t.Model() {
		v.Student = "Model take"
	} else {
		v.StudentPage = "/students/" + string(t.Student)
		v.AnswerPage = v.StudentPage + "/lesson"
	}
	if len(rv.Siblings) > 0 {
		v.Next = rv.Siblings[0].ID
	}
	if !t.Arrived.IsZero() {
		v.Came = "sent " + page.Day(t.Arrived, p.f.Now())
	}
	v.Lesson = lessonDay(rv.LessonDate)
	v.Title, v.Told = titleOf(rv), onlyTold(rv)
	if rv.Work == nil {
		v.FileName = t.FileName
	}
	v.media(rv.Media)
	if err := p.music(v, rv, l); err != nil {
		return nil, err
	}
	if l != nil {
		v.Hearing = rv.Hearing.ID
		v.evidence(l)
		v.asked(rv, l)
		v.corrections(l)
	}
	if err := p.findings(r, v, rv, l); err != nil {
		return nil, err
	}
	v.remarks(rv, l)
	if err := p.draft(r, v); err != nil {
		return nil, err
	}
	if err := p.stand(r, v, rv, l, stale); err != nil {
		return nil, err
	}
	if err := p.beside(r, v, rv, l); err != nil {
		return nil, err
	}
	v.Plots = plots(rv)
	return v, nil
}

// titleOf is the work's, if it is known.
func titleOf(rv studio.Review) string {
	switch {
	case onlyTold(rv) && rv.Work != nil:
		return "Something hurt: " + rv.Work.Title
	case onlyTold(rv):
		return "Something hurt"
	case rv.Work != nil:
		return rv.Work.Title
	}
	return "Which work is it?"
}

// onlyTold: the family wrote that something hurt, and sent no recording.
func onlyTold(rv studio.Review) bool {
	return rv.Take.OnlyTold() && len(rv.Media) == 0
}

func speeds() []speed {
	return []speed{{"0.5", "1", false}, {"0.7", "2", false}, {"0.85", "3", false}, {"1", "4", true}}
}

// media finds what the browser plays: the rendition, or else the original.
func (v *view) media(all []studio.Media) {
	for _, m := range all {
		at := "/media/" + string(m.ID)
		switch {
		case m.Kind == studio.Playable, m.Kind == studio.Original && v.Playable == "" && m.Clean:
			v.Playable, v.Video = at, strings.HasPrefix(m.Type, "video/")
		case m.Kind == studio.Poster:
			v.Poster = at
		case m.Kind == studio.Peaks:
			v.Peaks = at
		}
	}
	for _, m := range all {
		if m.Kind == studio.Playable {
			v.Playable, v.Video = "/media/"+string(m.ID), strings.HasPrefix(m.Type, "video/")
		}
	}
}

// playerOf is the student whose fingers stand in the music of a take; "" of the teacher's own.
func playerOf(t studio.Take) studio.StudentID {
	if t.Model() {
		return ""
	}
	return t.Student
}

// music places the score.
func (p *Pages) music(v *view, rv studio.Review, l *listened) error {
	beat := 1.0
	if rv.Work != nil && rv.Work.Score != "" {
		score, err := p.sheets.Score(rv.Work.Score)
		if err != nil {
			return err
		}
		beat = beatQ(score)
	}
	if rv.Assignment != nil {
		v.Asked = askedInWords(*rv.Assignment, beat)
	}
	switch {
	case v.Told && (rv.Work == nil || rv.Work.Score == ""):
		return nil
	case rv.Work == nil:
		v.NoSheet = "Nobody said yet which work this is. The music stands here once it is chosen."
		return nil
	case rv.Work.Score == "":
		v.NoSheet = "This work has no score in the library yet; a take of it can be listened to, but not be heard against the music."
		return nil
	}
	score, err := p.sheets.Score(rv.Work.Score)
	if err != nil {
		return err
	}
	under := 0
	if l != nil && len(l.hearing.Passes) > 0 || rv.Take.State == studio.Waiting || rv.Take.State == studio.BeingHeard {
		under = min(mostUnder, underStaff+underOthers*max(0, len(score.Parts)-1))
	}
	v.Sheet, err = sheet.Place(sheet.Placing{Work: rv.Work.ID, For: playerOf(rv.Take), Title: rv.Work.Title, NoTitle: true, Under: under})
	return err
}
