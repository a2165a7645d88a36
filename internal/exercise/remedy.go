package exercise

import (
	"fmt"
	"slices"

	"antiphon/internal/music"
)

// forFinger: the right hand alone on open strings with an accent on the finger, then the passage so
// that the finger's note is the long one, then the short one.
func (s *sheet) forFinger(f Fault) (*sheet, error) {
	name := f.Finger
	mine := func(t tone) bool { return t.pluck() == name }
	if !slices.ContainsFunc(s.tones, mine) {
		return nil, notThere("%s plucks nothing there; the bars use %s, so choose one of these or other bars", name, s.fingersUsed())
	}
	alone, err := s.openOnly()
	if err != nil {
		return nil, err
	}
	parts := []section{{"right hand alone, open strings", alone.accent(mine), 2}}
	first, second := true, false // long and short, short and long
	if s.offBeat(mine) {
		first, second = false, true
	}
	if a, err := s.lean(first); err == nil {
		if b, err := s.lean(second); err == nil {
			parts = append(parts, section{"linger on " + name, a, 1}, section{name + " short", b, 1})
		}
	} else {
		parts = append(parts, section{"lean on " + name, s.accent(mine), 1})
	}
	parts = append(parts, section{"even", s.clone(), 2})
	return s.sections(fmt.Sprintf("On open strings the ear can follow the finger %s by itself; then its note comes once long and once short, so that it learns to be neither early nor late.", name), parts...), nil
}

func (s *sheet) fingersUsed() string {
	var used []string
	for _, p := range []string{"p", "i", "m", "a"} {
		if slices.ContainsFunc(s.tones, func(t tone) bool { return t.pluck() == p }) {
			used = append(used, p)
		}
	}
	if len(used) == 0 {
		return "no marked fingers"
	}
	return list(used, "and")
}

// offBeat reports whether most of these notes are the second of a pair of equal ones.
func (s *sheet) offBeat(which func(tone) bool) bool {
	unit, off := s.commonest(), 0
	for _, t := range s.tones {
		if which(t) {
			n, d := t.Start.Sub(s.barStart(s.barAt(t.Start))).Fraction()
			un, ud := unit.Fraction()
			if n*ud/(d*un)%2 == 1 {
				off++
			} else {
				off--
			}
		}
	}
	return off > 0
}

func (s *sheet) forEvenness(Fault) (*sheet, error) {
	a, err := s.lean(true)
	if err != nil {
		return s.forRushing(Fault{Kind: Unsteady})
	}
	b, err := s.lean(false)
	if err != nil {
		return nil, err
	}
	return s.sections("Long and short on purpose, and then the other way round, makes both notes of a pair a choice; after that equal ones are easy to hear.",
		section{"long and short", a, 1}, section{"short and long", b, 1}, section{"even", s.clone(), 2}), nil
}

func (s *sheet) forRushing(f Fault) (*sheet, error) {
	pairs, err := s.slowFast()
	if err != nil {
		slow, err := s.slow()
		if err != nil {
			return nil, err
		}
		pairs = slow
	}
	reason := "Each bar first lasts twice as long, so that the count is felt before the notes go by at speed; what was rushed has to wait for the beat."
	if f.Kind == Unsteady {
		reason = "Each bar first lasts twice as long and then goes by at speed over the same beat, so that the beat and not the fingers sets the pace."
	}
	return s.sections(reason, section{"each bar slow, then fast", pairs, 1}, section{"in time", s.clone(), 2}), nil
}

func (s *sheet) forDragging(Fault) (*sheet, error) {
	short, err := s.bursts(false)
	if err != nil {
		return nil, err
	}
	return s.sections("A few notes at full speed and then a stop to rest: what is quick for one beat is soon quick for two.",
		section{"one beat quick, then wait", short, 2}, section{"in time", s.clone(), 2}), nil
}

// forHesitation practises across the bar lines, or across the beats of a single bar.
func (s *sheet) forHesitation(Fault) (*sheet, error) {
	links, err := s.bursts(s.bars > 1)
	if err != nil {
		return nil, err
	}
	reason := "The music stops where a bar is thought of as an end; these begin before the bar line and rest only after it, so that the hands learn the way across."
	if s.bars == 1 {
		reason = "One beat and the note after it, again and again, teaches the hands where they go next before they get there."
	}
	return s.sections(reason, section{"on, and wait there", links, 2}, section{"without a stop", s.clone(), 2}), nil
}

// bursts gives each beat that has more than one moment, with the first notes of the next beat, a bar
// of its own. With acrossBars only the last beats before the bar lines do.
func (s *sheet) bursts(acrossBars bool) (*sheet, error) {
	out := s.clone()
	out.tones, out.signs, out.repeats, out.bars = nil, nil, nil, 0
	beat := s.beat()
	perBar := 0
	for at := (music.Beats{}); at.Less(s.barLength()); at = at.Add(beat) {
		perBar++
	}
	if perBar < 2 {
		perBar, beat = 2, s.barLength().Mul(1, 2)
	}
	for b := range s.bars {
		for k := range perBar {
			if acrossBars && (k < perBar-1 || b == s.bars-1) {
				continue
			}
			from := s.barStart(b).Add(beat.Mul(int64(k), 1))
			to := from.Add(beat)
			one := s.clone()
			one.signs, one.repeats, one.tempos = nil, nil, nil
			one.tones = nil
			moments := map[music.Beats]bool{}
			for _, t := range s.tones {
				in := !t.Start.Less(from) && t.Start.Less(to)
				if !in && t.Start.Cmp(to) != 0 {
					continue
				}
				t = t.clone()
				t.Spans = nil
				if in {
					moments[t.Start] = true
					if to.Less(t.End()) {
						t.Duration = to.Sub(t.Start)
					}
				}
				t.Start = t.Start.Sub(from)
				if !in {
					t.Duration = s.barLength().Sub(beat)
				}
				one.tones = append(one.tones, t)
			}
			if len(moments) == 0 || !acrossBars && len(moments) < 2 || !slices.ContainsFunc(one.tones, func(t tone) bool { return t.Start.Cmp(beat) == 0 }) {
				continue
			}
			one.bars = 1
			out.add(one)
		}
	}
	if out.bars == 0 {
		return nil, notThere("no beat there leads on to another with a note on it; choose more bars")
	}
	return out, nil
}

func (s *sheet) forThumb(Fault) (*sheet, error) {
	thumb := func(t tone) bool { return t.pluck() == "p" }
	if !slices.ContainsFunc(s.tones, thumb) {
		return nil, notThere("the thumb plucks nothing there; the bars use %s, so choose other bars", s.fingersUsed())
	}
	parts := []section{{"thumb alone", s.only(thumb), 2}}
	if alone, err := s.openOnly(); err == nil {
		parts = append(parts, section{"both, open strings", alone.accent(thumb), 2})
	}
	parts = append(parts, section{"as written, thumb first in mind", s.accent(thumb), 1})
	return s.sections("The thumb first plays alone, so that its place in the beat is known before the fingers come in over it.", parts...), nil
}

func (s *sheet) forBuzz(Fault) (*sheet, error) {
	slow, err := s.slow()
	if err != nil {
		return nil, err
	}
	fretted := func(t tone) bool { return t.finger() > 0 || t.HasFret && t.Fret > 0 }
	for i := range slow.tones {
		if t := &slow.tones[i]; fretted(*t) && !slices.ContainsFunc(t.Marks, func(m music.Mark) bool { return m.Kind == "tenuto" }) {
			t.Marks = append(t.Marks, music.Mark{Kind: "tenuto"})
		}
	}
	return s.sections("Notes that last long let the ear hear a buzz begin and give the finger time to find its place close behind the fret.",
		section{"long notes, listen to each", slow, 1}, section{"as clear as before", s.clone(), 2}), nil
}

func (s *sheet) forContrast(Fault) (*sheet, error) {
	loud, soft := s.clone(), s.clone()
	loud.dynamics(loudness{plan: "steady", marks: []string{"f"}})
	soft.dynamics(loudness{plan: "steady", marks: []string{"p"}})
	grow := s.clone()
	grow.dynamics(loudness{plan: "crescendo", marks: []string{"p", "f"}})
	return s.sections("The same notes as an echo: with nothing else changed, the ear compares only loud and soft.",
		section{"loud", loud, 1}, section{"its echo", soft, 1}, section{"from soft to loud", grow, 1}), nil
}

func (s *sheet) forNotes(Fault) (*sheet, error) {
	slow, err := s.slow()
	if err != nil {
		return nil, err
	}
	back, err := s.thereAndBack()
	if err != nil {
		return nil, err
	}
	if err := slow.sayAloud("letters"); err != nil {
		return nil, err
	}
	return s.sections("Said aloud and slowly, then there and back: who can play it backwards knows every note and does not lean on the fingers' habit.",
		section{"slowly, say the names", slow, 1}, section{"there and back", back, 1}, section{"as written", s.clone(), 1}), nil
}
