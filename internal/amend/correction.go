package amend

import (
	"bytes"
	"encoding/json"
	"errors"
	"fmt"
	"io"
	"math"
	"slices"
	"strings"
)

// Kind of a correction, as the studio keeps it beside its JSON.
type Kind string

// The kinds with their JSON. note is a note id of the score, pass the pass in which, s a second of the
// take, midi a sounding pitch. With a note, pass or s is needed; s also finds the note after a second
// hearing has numbered the passes anew.
const (
	NoteRight       Kind = "note-right"        // {"note":"n12","pass":1,"s":7.31}: called wrong, was right
	NoteWrong       Kind = "note-wrong"        // {"note":"n12","pass":1,"s":7.31,"midi":65}: what was played instead
	NoteMissed      Kind = "note-missed"       // {"note":"n12","pass":1,"s":7.31}: said to be heard, was not played
	MissedWasPlayed Kind = "missed-was-played" // {"note":"n12","pass":1,"s":7.31}: s, if given, is when it began
	NotExtra        Kind = "not-extra"         // {"s":7.31,"midi":70}: the added note there is none
	IgnoreFromTo    Kind = "ignore-from-to"    // {"from_s":10,"to_s":14.5}: talk, tuning, anything that does not count
	ThisIsBar       Kind = "this-is-bar"       // {"at_s":12.3,"bar":"5"}: the bar line of bar 5; needs a second hearing
	NoRestart       Kind = "no-restart"        // {"at_s":12.3}: where the ear said that it resumed
	RestartHere     Kind = "restart-here"      // {"at_s":12.3,"bar":"5"}: went back, and goes on from here; bar may be left out; needs a second hearing
)

// Kinds are all kinds.
func Kinds() []Kind {
	return []Kind{NoteRight, NoteWrong, NoteMissed, MissedWasPlayed, NotExtra, IgnoreFromTo, ThisIsBar, NoRestart, RestartHere}
}

// Correction is one thing that the teacher knows better.
type Correction struct {
	Kind       Kind
	Note       string
	Pass       int
	S          float64
	Midi       int
	FromS, ToS float64
	AtS        float64
	Bar        string
}

// Fault is a correction that cannot be used, with one sentence that says why.
type Fault struct {
	Kind Kind
	Say  string
}

func (f *Fault) Error() string { return "The correction “" + string(f.Kind) + "”: " + f.Say }

// fields are what each kind says; every one is needed except those in brackets.
func (k Kind) fields() []string {
	switch k {
	case NoteRight, NoteMissed, MissedWasPlayed:
		return []string{"note", "(pass)", "(s)"}
	case NoteWrong:
		return []string{"note", "midi", "(pass)", "(s)"}
	case NotExtra:
		return []string{"s", "midi"}
	case IgnoreFromTo:
		return []string{"from_s", "to_s"}
	case ThisIsBar:
		return []string{"at_s", "bar"}
	case NoRestart:
		return []string{"at_s"}
	case RestartHere:
		return []string{"at_s", "(bar)"}
	}
	return nil
}

// longestS is the longest take that anybody could mean: a day.
const longestS = 86400

// Parse reads a correction as the studio keeps it. The error is a *Fault. Whether the note and the bar
// exist is told by Apply, which knows the score.
func Parse(kind string, what json.RawMessage) (Correction, error) {
	k := Kind(kind)
	c := Correction{Kind: k}
	fault := func(format string, args ...any) (Correction, error) {
		return Correction{Kind: k}, &Fault{k, fmt.Sprintf(format, args...)}
	}
	fields := k.fields()
	if fields == nil {
		return fault("there is no such kind of correction.")
	}
	var given map[string]json.RawMessage
	d := json.NewDecoder(bytes.NewReader(what))
	if err := d.Decode(&given); err != nil || given == nil {
		return fault("it is not a JSON object.")
	}
	if _, err := d.Token(); !errors.Is(err, io.EOF) {
		return fault("something follows after its end.")
	}
	into := map[string]any{"note": &c.Note, "pass": &c.Pass, "s": &c.S, "midi": &c.Midi, "from_s": &c.FromS, "to_s": &c.ToS, "at_s": &c.AtS, "bar": &c.Bar}
	for name, value := range given {
		if !slices.ContainsFunc(fields, func(f string) bool { return strings.Trim(f, "()") == name }) {
			return fault("it says “%s”, which has no meaning here.", name)
		}
		if err := json.Unmarshal(value, into[name]); err != nil || string(value) == "null" {
			return fault("“%s” is of the wrong sort.", name)
		}
	}
	for _, f := range fields {
		if _, ok := given[f]; !ok && !strings.HasPrefix(f, "(") {
			return fault("“%s” is missing.", f)
		}
	}
	_, pass := given["pass"]
	_, s := given["s"]
	switch {
	case slices.Contains(fields, "note") && (c.Note == "" || len(c.Note) > 20):
		return fault("“note” should be the id of a note.")
	case slices.Contains(fields, "(pass)") && !pass && !s:
		return fault("it needs “pass” or “s”: a note may be played more than once.")
	case pass && c.Pass < 1:
		return fault("“pass” counts from 1.")
	case slices.Contains(fields, "midi") && (c.Midi < 20 || c.Midi > 108):
		return fault("“midi” should be a pitch from 20 to 108.")
	case (slices.Contains(fields, "bar") || given["bar"] != nil) && (c.Bar == "" || len(c.Bar) > 20):
		return fault("“bar” should be the number of a bar as printed.")
	}
	for _, v := range []float64{c.S, c.FromS, c.ToS, c.AtS} {
		if v < 0 || v > longestS || math.IsNaN(v) {
			return fault("seconds count from the start of the take.")
		}
	}
	if k == IgnoreFromTo && c.ToS <= c.FromS {
		return fault("“to_s” should come after “from_s”.")
	}
	return c, nil
}
