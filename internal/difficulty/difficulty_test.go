package difficulty_test

import (
	"fmt"
	"math"
	"math/rand/v2"
	"strconv"
	"strings"
	"testing"

	"antiphon/internal/difficulty"
	"antiphon/internal/guitar"
	"antiphon/internal/music"
)

// n is a note of a test score: when, how long (quarters), "string/fret/finger", right hand.
type n struct {
	at, long float64
	place    string
	pluck    string
	more     func(*music.Note)
}

var openStrings = [...]int{0, 64, 59, 55, 50, 45, 40}

func beats(q float64) music.Beats { return music.Quarters(int64(math.Round(q*960)), 960) }

func score(bpm float64, notes ...n) *music.Score {
	s := &music.Score{Parts: []music.Part{{ID: "P1", Staves: 1}}}
	if bpm > 0 {
		s.Tempos = []music.TempoMark{{Bpm: bpm, Unit: music.Quarters(1, 1)}}
	}
	for _, x := range notes {
		bar := int(x.at / 4)
		for len(s.Bars) <= bar {
			s.Bars = append(s.Bars, music.Bar{Number: strconv.Itoa(len(s.Bars) + 1), Start: music.Quarters(int64(4*len(s.Bars)), 1), Length: music.Quarters(4, 1)})
		}
		var str, fret int
		var finger string
		if _, err := fmt.Sscanf(x.place, "%d/%d/%s", &str, &fret, &finger); err != nil {
			panic(x.place)
		}
		d := music.Note{Bar: bar, Start: beats(x.at), Duration: beats(x.long), Voice: strconv.Itoa(str), Staff: 1, Pitch: music.SpellMidi(openStrings[str]+fret, 0),
			String: str, Fret: fret, HasFret: true, Fingers: []music.Fingering{{Text: finger}}}
		if x.pluck != "" {
			d.Plucks = []string{x.pluck}
		}
		if x.more != nil {
			x.more(&d)
		}
		s.Parts[0].Notes = append(s.Parts[0].Notes, d)
	}
	return s
}

func line(each float64, pattern string, places ...string) (out []n) {
	for k, p := range places {
		x := n{at: float64(k) * each, long: each, place: p}
		if pattern != "" {
			x.pluck = string(pattern[k%len(pattern)])
		}
		out = append(out, x)
	}
	return out
}

func grip(at float64, places ...string) (out []n) {
	for _, p := range places {
		out = append(out, n{at: at, long: 4, place: p})
	}
	return out
}

func profile(s *music.Score) difficulty.Report {
	return difficulty.Profile(s, guitar.Standard(), guitar.AdultHand(), difficulty.Options{})
}

var cScale = strings.Fields("5/3/3 4/0/0 4/2/2 4/3/3 3/0/0 3/2/2 2/0/0 2/1/1")

// TestFigures holds each figure of a bar against a value worked by hand.
func TestFigures(t *testing.T) {
	bar := func(notes ...n) difficulty.Bar { return profile(score(60, notes...)).Bars[0] }
	scale := bar(line(.5, "mi", cScale...)...)
	four := bar(grip(0, "6/1/1", "5/4/4")...)
	shifted := bar(line(2, "", "1/1/1", "1/5/1")...)
	later := bar(line(1, "", "1/1/1", "1/1/1", "1/5/1")...)
	stretch := bar(line(2, "", "1/3/3", "1/5/4")...)
	barre := bar(append(grip(0, "5/2/1", "1/2/1"), n{2, 2, "4/4/3", "", nil})...)
	halfBar := bar(n{0, 2, "2/1/1", "", nil}, n{0, 2, "1/1/1", "", nil}, n{2, 2, "1/0/0", "", nil})
	fourth := bar(line(1, "", "1/4/4", "1/3/3", "1/4/4", "1/0/0")...)
	for _, c := range []struct {
		name              string
		got, want, within float64
		source            string
	}{
		{"fingers 1 and 4, frets 1 and 4, neighbouring strings, mm", four.ReachMm, 98.02, 0.01, "the reference's 97.61 mm along the neck; across, (43+15·(1-2^(-2/12)))/5 = 8.93 mm; Pythagoras"},
		{"which fingers", float64(10*four.ReachFingers[0] + four.ReachFingers[1]), 14, 0, "as marked"},
		{"C major scale: shifts", float64(scale.Shifts), 0, 0, "first position: no shift (the reference, 2.3)"},
		{"C major scale: notes a second", scale.NotesPerS, 2, 1e-9, "eight notes in four seconds"},
		{"C major scale: crossings", float64(scale.Crossings), 3, 0, "strings 5 4 4 4 3 3 2 2"},
		{"C major scale from m: against the hand", float64(scale.AgainstHand), 1, 0, "the reference, 6.14"},
		{"C major scale: reach", scale.ReachMm, 0, 0, "one finger at a time"},
		{"finger 1 from fret 1 to 5: shifts a minute", shifted.ShiftsPerMin, 15, 1e-9, "one in four seconds"},
		{"its way, mm", shifted.ShiftMm, 126.568, 1e-3, "the reference's frets: 163.050 - 36.482"},
		{"its speed, mm/s", shifted.ShiftMmPerS, 63.284, 1e-3, "in two seconds"},
		{"speed of a shift after the second note, mm/s", later.ShiftMmPerS, 126.568, 1e-3, "the same way in one second"},
		{"3 on fret 3, then 4 on fret 5: shifts", float64(stretch.Shifts), 0, 0, "the hand leans: fret 5 is 96.2 mm behind where finger 1 can be for both"},
		{"barre for a whole bar", barre.BarreShare, 1, 1e-9, "held throughout"},
		{"strings under the barre", float64(barre.BarreOver), 5, 0, "strings 5 to 1"},
		{"fingers down", float64(barre.FingersDown), 2, 0, "1 and 3"},
		{"barre for half a bar", halfBar.BarreShare, .5, 1e-9, "two of four quarters"},
		{"fourth finger", fourth.FourthShare, 2. / 3, 1e-9, "two of three stops"},
	} {
		if !(math.Abs(c.got-c.want) <= c.within) {
			t.Errorf("%s: got %.6g, want %.6g (%s)", c.name, c.got, c.want, c.source)
		}
	}
}

func TestSkills(t *testing.T) {
	span := func(kind, role string) func(*music.Note) {
		return func(d *music.Note) {
			d.Voice, d.Spans = "1", append(d.Spans, music.Span{Kind: kind, Role: role, Number: 1})
		}
	}
	for _, c := range []struct {
		name  string
		notes []n
		want  string
	}{
		{"C major scale", line(.5, "mi", cScale...), ""},
		{"fast scale", line(.125, "mi", cScale...), ""},
		{"fourth finger", line(1, "", "1/4/4"), "fourth finger"},
		{"small barre", grip(0, "2/1/1", "1/1/1"), "small barre"},
		{"full barre", grip(0, "6/1/1", "1/1/1"), "full barre"},
		{"fifth position", line(1, "", "1/5/1", "1/7/3"), "higher positions"},
		{"a shift", line(1, "", "1/1/1", "1/8/1"), "higher positions, shifting"},
		{"an extension", grip(0, "6/1/1", "5/5/4"), "fourth finger, stretching"},
		{"hammer-on", []n{{0, 1, "1/0/0", "i", span("hammer-on", "start")}, {1, 1, "1/1/1", "", span("hammer-on", "stop")}}, "left-hand slurs"},
		{"held bass", []n{{0, 4, "5/3/3", "p", nil}, {1, 1, "2/1/1", "i", nil}}, "holding a voice"},
		{"a bass with a treble", []n{{0, 1, "5/3/3", "p", nil}, {0, 1, "2/0/0", "i", nil}}, "thumb and finger together"},
		{"rest stroke by a", []n{{0, 1, "1/0/0", "a", func(d *music.Note) { d.SetStroke(music.RestStroke) }}}, "ring finger, rest stroke"},
		{"C chord", grip(0, "5/3/3", "4/2/2", "3/0/0", "2/1/1", "1/0/0"), "chords"},
		{"harmonic", []n{{0, 1, "1/12/0", "", func(d *music.Note) { d.Harmonic = music.Harmonic{Present: true, Natural: true} }}}, "harmonics, higher positions"},
		{"quick notes", line(.2, "mi", "1/0/0", "1/1/1", "1/3/3", "1/1/1", "1/0/0", "1/1/1", "1/3/3", "1/1/1", "1/0/0", "1/1/1", "1/3/3", "1/1/1", "1/0/0", "1/1/1", "1/3/3", "1/1/1", "1/0/0", "1/1/1", "1/3/3", "1/1/1"), "quick notes"},
	} {
		var got []string
		for _, s := range profile(score(60, c.notes...)).Skills {
			got = append(got, string(s.Skill))
			if s.First != "1" || len(s.Bars) != 1 || s.Times < 1 {
				t.Errorf("%s: %+v", c.name, s)
			}
		}
		if want := strings.Split(c.want, ", "); len(got) != len(want) && c.want != "" || c.want == "" && len(got) > 0 {
			t.Errorf("%s: got %v, want %s", c.name, got, c.want)
		} else {
			for _, s := range got {
				if !strings.Contains(c.want, s) {
					t.Errorf("%s: got %v, want %s", c.name, got, c.want)
				}
			}
		}
	}
}

// TestHardestBars: the bars that a teacher would point at are named, with why.
func TestHardestBars(t *testing.T) {
	var notes []n
	notes = append(notes, line(.5, "", cScale...)...)
	notes = append(notes, grip(4, "6/1/1", "5/5/4")...) // a stretch
	for k, p := range strings.Fields("1/1/1 1/8/1 1/1/1 1/8/1") {
		notes = append(notes, n{8 + float64(k), 1, p, "", nil})
	}
	r := profile(score(120, notes...))
	if len(r.Hardest) != 3 || r.Hardest[2].Bar != "1" {
		t.Fatalf("hardest: %+v", r.Hardest)
	}
	text := r.Hardest[0].Text + " " + r.Hardest[1].Text
	for _, want := range []string{"fingers 1 and 4 are 1", "for this hand", "the hand shifts 3 times", "Bar 2: ", "Bar 3: "} {
		if !strings.Contains(text, want) {
			t.Errorf("%q is not in %q", want, text)
		}
	}
	if r.Load != r.Hardest[0].Load {
		t.Errorf("the load of three bars is their hardest's, %v, not %v", r.Hardest[0].Load, r.Load)
	}
	if !r.TempoSet || r.Unmarked != 0 {
		t.Errorf("%+v", r)
	}
	plain := strings.Join(r.Plain(), "\n")
	for _, want := range []string{"The bars that ask most:\n  Bar ", "shifting (bar 3)", "stretching (bar 2)"} {
		if !strings.Contains(plain, want) {
			t.Errorf("%q is not in\n%s", want, plain)
		}
	}
}

// TestGrips: of the four grips whose tendon load was modelled (Sung et al. 2013: G7 41.0 N, Am 32.8,
// E 30.3, C 26.6) the hardest is the hardest here too. The order of the others depends on how hard each
// string must be pressed, which is not measured here.
func TestGrips(t *testing.T) {
	load := func(places ...string) float64 { return profile(score(60, grip(0, places...)...)).Load }
	c := load("5/3/3", "4/2/2", "3/0/0", "2/1/1", "1/0/0")
	e := load("6/0/0", "5/2/2", "4/2/3", "3/1/1", "2/0/0", "1/0/0")
	am := load("5/0/0", "4/2/2", "3/2/3", "2/1/1", "1/0/0")
	g7 := load("6/3/3", "5/2/2", "4/0/0", "3/0/0", "2/0/0", "1/1/1")
	if !(g7 > c && g7 > e && g7 > am) {
		t.Errorf("G7 %.3f, Am %.3f, E %.3f, C %.3f", g7, am, e, c)
	}
}

// TestTempoHandNeck: twice the tempo is twice the notes and shifts a minute and the same reach; a grip is
// no easier for a smaller hand, and narrower on a shorter neck.
func TestTempoHandNeck(t *testing.T) {
	rng := rand.New(rand.NewPCG(2, 9))
	for range 200 {
		var notes []n
		for k := range 16 {
			for _, s := range rng.Perm(6)[:1+rng.IntN(2)] {
				fret, finger := rng.IntN(9), 1+rng.IntN(4)
				if fret == 0 {
					finger = 0
				}
				notes = append(notes, n{float64(k) / 2, .5 * float64(1+rng.IntN(3)), fmt.Sprintf("%d/%d/%d", s+1, fret, finger), "pima"[k%4 : k%4+1], nil})
			}
		}
		s := score(0, notes...)
		in, hand := guitar.Standard(), guitar.AdultHand()
		slow := difficulty.Profile(s, in, hand, difficulty.Options{QuarterBpm: 60})
		fast := difficulty.Profile(s, in, hand, difficulty.Options{QuarterBpm: 120})
		for i := range slow.Bars {
			a, b := slow.Bars[i], fast.Bars[i]
			if math.Abs(b.NotesPerS-2*a.NotesPerS) > 1e-9 || math.Abs(b.ShiftsPerMin-2*a.ShiftsPerMin) > 1e-9 || a.ReachMm != b.ReachMm || b.Load < a.Load {
				t.Fatalf("at 60 %+v, at 120 %+v", a, b)
			}
			for _, x := range []difficulty.Bar{a, b} {
				if x.FourthShare < 0 || x.FourthShare > 1 || x.BarreShare < 0 || x.BarreShare > 1 || x.FingersDown > 4 || x.AgainstHand > x.Crossings || math.IsNaN(x.Load) || math.IsInf(x.Load, 0) {
					t.Fatalf("%+v", x)
				}
			}
		}
		if !slow.TempoSet || difficulty.Profile(s, in, hand, difficulty.Options{}).TempoSet {
			t.Fatal("the tempo is set where it was given, and only there")
		}
	}
	// One grip, hand by hand: the same distance, less ease.
	before := 0.0
	for _, spanMm := range []float64{240, 205, 180, 160} {
		r := difficulty.Profile(score(60, grip(0, "6/1/1", "5/4/4")...), guitar.Standard(), guitar.ChildHand(spanMm), difficulty.Options{})
		if r.Load < before {
			t.Errorf("span %v: load %v, a larger hand had %v", spanMm, r.Load, before)
		}
		before = r.Load
	}
	// Worked by hand: all lengths of the neck go with the scale, 97.61·530/650 = 79.59 mm (the reference),
	// 8.93 mm across shrinks by half as much, to 8.10; Pythagoras: 80.00.
	short := difficulty.Profile(score(60, grip(0, "6/1/1", "5/4/4")...), guitar.Instrument{ScaleMm: 530}, guitar.AdultHand(), difficulty.Options{})
	if mm := short.Bars[0].ReachMm; math.Abs(mm-80.00) > 0.02 {
		t.Errorf("on 530 mm the grip is %.2f mm wide, want 80.00", mm)
	}
}

// TestNothing: scores without notes, without marks and without tempo have a profile without figures.
func TestNothing(t *testing.T) {
	if r := profile(&music.Score{}); len(r.Bars)+len(r.Hardest)+len(r.Skills) > 0 || r.Load != 0 {
		t.Errorf("%+v", r)
	}
	s := score(0, line(1, "", "1/0/0", "1/1/1")...)
	for k := range s.Parts[0].Notes {
		x := &s.Parts[0].Notes[k]
		x.String, x.HasFret, x.Fingers = 0, false, nil
	}
	if r := profile(s); r.Unmarked != 2 || r.TempoSet || r.Bars[0].NotesPerS == 0 || r.Bars[0].ReachMm != 0 {
		t.Errorf("%+v", r)
	}
}
