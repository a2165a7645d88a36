package evidence

import (
	"encoding/json"
	"fmt"
	"math"
	"strings"
	"testing"

	"antiphon/internal/ear"
	"antiphon/internal/music"
)

// hearing is an invented take of three bars of six notes in D major, six eighths each, at 60 quarters a
// minute: a stop in bar 2, then from bar 2 to the end.
func hearing() (*ear.Hearing, *music.Score) {
	three := music.Time{Parts: []music.TimePart{{Beats: []int{3}, Unit: 4}}}
	s := &music.Score{}
	p := music.Part{ID: "P1", Attributes: []music.Attributes{{Key: &music.Key{Fifths: 2}}}}
	steps := []music.Pitch{{Step: 'D', Octave: 4}, {Step: 'E', Octave: 4}, {Step: 'F', Alter: 1, Octave: 4}, {Step: 'G', Octave: 4}, {Step: 'A', Octave: 4}, {Step: 'B', Octave: 4}}
	for bar := range 3 {
		at := music.Quarters(int64(3*bar), 1)
		s.Bars = append(s.Bars, music.Bar{Number: fmt.Sprint(bar + 1), Start: at, Length: music.Quarters(3, 1), Time: three})
		for k := range 6 {
			p.Notes = append(p.Notes, music.Note{Bar: bar, Start: at.Add(music.Quarters(int64(k), 2)), Duration: music.Quarters(1, 2), Voice: "1", Staff: 1, Pitch: steps[k]})
		}
	}
	s.Parts = []music.Part{p}
	h := &ear.Hearing{DurationS: 20, Score: s.Sounding(), Tempo: ear.Tempo{MedianBpm: 60, BeatUnitQ: 1}}
	play := func(pass, from, to int, at float64) {
		for i := from; i < to; i++ {
			on := at + 0.5*float64(i-from)
			h.Played = append(h.Played, ear.Played{Note: i, Pass: pass, OnsetS: on, OffsetS: on + 0.4, Midi: h.Score[i].Midi, Verdict: ear.Right, Confidence: 0.9})
		}
		h.Passes = append(h.Passes, ear.Pass{N: pass, FromBar: h.Score[from].Bar, ToBar: h.Score[to-1].Bar, StartS: at, EndS: at + 0.5*float64(to-from-1), Bpm: 60})
	}
	play(1, 0, 8, 1)
	play(2, 6, 18, 8)
	h.Jumps = []ear.Jump{{Kind: ear.Restart, FromBar: "2", ToBar: "2", StopS: 4.5, ResumeS: 8, Confidence: 0.9}}
	return h, s
}

func TestBarsInWords(t *testing.T) {
	h, s := hearing()
	at := func(note, pass int) *ear.Played {
		for i := range h.Played {
			if h.Played[i].Note == note && h.Played[i].Pass == pass {
				return &h.Played[i]
			}
		}
		t.Fatalf("note %d is not in pass %d", note, pass)
		return nil
	}
	wrong := at(14, 2) // F sharp in bar 3
	wrong.Verdict, wrong.Midi = ear.Wrong, 65
	for n := 12; n < 18; n++ { // bar 3 late by 70 ms: 7 % of a beat
		x := at(n, 2)
		x.OnsetS, x.TimingMs = x.OnsetS+0.07, 70
	}
	early := at(9, 2)
	early.OnsetS, early.TimingMs = early.OnsetS-0.13, -130
	for n := range 6 {
		at(n, 1).LevelDb = -4
	}
	m := at(10, 2)
	h.Missed = []ear.Missed{{Note: 10, Pass: 2, ExpectedS: m.OnsetS, Confidence: 0.4}}
	*m = ear.Played{Note: -1, Pass: 2, OnsetS: m.OnsetS + 0.25, Midi: 70, Verdict: ear.Extra, Confidence: 0.8}
	got := Of(h, s)
	want := []string{
		"Pass 1: bars 1 to 2, 60 a minute.",
		"Bar 1: all six notes, softer than most, 60 a minute.",
		"Bar 2: both notes as far as it was played.",
		"Pass 2: bars 2 to 3, 60 a minute, after a stop in bar 2.",
		"Bar 2: five of six notes, the A was perhaps not heard, an added A sharp, the G early, 60 a minute.",
		"Bar 3: five of six notes, the F sharp was heard as F natural, a little late, 60 a minute.",
	}
	var say []string
	for _, p := range got.Passes {
		say = append(say, p.Say)
		for _, b := range p.Bars {
			say = append(say, b.Say)
		}
	}
	if g, w := strings.Join(say, "\n"), strings.Join(want, "\n"); g != w {
		t.Errorf("got\n%s\nwant\n%s", g, w)
	}
	if got.Best != 2 {
		t.Errorf("the best pass is %d, want the one with most right notes, 2", got.Best)
	}
	b := got.Passes[1].Bars[0]
	if len(b.Notes) != 6 || b.Notes[5].Verdict != "missed" || !b.Notes[5].Doubt || b.Notes[5].ID != "n11" {
		t.Errorf("notes of bar 2: %+v", b.Notes)
	}
	// G heard 130 ms early at 60 quarters a minute is 0.13 quarters early, worked by hand.
	if n := b.Notes[3]; n.LateMs != -130 || math.Abs(n.LateQ+0.13) > 0.001 || n.Long != 1.06 {
		t.Errorf("the early note: %+v", n)
	}
	// Added half way between the missed A and the B.
	if a := b.Added[0]; a.After != "n11" || a.Before != "n12" || math.Abs(a.At-0.5) > 0.02 || a.Heard != "A♯" {
		t.Errorf("the added note: %+v", a)
	}
	if n := got.Passes[1].Bars[1].Notes[2]; n.Heard != "F♮" || n.Verdict != "wrong" {
		t.Errorf("the wrong note: %+v", n)
	}
	if n := got.Passes[0].Bars[0].Notes[0]; n.Loud >= 0.5 || n.Loud <= 0 {
		t.Errorf("a soft note has width %v", n.Loud)
	}
}

// TestBest: more notes right come first, faults count against a pass, and of equals the last is shown.
func TestBest(t *testing.T) {
	h, s := hearing()
	h.Played, h.Passes = nil, nil
	for pass := 1; pass <= 3; pass++ {
		for i := range 6 {
			on := 10*float64(pass) + 0.5*float64(i)
			h.Played = append(h.Played, ear.Played{Note: i, Pass: pass, OnsetS: on, Midi: h.Score[i].Midi, Verdict: ear.Right, Confidence: 0.9, LevelDb: 4})
		}
		h.Passes = append(h.Passes, ear.Pass{N: pass, FromBar: "1", ToBar: "1", StartS: 10 * float64(pass), EndS: 10*float64(pass) + 2.5})
	}
	if got := Best(h, Lay(h, s)); got != 2 {
		t.Errorf("of equals pass %d is shown, want the last", got+1)
	}
	for k := range 3 { // three added notes in the last pass
		h.Played = append(h.Played, ear.Played{Note: -1, Pass: 3, OnsetS: 30.2 + 0.5*float64(k), Midi: 80, Verdict: ear.Extra, Confidence: 0.9})
	}
	h.Played[0].Verdict = ear.Wrong
	if got := Best(h, Lay(h, s)); got != 1 {
		t.Errorf("pass %d is shown, want the second, which has no fault", got+1)
	}
	if say := Of(h, s).Passes[1].Bars[0].Say; say != "Bar 1: all six notes, louder than most." && say != "Bar 1: all six notes, louder than most, 60 a minute." {
		t.Error(say)
	}
}

func TestEmptyHearing(t *testing.T) {
	h, s := hearing()
	h.Passes, h.Played, h.Jumps = nil, nil, nil
	b, err := json.Marshal(Of(h, s))
	if err != nil || string(b) != `{"schema":"antiphon.evidence/1","best":0,"passes":[]}` {
		t.Errorf("%s %v", b, err)
	}
}

// TestNumbersAreFinite: the JSON never fails on what a hearing may hold.
func TestNumbersAreFinite(t *testing.T) {
	h, s := hearing()
	h.Played[3].OnsetS, h.Played[4].LevelDb, h.Played[5].TimingMs, h.Passes[0].Bpm = math.NaN(), math.Inf(-1), math.Inf(1), math.NaN()
	if _, err := json.Marshal(Of(h, s)); err != nil {
		t.Error(err)
	}
}

func TestClock(t *testing.T) {
	h, s := hearing()
	c := Lay(h, s)[1].Clock
	for q, want := range map[float64]float64{3: 8, 4.25: 9.25, 8.5: 13.5, 9: 14, 2: 7} { // worked by hand: 1 s a quarter from 8 s at quarter 3
		if got := c.Seconds(q); math.Abs(got-want) > 1e-9 {
			t.Errorf("quarter %v at %v s, want %v", q, got, want)
		}
		if got := c.Quarters(want); math.Abs(got-q) > 1e-9 {
			t.Errorf("%v s at quarter %v, want %v", want, got, q)
		}
	}
	if from, to, ok := c.Span(); from != 3 || to != 8.5 || !ok {
		t.Errorf("heard from %v to %v", from, to)
	}
}

func BenchmarkOf(b *testing.B) {
	h, s := hearing()
	for b.Loop() {
		Of(h, s)
	}
}
