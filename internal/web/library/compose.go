package library

import (
	"html/template"
	"net/http"
	"net/url"
	"slices"
	"strings"

	"antiphon/internal/exercise"
	"antiphon/internal/studio"
	"antiphon/internal/web/page"
	"antiphon/internal/web/sheet"
)

type composeView struct {
	Examples []exercise.Example
	Recipe   string // the name of the one that was chosen; "" none
	First    []recipeLine
	More     []recipeLine
	Asked    bool

	Work   studio.Work // of a passage; zero for a recipe
	For    studio.StudentID
	Bars   []string
	From   string
	To     string
	Fault  string
	Faults []string
	Ways   []choice // other ways to play the passage

	Wrong  string // why nothing could be made of it
	Made   exercise.Made
	Tempo  string
	Sheet  template.HTML
	Hidden []hidden // what was asked for, to be kept
}

type recipeLine struct {
	Name, Label, Help, Value string
	Usual                    []string // offered while typing
}

type choice struct {
	Name, Words string
	On          bool
}

// ways to play a passage, as the form words them.
func variants() []choice {
	return []choice{{"slow", "slow", false}, {"backwards", "backwards", false}, {"there-and-back", "there and back", false}, {"slow-fast", "slow, then fast", false},
		{"long-short", "long–short", false}, {"short-long", "short–long", false}, {"plain", "as it stands", false}}
}

// firstLines of a recipe are what a teacher changes first; the others are one fold away.
var firstLines = []string{"title", "pattern", "key", "start", "octaves", "position", "right-hand", "stroke", "rhythm", "time", "tempo", "goal", "dynamics", "without"}

// composePage asks for a recipe or a passage and shows what it gives. GET /library/compose
func (l *library) composePage(w http.ResponseWriter, r *http.Request) error {
	q := r.URL.Query()
	a := askedOf(q)
	view := composeView{Recipe: a.recipe, Asked: q.Has("ask"), For: a.by, From: a.from, To: a.to, Fault: a.fault, Faults: exercise.Faults(), Ways: variants()}
	for i := range view.Ways {
		view.Ways[i].On = slices.Contains(a.variants, view.Ways[i].Name)
	}
	var err error
	if view.Examples, err = exercise.Examples(); err != nil {
		return err
	}
	var c composed
	if a.work != "" {
		if view.Work, err = l.desk().WorkFor(r.Context(), page.Viewer(r), a.by, a.work); err != nil {
			return err
		}
		s, err := scoreOf(view.Work)
		if err != nil {
			return err
		}
		for _, b := range s.Bars {
			view.Bars = append(view.Bars, b.Number)
		}
	} else {
		base, err := a.base()
		if err != nil {
			return err
		}
		if !view.Asked {
			a.lines = linesOf(base)
		}
	}
	view.First, view.More = a.form()
	if view.Asked {
		c, err = a.make(view.Work)
		if view.Wrong, err = wrong(err); err != nil {
			return err
		}
	}
	if view.Asked && view.Wrong == "" {
		view.Made = c.made
		if c.made.TempoBpm > 0 {
			view.Tempo = decimal(c.made.TempoBpm)
			if c.made.GoalBpm != c.made.TempoBpm && c.made.GoalBpm > 0 {
				view.Tempo += " to " + decimal(c.made.GoalBpm)
			}
		}
		for name, values := range a.values() {
			for _, v := range values {
				view.Hidden = append(view.Hidden, hidden{name, v})
			}
		}
		slices.SortFunc(view.Hidden, func(a, b hidden) int { return strings.Compare(a.Name, b.Name) })
		source := "/library/compose/picture?ask=" + url.QueryEscape(a.values().Encode())
		if view.Sheet, err = sheet.Place(sheet.Placing{Title: c.made.Title, NoTitle: true, Source: source}); err != nil {
			return err
		}
	}
	return l.render(w, r, "compose.html", "Compose an exercise", view)
}

// wrong takes the sentence out of what a person can mend.
func wrong(err error) (string, error) {
	if err == nil {
		return "", nil
	}
	return say(uncomposed(err))
}

func (a asked) make(of studio.Work) (composed, error) {
	if a.work != "" {
		return a.fromPassage(of)
	}
	return a.fromRecipe()
}

// composed again, for the picture and for keeping: the same lines give the same exercise.
func (l *library) composed(r *http.Request, a asked) (composed, error) {
	var of studio.Work
	if a.work != "" {
		var err error
		if of, err = l.desk().WorkFor(r.Context(), page.Viewer(r), a.by, a.work); err != nil {
			return composed{}, err
		}
	}
	c, err := a.make(of)
	if err != nil {
		return composed{}, uncomposed(err)
	}
	return c, nil
}

// composePicture draws an exercise that is not kept yet. GET /library/compose/picture
func (l *library) composePicture(w http.ResponseWriter, r *http.Request) error {
	look, err := sheet.LookOf(r.URL.Query())
	if err != nil {
		return err
	}
	q, err := url.ParseQuery(r.URL.Query().Get("ask"))
	if err != nil {
		return invalid("The page sent something that makes no sense. Load it again.")
	}
	c, err := l.composed(r, askedOf(q))
	if err != nil {
		return err
	}
	return l.o.Sheets.Serve(w, r, c.xml, look)
}

// compose puts an exercise into the library. POST /library/compose
func (l *library) compose(w http.ResponseWriter, r *http.Request) error {
	if err := form(w, r); err != nil {
		return err
	}
	c, err := l.composed(r, askedOf(r.PostForm))
	if err != nil {
		return err
	}
	title := firstOf(r.PostForm.Get("name"), c.made.Title)
	kept, _, err := l.keep(r.Context(), page.Viewer(r), studio.Work{Title: clipped(title, mostTitle), Exercise: true, Recipe: c.recipe, Score: c.xml, Rights: "made in this studio"})
	if err != nil {
		return err
	}
	return see(w, r, workAddress(kept.ID))
}
