package record

import (
	"cmp"
	"encoding/json"
	"errors"
	"html/template"
	"math"
	"net/http"
	"slices"
	"strconv"
	"strings"

	"antiphon/internal/music"
	"antiphon/internal/sound"
	"antiphon/internal/studio"
	"antiphon/internal/web/page"
	"antiphon/internal/web/sheet"
	"antiphon/internal/web/tongue"
)

// longestS is how long a recording may be. A child's take is a few minutes; ten minutes of film are about
// 120 MB to be sent from a kitchen. Our choice.
const longestS = 600

// recordPage is GET /week/record.
type recordPage struct {
	*tongue.Tongue
	Here   string
	Choose []studio.Student // more than one child, and none named
	Child  studio.Student
	Of     studio.AssignmentID
	Asked  *asked // nil for something else
	Sorts  []sort
	Tuner  template.HTML
	Keep   string // address of a sound that the page needs without a network
	Words  string // of the island, as JSON
	Plan   string // what it needs to know, as JSON
}

// sort is one way to record.
type sort struct {
	Name   string // film, hands or sound
	Chosen bool
}

// asked is what the recording is of, in words.
type asked struct {
	Title string
	Where string
	Do    string
	Pace  string // "about one beat a second"
	Bpm   string // beats a minute
	Goals []line
	Watch string
	Coach []string // what the adult sees
	Sheet template.HTML
}

type line struct{ Label, Say string }

// plan is what the island needs to know.
type plan struct {
	Child    studio.StudentID    `json:"child"`
	Of       studio.AssignmentID `json:"of"`
	Title    string              `json:"title"`
	LongestS float64             `json:"longestS"`
	BeatBpm  float64             `json:"beatBpm"` // beats a minute to count in with; 0 none is known
	Beats    int                 `json:"beats"`   // in a bar
	Second   *second             `json:"second,omitempty"`
}

// second is the part that sounds beside the child.
type second struct {
	Part    studio.Second `json:"part"`
	Parent  bool          `json:"byParent"`
	Bpm     float64       `json:"bpm"` // quarter notes a minute
	Address string        `json:"address"`
	EntryS  float64       `json:"entryS"` // of the tool, after the child's first beat
}

func (rec *recorder) show(w http.ResponseWriter, r *http.Request) error {
	d, v := rec.f.Desk(), page.Viewer(r)
	in, err := rec.f.Tongue(r)
	if err != nil {
		return err
	}
	p := recordPage{Tongue: in, Here: "/week/record"}
	students, err := d.Students(r.Context(), v)
	if err != nil {
		return err
	}
	slices.SortStableFunc(students, func(a, b studio.Student) int { return strings.Compare(a.Name, b.Name) })
	named := studio.StudentID(r.URL.Query().Get("child"))
	for _, s := range students {
		if s.ID == named || len(students) == 1 {
			p.Child = s
		}
	}
	if p.Child.ID == "" {
		p.Choose = students
		return rec.render(w, r, p)
	}
	pl := plan{Child: p.Child.ID, LongestS: longestS, Beats: 4}
	if err := rec.ask(r, &p, &pl, studio.AssignmentID(r.URL.Query().Get("of"))); err != nil {
		return err
	}
	p.Sorts = sortsOf(p.Child.Media)
	if rec.o.Tuner != nil {
		if p.Tuner, err = rec.o.Tuner(p.Tongue); err != nil {
			return err
		}
	}
	if p.Words, err = wordsOf(p.Tongue, recordWords); err != nil {
		return err
	}
	b, err := json.Marshal(pl)
	if err != nil {
		return err
	}
	p.Plan = string(b)
	return rec.render(w, r, p)
}

func (rec *recorder) render(w http.ResponseWriter, r *http.Request, p recordPage) error {
	title, err := p.Say("record.title")
	if err != nil {
		return err
	}
	return rec.p.Render(w, r, "record.html", page.View{Title: title, Here: "week", Lang: p.Code, Wide: true, Data: p})
}

// sortsOf are the ways that the family has agreed to, with the one of most use chosen.
func sortsOf(m studio.MediaMode) []sort {
	switch m {
	case studio.FullVideo:
		return []sort{{"film", true}, {"hands", false}, {"sound", false}}
	case studio.HandsOnly:
		return []sort{{"hands", true}, {"sound", false}}
	}
	return []sort{{"sound", true}}
}

// ask looks up what the newest lesson asks under this id; an id that it does not have is something else.
func (rec *recorder) ask(r *http.Request, p *recordPage, pl *plan, of studio.AssignmentID) error {
	if of == "" {
		return nil
	}
	ls, err := rec.f.Desk().Lessons(r.Context(), page.Viewer(r), studio.LessonQuery{Student: p.Child.ID, Limit: 1})
	if err != nil || len(ls) == 0 {
		return err
	}
	i := slices.IndexFunc(ls[0].Assignments, func(a studio.Assignment) bool { return a.ID == of })
	if i < 0 {
		return nil
	}
	a := ls[0].Assignments[i]
	p.Of, pl.Of = a.ID, a.ID
	p.Asked = &asked{Do: a.Do, Watch: a.Watch, Coach: a.Coach}
	var work studio.Work
	if a.Work != "" {
		work, err = rec.f.Desk().WorkFor(r.Context(), page.Viewer(r), p.Child.ID, a.Work)
		if pr, ok := errors.AsType[*studio.Problem](err); ok && pr.Kind == studio.NotFound {
			work, err = studio.Work{}, nil // gone from the library: the words are there without it
		}
		if err != nil {
			return err
		}
	}
	if p.Asked.Title = work.Title; work.Title == "" {
		if p.Asked.Title, err = p.Say("item.untitled"); err != nil {
			return err
		}
	}
	pl.Title = p.Asked.Title
	if p.Asked.Where, err = where(p.Tongue, a); err != nil {
		return err
	}
	if p.Asked.Goals, err = goals(p.Tongue, a.Goals); err != nil {
		return err
	}
	return rec.music(p, pl, a, work)
}

// music adds what the score says: the passage, the beat to count in with, and the part to play with.
func (rec *recorder) music(p *recordPage, pl *plan, a studio.Assignment, work studio.Work) error {
	score, err := rec.score(work)
	if err != nil {
		return err
	}
	bpm := cmp.Or(a.Goals.FromBpm, a.Goals.TempoBpm)
	beat := 1.0
	if score != nil {
		p.Asked.Sheet, err = sheet.Place(sheet.Placing{Work: work.ID, For: p.Child.ID, Score: work.Score, Title: work.Title, From: a.FromBar, Until: a.ToBar, NoTitle: true, In: p.Tongue})
		if err != nil {
			return err
		}
		at := music.Quarters(0, 1)
		if q := score.BeatUnitAt(at).Q(); q > 0 {
			beat = q
		}
		if i := score.BarAt(at); i >= 0 {
			if n := math.Round(score.Bars[i].Time.Length().Q() / beat); n >= 2 && n <= 12 {
				pl.Beats = int(n)
			}
		}
	}
	pl.BeatBpm = bpm / beat
	if a.Second.Kind != "" {
		pl.Second = &second{Part: a.Second, Parent: a.Second.Who == studio.ByParent, Bpm: bpm}
		if a.Second.Who != studio.ByParent && rec.o.Second != nil {
			pl.Second.Address = rec.o.Second(p.Child.ID, a, bpm)
			p.Keep = pl.Second.Address
		}
		if a.Second.Kind == studio.Round && score != nil && bpm > 0 {
			if pl.Second.EntryS, err = entryS(score, a, bpm/beat); err != nil {
				return err
			}
		}
	}
	if p.Asked.Pace, err = p.Pace(pl.BeatBpm); err != nil {
		return err
	}
	if p.Asked.Pace != "" {
		p.Asked.Bpm = strconv.FormatFloat(math.Round(pl.BeatBpm), 'f', -1, 64)
	}
	return nil
}

// entryS is how long after the child's first beat the second player of a round enters; 0 where the score has the
// bars of the task no more, and the part is not there either.
func entryS(score *music.Score, a studio.Assignment, bpm float64) (float64, error) {
	o := sound.Options{Bpm: bpm, EnterAfter: max(a.Second.AfterBars, 1)}
	if a.FromBar != "" || a.ToBar != "" {
		o.Bars = &sound.Loop{From: a.FromBar, To: a.ToBar}
	}
	line, err := sound.Lay(score, o)
	if _, ok := errors.AsType[*sound.Error](err); ok {
		return 0, nil
	}
	return line.EntryS, err
}

// score is the music of a work, or nil where there is none that can be read.
func (rec *recorder) score(work studio.Work) (*music.Score, error) {
	if work.Score == "" {
		return nil, nil
	}
	s, err := rec.o.Sheets.Score(work.Score)
	if p, ok := errors.AsType[*studio.Problem](err); ok && p.Kind != studio.Internal {
		return nil, nil
	}
	return s, err
}

func where(t *tongue.Tongue, a studio.Assignment) (string, error) {
	switch {
	case a.FromBar == "" && a.ToBar == "":
		return t.Say("item.all")
	case a.FromBar == a.ToBar:
		return t.Say("item.bar", a.FromBar)
	case a.FromBar == "":
		return t.Say("item.up-to", a.ToBar)
	case a.ToBar == "":
		return t.Say("item.from", a.FromBar)
	}
	return t.Say("item.bars", a.FromBar, a.ToBar)
}

// goals says what is to be reached beside a tempo, as the teacher wrote it.
func goals(t *tongue.Tongue, g studio.Goals) ([]line, error) {
	stroke := g.Stroke
	if key := "stroke." + stroke; t.Has(key) {
		var err error
		if stroke, err = t.Say(key); err != nil {
			return nil, err
		}
	}
	var all []line
	for _, x := range []line{{"goal.dynamics", g.Dynamics}, {"goal.tone", g.Tone}, {"goal.stroke", stroke}, {"goal.fingering", g.Fingering}, {"goal.done", g.DoneWhen}} {
		if x.Say == "" {
			continue
		}
		label, err := t.Say(x.Label)
		if err != nil {
			return nil, err
		}
		all = append(all, line{label, x.Say})
	}
	return all, nil
}
