package exercise

import (
	"errors"
	"slices"
	"strings"
	"testing"

	"antiphon/internal/findings"
	"antiphon/internal/guitar"
	"antiphon/internal/music"
)

// study is an invented piece in two voices: a melody with i, m and a over a bass with p, a shift from
// the first to the fifth position, a fourth finger, and a chord at the end.
func study(t testing.TB) *music.Score {
	t.Helper()
	s := &sheet{guitar: guitar.Standard(), time: music.Time{Parts: []music.TimePart{{Beats: []int{3}, Unit: 4}}}, title: "Evening study", key: music.Key{Fifths: 0, Mode: "major"}}
	put := func(at, long float64, str, fret, finger int, pluck, voice string) {
		q := func(v float64) music.Beats { return music.Quarters(int64(v*4), 4) }
		n := tone{Note: music.Note{Start: q(at), Duration: q(long), Voice: voice, Plucks: []string{pluck}, Pitch: music.SpellMidi(s.guitar.Pitch(str, fret), 0)}}
		n.setPlace(guitar.Place{String: str, Fret: fret})
		n.setFinger(finger)
		s.tones = append(s.tones, n)
	}
	melody := func(at float64, notes ...[4]string) {
		for i, n := range notes {
			put(at+float64(i)/2, 0.5, int(n[0][0]-'0'), int(n[1][0]-'0'), int(n[2][0]-'0'), n[3], "1")
		}
	}
	put(0, 3, 5, 3, 3, "p", "2")
	melody(0, [4]string{"3", "0", "0", "i"}, [4]string{"2", "1", "1", "m"}, [4]string{"1", "0", "0", "a"}, [4]string{"2", "1", "1", "m"}, [4]string{"1", "0", "0", "a"}, [4]string{"2", "1", "1", "m"})
	put(3, 3, 4, 0, 0, "p", "2")
	melody(3, [4]string{"3", "2", "2", "i"}, [4]string{"2", "1", "1", "m"}, [4]string{"1", "1", "1", "a"}, [4]string{"1", "5", "1", "i"}, [4]string{"1", "8", "4", "m"}, [4]string{"1", "5", "1", "i"})
	put(6, 3, 6, 0, 0, "p", "2")
	melody(6, [4]string{"1", "3", "4", "m"}, [4]string{"1", "0", "0", "i"}, [4]string{"2", "3", "4", "m"}, [4]string{"2", "1", "1", "i"}, [4]string{"2", "0", "0", "m"}, [4]string{"3", "0", "0", "i"})
	for i, c := range [][3]int{{3, 0, 0}, {2, 1, 1}, {1, 0, 0}} {
		put(9, 3, c[0], c[1], c[2], []string{"i", "m", "a"}[i], "1")
	}
	put(9, 3, 5, 3, 3, "p", "2")
	s.tempos = []music.TempoMark{{Bpm: 100, Unit: music.Quarters(1, 1)}}
	score, err := s.lay()
	if err != nil {
		t.Fatal(err)
	}
	return score
}

func TestStudyIsSound(t *testing.T) { sound(t, study(t)) }

// TestEveryFault: for each fault an exercise comes out that keeps every promise, is about that fault,
// gives a reason, begins slower than the piece, and is the same each time.
func TestEveryFault(t *testing.T) {
	for _, c := range []struct {
		fault, bars string
		about       func(*music.Score) bool
	}{
		{"unevenness on a", "1", func(s *music.Score) bool {
			return share(s, func(n music.Note) bool { return accented(n) == (first(n.Plucks) == "a") }, 1, 1) == 1
		}},
		{"uneven-finger m", "1-2", func(s *music.Score) bool { return len(s.Bars) == 2*4 }},
		{"uneven", "1", func(s *music.Score) bool { return s.Parts[0].Notes[0].Duration == music.Quarters(3, 4) }},
		{"rushing", "1-2", func(s *music.Score) bool { return s.Parts[0].Notes[0].Duration == music.Quarters(1, 1) }},
		{"unsteady", "1-2", func(s *music.Score) bool { return len(s.Bars) == 3*2+2 }},
		{"dragging", "1", func(s *music.Score) bool { return s.Parts[0].Notes[2].Duration == music.Quarters(2, 1) }},
		{"late thumb", "1-2", func(s *music.Score) bool {
			return share(s, func(n music.Note) bool { return first(n.Plucks) == "p" }, 1, 2) == 1
		}},
		{"a shift that stops", "2", func(s *music.Score) bool {
			return share(s, func(n music.Note) bool { return n.String == 1 && (n.Fret == 1 || n.Fret == 5) }, 1, 4) == 1
		}},
		{"weak fourth finger", "3", func(s *music.Score) bool { return share(s, func(n music.Note) bool { return fourth(n) }, 1, 3) == 0.5 }},
		{"missed string 2 in a chord", "4", func(s *music.Score) bool {
			return share(s, func(n music.Note) bool { return n.String == 2 || !accented(n) }, 1, 2) == 1
		}},
		{"hesitation", "1-3", func(s *music.Score) bool { return len(s.Bars) == 2*2+3 }},
		{"restart", "1", func(s *music.Score) bool { return len(s.Bars) >= 3 }},
		{"may-buzz", "3", func(s *music.Score) bool { return s.Parts[0].Notes[0].Duration == music.Quarters(1, 1) }},
		{"loud and soft", "1-2", func(s *music.Score) bool { return dynamics(s) == "f p p f" }},
		{"wrong notes", "1", func(s *music.Score) bool { return len(s.Parts[0].Notes[0].Lyrics) == 1 }},
	} {
		fault, err := ReadFault(c.fault)
		if err != nil {
			t.Errorf("%s: %v", c.fault, err)
			continue
		}
		bars, err := ReadBars(c.bars)
		if err != nil {
			t.Fatal(err)
		}
		make := func() (*music.Score, string, error) {
			return Practise(study(t), bars, fault, Wishes{})
		}
		s, reason, err := make()
		if err != nil {
			t.Errorf("%s: %v", c.fault, err)
			continue
		}
		sound(t, s)
		if !strings.HasSuffix(reason, ".") || strings.Count(reason, ". ") > 0 || s.Subtitle != reason {
			t.Errorf("%s: reason %q", c.fault, reason)
		}
		if !c.about(s) {
			t.Errorf("%s: the exercise is not about it:\n%s", c.fault, names(s))
		}
		if bpm, _ := s.TempoAt(music.Beats{}); bpm != 70 {
			t.Errorf("%s: begins at %v, want 70 of 100", c.fault, bpm)
		}
		again, _, err := make()
		if err != nil || string(written1(t, s)) != string(written1(t, again)) {
			t.Errorf("%s: not the same the second time (%v)", c.fault, err)
		}
	}
}

// share of the notes of some bars (counted from 1) that are as asked.
func share(s *music.Score, is func(music.Note) bool, from, to int) float64 {
	yes, all := 0, 0
	for _, n := range s.Parts[0].Notes {
		if n.Pitched() && !n.TieStop && n.Bar >= from-1 && n.Bar <= to-1 {
			all++
			if is(n) {
				yes++
			}
		}
	}
	return float64(yes) / float64(max(all, 1))
}

func accented(n music.Note) bool {
	return slices.ContainsFunc(n.Marks, func(m music.Mark) bool { return m.Kind == "accent" })
}

func fourth(n music.Note) bool { return len(n.Fingers) > 0 && n.Fingers[0].Text == "4" }

func first(list []string) string {
	if len(list) == 0 {
		return ""
	}
	return list[0]
}

func dynamics(s *music.Score) string {
	var out []string
	for _, d := range s.Parts[0].Directions {
		if d.Kind == music.Dynamic {
			out = append(out, d.Text)
		}
	}
	return strings.Join(out, " ")
}

func TestFaultRefused(t *testing.T) {
	for _, c := range []struct {
		fault, bars string
		kind        Kind
		words       string
	}{
		{"unevenness on a", "3", NotThere, "p, i and m"},
		{"shift", "1", NotThere, "stays in its place"},
		{"weak fourth finger", "1", NotThere, "fourth finger"},
		{"missed string 6", "4", NotThere, "string 6"},
		{"rushing", "9", NoSuchBars, "numbered 1 to 4"},
		{"rushing", "3-2", NoSuchBars, "numbered"},
	} {
		fault, err := ReadFault(c.fault)
		if err != nil {
			t.Fatal(err)
		}
		bars, err := ReadBars(c.bars)
		if err != nil {
			t.Fatal(err)
		}
		_, _, err = Practise(study(t), bars, fault, Wishes{})
		p, ok := errors.AsType[*Problem](err)
		if !ok || p.Kind != c.kind || !strings.Contains(p.Say, c.words) {
			t.Errorf("%s in %s: %v", c.fault, c.bars, err)
		}
	}
	for _, bad := range []string{"", "uneven finger", "too blue"} {
		if f, err := ReadFault(bad); err == nil {
			t.Errorf("%q was read as %v", bad, f)
		}
	}
	if _, err := ReadBars("-"); err == nil {
		t.Error("bars - were read")
	}
	for _, f := range Faults() {
		if _, err := ReadFault(f); err != nil {
			t.Errorf("%s: %v", f, err)
		}
	}
}

// TestFindingsAreFaults: what the ear finds and practice can cure is understood by its name.
func TestFindingsAreFaults(t *testing.T) {
	for kind, want := range map[findings.Kind]FaultKind{
		findings.Wrong: WrongNotes, findings.Missed: WrongNotes, findings.Extra: WrongNotes, findings.Passage: WrongNotes,
		findings.Rushing: Rushing, findings.Dragging: Dragging, findings.Unsteady: Unsteady, findings.Hesitation: Hesitation, findings.Restart: Hesitation,
		findings.UnevenPattern: Uneven, findings.DynamicsFlat: NoContrast, findings.MayBuzz: Buzz,
	} {
		if f, err := ReadFault(string(kind)); err != nil || f.Kind != want {
			t.Errorf("%s: %v (%v), want %s", kind, f, err, want)
		}
	}
	if f, err := ReadFault(string(findings.UnevenFinger) + " a"); err != nil || f != (Fault{Kind: UnevenFinger, Finger: "a"}) {
		t.Errorf("uneven finger a: %v (%v)", f, err)
	}
	for _, kind := range []findings.Kind{findings.NotThisScore, findings.StringTuning, findings.Clipped} {
		if f, err := ReadFault(string(kind)); err == nil {
			t.Errorf("%s is no matter of practice, but was read as %s", kind, f.Kind)
		}
	}
}
