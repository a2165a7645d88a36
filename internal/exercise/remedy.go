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
	then := "its note comes once long and once short, so that it learns to be neither early nor late"
	first, second := true, false // long and short, short and long
	if s.offBeat(mine) {
		first, second = false, true
	}
	if a, err := s.lean(first); err == nil {
		if b, err := s.lean(second); err == nil {
			parts = append(parts, section{"linger on finger " + name, a, 1}, section{"finger " + name + " short", b, 1})
		}
	} else {
		parts = append(parts, section{"lean on finger " + name, s.accent(mine), 1})
		then = "the bars lean on it, so that it learns to sound as strong as the others"
	}
	parts = append(parts, section{"even", s.clone(), 2})
	return s.sections(fmt.Sprintf("On open strings the ear can follow the finger %s by itself; then %s.", name, then), parts...), nil
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
	short, err := s.bursts()
	if err != nil {
		return nil, err
	}
	return s.sections("A few notes at full speed and then a stop to rest: what is quick for a moment is soon quick for longer.",
		section{"a few notes quick, then wait", short, 2}, section{"in time", s.clone(), 2}), nil
}

// forHesitation practises across the bar lines, or across the beats of a single bar.
func (s *sheet) forHesitation(Fault) (*sheet, error) {
	if s.bars > 1 {
		if links := s.links(); links.bars > 0 {
			return s.sections("The music stops where a bar is thought of as an end; these begin before the bar line and rest only after it, so that the hands learn the way across.",
				section{"on, and wait there", links, 2}, section{"without a stop", s.clone(), 2}), nil
		}
	}
	short, err := s.bursts()
	if err != nil {
		return nil, err
	}
	return s.sections("A few notes and the one after them, again and again, teach the hands where they go next before they get there.",
		section{"on, and wait there", short, 2}, section{"without a stop", s.clone(), 2}), nil
}

// links gives each bar line two bars: of the bar before it only the last beat, or the last note where
// that is longer; of the bar after it the first notes, held.
func (s *sheet) links() *sheet {
	out := s.blank()
	for b := 1; b < s.bars; b++ {
		line := s.barStart(b)
		from := line.Sub(s.beat())
		var last music.Beats
		leads, lands := false, false
		for _, t := range s.tones {
			if t.Start.Less(line) && !t.Start.Less(s.barStart(b-1)) {
				leads = true
				if last.Less(t.Start) {
					last = t.Start
				}
			}
			lands = lands || t.Start.Cmp(line) == 0
		}
		if !leads || !lands {
			continue
		}
		if last.Less(from) {
			from = last
		}
		one := s.blank()
		one.bars = 2
		for _, t := range s.tones {
			switch {
			case !t.Start.Less(from) && t.Start.Less(line):
				t = t.clone()
				if line.Less(t.End()) {
					t.Duration = line.Sub(t.Start)
				}
			case t.Start.Cmp(line) == 0:
				t = t.clone()
				t.Duration = s.barLength()
			default:
				continue
			}
			t.Spans = nil
			t.Start = t.Start.Sub(s.barStart(b - 1))
			one.tones = append(one.tones, t)
		}
		out.add(one)
	}
	return out
}

// bursts gives each beat that has more than one moment bars of its own, with the first notes of the
// next beat, held. Where no beat has, half bars are taken, then bars.
func (s *sheet) bursts() (*sheet, error) {
	for _, unit := range []music.Beats{s.beat(), s.barLength().Mul(1, 2), s.barLength()} {
		if out := s.burstsOf(unit); out.bars > 0 {
			return out, nil
		}
	}
	return nil, notThere("no two notes there lead on to a third; choose more bars")
}

func (s *sheet) burstsOf(unit music.Beats) *sheet {
	out := s.blank()
	for from := (music.Beats{}); from.Less(s.barStart(s.bars)); from = from.Add(unit) {
		to := from.Add(unit)
		one := s.blank()
		one.bars = 1
		if unit.Cmp(s.barLength()) == 0 {
			one.bars = 2
		}
		moments, lands := map[music.Beats]bool{}, false
		for _, t := range s.tones {
			switch {
			case !t.Start.Less(from) && t.Start.Less(to):
				moments[t.Start] = true
				t = t.clone()
				if to.Less(t.End()) {
					t.Duration = to.Sub(t.Start)
				}
			case t.Start.Cmp(to) == 0:
				lands = true
				t = t.clone()
				t.Duration = s.barStart(one.bars).Sub(unit)
			default:
				continue
			}
			t.Spans = nil
			t.Start = t.Start.Sub(from)
			one.tones = append(one.tones, t)
		}
		if len(moments) > 1 && lands {
			out.add(one)
		}
	}
	return out
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
