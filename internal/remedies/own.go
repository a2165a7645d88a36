package remedies

import (
	"bytes"
	"encoding/json"
	"errors"
	"fmt"
	"io"
	"maps"
	"regexp"
	"slices"
	"strings"
	"unicode/utf8"

	"antiphon/internal/findings"
)

// Fault is a teacher's entry that cannot be used, with one sentence that says why.
type Fault struct{ ID, Say string }

func (f *Fault) Error() string { return "The remedy “" + f.ID + "”: " + f.Say }

// Limits of what a teacher writes.
const (
	mostText    = 1200 // letters in one field
	mostLines   = 12   // causes, steps or cautions
	mostMinutes = 10   // of one step a day: longer is no step any more
	mostDoc     = 64 << 10
)

// With is the book with a teacher's own words over it: own holds JSON objects by id, each with the
// fields that are to replace the printed ones; an id that is not in the book is a new entry. A
// document that cannot be used is left out and told, and the printed entry stays.
func (b *Book) With(own map[string]json.RawMessage) (*Book, []*Fault) {
	out := &Book{entries: b.Entries(), at: maps.Clone(b.at)}
	var faults []*Fault
	for _, id := range slices.Sorted(maps.Keys(own)) {
		e, err := b.Merged(id, own[id])
		if f, bad := errors.AsType[*Fault](err); bad {
			faults = append(faults, f)
			continue
		}
		if i, there := out.at[id]; there {
			out.entries[i] = e
			continue
		}
		out.at[id] = len(out.entries)
		out.entries = append(out.entries, e)
	}
	return out, faults
}

// Merged is what an entry becomes with a teacher's document over it. The error is a *Fault. Ask this
// before a document is kept.
func (b *Book) Merged(id string, doc json.RawMessage) (Entry, error) {
	e, inBook := b.Entry(id)
	if len(doc) > mostDoc {
		return e, &Fault{id, fmt.Sprintf("it is longer than %d kilobytes. Make it shorter.", mostDoc>>10)}
	}
	// Fields that are lists are replaced, not added to; the decoder would write into the printed one.
	merged := Entry{ID: id, Symptom: e.Symptom, Parent: e.Parent, Sign: e.Sign, Hands: e.Hands, Ask: e.Ask, Remark: e.Remark, Source: e.Source, Hidden: e.Hidden}
	if err := strict(doc, &merged); err != nil {
		return e, &Fault{id, err.Error()}
	}
	if merged.ID != id {
		return e, &Fault{id, fmt.Sprintf("it names itself “%s”; leave its id as it is.", merged.ID)}
	}
	var given map[string]json.RawMessage
	if err := json.Unmarshal(doc, &given); err != nil || given == nil {
		return e, &Fault{id, "it is not a JSON object."}
	}
	if _, ok := given["applies"]; !ok {
		merged.Applies = e.Applies
	}
	if _, ok := given["causes"]; !ok {
		merged.Causes = e.Causes
	}
	if _, ok := given["do"]; !ok {
		merged.Do = e.Do
	}
	if _, ok := given["cautions"]; !ok {
		merged.Cautions = e.Cautions
	}
	if inBook && e.Hands {
		merged.Hands = true // what concerns the body keeps its cautions
	}
	if merged.Source == "" {
		merged.Source = "the teacher's own words"
	}
	if merged.Sign == "" {
		merged.Sign = Seen
	}
	merged.Own = true
	if say := wrong(merged); say != "" {
		return e, &Fault{id, say}
	}
	return merged, nil
}

// strict reads one JSON value with known fields only; the error is one sentence.
func strict(doc []byte, into any) error {
	d := json.NewDecoder(bytes.NewReader(doc))
	d.DisallowUnknownFields()
	err := d.Decode(into)
	if err == nil {
		if _, end := d.Token(); end != io.EOF {
			return errors.New("something follows after its end.")
		}
		return nil
	}
	if t, ok := errors.AsType[*json.UnmarshalTypeError](err); ok {
		return fmt.Errorf("“%s” should be %s, not %s.", t.Field, kindInWords(t.Type.Kind().String()), t.Value)
	}
	if field, ok := strings.CutPrefix(err.Error(), "json: unknown field "); ok {
		return fmt.Errorf("the field %s is not known.", field)
	}
	return errors.New("it is not written as JSON should be.")
}

func kindInWords(k string) string {
	switch k {
	case "string":
		return "text"
	case "int":
		return "a whole number"
	case "bool":
		return "true or false"
	case "slice":
		return "a list"
	}
	return "an object with fields"
}

// wrong is what is wrong with an entry, in one sentence; "" nothing.
func wrong(e Entry) string {
	if !regexp.MustCompile(`^[a-z0-9]+(-[a-z0-9]+)*$`).MatchString(e.ID) || len(e.ID) > 60 {
		return "its id needs small letters, digits and hyphens, at most 60."
	}
	texts := []struct{ name, text string }{{"symptom", e.Symptom}, {"parent", e.Parent}, {"ask", e.Ask}, {"remark", e.Remark}, {"source", e.Source}}
	for _, c := range e.Causes {
		texts = append(texts, struct{ name, text string }{"cause", c.Cause}, struct{ name, text string }{"check", c.Check})
	}
	for _, s := range e.Do {
		texts = append(texts, struct{ name, text string }{"do", s.Do})
		if s.Minutes < 0 || s.Minutes > mostMinutes {
			return fmt.Sprintf("a step takes from 0 to %d minutes a day, not %d.", mostMinutes, s.Minutes)
		}
	}
	for _, c := range e.Cautions {
		texts = append(texts, struct{ name, text string }{"caution", c})
	}
	for _, t := range texts {
		switch {
		case strings.TrimSpace(t.text) == "":
			return "a “" + t.name + "” is empty; every entry needs one."
		case utf8.RuneCountInString(t.text) > mostText:
			return fmt.Sprintf("a “%s” is longer than %d letters.", t.name, mostText)
		case !utf8.ValidString(t.text) || strings.ContainsFunc(t.text, func(r rune) bool { return r < ' ' && r != '\n' && r != '\t' }):
			return "a “" + t.name + "” holds signs that cannot be printed."
		}
	}
	switch {
	case e.Sign != Heard && e.Sign != Seen && e.Sign != Told:
		return "“sign” should be heard, seen or told."
	case len(e.Causes) == 0 || len(e.Causes) > mostLines:
		return fmt.Sprintf("it needs from 1 to %d causes.", mostLines)
	case len(e.Do) == 0 || len(e.Do) > mostLines:
		return fmt.Sprintf("it needs from 1 to %d steps in “do”.", mostLines)
	case e.Hands && len(e.Cautions) == 0:
		return "it concerns the hands or the body, so it needs at least one caution."
	case len(e.Cautions) > mostLines:
		return fmt.Sprintf("it may have at most %d cautions.", mostLines)
	}
	return wrongApplies(e.Applies)
}

func wrongApplies(a Applies) string {
	for _, name := range a.Findings {
		kind, aspect, fine := strings.Cut(name, "/")
		k := findings.Kind(kind)
		if !slices.Contains(findings.Kinds(), k) {
			return "“" + name + "” is no kind of finding."
		}
		if fine && !slices.Contains(k.Aspects(), aspect) {
			return "“" + aspect + "” is no aspect of “" + kind + "”."
		}
	}
	for _, t := range a.Textures {
		if !slices.Contains([]Texture{Scale, Chords, Arpeggio, Tremolo, Voices}, t) {
			return "“" + string(t) + "” is no texture; there are scale, chords, arpeggio, tremolo and voices."
		}
	}
	for _, n := range a.Strings {
		if n < 1 || n > 12 {
			return fmt.Sprintf("there is no string %d.", n)
		}
	}
	for _, f := range a.Fingers {
		if !slices.Contains([]string{"0", "1", "2", "3", "4", "p", "i", "m", "a"}, f) {
			return "“" + f + "” is no finger; there are 0 to 4 and p, i, m, a."
		}
	}
	return ""
}
