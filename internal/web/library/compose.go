package library

import (
	"errors"
	"fmt"
	"html/template"
	"net/http"
	"net/url"
	"slices"
	"strconv"
	"strings"

	"antiphon/internal/exercise"
	"antiphon/internal/music"
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

// usual answers to some lines of a recipe.
func usual(name string) []string {
	switch name {
	case "pattern":
		return []string{"scale", "degrees", "thirds", "sixths", "octaves", "tenths", "arpeggio", "chromatic", "open strings", "chords"}
	case "key":
		return []string{"C major", "G major", "D major", "A major", "E major", "F major", "A harmonic minor", "E harmonic minor", "D harmonic minor"}
	case "right-hand":
		return []string{"i m", "m i", "m a", "i a", "p i m a", "p i m a m i", "auto"}
	case "stroke":
		return []string{"rest", "free", "p free, i m rest"}
	case "rhythm":
		return []string{"quarters", "eighths", "triplets", "long-short", "short-long", "quarter eighth eighth"}
	case "dynamics":
		return []string{"f", "p", "terraced f p every 2 bars", "echo f p", "crescendo p f", "diminuendo f p", "swell p f"}
	case "direction":
		return []string{"up-down", "up", "down", "down-up", "once"}
	case "tone":
		return []string{"over the neck", "over the hole", "near the bridge"}
	case "without":
		return []string{"fourth finger", "barre", "stretch", "a"}
	case "names":
		return []string{"letters", "do-re-mi"}
	}
	return nil
}

// asked is what is to be composed.
type asked struct {
	recipe   string // name of an example; "" none
	lines    map[string]string
	work     studio.WorkID
	from, to string
	fault    string
	variants []string
}

func askedOf(q url.Values) asked {
	a := asked{recipe: q.Get("recipe"), lines: map[string]string{}, work: studio.WorkID(q.Get("work")), from: strings.TrimSpace(q.Get("from")), to: strings.TrimSpace(q.Get("to")),
		fault: strings.TrimSpace(q.Get("fault")), variants: q["way"]}
	for name := range q {
		if line, ok := strings.CutPrefix(name, "r-"); ok {
			a.lines[line] = strings.TrimSpace(q.Get(name))
		}
	}
	return a
}

func (a asked) values() url.Values {
	q := url.Values{}
	for name, v := range map[string]string{"recipe": a.recipe, "work": string(a.work), "from": a.from, "to": a.to, "fault": a.fault} {
		if v != "" {
			q.Set(name, v)
		}
	}
	for name, v := range a.lines {
		q.Set("r-"+name, v)
	}
	if len(a.variants) > 0 {
		q["way"] = a.variants
	}
	return q
}

// composed is an exercise that is not kept yet.
type composed struct {
	score  *music.Score
	made   exercise.Made
	recipe string // its text; of an exercise from a passage, one line that says from where
	xml    string
}

// base is the recipe that the form begins with.
func (a asked) base() (exercise.Recipe, error) {
	if a.recipe == "" {
		return exercise.Recipe{Pattern: "scale"}, nil
	}
	e, ok, err := exercise.ExampleNamed(a.recipe)
	if err != nil {
		return e.Recipe, err
	}
	if !ok {
		return e.Recipe, &studio.Problem{Kind: studio.NotFound, Say: "There is no recipe of this name. Choose one of the list."}
	}
	return e.Recipe, nil
}

// fromRecipe composes from the lines of the form. A line that was emptied is left out of the recipe.
func (a asked) fromRecipe() (composed, error) {
	text := recipeText(a.lines)
	r, err := exercise.Read([]byte(text), "")
	if err != nil {
		return composed{}, err
	}
	s, err := exercise.Compose(r)
	if err != nil {
		return composed{}, err
	}
	return finished(s, exercise.Describe(s, "", r.Goal), text)
}

// recipeText writes a recipe, its lines in their usual order.
func recipeText(lines map[string]string) string {
	var b strings.Builder
	var r exercise.Recipe
	for _, f := range r.Fields() {
		if v := lines[f.Name]; v != "" {
			fmt.Fprintf(&b, "%s: %s\n", f.Name, quoted(v))
		}
	}
	return b.String()
}

// quoted is a text as a recipe has it, in double quotes where a bare word would be read as something else.
func quoted(v string) string {
	plain := strings.ContainsFunc(v, func(r rune) bool { return r != ' ' }) && !strings.ContainsFunc(v, func(r rune) bool {
		return !(r == ' ' || r >= 'a' && r <= 'z' || r >= 'A' && r <= 'Z' || r >= '0' && r <= '9')
	})
	if plain {
		return v
	}
	return `"` + strings.NewReplacer(`\`, `\\`, `"`, `\"`, "\t", " ", "\n", " ", "\r", " ").Replace(v) + `"`
}

// fromPassage composes from bars of a work.
func (a asked) fromPassage(one studio.Work) (composed, error) {
	s, err := scoreOf(one)
	if err != nil {
		return composed{}, err
	}
	first, last, err := barsOf(s, a.from, a.to)
	if err != nil {
		return composed{}, err
	}
	p := exercise.Passage{From: s.Bars[first].Number, To: s.Bars[last].Number}
	var r exercise.Recipe
	for name, v := range a.lines {
		if v == "" || !slices.Contains(wishLines, name) {
			continue
		}
		if err := r.Change(name, v); err != nil {
			return composed{}, err
		}
	}
	w := exercise.Wishes{Tempo: r.Tempo, RightHand: r.RightHand, Names: r.Names, Without: r.Without, ScaleMm: r.ScaleMm, SpanMm: r.SpanMm}
	goal := exercise.GoalOf(s, p)
	from := fmt.Sprintf("From %s, bars %s to %s", one.Title, p.From, p.To)
	if a.fault != "" {
		f, err := exercise.ReadFault(a.fault)
		if err != nil {
			return composed{}, err
		}
		made, reason, err := exercise.Practise(s, p, f, w)
		if err != nil {
			return composed{}, err
		}
		return finished(made, exercise.Describe(made, reason, goal), from+": "+a.fault+".")
	}
	ways := a.variants
	if len(ways) == 0 {
		ways = []string{"plain"}
	}
	made, err := exercise.Vary(s, p, ways, w)
	if err != nil {
		return composed{}, err
	}
	return finished(made, exercise.Describe(made, "", goal), from+": "+strings.Join(ways, ", ")+".")
}

// wishLines of a recipe may be said of an exercise from a passage too.
var wishLines = []string{"tempo", "right-hand", "names", "without", "scale-mm", "span-mm"}

func finished(s *music.Score, made exercise.Made, recipe string) (composed, error) {
	xml, err := written(s)
	return composed{s, made, recipe, xml}, err
}

// uncomposed makes a sentence of why there is no exercise.
func uncomposed(err error) error {
	p, ok := errors.AsType[*exercise.Problem](err)
	if !ok {
		return err
	}
	text := p.Say
	if p.Key != "" {
		text = label(p.Key) + ": " + text
	}
	return &studio.Problem{Kind: studio.Invalid, Say: sentence(text), Err: err}
}

// label is a line of a recipe as the form words it.
func label(name string) string {
	switch name {
	case "scale-mm":
		return "Length of the strings"
	case "span-mm":
		return "Span of the left hand"
	case "without":
		return "Not learnt yet"
	case "goal":
		return "Tempo to reach"
	case "tempo":
		return "Tempo to begin with"
	case "trains":
		return "What it trains"
	case "each":
		return "Each note"
	case "names":
		return "Names under the notes"
	}
	r := []rune(strings.ReplaceAll(name, "-", " "))
	return strings.ToUpper(string(r[:1])) + string(r[1:])
}

// composePage asks for a recipe or a passage and shows what it gives. GET /library/compose
func (l *library) composePage(w http.ResponseWriter, r *http.Request) error {
	q := r.URL.Query()
	a := askedOf(q)
	view := composeView{Recipe: a.recipe, Asked: q.Has("ask"), From: a.from, To: a.to, Fault: a.fault, Faults: exercise.Faults(), Ways: variants()}
	for i := range view.Ways {
		view.Ways[i].On = slices.Contains(a.variants, view.Ways[i].Name)
	}
	var err error
	if view.Examples, err = exercise.Examples(); err != nil {
		return err
	}
	var c composed
	if a.work != "" {
		if view.Work, err = l.desk().Work(r.Context(), page.Viewer(r), a.work); err != nil {
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

// form lists the lines of a recipe with what stands in them.
func (a asked) form() (first, more []recipeLine) {
	var r exercise.Recipe
	for _, f := range r.Fields() {
		line := recipeLine{f.Name, label(f.Name), f.Help, a.lines[f.Name], usual(f.Name)}
		switch {
		case a.work != "" && !slices.Contains(wishLines, f.Name):
		case slices.Contains(firstLines, f.Name):
			first = append(first, line)
		default:
			more = append(more, line)
		}
	}
	return first, more
}

// composed again, for the picture and for keeping: the same lines give the same exercise.
func (l *library) composed(r *http.Request, a asked) (composed, error) {
	var of studio.Work
	if a.work != "" {
		var err error
		if of, err = l.desk().Work(r.Context(), page.Viewer(r), a.work); err != nil {
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

// linesOf takes a recipe apart into the texts of its lines.
func linesOf(r exercise.Recipe) map[string]string {
	whole := func(n int) string {
		if n == 0 {
			return ""
		}
		return strconv.Itoa(n)
	}
	number := func(v float64) string {
		if v == 0 {
			return ""
		}
		return decimal(v)
	}
	several := func(list []int) string {
		var out []string
		for _, n := range list {
			out = append(out, strconv.Itoa(n))
		}
		return strings.Join(out, " ")
	}
	together := ""
	if r.Together {
		together = "yes"
	}
	all := map[string]string{"title": r.Title, "trains": r.Trains, "pattern": r.Pattern, "key": r.Key, "degrees": several(r.Degrees), "chords": strings.Join(r.Chords, " "),
		"strings": several(r.Strings), "together": together, "octaves": whole(r.Octaves), "above": whole(r.Above), "below": whole(r.Below), "direction": r.Direction,
		"start": r.Start, "position": r.Position, "each": r.Each, "right-hand": r.RightHand, "bass": r.Bass, "stroke": r.Stroke, "rhythm": r.Rhythm, "time": r.Time,
		"tempo": number(r.Tempo), "goal": number(r.Goal), "dynamics": r.Dynamics, "accents": r.Accents, "tone": r.Tone, "rounds": whole(r.Rounds), "repeat": whole(r.Repeat),
		"without": r.Without, "scale-mm": number(r.ScaleMm), "span-mm": number(r.SpanMm), "names": r.Names, "variants": strings.Join(r.Variants, " ")}
	for name, v := range all {
		if v == "" {
			delete(all, name)
		}
	}
	return all
}
