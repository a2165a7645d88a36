package practice

import (
	"encoding/json"
	"html/template"
	"net/http"
	"strings"

	"antiphon/internal/studio"
	"antiphon/internal/web/page"
	"antiphon/internal/web/sheet"
	"antiphon/internal/web/tongue"
)

// practicePage is GET /week/practice.
type practicePage struct {
	*tongue.Tongue
	Here    string
	Child   studio.Student
	Of      studio.AssignmentID
	Title   string
	Where   string
	Do      string
	Sheet   template.HTML
	Score   bool // there is one, so there is more than the click
	Second  bool // the tool plays beside the child
	Parent  string
	Clips   []clip
	Plain   string // how it goes, for a browser without scripts
	Stopped bool   // it hurt today
	Plan    string // for the island, as JSON
	Words   string
	Keep    string // addresses that must be there without a network
}

// clip is a short stretch that goes round.
type clip struct{ Media, Label, Say string }

// said are what the island says; the blanks in braces are its own.
var said = []string{"fetching", "making", "failed", "away", "silent", "count", "bar", "stopped", "went", "ask", "step", "faster", "same", "slower",
	"more.one", "more.more", "up", "down", "lowest", "arrived", "kept", "rest.one", "rest.more", "hurt", "all", "only", "from", "clip.stop", "alone"}

func (p *Practice) show(w http.ResponseWriter, r *http.Request) error {
	ctx, v, d := r.Context(), page.Viewer(r), p.f.Desk()
	in, err := p.f.Tongue(r)
	if err != nil {
		return err
	}
	q := r.URL.Query()
	a, err := p.find(r, studio.StudentID(q.Get("child")), studio.AssignmentID(q.Get("of")))
	if err != nil {
		return err
	}
	pg := practicePage{Tongue: in, Here: "/week/practice", Of: a.ID, Do: a.Do, Score: a.Score != nil}
	students, err := d.Students(ctx, v)
	if err != nil {
		return err
	}
	for _, s := range students {
		if s.ID == a.Student {
			pg.Child = s
		}
	}
	if pg.Title = a.Work.Title; pg.Title == "" {
		if pg.Title, err = pg.Say("practice.untitled"); err != nil {
			return err
		}
	}
	c := Card{Student: a.Student, Assignment: a.ID, Work: a.Work.ID, Bpm: a.goalBpm(), Ladder: a.Ladder, Second: a.Second, In: pg.Tongue}
	taps, err := d.Taps(ctx, v, studio.TapQuery{Student: a.Student, Assignment: a.ID})
	if err != nil {
		return err
	}
	pg.Stopped = hurtToday(taps, p.f.Now())
	pl, err := p.planOf(a, c)
	if err != nil {
		return err
	}
	pl.Reached = reachedIn(taps)
	if len(pl.Rungs) > 0 {
		pg.Plain = pl.Rungs[pl.Begin].Sound
	}
	pg.Score = pg.Plain != ""
	pg.Second = pl.ByTool && pl.Second != ""
	b, err := json.Marshal(pl)
	if err != nil {
		return err
	}
	pg.Plan = string(b)
	if pg.Words, err = wordsOf(pg.Tongue, "practice.say.", said); err != nil {
		return err
	}
	if err := pg.music(a); err != nil {
		return err
	}
	keep := pg.clips(a)
	if pg.Score {
		keep = append(Sounds(c), keep...)
	}
	pg.Keep = strings.Join(keep, " ")
	title, err := pg.Say("practice.title", pg.Title)
	if err != nil {
		return err
	}
	return p.p.Render(w, r, "practice.html", page.View{Title: title, Here: "week", Lang: pg.Code, Wide: true, Data: pg})
}

// music adds the notes, and which of them.
func (pg *practicePage) music(a asked) (err error) {
	if a.Work.ID == "" {
		return nil
	}
	switch {
	case a.FromBar == "" && a.ToBar == "":
		pg.Where, err = pg.Say("item.all")
	case a.FromBar == a.ToBar:
		pg.Where, err = pg.Say("item.bar", a.FromBar)
	case a.FromBar == "":
		pg.Where, err = pg.Say("item.up-to", a.ToBar)
	case a.ToBar == "":
		pg.Where, err = pg.Say("item.from", a.FromBar)
	default:
		pg.Where, err = pg.Say("item.bars", a.FromBar, a.ToBar)
	}
	if err != nil || a.Score == nil {
		return err
	}
	if a.Second.Kind != "" && a.Second.Who == studio.ByParent {
		key := "practice.parent.part"
		if a.asRound() {
			pg.Parent, err = pg.Count("practice.parent.round", max(a.Second.AfterBars, 1))
		} else {
			pg.Parent, err = pg.Say(key, a.Second.Part)
		}
		if err != nil {
			return err
		}
	}
	pg.Sheet, err = sheet.Place(sheet.Placing{Work: a.Work.ID, For: a.Student, Score: a.Work.Score, Title: a.Work.Title, From: a.FromBar, Until: a.ToBar, NoTitle: true, Under: 2, In: pg.Tongue})
	return err
}

// clips adds what can be heard beside the tune, and gives its addresses.
func (pg *practicePage) clips(a asked) (keep []string) {
	for _, c := range []struct {
		clip studio.Clip
		key  string
	}{{a.Like, "practice.clip.like"}, {a.Unlike, "practice.clip.unlike"}, {a.Best, "practice.clip.best"}, {a.Last, "practice.clip.last"}} {
		if c.clip.Media == "" {
			continue // not cut yet
		}
		media := "/media/" + string(c.clip.Media)
		pg.Clips, keep = append(pg.Clips, clip{media, c.key, c.clip.Say}), append(keep, media)
	}
	return keep
}
