package main

import (
	"bufio"
	"encoding/json"
	"errors"
	"fmt"
	"io"
	"os"
	"path/filepath"
	"strconv"
	"strings"

	"antiphon/internal/difficulty"
	"antiphon/internal/guitar"
	"antiphon/internal/hands"
	"antiphon/internal/music"
	"antiphon/internal/notation"
	"antiphon/internal/pluck"
)

// fingerCmd chooses strings, frets and fingers for a score.
type fingerCmd struct {
	File string `arg:"" help:"The score: MusicXML (.musicxml, .mxl), MIDI or ABC." type:"path"`
	JSON bool   `name:"json" help:"Print the answer for programs (antiphon.fingering/1) instead of the text."`
	Out  string `short:"o" help:"Write the score with the fingering in it, as MusicXML." placeholder:"FILE"`

	Fix    []string `help:"Take a note so: n12:3/1 is note n12 on string 3 with finger 1; n12:3/ and n12:/1 leave one open." placeholder:"NOTE:STRING/FINGER"`
	Forbid []string `help:"Do not take a note so." placeholder:"NOTE:STRING/FINGER"`

	From string `help:"First bar of a passage." placeholder:"BAR"`
	To   string `help:"Last bar of a passage." placeholder:"BAR"`
	Best int    `short:"k" help:"How many different answers to give, the best one counted." default:"3" placeholder:"N"`

	NoFourth      bool `name:"no-fourth" help:"The fourth finger is not used yet."`
	NoBarre       bool `name:"no-barre" help:"No barre yet."`
	FirstPosition bool `name:"first-position" help:"First position only."`
	NoStretch     bool `name:"no-stretch" help:"No stretches."`
	HardestFirst  bool `name:"hardest-first" help:"For beginners: the hardest move as easy as can be, the sum second."`

	Tuning  string  `help:"Open strings from the lowest to the highest: D2 A2 D3 G3 B3 E4." placeholder:"NOTES"`
	Capo    int     `help:"Fret of the capo." placeholder:"FRET"`
	ScaleMm float64 `name:"scale" help:"Length of the open strings in mm." placeholder:"MM"`
	SpanMm  float64 `name:"span" help:"Span of the left hand in mm, tip of thumb to tip of little finger." placeholder:"MM"`
	NoA     bool    `name:"no-a" help:"The right hand's ring finger is not used yet."`
	Pattern string  `help:"The right hand's pattern, begun again in every bar of the passage: p i m a." placeholder:"PIMA"`
	Rest    bool    `name:"rest-strokes" help:"Melodies with rest strokes, wherever the string they land on is quiet."`
	Force   bool    `help:"Replace a file that is there already."`
}

// Help is what `antiphon finger --help` says below the usage line.
func (fingerCmd) Help() string {
	return `Chooses string, fret and left-hand finger for every note, and right-hand fingers, and says which bars ask most of the hands
and what they must be able to do. Marks that stand in the score are kept. Note ids are those of antiphon score.

Example:
  antiphon finger study.musicxml
  antiphon finger study.musicxml -o fingered.musicxml --no-barre --span 165 --scale 580
  antiphon finger study.musicxml --from 9 --to 12 -k 5 --fix n61:2/4 --json`
}

const (
	mostAnswers = 50
	schemaHands = "antiphon.fingering/1"
)

// Run chooses and prints.
func (c *fingerCmd) Run(a *app) error {
	o, err := c.options()
	if err != nil {
		return err
	}
	if c.Out != "" {
		if ext := strings.ToLower(filepath.Ext(c.Out)); ext != ".musicxml" && ext != ".xml" {
			return usage("%s is not named as MusicXML: end it in .musicxml", c.Out)
		}
		if sameFile(c.Out, c.File) {
			return usage("%s is what is read, and is not written over: name another file", c.Out)
		}
		if _, err := os.Lstat(c.Out); err == nil && !c.Force {
			return existsError(c.Out)
		}
	}
	s, _, err := readScore(c.File)
	if err != nil {
		return err
	}
	f, err := hands.Finger(s, o)
	switch {
	case errors.Is(err, hands.ErrNoNotes):
		return fmt.Errorf("%s has no pitched notes here, so there is nothing to finger: choose another score or passage", c.File)
	case errors.Is(err, hands.ErrTooLong):
		return fmt.Errorf("%s: %v with --from and --to", c.File, err)
	case errors.Is(err, hands.ErrWish):
		return usage("--fix, --forbid: %s", strings.TrimPrefix(err.Error(), hands.ErrWish.Error()+": "))
	case errors.Is(err, hands.ErrPassage):
		return usage("--from, --to: %s", strings.TrimPrefix(err.Error(), hands.ErrPassage.Error()+": "))
	case errors.Is(err, guitar.ErrInstrument):
		return usage("%v", err)
	case err != nil:
		return fmt.Errorf("%s could not be fingered (%w): try again, and report it if it stays", c.File, err)
	}
	places := map[string]guitar.Place{}
	for _, n := range f.Notes {
		if n.Finger >= 0 {
			places[n.ID] = n.Place
		}
	}
	plan, err := pluck.Assign(s, places, pluck.Options{Instrument: f.Instrument, NoA: c.NoA, Pattern: c.Pattern, From: c.From, To: c.To, Rest: c.Rest})
	switch {
	case errors.Is(err, pluck.ErrPattern):
		return usage("%v", err)
	case err != nil:
		return fmt.Errorf("%s: the right hand could not be chosen (%w): try again, and report it if it stays", c.File, err)
	}
	withoutPlace(plan, places)
	f.Write(s)
	plan.Write(s)
	if c.Out != "" {
		if err := writeWhole(c.Out, c.Force, func(w io.Writer) error { return notation.WriteMusicXML(w, s) }); err != nil {
			return err
		}
	}
	asks := profileOf(s, f, o.Hand)
	out := bufio.NewWriter(a.out)
	if c.JSON {
		err = fingeringJSON(out, f, plan, asks)
	} else {
		fingeringText(out, s, f, plan)
		profileText(out, asks)
	}
	if err == nil {
		err = out.Flush()
	}
	if err != nil {
		return fmt.Errorf("the fingering could not be printed (%w)", err)
	}
	return nil
}

func (c *fingerCmd) options() (o hands.Options, err error) {
	switch {
	case c.Best < 1 || c.Best > mostAnswers:
		return o, usage("-k %d: give 1 to %d answers", c.Best, mostAnswers)
	case c.SpanMm != 0 && !(c.SpanMm >= 80 && c.SpanMm <= 280):
		return o, usage("--span %v mm is no hand: give 80 to 280", c.SpanMm)
	}
	o = hands.Options{K: c.Best, From: c.From, To: c.To, Minimax: c.HardestFirst,
		Instrument: guitar.Instrument{ScaleMm: c.ScaleMm, Capo: c.Capo},
		Skills:     hands.Skills{NoFourthFinger: c.NoFourth, NoBarre: c.NoBarre, FirstPosition: c.FirstPosition, NoStretch: c.NoStretch}}
	if c.SpanMm != 0 {
		o.Hand = guitar.ChildHand(c.SpanMm)
	}
	if c.Tuning != "" {
		if o.Instrument.Open, err = tuning(c.Tuning); err != nil {
			return o, err
		}
	}
	if err := o.Instrument.Check(); err != nil {
		return o, usage("%v", err)
	}
	if o.Fix, err = wishes("--fix", c.Fix); err != nil {
		return o, err
	}
	o.Forbid, err = wishes("--forbid", c.Forbid)
	return o, err
}

// tuning reads "E2 A2 D3 G3 B3 E4", the lowest string first.
func tuning(text string) ([]int, error) {
	var open []int
	for _, t := range strings.FieldsFunc(text, func(r rune) bool { return r == ' ' || r == ',' }) {
		midi, ok := pitchNamed(t)
		if !ok {
			return nil, usage("--tuning: %q is no note; write the strings from the lowest, as in E2 A2 D3 G3 B3 E4", t)
		}
		open = append([]int{midi}, open...)
	}
	if len(open) < 4 {
		return nil, usage("--tuning %q names %d strings; name at least 4, from the lowest, as in E2 A2 D3 G3 B3 E4", text, len(open))
	}
	return open, nil
}

// pitchNamed reads a pitch as scientific notation writes it: C4 is 60, F#3, Bb2.
func pitchNamed(t string) (midi int, ok bool) {
	steps := map[byte]int{'C': 0, 'D': 2, 'E': 4, 'F': 5, 'G': 7, 'A': 9, 'B': 11}
	if len(t) < 2 {
		return 0, false
	}
	step, ok := steps[t[0]&^0x20]
	if !ok {
		return 0, false
	}
	rest := strings.TrimLeft(t[1:], "#b")
	for _, r := range t[1 : len(t)-len(rest)] {
		if r == '#' {
			step++
		} else {
			step--
		}
	}
	octave, err := strconv.Atoi(rest)
	if err != nil || octave < -1 || octave > 9 {
		return 0, false
	}
	return 12*(octave+1) + step, true
}

// wishes reads NOTE:STRING/FINGER.
func wishes(flag string, list []string) ([]hands.Wish, error) {
	var out []hands.Wish
	for _, t := range list {
		note, rest, ok := strings.Cut(t, ":")
		str, fin, slash := strings.Cut(rest, "/")
		w := hands.Wish{Note: note, Finger: -1}
		var errS, errF error
		if str != "" {
			w.String, errS = strconv.Atoi(str)
		}
		if fin != "" {
			w.Finger, errF = strconv.Atoi(fin)
		}
		if !ok || !slash || note == "" || errS != nil || errF != nil || str == "" && fin == "" || str != "" && w.String < 1 || w.Finger > 4 || fin != "" && w.Finger < 0 {
			return nil, usage("%s %q: write NOTE:STRING/FINGER, as in n12:3/1, n12:3/ or n12:/1; fingers are 0 (open) to 4", flag, t)
		}
		out = append(out, w)
	}
	return out, nil
}

// The answer as JSON.
type (
	fingeringDocument struct {
		Schema       string            `json:"schema"`
		Tuning       []int             `json:"tuning"` // MIDI numbers of the open strings, the first string first
		Cost         float64           `json:"cost"`   // a difference of 1 makes a choice e times less likely
		Notes        []fingerJSON      `json:"notes"`
		Alternatives []alternativeJSON `json:"alternatives"`
		Starts       []startJSON       `json:"pluck_starts"` // why a run begins with the finger that it begins with
		Difficulty   difficultyJSON    `json:"difficulty"`
		Told         []toldJSON        `json:"told"`
	}
	fingerJSON struct {
		ID      string       `json:"id"`
		Part    string       `json:"part"`
		Bar     string       `json:"bar"`
		OnsetQ  float64      `json:"onset_q"`
		Midi    int          `json:"midi"`
		Name    string       `json:"name"`
		String  *int         `json:"string"`
		Fret    *int         `json:"fret"`
		Finger  *int         `json:"finger"`
		Pluck   *string      `json:"pluck"`
		Stroke  *string      `json:"stroke"`   // "rest stroke" or "free stroke"; null where none is marked or was asked for
		MayRest bool         `json:"may_rest"` // a rest stroke would land on a string that is quiet
		Why     string       `json:"pluck_note,omitempty"`
		Options []optionJSON `json:"options"`
	}
	optionJSON struct {
		String    int     `json:"string"`
		Fret      int     `json:"fret"`
		Finger    int     `json:"finger"`
		ExtraCost float64 `json:"extra_cost"`
		Reason    string  `json:"reason"`
	}
	alternativeJSON struct {
		Cost      float64      `json:"cost"`
		ExtraCost float64      `json:"extra_cost"`
		Reason    string       `json:"reason"`
		Changed   []changeJSON `json:"changed"` // the notes that are taken otherwise than in the best answer
	}
	changeJSON struct {
		ID     string `json:"id"`
		String int    `json:"string"`
		Fret   int    `json:"fret"`
		Finger int    `json:"finger"`
	}
	toldJSON struct {
		Kind  string   `json:"kind"`
		Bar   string   `json:"bar"`
		Notes []string `json:"notes"`
		Text  string   `json:"text"`
	}
)

func fingeringJSON(w io.Writer, f *hands.Fingering, plan *pluck.Plan, asks difficulty.Report) error {
	d := fingeringDocument{Schema: schemaHands, Tuning: []int{}, Cost: f.Cost, Notes: []fingerJSON{}, Alternatives: []alternativeJSON{},
		Starts: []startJSON{}, Difficulty: difficultyOf(asks), Told: []toldJSON{}}
	for str := 1; str <= f.Instrument.Strings(); str++ {
		d.Tuning = append(d.Tuning, f.Instrument.Pitch(str, 0))
	}
	for _, n := range f.Notes {
		j := fingerJSON{ID: n.ID, Part: n.Part, Bar: n.Bar, OnsetQ: n.Onset.Q(), Midi: n.Midi, Name: n.Name, Options: []optionJSON{}}
		if n.Finger >= 0 {
			j.String, j.Fret, j.Finger = &n.Place.String, &n.Place.Fret, &n.Finger
		}
		ch := pluckOf(plan, n.ID)
		if ch.Finger != "" {
			j.Pluck = &ch.Finger
		}
		if ch.Stroke != music.NoStroke {
			stroke := string(ch.Stroke)
			j.Stroke = &stroke
		}
		j.MayRest, j.Why = ch.MayRest, ch.Why
		for _, op := range n.Options {
			j.Options = append(j.Options, optionJSON{op.Place.String, op.Place.Fret, op.Finger, op.ExtraCost, op.Reason})
		}
		d.Notes = append(d.Notes, j)
	}
	for _, alt := range f.Alternatives {
		j := alternativeJSON{Cost: alt.Cost, ExtraCost: alt.Cost - f.Cost, Reason: alt.Reason}
		for i, n := range f.Notes {
			if alt.Places[i] != n.Place || alt.Finger[i] != n.Finger {
				j.Changed = append(j.Changed, changeJSON{n.ID, alt.Places[i].String, alt.Places[i].Fret, alt.Finger[i]})
			}
		}
		d.Alternatives = append(d.Alternatives, j)
	}
	bars := barsOf(f)
	for _, st := range plan.Starts {
		d.Starts = append(d.Starts, startJSON{st.Note, bars[st.Note], st.Finger, st.Reason})
	}
	for _, t := range f.Told {
		notes := t.Notes
		if notes == nil {
			notes = []string{}
		}
		d.Told = append(d.Told, toldJSON{string(t.Kind), t.Bar, notes, t.Text})
	}
	return json.NewEncoder(w).Encode(d)
}

// pluckOf finds what the right hand does with a note. Ids count from n1 in the order of the plan.
func pluckOf(plan *pluck.Plan, id string) pluck.Choice {
	if k, err := strconv.Atoi(strings.TrimPrefix(id, "n")); err == nil && k >= 1 && k <= len(plan.Notes) && plan.Notes[k-1].ID == id {
		return plan.Notes[k-1]
	}
	return pluck.Choice{}
}

// barsOf gives the number of the bar by note id.
func barsOf(f *hands.Fingering) map[string]string {
	bars := make(map[string]string, len(f.Notes))
	for _, n := range f.Notes {
		bars[n.ID] = n.Bar
	}
	return bars
}

// mostReleased of the held notes that are let go early are told one by one.
const mostReleased = 5

func fingeringText(w io.Writer, s *music.Score, f *hands.Fingering, plan *pluck.Plan) {
	title := s.Title
	if title == "" {
		title = "Without a title"
	}
	fmt.Fprintf(w, "%s\n\n", printable(title))
	fmt.Fprintf(w, "%-7s %-6s %-7s %-6s %-7s %-5s %-7s %s\n", "Note", "Bar", "At", "Pitch", "String", "Fret", "Finger", "Right hand")
	for _, n := range f.Notes {
		str, fret, finger := "–", "–", "–"
		if n.Finger >= 0 {
			str, fret, finger = strconv.Itoa(n.Place.String), strconv.Itoa(n.Place.Fret), strconv.Itoa(n.Finger)
		}
		at := n.Onset.Sub(s.Bars[n.BarIndex].Start).Add(music.Quarters(1, 1))
		line := fmt.Sprintf("%-7s %-6s %-7s %-6s %-7s %-5s %-7s %s", n.ID, printable(n.Bar), mixed(at), n.Name, str, fret, finger, strokeText(pluckOf(plan, n.ID)))
		fmt.Fprintln(w, strings.TrimRight(line, " "))
	}
	for i, alt := range f.Alternatives {
		fmt.Fprintf(w, "\nAnother way (%d), dearer by %.2f: %s.\n ", i+1, alt.Cost-f.Cost, alt.Reason)
		for k, id := range alt.Change {
			if k == 12 {
				fmt.Fprintf(w, ", and %d more notes", len(alt.Change)-k)
				break
			}
			for j, n := range f.Notes {
				if n.ID == id {
					if k > 0 {
						fmt.Fprint(w, ",")
					}
					fmt.Fprintf(w, " %s %s on string %d fret %d with finger %d", n.ID, n.Name, alt.Places[j].String, alt.Places[j].Fret, alt.Finger[j])
				}
			}
		}
		fmt.Fprintln(w)
	}
	startsText(w, plan, barsOf(f))
	if len(f.Told) > 0 {
		fmt.Fprintln(w)
	}
	released := 0
	for _, t := range f.Told {
		if t.Kind == hands.Released {
			if released++; released > mostReleased {
				continue
			}
		}
		fmt.Fprintln(w, printable(toldText(t)))
	}
	if released > mostReleased {
		fmt.Fprintf(w, "%d more held notes must be let go early; --json lists them.\n", released-mostReleased)
	}
}
