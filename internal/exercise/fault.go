package exercise

import (
	"slices"
	"strings"

	"antiphon/internal/music"
)

// FaultKind is what went wrong in a passage.
type FaultKind string

const (
	UnevenFinger FaultKind = "uneven finger" // one finger of the right hand is early, late, loud or soft
	Uneven       FaultKind = "uneven"        // equal notes come long and short
	Rushing      FaultKind = "rushing"
	Dragging     FaultKind = "dragging"
	Unsteady     FaultKind = "unsteady"
	LateThumb    FaultKind = "late thumb"
	Shift        FaultKind = "shift"         // the music stops where the left hand moves
	FourthFinger FaultKind = "fourth finger" // weak, or late
	MissedString FaultKind = "missed string" // in a chord
	Hesitation   FaultKind = "hesitation"    // a stop, at a bar line or elsewhere
	Buzz         FaultKind = "buzz"
	NoContrast   FaultKind = "loud and soft" // are written, and sound alike
	WrongNotes   FaultKind = "wrong notes"
)

// Fault is a kind, with the finger or the string that it is about.
type Fault struct {
	Kind   FaultKind
	Finger string // of the right hand, of an UnevenFinger
	String int    // of a MissedString; 0 any
}

// Faults lists what ReadFault understands, as a teacher would write it.
func Faults() []string {
	return []string{"unevenness on a", "uneven", "rushing", "dragging", "unsteady", "late thumb", "shift", "weak fourth finger", "missed string 3", "hesitation", "buzz", "loud and soft", "wrong notes"}
}

// ReadFault reads a fault in plain words, or by the name of a finding.
func ReadFault(text string) (Fault, error) {
	t := strings.ToLower(strings.NewReplacer("-", " ", "_", " ").Replace(text))
	words := strings.Fields(t)
	has := func(parts ...string) bool {
		return slices.ContainsFunc(parts, func(p string) bool { return strings.Contains(t, p) })
	}
	last := ""
	if len(words) > 0 {
		last = words[len(words)-1]
	}
	switch {
	case has("uneven", "even"):
		if len(last) == 1 && strings.Contains("pima", last) {
			return Fault{Kind: UnevenFinger, Finger: last}, nil
		}
		if has("finger") {
			return Fault{}, bad("fault", "%q does not say which finger; write unevenness on p, i, m or a", clip(text))
		}
		return Fault{Kind: Uneven}, nil
	case has("thumb"):
		return Fault{Kind: LateThumb}, nil
	case has("fourth finger", "little finger", "finger 4"):
		return Fault{Kind: FourthFinger}, nil
	case has("shift"):
		return Fault{Kind: Shift}, nil
	case has("missed string", "chord"), has("string") && has("miss", "silent", "not heard"):
		f := Fault{Kind: MissedString}
		for _, w := range words {
			if n := number(w); n >= 1 && n <= 6 {
				f.String = n
			}
		}
		return f, nil
	case has("rush", "hurr"):
		return Fault{Kind: Rushing}, nil
	case has("drag", "slows"):
		return Fault{Kind: Dragging}, nil
	case has("unsteady", "tempo"):
		return Fault{Kind: Unsteady}, nil
	case has("hesita", "stop", "restart"):
		return Fault{Kind: Hesitation}, nil
	case has("buzz"):
		return Fault{Kind: Buzz}, nil
	case has("loud", "soft", "dynamic"):
		return Fault{Kind: NoContrast}, nil
	case has("wrong", "missed note", "extra note", "passage"):
		return Fault{Kind: WrongNotes}, nil
	}
	return Fault{}, bad("fault", "%q is not known; write for example %s", clip(text), list(Faults(), "or"))
}

// Wishes are what else is asked of an exercise from a passage. The zero value asks nothing.
type Wishes struct {
	Tempo           float64 // beats a minute to begin with; 0 seven tenths of the score's
	RightHand       string  // another pattern for the right hand; "" the passage's own
	Names           string  // letters or do-re-mi under the notes
	Without         string  // what is not learnt yet, as in a recipe
	ScaleMm, SpanMm float64 // of the guitar and the left hand; 0 full size and a grown-up's
}

// Practise composes an exercise that isolates a fault of a passage. The reason says in one sentence
// why it is made so.
func Practise(score *music.Score, p Passage, f Fault, w Wishes) (made *music.Score, reason string, err error) {
	base, err := prepared(score, p, w)
	if err != nil {
		return nil, "", err
	}
	build := map[FaultKind]func(*sheet, Fault) (*sheet, error){
		UnevenFinger: (*sheet).forFinger, Uneven: (*sheet).forEvenness, Rushing: (*sheet).forRushing, Dragging: (*sheet).forDragging,
		Unsteady: (*sheet).forRushing, LateThumb: (*sheet).forThumb, Shift: (*sheet).forShift, FourthFinger: (*sheet).forFourth,
		MissedString: (*sheet).forString, Hesitation: (*sheet).forHesitation, Buzz: (*sheet).forBuzz, NoContrast: (*sheet).forContrast,
		WrongNotes: (*sheet).forNotes,
	}[f.Kind]
	if build == nil {
		return nil, "", bad("fault", "%q is not known; choose %s", clip(string(f.Kind)), list(Faults(), "or"))
	}
	s, err := build(base, f)
	if err != nil {
		return nil, "", err
	}
	name := string(f.Kind)
	if f.Finger != "" {
		name = "evenness of the finger " + f.Finger
	}
	if f.String > 0 {
		name += " " + itoa(f.String)
	}
	s.title = strings.TrimSpace("For " + barsText(p) + of(score.Title) + ": " + name)
	s.trains = s.reason
	s.paced(w.Tempo, base)
	if w.Names != "" {
		if err := s.sayAloud(w.Names); err != nil {
			return nil, "", err
		}
	}
	made, err = s.finish()
	return made, s.reason, err
}

func of(title string) string {
	if title == "" {
		return ""
	}
	return " of " + clip(title)
}

// Vary plays a passage in other ways, one after the other.
func Vary(score *music.Score, p Passage, variants []string, w Wishes) (*music.Score, error) {
	base, err := prepared(score, p, w)
	if err != nil {
		return nil, err
	}
	if len(variants) == 0 {
		variants = []string{"plain"}
	}
	s, err := vary(base, variants)
	if err != nil {
		return nil, err
	}
	s.title = strings.TrimSpace("From " + barsText(p) + of(score.Title))
	s.trains = "The same notes: " + strings.Join(variants, ", ") + "."
	s.paced(w.Tempo, base)
	if w.Names != "" {
		if err := s.sayAloud(w.Names); err != nil {
			return nil, err
		}
	}
	return s.finish()
}

// slower is how much slower than the piece a passage is practised at first. Common practice, no source.
const slower = 0.7

// paced marks the tempo to begin with; the passage's own is the goal.
func (s *sheet) paced(tempo float64, base *sheet) {
	goal := 0.0
	if len(base.tempos) > 0 {
		goal = base.tempos[0].Bpm
	}
	s.tempos, s.goal = nil, goal
	if tempo == 0 && goal > 0 {
		tempo = max(20, round(goal*slower))
	}
	s.tempo(tempo)
}

// section is a part of an exercise that is repeated by itself.
type section struct {
	words string
	sheet *sheet
	times int
}

// sections puts parts one after the other.
func (s *sheet) sections(reason string, parts ...section) *sheet {
	out := s.clone()
	out.tones, out.signs, out.repeats, out.tempos, out.bars, out.reason = nil, nil, nil, nil, 0, reason
	for _, p := range parts {
		from := out.bars
		p.sheet.tempos = nil
		out.add(p.sheet)
		if out.bars == from {
			continue
		}
		out.say(from, p.words)
		if p.times > 1 {
			out.repeats = append(out.repeats, again{from, out.bars - 1, p.times})
		}
	}
	return out
}

// only keeps some of the notes.
func (s *sheet) only(keep func(tone) bool) *sheet {
	out := s.clone()
	out.tones = slices.DeleteFunc(out.tones, func(t tone) bool { return !keep(t) })
	for i := range out.tones {
		out.tones[i].Spans = nil
	}
	return out
}

// accent marks some of the notes.
func (s *sheet) accent(which func(tone) bool) *sheet {
	out := s.clone()
	for i := range out.tones {
		t := &out.tones[i]
		if which(*t) && !slices.ContainsFunc(t.Marks, func(m music.Mark) bool { return m.Kind == "accent" }) {
			t.Marks = append(t.Marks, music.Mark{Kind: "accent"})
		}
	}
	return out
}

// openOnly is the right hand alone: the same strings and fingers, the left hand away.
func (s *sheet) openOnly() (*sheet, error) {
	out := s.clone()
	for i := range out.tones {
		t := &out.tones[i]
		if t.String == 0 {
			return nil, notThere("the passage does not say on which strings it is played; add string numbers, or finger it first")
		}
		t.Fret, t.HasFret = 0, true
		t.setFinger(0)
		t.Pitch = s.writtenOpen(t.String)
		t.Spans, t.Harmonic, t.grace, t.Arpeggio = nil, music.Harmonic{}, nil, music.Arpeggio{}
	}
	return out, nil
}

// writtenOpen is how an open string is written in the source's transposition.
func (s *sheet) writtenOpen(str int) music.Pitch { return s.written(s.guitar.Pitch(str, 0)) }

// written spells a sounding pitch as it is written here.
func (s *sheet) written(midi int) music.Pitch {
	for _, a := range s.head {
		if t := a.Transpose; t != nil {
			return music.SpellMidi(midi-t.Chromatic-12*t.Octave, s.key.Fifths)
		}
	}
	return music.SpellMidi(midi, s.key.Fifths)
}
