package music_test

import (
	"fmt"
	"strings"
	"testing"

	"antiphon/internal/music"
)

func q(num, den int64) music.Beats { return music.Quarters(num, den) }

func pitch(step byte, octave int) music.Pitch { return music.Pitch{Step: step, Octave: octave} }

// bars makes n bars of four quarters.
func bars(n int) (out []music.Bar) {
	four := music.Time{Parts: []music.TimePart{{Beats: []int{4}, Unit: 4}}}
	for i := range n {
		out = append(out, music.Bar{Number: fmt.Sprint(i + 1), Start: q(int64(4*i), 1), Length: q(4, 1), Time: four})
	}
	return out
}

func heard(s *music.Score) string {
	var out []string
	for _, n := range s.Sounding() {
		out = append(out, fmt.Sprintf("%s@%v+%v", n.Name, n.Onset, n.Duration))
	}
	return strings.Join(out, " ")
}

func TestTiesAreOneNote(t *testing.T) {
	a := pitch('A', 3)
	n := func(bar int, start, length music.Beats, p music.Pitch, voice string, from, to bool) music.Note {
		return music.Note{Bar: bar, Start: start, Duration: length, Pitch: p, Voice: voice, Staff: 1, TieStop: from, TieStart: to}
	}
	for _, c := range []struct {
		name  string
		notes []music.Note
		want  string
	}{
		{"over two bar lines", []music.Note{n(0, q(2, 1), q(2, 1), a, "1", false, true), n(1, q(4, 1), q(4, 1), a, "1", true, true), n(2, q(8, 1), q(1, 1), a, "1", true, false)}, "A3@2+7"},
		{"not without a tie", []music.Note{n(0, q(0, 1), q(2, 1), a, "1", false, false), n(0, q(2, 1), q(2, 1), a, "1", false, false)}, "A3@0+2 A3@2+2"},
		{"not to another pitch", []music.Note{n(0, q(0, 1), q(2, 1), a, "1", false, true), n(0, q(2, 1), q(2, 1), pitch('B', 3), "1", true, false)}, "A3@0+2 B3@2+2"},
		{"into another voice", []music.Note{n(0, q(0, 1), q(2, 1), a, "1", false, true), n(0, q(2, 1), q(2, 1), a, "2", true, false)}, "A3@0+4"},
		{"its own voice first", []music.Note{n(0, q(0, 1), q(2, 1), a, "1", false, true), n(0, q(0, 1), q(2, 1), a, "2", false, true),
			n(0, q(2, 1), q(1, 1), a, "2", true, false), n(0, q(2, 1), q(2, 1), a, "1", true, false)}, "A3@0+4 A3@0+3"},
		{"written out of order", []music.Note{n(1, q(4, 1), q(1, 1), a, "1", true, false), n(0, q(3, 1), q(1, 1), a, "1", false, true)}, "A3@3+2"},
		{"the end is not marked, voice the same", []music.Note{n(0, q(0, 1), q(2, 1), a, "1", false, true), n(0, q(2, 1), q(2, 1), a, "1", false, false)}, "A3@0+4"},
		{"a grace note tied to its main note is the note", []music.Note{{Grace: true, Pitch: a, Voice: "1", TieStart: true}, n(0, q(0, 1), q(2, 1), a, "1", true, false)}, "A3@0+2"},
		{"a tie that comes from nowhere is struck", []music.Note{n(0, q(0, 1), q(2, 1), a, "1", true, false)}, "A3@0+2"},
	} {
		s := &music.Score{Bars: bars(3), Parts: []music.Part{{ID: "P1", Notes: c.notes}}}
		if got := heard(s); got != c.want {
			t.Errorf("%s: %s, want %s", c.name, got, c.want)
		}
		if w := s.Written(); len(w) == 0 || len(w) != len(s.Sounding()) {
			t.Errorf("%s: written %v", c.name, w)
		}
	}
}

func TestOrderAndWhatIsLeftOut(t *testing.T) {
	s := &music.Score{Bars: bars(1), Parts: []music.Part{
		{ID: "G2", Notes: []music.Note{
			{Start: q(1, 1), Duration: q(1, 1), Pitch: pitch('E', 4), Voice: "1"},
			{Start: q(1, 1), Grace: true, Pitch: pitch('G', 4), Voice: "1"},
			{Start: q(1, 1), Grace: true, Pitch: pitch('F', 4), Voice: "1"},
			{Start: q(1, 1), Duration: q(1, 1), Pitch: pitch('C', 3), Voice: "2", Cue: true},
			{Start: q(2, 1), Duration: q(1, 1), Rest: true, Pitch: pitch('B', 4)},
			{Start: q(2, 1), Duration: q(1, 1), Unpitched: true, Pitch: pitch('B', 4)},
		}},
		{ID: "G1", Notes: []music.Note{{Start: q(1, 1), Duration: q(1, 1), Pitch: pitch('C', 2)}}},
	}}
	var got []string
	for _, n := range s.Sounding() {
		got = append(got, fmt.Sprintf("%s %s %s %v %v", n.ID, n.Part, n.Name, n.Grace, n.Cue))
	}
	want := "n1 G2 G4 true false|n2 G2 F4 true false|n3 G2 C3 false true|n4 G2 E4 false false|n5 G1 C2 false false"
	if strings.Join(got, "|") != want {
		t.Errorf("got  %s\nwant %s", strings.Join(got, "|"), want)
	}
}

// Two voices may share a note, and a tie may lead into a second ending: the ear must know both.
func TestUnisonsAndTiesFromNowhere(t *testing.T) {
	e := pitch('E', 4)
	s := &music.Score{Bars: bars(1), Parts: []music.Part{{ID: "P1", Notes: []music.Note{
		{Duration: q(1, 1), Pitch: e, Voice: "1"}, {Duration: q(2, 1), Pitch: e, Voice: "2"},
		{Start: q(2, 1), Duration: q(1, 1), Pitch: e, Voice: "1", TieStop: true}, {Start: q(3, 1), Duration: q(1, 1), Pitch: e, Voice: "1"},
	}}, {ID: "P2", Notes: []music.Note{{Start: q(3, 1), Duration: q(1, 1), Pitch: e, Voice: "1"}}}}}
	var got []string
	for _, n := range s.Sounding() {
		got = append(got, fmt.Sprintf("%v/%v", n.Unison, n.TiedIn))
	}
	if want := "false/false true/false false/true false/false false/false"; strings.Join(got, " ") != want {
		t.Errorf("unison/tied in: %v, want %s", got, want)
	}
}

func TestMarksOnSounds(t *testing.T) {
	s := &music.Score{Bars: bars(1), Parts: []music.Part{{ID: "P1",
		Attributes: []music.Attributes{{Transpose: &music.Transpose{Octave: -1}}},
		Directions: []music.Direction{{At: q(1, 1), Kind: music.Dynamic, Text: "p"}, {At: q(2, 1), Kind: music.Dynamic, Text: "sf"}},
		Notes: []music.Note{
			{Duration: q(1, 1), Pitch: pitch('E', 4), Fingers: []music.Fingering{{Text: "3", Alternate: true}, {Text: "2"}}, Plucks: []string{"x", "m"}},
			{Start: q(1, 1), Duration: q(1, 1), Pitch: pitch('E', 4), Spans: []music.Span{{Kind: "slur", Role: "stop"}}, Tremolo: music.Tremolo{Kind: "single", Beams: 3}},
			{Start: q(2, 1), Duration: q(1, 1), Pitch: pitch('E', 4), Spans: []music.Span{{Kind: "hammer-on", Role: "stop"}}, String: 4, HasFret: true},
			{Start: q(3, 1), Duration: q(1, 1), Pitch: pitch('E', 4), Arpeggio: music.Arpeggio{Kind: "arpeggiate"}, Dynamics: []string{"ff"}, Marks: []music.Mark{{Kind: "open-string"}}},
		}}}}
	n := s.Sounding()
	if n[0].Midi != 52 || n[0].Name != "E3" || n[0].Finger != "2" || n[0].Pluck != "m" || n[0].Fret != -1 || n[0].Dynamic != "" {
		t.Errorf("first %+v", n[0])
	}
	if n[1].Slurred || n[1].Tremolo != 3 || n[1].Dynamic != "p" {
		t.Errorf("a slur alone does not say that the note is not plucked: %+v", n[1])
	}
	if !n[2].Slurred || n[2].String != 4 || n[2].Fret != 0 || n[2].Dynamic != "p" {
		t.Errorf("third %+v", n[2])
	}
	if !n[3].Rolled || n[3].Dynamic != "ff" || n[3].Fret != 0 {
		t.Errorf("fourth %+v", n[3])
	}
}

// A string touched at 1/n of its length sounds the n-th partial (physics of strings): 12·log2 n
// semitones above the open string, to the nearest semitone.
func TestHarmonics(t *testing.T) {
	for _, c := range []struct {
		what    string
		written music.Pitch
		fret    int
		as      music.HarmonicPitch
		natural bool
		want    int
	}{
		{"open fifth string A2 touched at 12, written there", pitch('A', 3), 12, music.HarmonicTouching, true, 57},
		{"at 7: third partial, E4", pitch('E', 3), 7, music.HarmonicTouching, true, 64},
		{"at 5: fourth partial, A4", pitch('D', 3), 5, music.HarmonicTouching, true, 69},
		{"written as the open string", pitch('A', 2), 7, music.HarmonicBase, true, 64},
		{"written as it sounds", pitch('E', 4), 7, music.HarmonicSounding, true, 64},
		{"not said: taken at its word", pitch('E', 4), 7, music.HarmonicUnstated, true, 64},
		{"artificial, an octave above the stopped note", pitch('C', 4), 5, music.HarmonicBase, false, 72},
	} {
		n := music.Note{Duration: q(1, 1), Pitch: c.written, Fret: c.fret, HasFret: true, Harmonic: music.Harmonic{Present: true, Natural: c.natural, Artificial: !c.natural, Pitch: c.as}}
		s := &music.Score{Bars: bars(1), Parts: []music.Part{{ID: "P1", Notes: []music.Note{n}}}}
		if got := s.Sounding()[0].Midi; got != c.want {
			t.Errorf("%s: %d, want %d", c.what, got, c.want)
		}
	}
}

// line is n quarters rising by semitones from C4, as notes or as tablature, with changes.
func line(n, staff int, tab bool, change func(i int, n *music.Note)) []music.Note {
	var out []music.Note
	for i := range n {
		d := music.Note{Bar: i / 4, Start: q(int64(i), 1), Duration: q(1, 1), Pitch: music.SpellMidi(60+i, 0), Staff: staff, Voice: fmt.Sprint(staff)}
		if tab {
			d.String, d.Fret, d.HasFret = 2, 1+i, true
		}
		if change != nil {
			change(i, &d)
		}
		out = append(out, d)
	}
	return out
}

func TestTablatureIsOneMusic(t *testing.T) {
	clef := func(staff int, sign string) music.Attributes {
		return music.Attributes{Staff: staff, Clef: &music.Clef{Sign: sign}}
	}
	up := func(_ int, n *music.Note) { n.Pitch.Octave++ }
	other := func(i int, n *music.Note) { n.Pitch.Octave += i % 2 }
	for _, c := range []struct {
		name  string
		parts []music.Part
		want  int
		str   bool // the notes know their strings
	}{
		{"on a second staff", []music.Part{{ID: "P1", Attributes: []music.Attributes{clef(1, "G"), clef(2, "TAB")}, Notes: append(line(8, 1, false, nil), line(8, 2, true, nil)...)}}, 8, true},
		{"an octave higher", []music.Part{{ID: "P1", Attributes: []music.Attributes{clef(1, "G"), clef(2, "TAB")}, Notes: append(line(8, 1, false, nil), line(8, 2, true, up)...)}}, 8, true},
		{"as a part of its own", []music.Part{{ID: "P1", Notes: line(8, 1, false, nil)}, {ID: "P2", Attributes: []music.Attributes{clef(0, "TAB")}, Notes: line(8, 1, true, nil)}}, 8, true},
		{"alone", []music.Part{{ID: "P1", Attributes: []music.Attributes{clef(0, "TAB")}, Notes: line(8, 1, true, nil)}}, 8, true},
		{"another tune in tablature", []music.Part{{ID: "P1", Notes: line(8, 1, false, nil)}, {ID: "P2", Attributes: []music.Attributes{clef(0, "TAB")}, Notes: line(8, 1, true, other)}}, 16, false},
		{"two guitars in unison, both in notes", []music.Part{{ID: "P1", Notes: line(8, 1, false, nil)}, {ID: "P2", Notes: line(8, 1, true, nil)}}, 16, false},
		{"a short riff in common with a long tune", []music.Part{{ID: "P1", Notes: line(12, 1, false, nil)}, {ID: "P2", Attributes: []music.Attributes{clef(0, "TAB")}, Notes: line(4, 1, true, nil)}}, 16, false},
	} {
		s := &music.Score{Bars: bars(3), Parts: c.parts}
		got := s.Sounding()
		if len(got) != c.want {
			t.Errorf("%s: %d notes, want %d", c.name, len(got), c.want)
			continue
		}
		if c.str && (got[3].String != 2 || got[3].Fret != 4 || got[3].Midi != 63) {
			t.Errorf("%s: %+v", c.name, got[3])
		}
	}
}

func TestTempoAndBeat(t *testing.T) {
	s := &music.Score{Bars: bars(2)}
	s.Bars[1].Time = music.Time{Parts: []music.TimePart{{Beats: []int{6}, Unit: 8}}}
	if bpm, marked := s.TempoAt(q(0, 1)); bpm != 90 || marked {
		t.Errorf("without a mark %v %v", bpm, marked)
	}
	if u := s.BeatUnitAt(q(0, 1)); u != q(1, 1) {
		t.Errorf("4/4 beats %v", u)
	}
	if u := s.BeatUnitAt(q(5, 1)); u != q(3, 2) {
		t.Errorf("6/8 beats %v", u)
	}
	s.Tempos = []music.TempoMark{{At: q(1, 1), Bpm: 40, Unit: q(3, 2)}, {At: q(4, 1), Bpm: 100, Unit: q(1, 1), Silent: true}}
	for _, c := range []struct {
		at, unit music.Beats
		bpm      float64
	}{{q(0, 1), q(3, 2), 60}, {q(1, 1), q(3, 2), 60}, {q(4, 1), q(3, 2), 100}} {
		if bpm, marked := s.TempoAt(c.at); bpm != c.bpm || !marked {
			t.Errorf("tempo at %v is %v", c.at, bpm)
		}
		if u := s.BeatUnitAt(c.at); u != c.unit {
			t.Errorf("beat at %v is %v", c.at, u)
		}
	}
	for at, want := range map[music.Beats]int{q(-1, 1): 0, q(0, 1): 0, q(7, 2): 0, q(4, 1): 1, q(99, 1): 1} {
		if got := s.BarAt(at); got != want {
			t.Errorf("bar at %v is %d, want %d", at, got, want)
		}
	}
}
