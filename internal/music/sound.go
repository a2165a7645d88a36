package music

import (
	"slices"
	"strconv"
)

// heard is a sounding note with what is needed to join and sort it.
type heard struct {
	Sounding
	part, staff int
	tab         bool
	refs        []NoteRef
	order       int // in which it is written
}

func (s *Score) sound() ([]Sounding, [][]NoteRef) {
	var all []heard
	for i := range s.Parts {
		all = append(all, s.soundPart(i)...)
	}
	all = s.withoutDoubles(all)
	slices.SortStableFunc(all, inOrder)
	out, refs := make([]Sounding, len(all)), make([][]NoteRef, len(all))
	for i, h := range all {
		h.ID = "n" + strconv.Itoa(i+1)
		if i > 0 && !h.Grace {
			b := &all[i-1]
			h.Unison = b.Onset == h.Onset && b.part == h.part && b.Midi == h.Midi && !b.Grace
		}
		out[i], refs[i] = h.Sounding, h.refs
	}
	return out, refs
}

func inOrder(a, b heard) int {
	if c := a.Onset.Cmp(b.Onset); c != 0 {
		return c
	}
	if a.part != b.part {
		return a.part - b.part
	}
	if a.Grace != b.Grace {
		if a.Grace {
			return -1
		}
		return 1
	}
	if !a.Grace && a.Midi != b.Midi {
		return a.Midi - b.Midi
	}
	return a.order - b.order
}

// soundPart gives the notes of one part with their ties joined, in no promised order.
func (s *Score) soundPart(part int) []heard {
	p := &s.Parts[part]
	order := make([]int, 0, len(p.Notes)) // notes by start, as ties need them
	for i := range p.Notes {
		if n := &p.Notes[i]; n.Pitched() && n.Bar >= 0 && n.Bar < len(s.Bars) {
			order = append(order, i)
		}
	}
	slices.SortStableFunc(order, func(a, b int) int { return p.Notes[a].Start.Cmp(p.Notes[b].Start) })

	var (
		out    []heard
		open   = map[tieKey][]int{} // indices into out of notes whose tie is not yet met
		moves  = newTimeline(p, func(a *Attributes) *Transpose { return a.Transpose })
		clefs  = newTimeline(p, func(a *Attributes) *Clef { return a.Clef })
		forces = p.dynamics()
		force  string
	)
	for _, i := range order {
		n := &p.Notes[i]
		for len(forces) > 0 && !n.Start.Less(forces[0].at) {
			force, forces = forces[0].mark, forces[1:]
		}
		clef := clefs.at(n.Staff, n.Start)
		tab := clef != nil && clef.Sign == "TAB"
		key := tieKey{n.Pitch.Midi(), n.Start, tab}
		if n.Grace {
			key.midi += 1000 // a grace note is never what an earlier note is tied to
		}
		if j := tiedFrom(out, open[key], n); j >= 0 {
			h := &out[j]
			h.Duration, h.refs = h.Duration.Add(n.Duration), append(h.refs, NoteRef{part, i})
			h.Grace = h.Grace && n.Grace
			open[key] = slices.DeleteFunc(open[key], func(k int) bool { return k == j })
			if n.TieStart {
				to := tieKey{n.Pitch.Midi(), n.End(), tab}
				open[to] = append(open[to], j)
			}
			continue
		}
		h := heard{part: part, staff: n.Staff, tab: tab, refs: []NoteRef{{part, i}}, order: i}
		h.Sounding = s.sounding(p, n, moves.at(n.Staff, n.Start))
		h.Dynamic = force
		h.TiedIn = n.TieStop
		for _, d := range n.Dynamics {
			if holds(d) {
				h.Dynamic = d
			}
		}
		out = append(out, h)
		if n.TieStart {
			to := tieKey{n.Pitch.Midi(), n.End(), tab}
			open[to] = append(open[to], len(out)-1)
		}
	}
	return out
}

type tieKey struct {
	midi int
	at   Beats
	tab  bool
}

// tiedFrom picks the open note that n carries on: of its own voice if there is one. A note that
// does not say that a tie ends on it is still taken where its own voice says that one began.
func tiedFrom(out []heard, open []int, n *Note) int {
	for _, j := range open {
		if out[j].Voice == n.Voice {
			return j
		}
	}
	if n.TieStop && len(open) > 0 {
		return open[0]
	}
	return -1
}

func (s *Score) sounding(p *Part, n *Note, move *Transpose) Sounding {
	pitch := n.Pitch
	if move != nil {
		pitch = pitch.Transposed(move.Diatonic+7*move.Octave, move.Chromatic+12*move.Octave)
	}
	d := Sounding{
		Part: p.ID, Voice: n.Voice, Bar: s.Bars[n.Bar].Number, BarIndex: n.Bar, Onset: n.Start, Duration: n.Duration,
		String: n.String, Fret: -1, Grace: n.Grace, Cue: n.Cue,
		Rolled: n.Arpeggio.Kind == "arpeggiate", Tremolo: n.Tremolo.strokes(),
	}
	if n.Grace {
		d.Duration = Beats{}
	}
	if n.HasFret {
		d.Fret = n.Fret
	}
	for _, f := range n.Fingers {
		if len(f.Text) == 1 && f.Text[0] >= '0' && f.Text[0] <= '4' && !f.Substitution && !f.Alternate && d.Finger == "" {
			d.Finger = f.Text
		}
		if isPluck(f.Text) && d.Pluck == "" { // some writers put the right hand's letters here
			d.Pluck = f.Text
		}
	}
	for _, t := range n.Plucks {
		if isPluck(t) {
			d.Pluck = t
			break
		}
	}
	for _, m := range n.Marks {
		if m.Kind == "open-string" && d.Fret < 0 {
			d.Fret = 0
		}
	}
	for _, sp := range n.Spans {
		if sp.Role == "stop" && (sp.Kind == "hammer-on" || sp.Kind == "pull-off" || sp.Kind == "slide") {
			d.Slurred = true
		}
	}
	d.Midi, d.Name = pitch.Midi(), pitch.Name()
	if up := n.harmonicAbove(); up != 0 {
		d.Midi += up
		d.Name = SpellMidi(d.Midi, 0).Name()
	}
	return d
}

func isPluck(s string) bool {
	switch s {
	case "p", "i", "m", "a", "c":
		return true
	}
	return false
}

// strokes are the beams through the stem; a tremolo that states none is taken as thirty-seconds.
func (t Tremolo) strokes() int {
	switch {
	case t.Kind == "":
		return 0
	case t.Kind == "unmeasured" || t.Beams == 0:
		return 3
	}
	return t.Beams
}

// harmonicAbove is how far a harmonic sounds above its written pitch, in semitones. A string touched
// at 1/n of its length sounds its n-th partial, 12·log2(n) semitones above the whole string; frets
// lie so near these places that the touched fret tells n.
func (n *Note) harmonicAbove() int {
	if !n.Harmonic.Present {
		return 0
	}
	partial := map[int]int{12: 12, 7: 19, 19: 19, 5: 24, 24: 24, 4: 28, 9: 28, 16: 28, 3: 31}
	switch {
	case n.Harmonic.Pitch == HarmonicTouching && n.HasFret && n.Harmonic.Natural && partial[n.Fret] != 0:
		return partial[n.Fret] - n.Fret // written at the fret, sounds the partial of the open string
	case n.Harmonic.Pitch == HarmonicTouching:
		return 24 - 5 // a fourth above the stopped note: the fourth partial
	case n.Harmonic.Pitch == HarmonicBase && n.HasFret && n.Harmonic.Natural && partial[n.Fret] != 0:
		return partial[n.Fret]
	case n.Harmonic.Pitch == HarmonicBase:
		return 12
	}
	return 0 // the sounding pitch is written, or the file does not say: taken at its word
}

type forced struct {
	at   Beats
	mark string
}

func (p *Part) dynamics() []forced {
	var out []forced
	for _, d := range p.Directions {
		if d.Kind == Dynamic && holds(d.Text) {
			out = append(out, forced{d.At, d.Text})
		}
	}
	slices.SortStableFunc(out, func(a, b forced) int { return a.at.Cmp(b.at) })
	return out
}

// holds reports whether a dynamic mark stays in force. Accents of one moment (sf, sfz, fz, rf) do not.
func holds(mark string) bool {
	if mark == "" || mark == "n" {
		return false
	}
	for _, r := range mark {
		if r != 'p' && r != 'm' && r != 'f' {
			return false
		}
	}
	return true
}

// timeline answers what is in force on a staff at a moment.
type timeline[T any] struct{ byStaff map[int][]dated[T] }

type dated[T any] struct {
	at    Beats
	value *T
}

func newTimeline[T any](p *Part, pick func(*Attributes) *T) timeline[T] {
	t := timeline[T]{map[int][]dated[T]{}}
	for i := range p.Attributes {
		if v := pick(&p.Attributes[i]); v != nil {
			a := &p.Attributes[i]
			t.byStaff[a.Staff] = append(t.byStaff[a.Staff], dated[T]{a.At, v})
		}
	}
	for _, l := range t.byStaff {
		slices.SortStableFunc(l, func(a, b dated[T]) int { return a.at.Cmp(b.at) })
	}
	return t
}

// at prefers what is said of the staff itself over what is said, at the same time or earlier, of all.
func (t timeline[T]) at(staff int, at Beats) *T {
	own, ownAt := latest(t.byStaff[staff], at)
	all, allAt := latest(t.byStaff[0], at)
	if own != nil && (all == nil || !ownAt.Less(allAt)) {
		return own
	}
	return all
}

func latest[T any](l []dated[T], at Beats) (*T, Beats) {
	i, _ := slices.BinarySearchFunc(l, at, func(d dated[T], at Beats) int {
		if at.Less(d.at) {
			return 1
		}
		return -1
	})
	if i == 0 {
		return nil, Beats{}
	}
	return l[i-1].value, l[i-1].at
}
