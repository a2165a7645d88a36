package findings

import (
	"slices"

	"antiphon/internal/ear"
	"antiphon/internal/music"
)

// Kinds are all kinds, in the order in which they are documented.
func Kinds() []Kind {
	return []Kind{NotThisScore, Wrong, Missed, Extra, Passage, Rushing, Dragging, Unsteady, Hesitation, Restart, Skip, Tempo, UnevenPattern,
		UnevenFinger, DynamicsFlat, DynamicsHeard, StringTuning, ReferencePitch, Clipped, TooQuiet, Rounds, MayBuzz, Steady, Clean}
}

// Aspects are the finer sorts of a kind that Finding.Aspect may name; nil where there are none.
func (k Kind) Aspects() []string {
	switch k {
	case NotThisScore:
		return []string{"moved", "silent", "noise", "talk"} // moved: the notes of the score, higher or lower
	case Wrong:
		// key-sign: the sharp or flat of the key was left out; next-fret: one or two frets beside;
		// other-string: the fret is right, on the string beside; octave: the right name, an octave off
		return []string{"key-sign", "next-fret", "other-string", "octave"}
	case Missed:
		return []string{"bass", "top", "inside", "several"} // of a chord, or several in one bar
	case Extra:
		return []string{"again", "open-string"} // again: the note before it once more
	case Rushing, Dragging:
		return []string{"throughout"}
	case Restart:
		return []string{"same-place"} // more than once
	case Tempo:
		return []string{"slower", "faster"}
	case UnevenPattern:
		return []string{"long-short", "short-long"}
	case UnevenFinger:
		return []string{"late", "early", "louder", "softer"}
	case StringTuning:
		return []string{"flat", "sharp"}
	}
	return nil
}

// InWords names the sort of a finding, without its place: "a bass note not heard".
func (f Finding) InWords() string {
	fine := map[string]string{
		"not-this-score/moved": "another height than written", "not-this-score/silent": "no playing in the recording",
		"not-this-score/noise": "only noise in the recording", "not-this-score/talk": "talk in place of playing",
		"wrong-note/key-sign": "a sharp or flat of the key left out", "wrong-note/next-fret": "a neighbouring fret",
		"wrong-note/other-string": "a neighbouring string", "wrong-note/octave": "the right note in another octave",
		"missed-note/bass": "a bass note not heard", "missed-note/top": "the top note of a chord not heard",
		"missed-note/inside": "an inner note of a chord not heard", "missed-note/several": "several notes of a bar not heard",
		"extra-note/again": "a note struck twice", "extra-note/open-string": "an open string sounding along",
		"rushing/throughout": "getting faster all the way", "dragging/throughout": "getting slower all the way",
		"restart/same-place": "stopped and went back at the same place again", "tempo/slower": "slower than asked", "tempo/faster": "faster than asked",
		"uneven-pattern/long-short": "equal notes played long and short", "uneven-pattern/short-long": "equal notes played short and long",
		"uneven-finger/late": "one finger late", "uneven-finger/early": "one finger early",
		"uneven-finger/louder": "one finger louder than the others", "uneven-finger/softer": "one finger softer than the others",
		"string-tuning/flat": "a string too low", "string-tuning/sharp": "a string too high",
	}
	if w := fine[string(f.Kind)+"/"+f.Aspect]; w != "" {
		return w
	}
	return map[Kind]string{
		NotThisScore: "not this score", Wrong: "another note than written", Missed: "a note not heard", Extra: "an added note",
		Passage: "a bar that came apart", Rushing: "running ahead", Dragging: "falling behind", Unsteady: "an unsettled beat",
		Hesitation: "a stop in the flow", Restart: "stopped and went back", Skip: "bars left out", Tempo: "another tempo than asked",
		UnevenPattern: "equal notes played unequally", UnevenFinger: "one finger unlike the others", DynamicsFlat: "soft and loud sound alike",
		DynamicsHeard: "soft and loud can be told apart", StringTuning: "a string out of tune", ReferencePitch: "the whole guitar high or low",
		Clipped: "an overdriven recording", TooQuiet: "a recording too quiet", Rounds: "played round and round", MayBuzz: "notes that may buzz",
		Steady: "a steady stretch", Clean: "right from beginning to end",
	}[f.Kind]
}

// wrongAspect says how a heard pitch lies to the written one.
func (s *scene) wrongAspect(n music.Sounding, heard int) string {
	d := heard - n.Midi
	fifths := s.fifths(n.Part, n.BarIndex)
	switch natural := natural(n.Name); {
	case d != 0 && d%12 == 0:
		return "octave"
	case natural >= 0 && natural == heard && AlteredByKey(n.Name[0], fifths):
		return "key-sign"
	case d >= -2 && d <= 2:
		return "next-fret"
	case n.String > 0 && (d == s.stringStep(n.String-1, n.String) || d == s.stringStep(n.String+1, n.String)):
		return "other-string"
	}
	return ""
}

// natural is the pitch of a name without its sharp or flat; -1 where it has none.
func natural(name string) int {
	if len(name) < 3 || (name[1] != '#' && name[1] != 'b') {
		return -1
	}
	p := music.Pitch{Step: name[0], Octave: int(name[len(name)-1] - '0')}
	return p.Midi()
}

// openStrings are those of the usual tuning, the first string first; ISO 16 names and numbers, E4 is 64.
func openStrings() []int { return []int{64, 59, 55, 50, 45, 40} }

// stringStep is how much higher string a is than string b; 0 where one of them is unknown.
func (s *scene) stringStep(a, b int) int {
	open := openStrings()
	if a < 1 || b < 1 || a > len(open) || b > len(open) {
		return 0
	}
	return open[a-1] - open[b-1]
}

// extraAspect says what an added note may be: the note before it once more, or an open string.
func (s *scene) extraAspect(f fault) string {
	last := ear.Played{Note: -1, OnsetS: -1}
	for _, n := range s.h.Played {
		if n.Pass == f.pass && n.OnsetS < f.s-1e-6 && n.OnsetS > last.OnsetS {
			last = n
		}
	}
	switch {
	case last.OnsetS >= 0 && last.Midi == f.midi:
		return "again"
	case slices.Contains(openStrings(), f.midi):
		return "open-string"
	}
	return ""
}
