package compare

import (
	"bytes"
	"encoding/json"
	"encoding/xml"
	"errors"
	"fmt"
	"io"
	"math"
	"strings"
	"testing"
	"time"

	"antiphon/internal/amend"
	"antiphon/internal/ear"
	"antiphon/internal/evidence"
	"antiphon/internal/findings"
	"antiphon/internal/music"
	"antiphon/internal/report"
	"antiphon/internal/tone"
)

// score is an invented tune of so many bars of four quarters in C at 60 a minute.
func score(bars int) *music.Score {
	four := music.Time{Parts: []music.TimePart{{Beats: []int{4}, Unit: 4}}}
	s := &music.Score{Tempos: []music.TempoMark{{Bpm: 60, Unit: music.Quarters(1, 1)}}}
	p := music.Part{ID: "P1"}
	steps := []music.Pitch{{Step: 'C', Octave: 4}, {Step: 'D', Octave: 4}, {Step: 'E', Octave: 4}, {Step: 'F', Octave: 4}}
	for bar := range bars {
		at := music.Quarters(int64(4*bar), 1)
		s.Bars = append(s.Bars, music.Bar{Number: fmt.Sprint(bar + 1), Start: at, Length: music.Quarters(4, 1), Time: four})
		for k := range 4 {
			p.Notes = append(p.Notes, music.Note{Bar: bar, Start: at.Add(music.Quarters(int64(k), 1)), Duration: music.Quarters(1, 1), Voice: "1", Staff: 1, Pitch: steps[k]})
		}
	}
	s.Parts = []music.Part{p}
	return s
}

// heard is a take of it; passes are added by play.
func heard(s *music.Score) *ear.Hearing {
	return &ear.Hearing{DurationS: 60, Score: s.Sounding(), Match: 0.9, Tempo: ear.Tempo{BeatUnitQ: 1, MarkedBpm: 60}}
}

func play(h *ear.Hearing, s *music.Score, from, to int, at, quarterS float64) {
	n := len(h.Passes) + 1
	for i := from; i < to; i++ {
		on := at + quarterS*float64(i-from)
		h.Played = append(h.Played, ear.Played{Note: i, Pass: n, OnsetS: on, OffsetS: on + 0.9*quarterS, Midi: h.Score[i].Midi, Verdict: ear.Right, Confidence: 0.9})
	}
	h.Passes = append(h.Passes, ear.Pass{N: n, FromBar: h.Score[from].Bar, ToBar: h.Score[to-1].Bar, StartS: at, EndS: at + quarterS*float64(to-from-1), Complete: from == 0 && to == len(h.Score)})
	h.Pulse(s)
}

func at(v *float64) float64 {
	if v == nil {
		return math.NaN()
	}
	return *v
}

// TestMusicalTime: an earlier take at 60 that stops after bar 2 and goes through from bar 1, and one of
// today at 80 with a slip and a missing note. All seconds are worked by hand.
func TestMusicalTime(t *testing.T) {
	s := score(6)
	a, b := heard(s), heard(s)
	play(a, s, 0, 8, 2, 1)
	play(a, s, 0, 20, 20, 1) // to the end of bar 5
	a.Jumps = []ear.Jump{{Kind: ear.Restart, FromBar: "2", ToBar: "1", StopS: 9, ResumeS: 20, Confidence: 0.9}}
	for _, i := range []int{8 + 4, 8 + 5} { // bar 2 of the second pass
		a.Played[i].Verdict, a.Played[i].Midi = ear.Wrong, a.Played[i].Midi+1
	}
	play(b, s, 0, 24, 1, 0.75)
	b.Played[9].Verdict, b.Played[9].Midi = ear.Wrong, 63 // bar 3
	b.Missed = []ear.Missed{{Note: 2, Pass: 1, ExpectedS: 2.5, Confidence: 0.3}}
	b.Played = append(b.Played[:2:2], b.Played[3:]...)
	b.Pulse(s)
	b.Played[15].Verdict, b.Played[15].Midi, b.Played[15].Confidence = ear.Wrong, 63, 0.3 // bar 5: the ear doubts it

	c, err := Takes(Side{Hearing: a, Name: "14 October"}, Side{Hearing: b, Name: "this take"}, s)
	if err != nil {
		t.Fatal(err)
	}
	if c.A.Pass != 2 || c.B.Pass != 1 || len(c.A.Lines) != 2 {
		t.Errorf("passes %d and %d of %d", c.A.Pass, c.B.Pass, len(c.A.Lines))
	}
	if len(c.Bars) != 6 || at(c.Bars[2].AS) != 28 || at(c.Bars[2].AEndS) != 32 || at(c.Bars[2].BS) != 7 || at(c.Bars[2].BEndS) != 10 {
		t.Errorf("bar 3: %+v", c.Bars[2])
	}
	if c.Bars[5].AS != nil || at(c.Bars[5].BS) != 16 {
		t.Errorf("bar 6 is only in the one take: %+v", c.Bars[5])
	}
	if n := c.Notes[2]; n.ID != "n3" || !n.AHeard || at(n.AS) != 22 || n.BHeard || math.Abs(at(n.BS)-2.5) > 1e-9 {
		t.Errorf("the missing note lies between its neighbours: %+v, B at %v", n, at(n.BS))
	}
	if n := c.Notes[23]; n.AS != nil || at(n.BS) != 18.25 {
		t.Errorf("the last note: %+v", n)
	}
	for i, want := range []Change{Same, Better, NotYet, Same, Same, Unknown} { // a missing note that the ear doubts does not count
		if c.Bars[i].Change != want {
			t.Errorf("bar %d: %q, want %q", i+1, c.Bars[i].Change, want)
		}
	}
	for i, want := range map[int]string{
		0: "Bar 1: as before, all notes right.",
		1: "Bar 2: all notes right, 2 notes not right before.",
		2: "Bar 3: not yet; 1 note not right, all notes right before.",
		5: "Bar 6: new; it was not played before.",
	} {
		if c.Bars[i].Say != want {
			t.Errorf("%q, want %q", c.Bars[i].Say, want)
		}
	}
	want := []string{"19 of 20 notes right; 18 of 20 before.", "Better in bar 2. Not yet as before in bar 3.", "Played through without a stop; one stop before.",
		"Faster: 80 a minute, 60 before.", "New this time: bar 6."}
	if got := strings.Join(c.Say, "\n"); got != strings.Join(want, "\n") {
		t.Errorf("got\n%s\nwant\n%s", got, strings.Join(want, "\n"))
	}
	// The other pass on demand, and from A to B in straight lines: A's pass 1 at 5.5 s is quarter 3.5, in B 3.625 s.
	c, err = Takes(Side{Hearing: a, Pass: 1}, Side{Hearing: b}, s)
	if err != nil || c.A.Pass != 1 {
		t.Fatal(c.A.Pass, err)
	}
	q := between(c.A.Lines[0].S, c.A.Lines[0].Q, 5.5)
	if got := between(c.B.Lines[0].Q, c.B.Lines[0].S, q); math.Abs(q-3.5) > 1e-9 || math.Abs(got-3.625) > 1e-9 {
		t.Errorf("quarter %v, then %v s", q, got)
	}
	if _, err := json.Marshal(c); err != nil {
		t.Error(err)
	}
}

func between(x, y []float64, at float64) float64 {
	i := 1
	for i < len(x)-1 && x[i] < at {
		i++
	}
	return y[i-1] + (at-x[i-1])*(y[i]-y[i-1])/(x[i]-x[i-1])
}

func TestAgainstTheModel(t *testing.T) {
	s := score(4)
	m, b := heard(s), heard(s)
	play(m, s, 0, 16, 1, 1)
	play(b, s, 0, 8, 1, 1)
	b.Passes[0].SteadinessPct, m.Passes[0].SteadinessPct = 9, 3
	c, err := Takes(Side{Hearing: m, Model: true, Name: "the model"}, Side{Hearing: b}, s)
	if err != nil {
		t.Fatal(err)
	}
	got := strings.Join(c.Say, " ")
	for _, want := range []string{"All notes right, as in the model.", "At about the same tempo, 60 a minute.", "Not yet as steady: within 9 % of an even beat, 3 % in the model.", "Not played this time: bars 3 and 4."} {
		if !strings.Contains(got, want) {
			t.Errorf("%q lacks %q", got, want)
		}
	}
}

// TestAnotherPass: what a second start played is not called missing, though the first is the one compared.
func TestAnotherPass(t *testing.T) {
	s := score(6)
	m, b := heard(s), heard(s)
	play(m, s, 0, 24, 1, 1)
	play(b, s, 0, 12, 1, 1)
	play(b, s, 12, 20, 20, 1)
	c, err := Takes(Side{Hearing: m, Model: true, Name: "the model"}, Side{Hearing: b}, s)
	if err != nil {
		t.Fatal(err)
	}
	got := strings.Join(c.Say, " ")
	if !strings.Contains(got, "Not played this time: bar 6.") || !strings.Contains(got, "Played in another pass: bars 4 and 5.") {
		t.Error(got)
	}
	if c.Bars[3].Say != "Bar 4: played in another pass." || c.Bars[5].Say != "Bar 6: not played this time." {
		t.Errorf("%q, %q", c.Bars[3].Say, c.Bars[5].Say)
	}
}

func TestSteadierBar(t *testing.T) {
	a, b := count{written: 4, unevenMs: 50}, count{written: 4, unevenMs: 20}
	for _, c := range []struct {
		a, b count
		want Change
	}{{a, b, Better}, {b, a, NotYet}, {a, a, Same}, {count{written: 4, unevenMs: 20}, count{written: 4, unevenMs: 10}, Same}, {count{extra: 1}, count{}, Better}, {count{missed: 1}, count{wrong: 1}, Same}} {
		if got := change(c.a, c.b); got != c.want {
			t.Errorf("%+v to %+v: %q, want %q", c.a, c.b, got, c.want)
		}
	}
}

func TestRefuses(t *testing.T) {
	s, other := score(4), score(5)
	a, b := heard(s), heard(other)
	play(a, s, 0, 16, 1, 1)
	play(b, other, 0, 16, 1, 1)
	if _, err := Takes(Side{Hearing: a}, Side{Hearing: b}, s); !errors.Is(err, ErrOtherScore) {
		t.Error(err)
	}
	if _, err := Takes(Side{Hearing: a}, Side{Hearing: heard(s)}, s); !errors.Is(err, ErrNothing) {
		t.Error(err)
	}
}

func answers(as []Answer) string {
	var out []string
	for _, a := range as {
		good := ""
		if a.Good {
			good = " (good)"
		}
		out = append(out, string(a.Kind)+good+": "+a.Say)
	}
	return strings.Join(out, "\n")
}

func TestAsked(t *testing.T) {
	s := score(8)
	repeated := score(8)
	repeated.Bars[3].RepeatEnd = 2
	for _, c := range []struct {
		name string
		s    *music.Score
		ask  Ask
		do   func(*ear.Hearing, *music.Score)
		want []string
		not  []string
	}{
		{"all of it at the tempo", s, Ask{}, func(h *ear.Hearing, s *music.Score) { play(h, s, 0, 32, 1, 1) },
			[]string{"as-asked (good): All that was asked was played.", "as-asked (good): At the tempo: 60 a minute, 60 says the score."}, []string{"version"}},
		{"more than the passage", s, Ask{FromBar: "1", ToBar: "4", Bpm: 50}, func(h *ear.Hearing, s *music.Score) { play(h, s, 0, 28, 1, 1) },
			[]string{"more (good): All that was asked, and more: bars 5–7 came as well.", "other-tempo: Faster: 60 a minute, 50 was asked."}, []string{"less"}},
		{"less", s, Ask{Bpm: 80}, func(h *ear.Hearing, s *music.Score) { play(h, s, 0, 16, 1, 1) },
			[]string{"less: Not everything was played: bars 5–8 did not come.", "Slower: 60 a minute, 80 was asked. Often wise"}, []string{"(good)"}},
		{"other bars", s, Ask{FromBar: "5", ToBar: "6"}, func(h *ear.Hearing, s *music.Score) { play(h, s, 0, 20, 1, 1) },
			[]string{"bar 6 did not come", "Not asked, and played: bars 1–4."}, nil},
		{"without the repeat", repeated, Ask{}, func(h *ear.Hearing, s *music.Score) { play(h, s, 0, 32, 1, 1) }, []string{"other-version: Without the repeat."}, nil},
		{"a passage needs no repeat", repeated, Ask{FromBar: "1", ToBar: "4"}, func(h *ear.Hearing, s *music.Score) { play(h, s, 0, 16, 1, 1) }, nil, []string{"repeat"}},
		{"rounds", s, Ask{}, func(h *ear.Hearing, s *music.Score) {
			play(h, s, 0, 32, 1, 1)
			play(h, s, 0, 32, 34, 0.8)
			h.Jumps = []ear.Jump{{Kind: ear.Repeat, FromBar: "8", ToBar: "1", Confidence: 0.9}}
		}, []string{"more (good): Played round 2 times."}, nil},
		{"a ladder reaches the tempo", s, Ask{Bpm: 75}, func(h *ear.Hearing, s *music.Score) {
			play(h, s, 0, 32, 1, 1.2)
			play(h, s, 0, 32, 45, 1)
			play(h, s, 0, 32, 80, 0.8)
		}, []string{"as-asked (good): One pass is at the tempo: 75 a minute."}, []string{"other-tempo"}},
		{"learnt otherwise", s, Ask{}, func(h *ear.Hearing, s *music.Score) {
			play(h, s, 0, 32, 1, 1)
			play(h, s, 0, 32, 40, 1)
			for i := range h.Played {
				if n := &h.Played[i]; n.Note == 9 || n.Note == 22 {
					n.Verdict, n.Midi = ear.Wrong, n.Midi+1
				}
			}
		}, []string{"other-version: Some notes come otherwise each time (bars 3 and 6)"}, nil},
		{"two bars of another version", s, Ask{}, func(h *ear.Hearing, s *music.Score) {
			play(h, s, 0, 32, 1, 1)
			for i := 16; i < 23; i++ {
				h.Played[i].Verdict, h.Played[i].Midi = ear.Wrong, h.Played[i].Midi+4
			}
		}, []string{"other-version: The rest is as written, and bars 5 and 6 came otherwise"}, nil},
		{"wrong all over is no version", s, Ask{}, func(h *ear.Hearing, s *music.Score) {
			play(h, s, 0, 32, 1, 1)
			for i := range h.Played {
				if i%2 == 0 || i > 15 && i < 20 {
					h.Played[i].Verdict = ear.Wrong
				}
			}
		}, nil, []string{"other-version"}},
		{"once is not each time", s, Ask{}, func(h *ear.Hearing, s *music.Score) {
			play(h, s, 0, 32, 1, 1)
			play(h, s, 0, 32, 40, 1)
			h.Played[9].Verdict, h.Played[22].Verdict = ear.Wrong, ear.Wrong
		}, nil, []string{"other-version"}},
		{"with a capo", s, Ask{}, func(h *ear.Hearing, s *music.Score) { h.SoundsHigher = 2 }, []string{"other-version: The notes of this score, 2 semitones higher"}, nil},
		{"another piece", s, Ask{}, func(h *ear.Hearing, s *music.Score) {}, []string{"other-piece: Something else"}, nil},
		{"soft and loud", s, Ask{Dynamics: true}, func(h *ear.Hearing, s *music.Score) {
			play(h, s, 0, 32, 1, 1)
			h.Dynamics.ByMark = []ear.MarkLevel{{Mark: "p", Db: -4, Notes: 16}, {Mark: "f", Db: 3, Notes: 16}}
		}, []string{"Soft and loud can be told apart"}, nil},
	} {
		h := heard(c.s)
		c.do(h, c.s)
		got := answers(Asked(c.ask, h, tone.Heard{}, c.s))
		if got == "" {
			t.Errorf("%s: no answer", c.name)
		}
		for _, w := range c.want {
			if !strings.Contains(got, w) {
				t.Errorf("%s:\n%s\nlacks %q", c.name, got, w)
			}
		}
		for _, w := range c.not {
			if strings.Contains(got, w) {
				t.Errorf("%s:\n%s\nsays %q", c.name, got, w)
			}
		}
	}
}

func TestAskedForAPlace(t *testing.T) {
	s := score(8)
	h := heard(s)
	play(h, s, 0, 32, 1, 1)
	touch := tone.Heard{Place: music.OverHole, R: 0.2, Stretches: []tone.Stretch{
		{Pass: 1, From: 0, To: 3, Place: music.OverHole, Confidence: 0.97, R: 0.2, Notes: 16},
		{Pass: 1, From: 4, To: 6, Place: music.NearBridge, Confidence: 0.97, R: 0.09, Notes: 12, Lean: tone.ToBridge},
		{Pass: 1, From: 7, To: 7, Notes: 2}}}
	for _, c := range []struct {
		ask  Ask
		t    tone.Heard
		want string
	}{
		{Ask{FromBar: "5", ToBar: "7", Tone: "bridge"}, touch, "as-asked (good): Asked near the bridge in bars 5–7: heard near the bridge, fairly sure."},
		{Ask{FromBar: "1", ToBar: "4", Tone: "neck"}, touch, "other-place: Asked over the neck in bars 1–4: heard over the hole, fairly sure."},
		{Ask{FromBar: "3", ToBar: "6", Tone: "near the bridge"}, touch, "other-place: Asked near the bridge in bars 3–6: heard there in bars 5–6, over the hole in bars 3–4."},
		{Ask{FromBar: "8", ToBar: "8", Tone: "bridge"}, touch, "not-told: Asked near the bridge in bar 8: could not be told from this recording."},
		{Ask{Tone: "bridge"}, tone.Heard{}, "not-told: Asked near the bridge: could not be told from this recording."},
	} {
		if got := answers(Asked(c.ask, h, c.t, s)); !strings.Contains(got, c.want) {
			t.Errorf("%+v:\n%s\nlacks %q", c.ask, got, c.want)
		}
	}
	for _, goal := range []string{"", "warm", "like a bell"} {
		if got := answers(Asked(Ask{Tone: goal}, h, touch, s)); strings.Contains(got, "Asked") {
			t.Errorf("%q names no place: %s", goal, got)
		}
	}
}

func days(bpm ...float64) []Point {
	var out []Point
	for i, b := range bpm {
		out = append(out, Point{Day: time.Date(2025, 10, 3+7*i, 18, 0, 0, 0, time.UTC), Bpm: b, SteadinessPct: 10 - float64(i), RightShare: 0.9 + 0.01*float64(i)})
	}
	return out
}

func TestSeriesInWords(t *testing.T) {
	for _, c := range []struct {
		m    Measure
		p    []Point
		goal float64
		want string
	}{
		{TempoPlot, days(52, 54, 58), 66, "Tempo over 3 takes from 3 October to 17 October: 52, 54 and 58 a minute; 66 is asked for."},
		{TempoPlot, days(52, 0, 58), 0, "Tempo over 2 takes from 3 October to 17 October: 52 and 58 a minute."},
		{TempoPlot, days(50, 51, 52, 53, 54, 55, 56, 57), 0, "Tempo over 8 takes from 3 October to 21 November: from 50 a minute to 57 a minute."},
		{SteadyPlot, days(52, 54), 66, "Distance from an even beat over 2 takes from 3 October to 10 October: 10 and 9 %; less is steadier."},
		{RightPlot, days(52, 54), 0, "Share of right notes over 2 takes from 3 October to 10 October: 90 and 91 %."},
		{TempoPlot, days(52), 0, "Tempo: 52 a minute on 3 October."},
		{TempoPlot, nil, 60, "Tempo: not known yet."},
	} {
		if got := Series(c.m, c.p, c.goal); got.Say != c.want {
			t.Errorf("%q, want %q", got.Say, c.want)
		}
	}
}

func TestPlot(t *testing.T) {
	if Series(TempoPlot, days(52), 0).SVG != "" {
		t.Error("one point is drawn")
	}
	svg := Series(TempoPlot, days(52, 54, 58), 66).SVG
	d := xml.NewDecoder(strings.NewReader(svg))
	dots := 0
	for {
		tok, err := d.Token()
		if errors.Is(err, io.EOF) {
			break
		}
		if err != nil {
			t.Fatalf("%v in %s", err, svg)
		}
		if e, ok := tok.(xml.StartElement); ok {
			if e.Name.Local == "circle" {
				dots++
			}
			for _, a := range e.Attr {
				if a.Name.Local == "style" || strings.HasPrefix(a.Name.Local, "on") || a.Name.Local == "fill" || a.Name.Local == "stroke" {
					t.Errorf("%s has %s: a page with a strict policy would not show it", e.Name.Local, a.Name.Local)
				}
			}
		}
	}
	if dots != 3 || !strings.Contains(svg, `aria-label="Tempo over 3 takes`) || !strings.Contains(svg, "66 asked") || strings.Contains(svg, "NaN") {
		t.Errorf("%d dots in %s", dots, svg)
	}
	if a, b := strings.Index(svg, `class="plot-dot" cx="8.0"`), strings.Index(svg, `class="plot-last" cx="268.0"`); a < 0 || b < a {
		t.Errorf("the first take stands at the left and the last at the right: %s", svg)
	}
	late := days(52, 54, 58) // a take, one a day later, and one after four weeks: 260 units wide, worked by hand
	late[1].Day, late[2].Day = late[0].Day.AddDate(0, 0, 1), late[0].Day.AddDate(0, 0, 26)
	if s := Series(TempoPlot, late, 0).SVG; !strings.Contains(s, `cx="18.0"`) {
		t.Errorf("weeks without a take are not seen: %s", s)
	}
	if s := Series(RightPlot, []Point{{RightShare: 1}, {RightShare: 1}}, 0).SVG; s == "" || strings.Contains(s, "NaN") || strings.Contains(s, "Inf") {
		t.Errorf("two alike without days: %s", s)
	}
}

func BenchmarkTakes(b *testing.B) {
	s := score(150) // 600 notes, about three minutes
	x, y := heard(s), heard(s)
	play(x, s, 0, 600, 1, 0.3)
	play(y, s, 0, 600, 1, 0.33)
	for b.Loop() {
		if _, err := Takes(Side{Hearing: x}, Side{Hearing: y}, s); err != nil {
			b.Fatal(err)
		}
	}
}

// BenchmarkTakePage is what a take page asks of the floors below it: read the document of a three-minute take, lay
// it out in words, apply five corrections.
func BenchmarkTakePage(b *testing.B) {
	s := score(150)
	h := heard(s)
	play(h, s, 0, 600, 1, 0.3)
	var doc bytes.Buffer
	if err := (report.Report{Hearing: h, Score: s, Findings: findings.Of(h, s, findings.Options{})}).JSON(&doc); err != nil {
		b.Fatal(err)
	}
	var fixes []amend.Correction
	for i := range 5 {
		fixes = append(fixes, amend.Correction{Kind: amend.NoteMissed, Note: fmt.Sprintf("n%d", 100*i+7), Pass: 1})
	}
	b.ReportMetric(float64(doc.Len())/1024, "KiB")
	for b.Loop() {
		r, err := report.Read(doc.Bytes(), s)
		if err != nil {
			b.Fatal(err)
		}
		a := amend.Apply(r.Hearing, s, fixes, findings.Options{})
		if len(a.Changed) != 5 || len(evidence.Of(a.Hearing, s).Passes) != 1 {
			b.Fatal(a.Left)
		}
	}
}
