package main

import (
	"encoding/json"
	"errors"
	"fmt"
	"io"
	"io/fs"
	"os"
	"strconv"
	"strings"

	"antiphon/internal/exercise"
	"antiphon/internal/music"
	"antiphon/internal/notation"
)

// exerciseCmd composes an exercise.
type exerciseCmd struct {
	Recipe string `arg:"" optional:"" help:"A recipe: a .yaml file, or the name of one that comes with the program (see --list)."`

	Out   string `short:"o" name:"out" placeholder:"FILE" help:"Write the exercise here, as MusicXML (.musicxml)." type:"path"`
	Force bool   `help:"Write over a file that is there already."`
	JSON  bool   `name:"json" help:"Print what was made for programs (antiphon.exercise/1) instead of the text."`
	List  bool   `help:"List the recipes that come with the program."`
	Show  bool   `help:"Print the recipe instead of composing it, as a beginning for one of your own."`

	FromScore string `placeholder:"SCORE" help:"Make the exercise from a passage of this score." type:"path" group:"From a passage:"`
	Part      int    `default:"1" help:"Part of the score, from 1." group:"From a passage:"`
	Bars      string `placeholder:"5-6" help:"Bars of the passage, as they are numbered." group:"From a passage:"`
	Fault     string `placeholder:"WORDS" help:"What went wrong there: unevenness on a, rushing, late thumb, shift, weak fourth finger, missed string 3, and others." group:"From a passage:"`

	recipeFlags
}

// recipeFlags say what a recipe may say; each has the name of its line there.
type recipeFlags struct {
	Title     string `group:"As in a recipe:" placeholder:"TEXT" help:"What stands over the exercise."`
	Trains    string `group:"As in a recipe:" placeholder:"TEXT" help:"One sentence: what the hands learn."`
	Pattern   string `group:"As in a recipe:" placeholder:"NAME" help:"What is played: scale, degrees, thirds to tenths, arpeggio, chromatic, open strings, chords."`
	Key       string `group:"As in a recipe:" placeholder:"KEY" help:"Keynote and mode: G major, F# harmonic minor."`
	Degrees   string `group:"As in a recipe:" placeholder:"NUMBERS" help:"Figure of pattern degrees: 1 3 2 4."`
	Chords    string `group:"As in a recipe:" placeholder:"CHORDS" help:"Chords of pattern chords: C G7 C."`
	Strings   string `group:"As in a recipe:" placeholder:"NUMBERS" help:"Strings of open strings and chromatic: 6 5 4."`
	Together  string `group:"As in a recipe:" placeholder:"yes" help:"Both notes of an interval at once: yes."`
	Octaves   string `group:"As in a recipe:" placeholder:"N" help:"Compass, 1 to 3."`
	Above     string `group:"As in a recipe:" placeholder:"N" help:"Degrees beyond the upper keynote."`
	Below     string `group:"As in a recipe:" placeholder:"N" help:"Degrees below the lower keynote."`
	Direction string `group:"As in a recipe:" placeholder:"WORD" help:"Way of the line: up, down, up-down, down-up, once."`
	Start     string `group:"As in a recipe:" placeholder:"PLACE" help:"Where the lower keynote lies: 6/3, string 5, G2."`
	Position  string `group:"As in a recipe:" placeholder:"N" help:"Where the left hand stays: 1 to 12, or free."`
	Each      string `group:"As in a recipe:" placeholder:"N" help:"How often each note comes: 1 to 16, or rhythm."`
	RightHand string `group:"As in a recipe:" placeholder:"FINGERS" help:"Fingers in turn: i m, p5 i3 (m2a1), auto, none."`
	Bass      string `group:"As in a recipe:" placeholder:"held" help:"What p plucks sounds on, in a voice of its own: held."`
	Stroke    string `group:"As in a recipe:" placeholder:"STROKE" help:"How the fingers pluck: rest, free, or by finger: p free, i m rest."`
	Rhythm    string `group:"As in a recipe:" placeholder:"RHYTHM" help:"Lengths in turn: eighths, long-short, quarter eighth eighth."`
	Time      string `group:"As in a recipe:" placeholder:"TIME" help:"Time signature: 3/4."`
	Tempo     string `group:"As in a recipe:" placeholder:"BPM" help:"Beats a minute to begin with."`
	Goal      string `group:"As in a recipe:" placeholder:"BPM" help:"Beats a minute to reach."`
	Dynamics  string `group:"As in a recipe:" placeholder:"PLAN" help:"Plan of loudness: terraced f p every 2 bars, echo f p, crescendo p f."`
	Accents   string `group:"As in a recipe:" placeholder:"PLAN" help:"Where accents fall: beats, bars, or every 3 (notes)."`
	Tone      string `group:"As in a recipe:" placeholder:"PLACE" help:"Where the right hand plucks: over the neck, over the hole, near the bridge."`
	Rounds    string `group:"As in a recipe:" placeholder:"N" help:"Times the pattern is written out."`
	Repeat    string `group:"As in a recipe:" placeholder:"N" help:"Times the whole is played."`
	Without   string `group:"As in a recipe:" placeholder:"LIST" help:"Not learnt yet: fourth finger, barre, stretch, a."`
	ScaleMm   string `group:"As in a recipe:" placeholder:"MM" help:"Length of the guitar's open strings."`
	SpanMm    string `group:"As in a recipe:" placeholder:"MM" help:"Span of the left hand, thumb to little finger."`
	Names     string `group:"As in a recipe:" placeholder:"HOW" help:"Names under the notes, to say aloud: letters or do-re-mi."`
	Variants  string `group:"As in a recipe:" placeholder:"LIST" help:"One after the other: plain, backwards, there-and-back, slow-fast, long-short, short-long, slow."`
}

// given lists the flags that were used, by the names of recipe lines.
func (f *recipeFlags) given() map[string]string {
	all := map[string]string{"title": f.Title, "trains": f.Trains, "pattern": f.Pattern, "key": f.Key, "degrees": f.Degrees, "chords": f.Chords,
		"strings": f.Strings, "together": f.Together, "octaves": f.Octaves, "above": f.Above, "below": f.Below, "direction": f.Direction,
		"start": f.Start, "position": f.Position, "each": f.Each, "right-hand": f.RightHand, "bass": f.Bass, "stroke": f.Stroke, "rhythm": f.Rhythm,
		"time": f.Time, "tempo": f.Tempo, "goal": f.Goal, "dynamics": f.Dynamics, "accents": f.Accents, "tone": f.Tone, "rounds": f.Rounds, "repeat": f.Repeat, "without": f.Without, "scale-mm": f.ScaleMm, "span-mm": f.SpanMm, "names": f.Names, "variants": f.Variants}
	for k, v := range all {
		if v == "" {
			delete(all, k)
		}
	}
	return all
}

// Help is what `antiphon exercise --help` says below the usage line.
func (exerciseCmd) Help() string {
	return `Composes an exercise as a fingered score: from a recipe, from flags, or from a passage that needs work. The same recipe
gives the same file, byte for byte. Flags change lines of a recipe.

A recipe is a text file of lines "key: value"; the flags below "As in a recipe" are its keys.

Example:
  antiphon exercise --list
  antiphon exercise two-octaves-in-g -o scale.musicxml
  antiphon exercise two-octaves-in-g --right-hand "m a" --dynamics "echo f p" -o scale.musicxml
  antiphon exercise --pattern thirds --key "A harmonic minor" --rhythm long-short -o thirds.musicxml
  antiphon exercise --from-score study.musicxml --bars 5-6 --fault "unevenness on a" -o even.musicxml
  antiphon exercise --from-score study.musicxml --bars 5-6 --variants "backwards, slow-fast" -o bars.musicxml`
}

func (c *exerciseCmd) check() error {
	fromPassage := c.FromScore != ""
	switch {
	case c.List && (c.Recipe != "" || fromPassage):
		return usage("--list stands alone: leave the recipe and --from-score out")
	case fromPassage && c.Recipe != "":
		return usage("an exercise is made from a recipe or from a passage: leave %s or --from-score out", c.Recipe)
	case fromPassage && c.Bars == "":
		return usage("--from-score needs --bars, such as --bars 5-6")
	case !fromPassage && (c.Bars != "" || c.Fault != ""):
		return usage("--bars and --fault need --from-score")
	case !c.List && !fromPassage && c.Recipe == "" && c.Pattern == "":
		return usage("name a recipe, or say --pattern; antiphon exercise --list shows what there is")
	case c.Show && c.Recipe == "":
		return usage("--show needs the name of a recipe")
	case c.Fault != "" && c.Variants != "":
		return usage("--fault brings its own variants: leave --variants out")
	case c.Part < 1:
		return usage("--part %d is none: parts count from 1", c.Part)
	case c.Out != "" && !strings.HasSuffix(strings.ToLower(c.Out), ".musicxml") && !strings.HasSuffix(strings.ToLower(c.Out), ".xml"):
		return usage("%s is not named as MusicXML: end it in .musicxml", c.Out)
	case c.Out != "" && (c.FromScore != "" && sameFile(c.Out, c.FromScore) || c.Recipe != "" && sameFile(c.Out, c.Recipe)):
		return usage("%s is what is read, and is not written over: name another file", c.Out)
	}
	if fromPassage {
		for name := range c.given() {
			switch name {
			case "right-hand", "names", "tempo", "variants", "without", "scale-mm", "span-mm":
			default:
				return usage("--%s belongs to recipes and cannot be used with --from-score", name)
			}
		}
	}
	return nil
}

// Run composes the exercise, writes it and says what was made.
func (c *exerciseCmd) Run(a *app) error {
	if err := c.check(); err != nil {
		return err
	}
	if c.List {
		return c.list(a.out)
	}
	if c.Show {
		return c.show(a.out)
	}
	if c.Out != "" && !c.Force {
		if _, err := os.Lstat(c.Out); err == nil {
			return existsError(c.Out)
		}
	}
	score, made, err := c.compose()
	if err != nil {
		return err
	}
	if c.Out != "" {
		if err := writeWhole(c.Out, c.Force, func(w io.Writer) error { return notation.WriteMusicXML(w, score) }); err != nil {
			return err
		}
	}
	if c.JSON {
		err = json.NewEncoder(a.out).Encode(struct {
			Schema string `json:"schema"`
			File   string `json:"file,omitempty"`
			exercise.Made
		}{"antiphon.exercise/1", c.Out, made})
	} else {
		err = madeText(a.out, made, c.Out)
	}
	if err != nil {
		return fmt.Errorf("the result could not be printed (%w)", err)
	}
	return nil
}

func (c *exerciseCmd) compose() (*music.Score, exercise.Made, error) {
	if c.FromScore != "" {
		return c.fromPassage()
	}
	r, err := c.recipe()
	if err != nil {
		return nil, exercise.Made{}, err
	}
	score, err := exercise.Compose(r)
	if err != nil {
		return nil, exercise.Made{}, c.ofFlag(err)
	}
	return score, exercise.Describe(score, "", r.Goal), nil
}

// ofFlag says that it is a flag that cannot be read, where it is one and not a line of a recipe.
func (c *exerciseCmd) ofFlag(err error) error {
	p, ok := errors.AsType[*exercise.Problem](err)
	if _, given := c.given()[keyOf(p)]; ok && given && p.Name == "" && p.Line == 0 {
		if p.Kind == exercise.BadRecipe {
			return usage("--%v", err)
		}
		return fmt.Errorf("--%w", err)
	}
	return err
}

func keyOf(p *exercise.Problem) string {
	if p == nil {
		return ""
	}
	return p.Key
}

// recipe reads the recipe and lets the flags change it.
func (c *exerciseCmd) recipe() (exercise.Recipe, error) {
	var r exercise.Recipe
	if c.Recipe != "" {
		data, name, err := c.source()
		if err != nil {
			return r, err
		}
		if r, err = exercise.Read(data, name); err != nil {
			return r, err
		}
	}
	given := c.given()
	for _, f := range r.Fields() { // in their order, so that of two faults always the same is told
		if text, ok := given[f.Name]; ok {
			if err := r.Change(f.Name, text); err != nil {
				return r, usage("--%v", err)
			}
		}
	}
	return r, nil
}

// maxRecipeFile keeps a file that is no recipe out of memory.
const maxRecipeFile = 1 << 20

// source is the text of the recipe: a file where there is one, else one that comes with the program.
func (c *exerciseCmd) source() (data []byte, name string, err error) {
	f, err := os.Open(c.Recipe)
	if errors.Is(err, fs.ErrNotExist) {
		e, ok, err := exercise.ExampleNamed(c.Recipe)
		if err != nil {
			return nil, "", err
		}
		if !ok {
			return nil, "", fmt.Errorf("%s is no file and no recipe that comes with the program: see antiphon exercise --list", c.Recipe)
		}
		return e.Source, e.Name, nil
	}
	if err != nil {
		return nil, "", fmt.Errorf("%s cannot be read (%w): check the name", c.Recipe, cause(err))
	}
	defer f.Close()
	if data, err = io.ReadAll(io.LimitReader(f, maxRecipeFile)); err != nil {
		return nil, "", fmt.Errorf("%s cannot be read (%w): name a recipe", c.Recipe, cause(err))
	}
	return data, c.Recipe, nil
}

func (c *exerciseCmd) fromPassage() (*music.Score, exercise.Made, error) {
	bars, err := exercise.ReadBars(c.Bars)
	if err != nil {
		return nil, exercise.Made{}, usage("--bars: %v", err)
	}
	bars.Part = c.Part - 1
	var r exercise.Recipe
	given := c.given()
	for _, f := range r.Fields() {
		if text, ok := given[f.Name]; ok {
			if err := r.Change(f.Name, text); err != nil {
				return nil, exercise.Made{}, usage("--%v", err)
			}
		}
	}
	wishes := exercise.Wishes{Tempo: r.Tempo, RightHand: r.RightHand, Names: r.Names, Without: r.Without, ScaleMm: r.ScaleMm, SpanMm: r.SpanMm}
	fault := exercise.Fault{}
	if c.Fault != "" {
		if fault, err = exercise.ReadFault(c.Fault); err != nil {
			return nil, exercise.Made{}, usage("--%v", err)
		}
	}
	s, _, err := readScore(c.FromScore)
	if err != nil {
		return nil, exercise.Made{}, err
	}
	if c.Fault == "" {
		score, err := exercise.Vary(s, bars, r.Variants, wishes)
		if err != nil {
			return nil, exercise.Made{}, inFile(c.FromScore, err)
		}
		return score, exercise.Describe(score, "", exercise.GoalOf(s, bars)), nil
	}
	score, reason, err := exercise.Practise(s, bars, fault, wishes)
	if err != nil {
		return nil, exercise.Made{}, inFile(c.FromScore, err)
	}
	return score, exercise.Describe(score, reason, exercise.GoalOf(s, bars)), nil
}

func inFile(name string, err error) error { return fmt.Errorf("%s: %w", name, err) }

func (c *exerciseCmd) list(w io.Writer) error {
	all, err := exercise.Examples()
	if err != nil {
		return err
	}
	if c.JSON {
		type entry struct {
			Name   string `json:"name"`
			Title  string `json:"title"`
			Trains string `json:"trains"`
		}
		out := []entry{}
		for _, e := range all {
			out = append(out, entry{e.Name, e.Recipe.Title, e.Recipe.Trains})
		}
		return json.NewEncoder(w).Encode(out)
	}
	width := 0
	for _, e := range all {
		width = max(width, len(e.Name))
	}
	for _, e := range all {
		if _, err := fmt.Fprintf(w, "%-*s  %s\n", width, e.Name, e.Recipe.Trains); err != nil {
			return err
		}
	}
	return nil
}

func (c *exerciseCmd) show(w io.Writer) error {
	data, _, err := c.source()
	if err != nil {
		return err
	}
	for line := range strings.Lines(string(data)) {
		if _, err := fmt.Fprintln(w, printable(strings.TrimRight(line, "\r\n"))); err != nil {
			return err
		}
	}
	return nil
}

func madeText(w io.Writer, m exercise.Made, file string) error {
	var b strings.Builder
	row := func(name, text string) {
		if text != "" {
			fmt.Fprintf(&b, "%-10s %s\n", name, printable(text))
		}
	}
	fmt.Fprintln(&b, printable(m.Title))
	fmt.Fprintln(&b)
	if m.Reason != "" {
		row("Because", m.Reason)
	} else {
		row("Trains", m.Trains)
	}
	row("Bars", strconv.Itoa(m.Bars))
	row("Notes", fmt.Sprintf("%d, %s to %s", m.Notes, m.Lowest, m.Highest))
	row("Positions", strings.Join(m.Positions, " "))
	row("Plucked by", strings.Join(m.RightHand, " "))
	row("Needs", strings.Join(m.Needs, ", "))
	if m.TempoBpm > 0 {
		t := strconv.FormatFloat(m.TempoBpm, 'f', -1, 64)
		if m.GoalBpm != m.TempoBpm {
			t += " to " + strconv.FormatFloat(m.GoalBpm, 'f', -1, 64)
		}
		row("Tempo", t+" beats a minute")
	}
	if file != "" {
		row("Written to", file)
	}
	_, err := io.WriteString(w, b.String())
	return err
}
