package exercise

import (
	"errors"
	"strings"

	"antiphon/internal/guitar"
	"antiphon/internal/hands"
	"antiphon/internal/music"
	"antiphon/internal/playable"
)

// player is whom an exercise is made for: the zero value is a grown-up who has learnt everything.
type player struct {
	hand   guitar.Hand
	limits []playable.Limit
	skills hands.Skills
}

// readPlayer reads what is not learnt yet, and how large the hand is.
func readPlayer(without string, spanMm float64) (player, error) {
	p := player{hand: guitar.AdultHand()}
	if spanMm > 0 {
		p.hand = guitar.ChildHand(spanMm)
	}
	if without == "" {
		return p, nil
	}
	for _, w := range strings.Split(strings.ToLower(without), ",") {
		switch strings.TrimSpace(w) {
		case "fourth finger":
			p.limits, p.skills.NoFourthFinger = append(p.limits, playable.NoFourthFinger), true
		case "barre":
			p.limits, p.skills.NoBarre = append(p.limits, playable.NoBarre), true
		case "stretch":
			p.limits, p.skills.NoStretch = append(p.limits, playable.NoStretch), true
		case "a":
			p.limits = append(p.limits, playable.NoA)
		default:
			return player{}, bad("without", "%q is not known; write fourth finger, barre, stretch or a, with commas between them", clip(w))
		}
	}
	return p, nil
}

// checked refuses a composed score that breaks a rule of its own, or that these hands cannot play at
// its tempo and at its goal.
func (s *sheet) checked(score *music.Score) error {
	for _, n := range score.Parts[0].Notes {
		if n.Pitched() && n.String > 0 && n.HasFret && !n.Harmonic.Present && s.guitar.Pitch(n.String, n.Fret) != sounding(score, n) {
			return unplayable("", "bar %s: string %d, fret %d does not give %s", score.Bars[n.Bar].Number, n.String, n.Fret, n.Pitch.Name())
		}
	}
	for _, b := range score.Bars {
		if b.Length.Cmp(b.Time.Length()) != 0 {
			return unplayable("", "bar %s is not full", b.Number)
		}
	}
	fast := *score
	if s.goal > 0 {
		fast.Tempos = []music.TempoMark{{Bpm: s.goal, Unit: s.beat()}}
	}
	for _, f := range playable.Check(&fast, s.guitar, s.player.hand, s.player.limits...) {
		wayOut := "choose another position, pattern or rhythm"
		if s.fromScore {
			wayOut = "look at the fingering of the passage, or choose other bars"
		}
		what := strings.TrimSuffix(strings.TrimPrefix(f.Text, "Bar "+f.Bar+": "), ".")
		switch {
		case f.Kind == playable.BrokenLimit:
			return unplayable("without", "bar %s: %s; choose other notes or another position, or allow it", f.Bar, what)
		case f.Level == playable.Impossible:
			return unplayable("", "bar %s: %s; %s", f.Bar, what, wayOut)
		}
	}
	return nil
}

// holdable refuses chords that this hand cannot hold, or not yet: what is plucked string by string is
// held all at once.
func (s *sheet) holdable(grips []event) error {
	for _, g := range grips {
		one := s.blank()
		if err := one.count([]event{g}, []step{{length: s.barLength()}}); err != nil {
			return err
		}
		if err := one.fingerFree(); err != nil {
			return err
		}
		score, err := one.lay()
		if err != nil {
			return err
		}
		if err := one.checked(score); err != nil {
			if p, ok := errors.AsType[*Problem](err); ok {
				q := *p
				_, q.Say, _ = strings.Cut(p.Say, ": ")
				q.Say = g.label + ": " + q.Say
				q.Key = or(q.Key, "chords")
				return &q
			}
			return err
		}
	}
	return nil
}

// sounding is the pitch that a written note has on the instrument.
func sounding(s *music.Score, n music.Note) int {
	p := n.Pitch
	for _, a := range s.Parts[0].Attributes {
		if t := a.Transpose; t != nil {
			p = n.Pitch.Transposed(t.Diatonic+7*t.Octave, t.Chromatic+12*t.Octave)
		}
	}
	return p.Midi()
}
