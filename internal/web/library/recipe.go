package library

import (
	"errors"
	"fmt"
	"net/url"
	"slices"
	"strconv"
	"strings"

	"antiphon/internal/exercise"
	"antiphon/internal/music"
	"antiphon/internal/studio"
)

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
	by       studio.StudentID // whose fingers stand in the passage; "" everybody's
	from, to string
	fault    string
	variants []string
}

func askedOf(q url.Values) asked {
	a := asked{recipe: q.Get("recipe"), lines: map[string]string{}, work: studio.WorkID(q.Get("work")), by: studio.StudentID(q.Get("for")), from: strings.TrimSpace(q.Get("from")), to: strings.TrimSpace(q.Get("to")),
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
	for name, v := range map[string]string{"recipe": a.recipe, "work": string(a.work), "for": string(a.by), "from": a.from, "to": a.to, "fault": a.fault} {
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
