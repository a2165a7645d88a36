package library

import (
	"cmp"
	"context"
	"errors"
	"fmt"
	"maps"
	"slices"
	"strings"

	"antiphon/internal/difficulty"
	"antiphon/internal/engrave"
	"antiphon/internal/guitar"
	"antiphon/internal/hands"
	"antiphon/internal/music"
	"antiphon/internal/pluck"
	"antiphon/internal/studio"
)

// fingered is what hands found: the best way first.
type fingered struct {
	Ways  []way
	Told  []string // what could not be had, or was assumed
	Asks  asks     // of the first way
	Notes []noteWays
}

// way is one fingering of the whole passage.
type way struct {
	xml     string // the score with it
	rings   []engrave.Overlay
	Reason  string // against the first: what it costs and gives, one sentence
	Bars    string // where it differs: "bar 3", "bars 3–5"
	From    string // the bars to look at, as printed
	Until   string
	Changes []string // note by note
}

// Gives is the state that a work's score is in once this way was kept.
func (w way) Gives() string { return sum(w.xml) }

// noteWays are the ways to take one note.
type noteWays struct {
	ID, Name, Bar string
	Beat          string
	Taken         string // "string 3, fret 4, finger 3"
	Others        []noteWay
}

type noteWay struct {
	Fix    string // as choices have it
	Words  string
	Reason string
}

const (
	mostTold    = 12
	barsBeside  = 4 // at most, in the pictures of one way beside the first
	mostChanges = 10
	mostOthers  = 5           // ways to take one note, the best first
	otherwise   = "otherwise" // role of a note that is taken otherwise than in the first way
)

// finger works out how a score can be taken.
func finger(ctx context.Context, one studio.Work, c choices) (*fingered, error) {
	opt, err := c.options()
	if err != nil {
		return nil, err
	}
	base, err := scoreOf(one)
	if err != nil {
		return nil, err
	}
	first, last, err := barsOf(base, c.From, c.To)
	if err != nil {
		return nil, err
	}
	if c.Anew {
		clearMarks(base, first, last, c.Leave)
	}
	f, err := hands.Finger(base, opt)
	if err != nil {
		return nil, unfingered(err)
	}
	xml, err := written(base)
	if err != nil {
		return nil, err
	}
	fresh := one
	fresh.Score = xml
	out := &fingered{}
	for k := range len(f.Alternatives) + 1 {
		if err := ctx.Err(); err != nil {
			return nil, err
		}
		w, s, err := writeWay(fresh, f, k, c)
		if err != nil {
			return nil, err
		}
		if k == 0 {
			out.Asks = asksOf(profileOf(s, f, opt.Hand), len(f.Notes))
		} else {
			w.against(s, f, f.Alternatives[k-1])
		}
		out.Ways = append(out.Ways, w)
	}
	out.Told, out.Notes = told(f), notesOf(base, f)
	return out, nil
}

// writeWay writes the k-th way into a score of its own, 0 being the best.
func writeWay(one studio.Work, f *hands.Fingering, k int, c choices) (way, *music.Score, error) {
	s, err := scoreOf(one)
	if err != nil {
		return way{}, nil, err
	}
	g := *f
	g.Notes = slices.Clone(f.Notes)
	if k > 0 {
		for i := range g.Notes {
			g.Notes[i].Place, g.Notes[i].Finger = f.Alternatives[k-1].Places[i], f.Alternatives[k-1].Finger[i]
		}
	}
	g.Write(s)
	if !c.Leave {
		if err := pluckOf(s, &g, c); err != nil {
			return way{}, nil, err
		}
	}
	xml, err := written(s)
	if err != nil {
		return way{}, nil, err
	}
	return way{xml: xml}, s, nil
}

// pluckOf chooses the right hand for a left hand and writes it.
func pluckOf(s *music.Score, f *hands.Fingering, c choices) error {
	places := map[string]guitar.Place{}
	for _, n := range f.Notes {
		if n.Finger >= 0 {
			places[n.ID] = n.Place
		}
	}
	plan, err := pluck.Assign(s, places, pluck.Options{Instrument: f.Instrument, NoA: c.NoA, Pattern: c.Pattern, From: c.From, To: c.To, Rest: c.Rest})
	if errors.Is(err, pluck.ErrPattern) {
		return &studio.Problem{Kind: studio.Invalid, Say: sentence(err.Error()), Err: err}
	}
	if err != nil {
		return err
	}
	for i := range plan.Notes { // a note without a place keeps the marks that it has
		if n := &plan.Notes[i]; places[n.ID].String == 0 {
			n.Finger, n.Stroke = "", music.NoStroke
		}
	}
	plan.Write(s)
	return nil
}

// against says where a way differs from the first, and how.
func (w *way) against(s *music.Score, f *hands.Fingering, alt hands.Alternative) {
	w.Reason = sentence(alt.Reason)
	at := map[string]int{}
	for i, n := range f.Notes {
		at[n.ID] = i
	}
	bars := map[int]bool{}
	for _, id := range alt.Change {
		n := f.Notes[at[id]]
		bars[n.BarIndex] = true
		w.rings = append(w.rings, engrave.Overlay{Note: id, Kind: engrave.Ring, Dashed: true, Role: otherwise, Text: n.Name + " is taken otherwise"})
		if len(w.Changes) < mostChanges {
			w.Changes = append(w.Changes, fmt.Sprintf("Bar %s: %s on %s.", n.Bar, n.Name, taken(alt.Places[at[id]], alt.Finger[at[id]])))
		}
	}
	if more := len(alt.Change) - mostChanges; more > 0 {
		w.Changes = append(w.Changes, fmt.Sprintf("And %d more notes.", more))
	}
	order := slices.Sorted(maps.Keys(bars))
	if len(order) == 0 {
		return
	}
	w.Bars = barsInWords(s, order)
	w.From = s.Bars[order[0]].Number
	w.Until = s.Bars[min(order[len(order)-1], order[0]+barsBeside-1)].Number
}

func barsInWords(s *music.Score, order []int) string {
	var names []string
	for i := 0; i < len(order); {
		j := i
		for j+1 < len(order) && order[j+1] == order[j]+1 {
			j++
		}
		name := s.Bars[order[i]].Number
		if j > i {
			name += "–" + s.Bars[order[j]].Number
		}
		names = append(names, name)
		i = j + 1
	}
	if len(names) > 6 {
		names = append(names[:6:6], "and more")
	}
	if len(order) == 1 {
		return "bar " + names[0]
	}
	return "bars " + strings.Join(names, ", ")
}

func taken(p guitar.Place, finger int) string {
	if p.Fret == 0 {
		return fmt.Sprintf("string %d, open", p.String)
	}
	return fmt.Sprintf("string %d, fret %d, finger %d", p.String, p.Fret, finger)
}

// told are the messages of a fingering, those about notes let go early counted.
func told(f *hands.Fingering) (out []string) {
	early := 0
	for _, t := range f.Told {
		if t.Kind == hands.Released {
			if early++; early > 4 {
				continue
			}
		}
		out = append(out, sentence(t.Text))
	}
	if early > 4 {
		out = append(out, fmt.Sprintf("%d more held notes must be let go early.", early-4))
	}
	if n := len(out); n > mostTold {
		out = append(out[:mostTold:mostTold], fmt.Sprintf("And %d more of this kind. Finger it passage by passage to read them all.", n-mostTold))
	}
	return out
}

// notesOf lists the ways to take each note, for choosing one by hand.
func notesOf(s *music.Score, f *hands.Fingering) (out []noteWays) {
	for _, n := range f.Notes {
		if n.Finger < 0 || len(n.Options) < 2 {
			continue
		}
		at := n.Onset.Sub(s.Bars[n.BarIndex].Start).Q()
		w := noteWays{ID: n.ID, Name: n.Name, Bar: n.Bar, Beat: decimal(roundTo(at/s.BeatUnitAt(s.Bars[n.BarIndex].Start).Q()+1, 2)), Taken: taken(n.Place, n.Finger)}
		for _, o := range n.Options {
			if len(w.Others) < mostOthers && (o.Place != n.Place || o.Finger != n.Finger) {
				w.Others = append(w.Others, noteWay{Fix: fmt.Sprintf("%s:%d/%d", n.ID, o.Place.String, o.Finger), Words: taken(o.Place, o.Finger), Reason: o.Reason})
			}
		}
		if len(w.Others) > 0 {
			out = append(out, w)
		}
	}
	return out
}

// clearMarks takes the left hand's marks, and the right hand's unless it is left, out of some bars.
func clearMarks(s *music.Score, first, last int, leaveRight bool) {
	for i := range s.Parts {
		for j := range s.Parts[i].Notes {
			n := &s.Parts[i].Notes[j]
			if n.Bar < first || n.Bar > last || n.Harmonic.Present {
				continue
			}
			n.String, n.Fret, n.HasFret, n.Fingers = 0, 0, false, nil
			if !leaveRight {
				n.Plucks = nil
			}
		}
	}
}

// profileOf measures the passage alone.
func profileOf(s *music.Score, f *hands.Fingering, hand guitar.Hand) difficulty.Report {
	inside := map[int]bool{}
	for _, n := range f.Notes {
		inside[n.BarIndex] = true
	}
	cut := *s
	cut.Parts = slices.Clone(s.Parts)
	for i := range cut.Parts {
		p := &cut.Parts[i]
		p.Notes = slices.DeleteFunc(slices.Clone(p.Notes), func(n music.Note) bool { return !inside[n.Bar] })
	}
	return difficulty.Profile(&cut, f.Instrument, hand, difficulty.Options{})
}

// unfingered makes a sentence of why there is no fingering.
func unfingered(err error) error {
	rest := func(of error) string { return strings.TrimPrefix(err.Error(), of.Error()+": ") }
	say := ""
	switch {
	case errors.Is(err, hands.ErrNoNotes):
		say = "There are no notes here that could be fingered. Choose other bars."
	case errors.Is(err, hands.ErrTooLong):
		say = sentence(rest(hands.ErrTooLong))
	case errors.Is(err, hands.ErrWish):
		say = sentence(rest(hands.ErrWish))
	case errors.Is(err, hands.ErrPassage):
		say = sentence(rest(hands.ErrPassage))
	case errors.Is(err, guitar.ErrInstrument):
		say = sentence(err.Error())
	default:
		return err
	}
	return &studio.Problem{Kind: studio.Invalid, Say: cmp.Or(say, "This cannot be fingered."), Err: err}
}
