// Package amend applies what a teacher knows better to a hearing: this note was right, that was talk,
// here is bar 5. The hearing that was measured is not changed; a corrected copy follows, with findings
// and with what changed in words.
//
// It measures nothing. What cannot be mended without listening again (this is bar 5) is handed back as
// hints for the ear. A correction that does not fit the hearing is told and left out.
package amend

import (
	"fmt"
	"math"
	"slices"
	"unicode"
	"unicode/utf8"

	"antiphon/internal/ear"
	"antiphon/internal/findings"
	"antiphon/internal/music"
)

// Result is a hearing with corrections.
type Result struct {
	Hearing  *ear.Hearing       // a copy; the measured one where nothing could be applied
	Findings []findings.Finding // of the corrected hearing
	Changed  []string           // one sentence for each correction that was applied, in order
	Left     []*Fault           // those that do not fit this hearing
	Each     []Outcome          // one for each correction, in order
	Hints    []ear.Hint         // not empty: the take should be heard once more with these
}

// Outcome is what became of one correction.
type Outcome struct {
	Applied bool
	Say     string // one sentence
}

// editor holds the copy while it is corrected.
type editor struct {
	h     *ear.Hearing
	score *music.Score
	at    map[string]int // note id to index
	pulse bool           // onsets or passes have changed: tempo and timing are measured anew
}

// Apply corrects a hearing. Corrections are applied in order; later ones see what earlier ones did.
func Apply(h *ear.Hearing, score *music.Score, corrections []Correction, opt findings.Options) Result {
	e := &editor{h: copied(h), score: score, at: map[string]int{}}
	for i, n := range h.Score {
		e.at[n.ID] = i
	}
	r := Result{}
	for _, c := range corrections {
		said, err := e.apply(c, &r)
		if err != nil {
			r.Left = append(r.Left, &Fault{c.Kind, err.Error()})
			r.Each = append(r.Each, Outcome{false, capital(err.Error())})
			continue
		}
		r.Changed = append(r.Changed, said)
		r.Each = append(r.Each, Outcome{true, said})
	}
	if e.pulse {
		e.h.Pulse(score)
	}
	r.Hearing = e.h
	r.Findings = findings.Of(e.h, score, opt)
	return r
}

// copied is a hearing whose lists may be written to.
func copied(h *ear.Hearing) *ear.Hearing {
	c := *h
	c.Passes, c.Jumps, c.Played, c.Missed = slices.Clone(h.Passes), slices.Clone(h.Jumps), slices.Clone(h.Played), slices.Clone(h.Missed)
	c.Tempo.Curve = slices.Clone(h.Tempo.Curve)
	return &c
}

func (e *editor) apply(c Correction, r *Result) (string, error) {
	switch c.Kind {
	case NoteRight:
		return e.noteRight(c)
	case NoteWrong:
		return e.noteWrong(c)
	case NoteMissed:
		return e.noteMissed(c)
	case MissedWasPlayed:
		return e.wasPlayed(c)
	case NotExtra:
		return e.notExtra(c)
	case IgnoreFromTo:
		return e.ignore(c)
	case NoRestart:
		return e.noRestart(c, r)
	case ThisIsBar, RestartHere:
		h, err := hint(e.score, c)
		if err != nil {
			return "", err
		}
		said := "stands bar " + c.Bar
		if c.Kind == RestartHere {
			said = "the playing began anew"
			if c.Bar != "" {
				said += " with bar " + c.Bar
			}
		}
		if e.heeds(h) {
			return fmt.Sprintf("At %s %s, as it is heard.", clockTime(c.AtS), said), nil
		}
		r.Hints = append(r.Hints, h)
		return fmt.Sprintf("At %s %s: the take is heard once more with that.", clockTime(c.AtS), said), nil
	}
	return "", fmt.Errorf("“%s” is no kind of correction.", c.Kind)
}

// Two moments so near are one and the same, also where a second hearing moved it a little.
const sameS = 0.12

// near is how far the time told with a correction lies from a moment; where none was told, the passes
// have to agree.
func near(c Correction, pass int, s float64) float64 {
	switch {
	case c.S > 0:
		return math.Abs(c.S - s)
	case c.Pass == pass:
		return 0
	}
	return math.Inf(1)
}

// played finds the note of a correction among those that were heard.
func (e *editor) played(c Correction) int {
	best, far := -1, 1.0 // a second hearing does not move a note by more than a second
	for i, n := range e.h.Played {
		if n.Note < 0 || e.h.Score[n.Note].ID != c.Note {
			continue
		}
		if d := near(c, n.Pass, n.OnsetS); d < far {
			best, far = i, d
		}
	}
	return best
}

// missed finds it among those that were not.
func (e *editor) missed(c Correction) int {
	best, far := -1, 1.0
	for i, n := range e.h.Missed {
		if e.h.Score[n.Note].ID != c.Note {
			continue
		}
		if d := near(c, n.Pass, n.ExpectedS); d < far {
			best, far = i, d
		}
	}
	return best
}

func (e *editor) place(note int) string {
	n := e.h.Score[note]
	return findings.Place(e.score, n) + ": the " + findings.Pitch(n.Name)
}

func (e *editor) noteRight(c Correction) (string, error) {
	i := e.played(c)
	if i < 0 {
		return "", e.nowhere(c, "was not heard there")
	}
	n := &e.h.Played[i]
	was := findings.Heard(e.score, n.Midi, e.h.Score[n.Note])
	if n.Verdict == ear.Right {
		n.Confidence = 1
		return e.place(n.Note) + " is right, as it was heard.", nil
	}
	n.Verdict, n.Midi, n.Cents, n.Confidence = ear.Right, e.h.Score[n.Note].Midi, 0, 1
	return fmt.Sprintf("%s counts as right; the ear had heard %s.", e.place(n.Note), was), nil
}

func (e *editor) noteWrong(c Correction) (string, error) {
	i := e.played(c)
	if i < 0 {
		if k := e.missed(c); k >= 0 {
			i = e.begin(k, c.S)
		} else {
			return "", e.nowhere(c, "was not heard there")
		}
	}
	n := &e.h.Played[i]
	w := e.h.Score[n.Note]
	if w.Midi == c.Midi {
		return "", fmt.Errorf("%s is the very note that is written; say note-right.", findings.Pitch(w.Name))
	}
	n.Verdict, n.Midi, n.Cents, n.Confidence = ear.Wrong, c.Midi, 0, 1
	return fmt.Sprintf("%s was played as %s.", e.place(n.Note), findings.Heard(e.score, c.Midi, w)), nil
}

func (e *editor) noteMissed(c Correction) (string, error) {
	i := e.played(c)
	if i < 0 {
		return "", e.nowhere(c, "was not heard there anyway")
	}
	n := e.h.Played[i]
	e.h.Played = slices.Delete(e.h.Played, i, i+1)
	e.h.Missed = append(e.h.Missed, ear.Missed{Note: n.Note, Pass: n.Pass, ExpectedS: n.OnsetS - n.TimingMs/1000, Confidence: 1})
	slices.SortStableFunc(e.h.Missed, func(a, b ear.Missed) int { return order(a.ExpectedS, b.ExpectedS) })
	e.pulse = true
	return e.place(n.Note) + " was not played.", nil
}

func (e *editor) wasPlayed(c Correction) (string, error) {
	k := e.missed(c)
	if k < 0 {
		return "", e.nowhere(c, "is not among the missed ones")
	}
	i := e.begin(k, c.S)
	return e.place(e.h.Played[i].Note) + " was played after all.", nil
}

// begin turns a missed note into a right one that began at s, or where it was expected; it gives its
// index in Played.
func (e *editor) begin(missed int, s float64) int {
	m := e.h.Missed[missed]
	if s <= 0 || math.Abs(s-m.ExpectedS) > 1 {
		s = m.ExpectedS
	} else {
		e.pulse = true
	}
	e.h.Missed = slices.Delete(e.h.Missed, missed, missed+1)
	n := ear.Played{Note: m.Note, Pass: m.Pass, OnsetS: s, OffsetS: s, Midi: e.h.Score[m.Note].Midi, Verdict: ear.Right, Confidence: 1}
	i, _ := slices.BinarySearchFunc(e.h.Played, s, func(p ear.Played, s float64) int { return order(p.OnsetS, s) })
	e.h.Played = slices.Insert(e.h.Played, i, n)
	return i
}

func (e *editor) notExtra(c Correction) (string, error) {
	best, far := -1, sameS
	for i, n := range e.h.Played {
		if d := math.Abs(n.OnsetS - c.S); n.Verdict == ear.Extra && n.Midi == c.Midi && d < far {
			best, far = i, d
		}
	}
	if best < 0 {
		return "", fmt.Errorf("there is no added note of that pitch at %s.", clockTime(c.S))
	}
	n := e.h.Played[best]
	e.h.Played = slices.Delete(e.h.Played, best, best+1)
	return fmt.Sprintf("The %s at %s is no added note.", findings.Heard(e.score, n.Midi, music.Sounding{Part: firstPart(e.score)}), clockTime(n.OnsetS)), nil
}

func (e *editor) nowhere(c Correction, why string) error {
	n, ok := e.at[c.Note]
	if !ok {
		return fmt.Errorf("this score has no note %s.", c.Note)
	}
	return fmt.Errorf("%s %s.", e.place(n), why)
}

func firstPart(s *music.Score) string {
	if len(s.Parts) == 0 {
		return ""
	}
	return s.Parts[0].ID
}

func barIndex(s *music.Score, number string) int {
	return slices.IndexFunc(s.Bars, func(b music.Bar) bool { return b.Number == number })
}

func order(a, b float64) int {
	switch {
	case a < b:
		return -1
	case a > b:
		return 1
	}
	return 0
}

func capital(s string) string {
	r, n := utf8.DecodeRuneInString(s)
	return string(unicode.ToUpper(r)) + s[n:]
}

// clockTime is "1:07".
func clockTime(s float64) string {
	n := int(s)
	return fmt.Sprintf("%d:%02d", n/60, n%60)
}
