package exercise

import (
	"slices"
	"strings"

	"antiphon/internal/music"
)

// variant is another way to play the same passage.
type variant struct {
	name string
	said string // over the notes, where several follow each other
	make func(*sheet) (*sheet, error)
}

func variants() []variant {
	return []variant{
		{"plain", "as it is", func(s *sheet) (*sheet, error) { return s.clone(), nil }},
		{"backwards", "backwards", (*sheet).backwards},
		{"there-and-back", "there and back", (*sheet).thereAndBack},
		{"slow-fast", "each bar slow, then fast", (*sheet).slowFast},
		{"long-short", "long and short", func(s *sheet) (*sheet, error) { return s.lean(true) }},
		{"short-long", "short and long", func(s *sheet) (*sheet, error) { return s.lean(false) }},
		{"slow", "twice as slow", (*sheet).slow},
	}
}

func variantNames() []string {
	var out []string
	for _, v := range variants() {
		out = append(out, v.name)
	}
	return out
}

// vary puts variants of a sheet one after the other.
func vary(s *sheet, names []string) (*sheet, error) {
	if len(names) == 0 {
		return s, nil
	}
	out := s.clone()
	out.tones, out.signs, out.repeats, out.bars = nil, nil, nil, 0
	for _, name := range names {
		i := slices.IndexFunc(variants(), func(v variant) bool { return v.name == strings.ToLower(name) })
		if i < 0 {
			return nil, bad("variants", "%q is not known; choose %s", clip(name), list(variantNames(), "or"))
		}
		v := variants()[i]
		part, err := v.make(s)
		if err != nil {
			return nil, err
		}
		at := out.bars
		out.add(part)
		if len(names) > 1 {
			out.say(at, v.said)
		}
		if out.bars > maxBars {
			return nil, bad("variants", "they would be %d bars long together; %d are the most, so ask for fewer", out.bars, maxBars)
		}
	}
	return out, nil
}

// backwards turns time round: what came last comes first, with its length. Played twice it is the
// same again. Marks of loudness stay where they are, chord symbols go. Notes that ended together now
// begin together, so their right-hand fingers may have to be chosen anew.
func (s *sheet) backwards() (*sheet, error) {
	out := s.clone()
	total := s.barStart(s.bars)
	for i := range out.tones {
		t := &out.tones[i]
		t.Start = total.Sub(t.End())
		for j := range t.grace {
			t.grace[j].Start = t.Start
		}
		for j := range t.Spans {
			sp := &t.Spans[j]
			switch sp.Role {
			case "start":
				sp.Role = "stop"
			case "stop":
				sp.Role = "start"
			}
			switch sp.Kind {
			case "hammer-on":
				sp.Kind = "pull-off"
			case "pull-off":
				sp.Kind = "hammer-on"
			}
		}
	}
	out.signs = slices.DeleteFunc(out.signs, func(d music.Direction) bool { return d.Kind == music.Harmony })
	out.sort()
	clash := false
	for _, g := range out.groups() {
		seen := map[string]bool{}
		for _, i := range g {
			if f := out.tones[i].pluck(); f != "" && seen[f] {
				clash = true
				for _, k := range g {
					out.tones[k].Plucks = nil
				}
			}
			seen[out.tones[i].pluck()] = true
		}
	}
	if clash {
		return out, out.pluckByRule()
	}
	return out, nil
}

func (s *sheet) thereAndBack() (*sheet, error) {
	back, err := s.backwards()
	if err != nil {
		return nil, err
	}
	out := s.clone()
	out.add(back)
	return out, nil
}

// slow doubles every length.
func (s *sheet) slow() (*sheet, error) {
	out := s.clone()
	twice := func(b music.Beats) music.Beats { return b.Mul(2, 1) }
	for i := range out.tones {
		t := &out.tones[i]
		t.Start, t.Duration = twice(t.Start), twice(t.Duration)
		for j := range t.grace {
			t.grace[j].Start = t.Start
		}
	}
	for i := range out.signs {
		out.signs[i].At = twice(out.signs[i].At)
	}
	for i := range out.repeats {
		out.repeats[i].from, out.repeats[i].to = 2*out.repeats[i].from, 2*out.repeats[i].to+1
	}
	for i := range out.tempos {
		out.tempos[i].At = twice(out.tempos[i].At)
	}
	out.bars = 2 * s.bars
	return out, nil
}

// slowFast plays each bar twice: with all lengths doubled, then as it is.
func (s *sheet) slowFast() (*sheet, error) {
	out := s.clone()
	out.tones, out.signs, out.repeats, out.bars = nil, nil, nil, 0
	for b := range s.bars {
		bar, err := s.cut(b, b+1, "variants")
		if err != nil {
			return nil, err
		}
		slow, err := bar.slow()
		if err != nil {
			return nil, err
		}
		out.add(slow)
		out.add(bar)
	}
	return out, nil
}

// lean makes pairs of equal notes long and short, or short and long, three to one; of three equal
// notes in a beat the first two. The equal notes are those of the commonest length; what is longer
// keeps its place, and a passage with notes between the equal ones cannot be leant.
func (s *sheet) lean(longFirst bool) (*sheet, error) {
	unit := s.commonest()
	in := func(b, by music.Beats) (int64, bool) { // how often by goes into b, and whether it does so evenly
		n, d := b.Fraction()
		bn, bd := by.Fraction()
		return n * bd / (d * bn), n*bd%(d*bn) == 0
	}
	cell := int64(2)
	if k, even := in(s.beat(), unit); even && k%3 == 0 {
		cell = 3
	}
	middle := unit.Mul(3, 2)
	if !longFirst {
		middle = unit.Mul(1, 2)
	}
	_, whole := in(s.barLength(), unit.Mul(cell, 1))
	_, _, _, first := written(middle)
	_, _, _, second := written(unit.Mul(2, 1).Sub(middle))
	if !whole || !first || !second {
		return nil, bad("variants", "the equal notes do not come in pairs in %s, so they cannot be played long and short; choose another variant", timeText(s.time))
	}
	bent := func(b music.Beats) (music.Beats, bool) {
		n, ok := in(b, unit)
		if !ok || n%cell != 1 {
			return b, ok
		}
		return unit.Mul(n-1, 1).Add(middle), true
	}
	out := s.clone()
	for i := range out.tones {
		t := &out.tones[i]
		start, okS := bent(t.Start)
		end, okE := bent(t.End())
		if !okS || !okE {
			return nil, bad("variants", "bar %d, counted from the first one asked for, has notes between the equal ones, so it cannot be played long and short; choose other bars or another variant", s.barAt(t.Start)+1)
		}
		t.Start, t.Duration = start, end.Sub(start)
		for j := range t.grace {
			t.grace[j].Start = start
		}
	}
	for i := range out.signs {
		out.signs[i].At, _ = bent(out.signs[i].At)
	}
	return out, nil
}

// commonest is the length that most tones have; of two equally common ones the shorter.
func (s *sheet) commonest() music.Beats {
	count := map[music.Beats]int{}
	best := music.Quarters(1, 1)
	for _, t := range s.tones {
		count[t.Duration]++
	}
	for d, n := range count {
		if m := count[best]; n > m || n == m && d.Less(best) {
			best = d
		}
	}
	return best
}

func timeText(t music.Time) string {
	p := t.Parts[0]
	var beats []string
	for _, b := range p.Beats {
		beats = append(beats, itoa(b))
	}
	return strings.Join(beats, "+") + "/" + itoa(p.Unit)
}

// withRight is the same music with another pattern in the right hand.
func (s *sheet) withRight(text string) (*sheet, error) {
	pattern, none, err := readRight(text)
	if err != nil {
		return nil, err
	}
	out := s.clone()
	if none {
		for i := range out.tones {
			out.tones[i].Plucks = nil
			out.tones[i].SetStroke(music.NoStroke)
		}
		return out, nil
	}
	return out, out.pluckAll(pattern)
}
