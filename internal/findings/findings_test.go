package findings

import (
	"fmt"
	"math"
	"strings"
	"testing"

	"antiphon/internal/ear"
	"antiphon/internal/music"
)

// take builds hearings by hand: a score of 4/4 bars of quarter notes or eighths going up and down a
// scale of C, played as each test says.
type take struct {
	score *music.Score
	h     *ear.Hearing
}

// newTake makes a score of so many bars with perBar equal notes at 120 quarters a minute, played
// exactly in time in one pass from second 1 on.
func newTake(bars, perBar int) *take {
	scale := [...]music.Pitch{{Step: 'C', Octave: 4}, {Step: 'D', Octave: 4}, {Step: 'E', Octave: 4}, {Step: 'F', Octave: 4}}
	s := &music.Score{Title: "Test", Tempos: []music.TempoMark{{Bpm: 120, Unit: music.Quarters(1, 1)}}}
	p := music.Part{ID: "P1"}
	four := music.Time{Parts: []music.TimePart{{Beats: []int{4}, Unit: 4}}}
	for i := range bars {
		s.Bars = append(s.Bars, music.Bar{Number: fmt.Sprint(i + 1), Start: music.Quarters(int64(4*i), 1), Length: music.Quarters(4, 1), Time: four})
		for k := range perBar {
			p.Notes = append(p.Notes, music.Note{Bar: i, Start: music.Quarters(int64(4*(i*perBar+k)), int64(perBar)),
				Duration: music.Quarters(4, int64(perBar)), Voice: "1", Staff: 1, Pitch: scale[(i+k)%4]})
		}
	}
	s.Parts = []music.Part{p}
	t := &take{score: s, h: &ear.Hearing{DurationS: float64(2*bars + 2), A4Hz: 440, SNRDb: 40, Score: s.Sounding(), Match: 0.9,
		Tempo: ear.Tempo{MedianBpm: 120, BeatUnitQ: 1, MarkedBpm: 120, SteadinessPct: 2}}}
	t.play(0, len(t.h.Score), 1, func(q float64) float64 { return q / 2 })
	return t
}

// play adds a pass over notes [from,to) that starts at second at; clock turns quarters from there
// into seconds.
func (t *take) play(from, to int, at float64, clock func(q float64) float64) {
	n := len(t.h.Passes) + 1
	first, last := t.h.Score[from], t.h.Score[to-1]
	for i := from; i < to; i++ {
		w := t.h.Score[i]
		s := at + clock(w.Onset.Sub(first.Onset).Q())
		t.h.Played = append(t.h.Played, ear.Played{Note: i, Pass: n, OnsetS: s, OffsetS: s + 0.3, Midi: w.Midi, Verdict: ear.Right, Confidence: 0.9})
	}
	t.h.Passes = append(t.h.Passes, ear.Pass{N: n, FromBar: first.Bar, ToBar: last.Bar, StartS: at, EndS: t.h.Played[len(t.h.Played)-1].OnsetS,
		Complete: from == 0 && to == len(t.h.Score), Bpm: 120, SteadinessPct: 2})
}

// again drops what was played.
func (t *take) again() *take {
	t.h.Played, t.h.Passes = nil, nil
	return t
}

func (t *take) of(kind Kind) []Finding {
	var out []Finding
	for _, f := range Of(t.h, t.score, Options{}) {
		if f.Kind == kind {
			out = append(out, f)
		}
	}
	return out
}

// one expects exactly one finding of a kind whose text holds every one of words.
func (t *take) one(tt *testing.T, kind Kind, words ...string) Finding {
	tt.Helper()
	got := t.of(kind)
	if len(got) != 1 {
		tt.Fatalf("%d findings of kind %s, want 1: %+v", len(got), kind, Of(t.h, t.score, Options{}))
	}
	for _, w := range words {
		if !strings.Contains(got[0].Text, w) {
			tt.Errorf("%s says %q, which lacks %q", kind, got[0].Text, w)
		}
	}
	return got[0]
}

func (t *take) none(tt *testing.T, kinds ...Kind) {
	tt.Helper()
	for _, k := range kinds {
		if got := t.of(k); len(got) > 0 {
			tt.Errorf("unexpected %s: %q", k, got[0].Text)
		}
	}
}

var troubles = []Kind{NotThisScore, Wrong, Missed, Extra, Passage, Rushing, Dragging, Unsteady, Hesitation, Restart, Skip, Tempo,
	UnevenPattern, UnevenFinger, DynamicsFlat, StringTuning, ReferencePitch, Clipped, TooQuiet, Rounds, MayBuzz}

func TestPerfectTakeHasNoTrouble(t *testing.T) {
	k := newTake(8, 4)
	k.none(t, troubles...)
	k.one(t, Clean, "Bars 1–8")
	k.one(t, Steady, "Bars 1–8: in steady time, at about 120 a minute.") // that all is right is told once
	k.h.Played[3].Verdict, k.h.Played[3].Midi, k.h.Played[3].Confidence = ear.Wrong, 80, 0.9
	k.one(t, Steady, "Bars 2–8: no wrong or missing note heard, and in steady time, at about 120 a minute.")
}

func TestWrongNote(t *testing.T) {
	k := newTake(8, 4)
	n := &k.h.Played[17] // bar 5, beat 2
	n.Midi, n.Verdict = n.Midi+1, ear.Wrong
	f := k.one(t, Wrong, "Bar 5, beat 2: ", "was heard where")
	if f.FromBar != "5" || f.FromS != n.OnsetS || len(f.Evidence) != 1 || f.Evidence[0] != k.h.Score[17].ID {
		t.Errorf("place and evidence: %+v", f)
	}
	k.none(t, Clean)
	n.Confidence = Sure - 0.01
	k.none(t, Wrong)
}

func TestSamePlaceWrongInTwoPassesIsOneAndStronger(t *testing.T) {
	k := newTake(8, 4)
	k.play(0, 32, 20, func(q float64) float64 { return q / 2 })
	k.h.Jumps = []ear.Jump{{Kind: ear.Restart, FromBar: "8", ToBar: "1", StopS: 16.5, ResumeS: 20, Confidence: 0.9}}
	for _, i := range []int{17, 32 + 17} {
		k.h.Played[i].Midi++
		k.h.Played[i].Verdict, k.h.Played[i].Confidence = ear.Wrong, 0.7
	}
	k.h.Played[5].Midi, k.h.Played[5].Verdict, k.h.Played[5].Confidence = 70, ear.Wrong, 0.7
	got := k.of(Wrong)
	if len(got) != 2 || !strings.Contains(got[0].Text, "twice") || len(got[0].AtS) != 2 || got[0].Confidence <= got[1].Confidence {
		t.Fatalf("want the repeated one first: %+v", got)
	}
}

func TestForgottenAccidentalIsOneFinding(t *testing.T) {
	k := newTake(8, 4)
	count := 0
	for i := range k.h.Played {
		if n := &k.h.Played[i]; n.Midi == 65 && count < 3 { // F played as F sharp
			n.Midi, n.Verdict = 66, ear.Wrong
			count++
		}
	}
	k.one(t, Wrong, "F sharp was heard where F is written, 3 times (bars 1, 2 and 3)")
}

func TestNaturalIsNamedInItsKey(t *testing.T) {
	k := newTake(4, 4)
	k.h.Played[4].Midi, k.h.Played[4].Verdict = 65, ear.Wrong
	k.one(t, Wrong, ": F was heard")
	k.score.Parts[0].Attributes = []music.Attributes{{Key: &music.Key{Fifths: 1}}}
	k.one(t, Wrong, ": F natural was heard")
	for _, c := range []struct { // the circle of fifths; any primer of music
		step   byte
		fifths int
		want   bool
	}{{'F', 1, true}, {'C', 1, false}, {'C', 2, true}, {'B', -1, true}, {'E', -1, false}, {'E', -2, true}, {'B', 7, true}, {'F', -7, true}, {'F', -6, false}, {'F', 0, false}} {
		if got := AlteredByKey(c.step, c.fifths); got != c.want {
			t.Errorf("%c in a key of %d fifths: altered %v", c.step, c.fifths, got)
		}
	}
}

func TestOctaveIsNamed(t *testing.T) {
	k := newTake(4, 4)
	k.h.Played[4].Midi, k.h.Played[4].Verdict = k.h.Played[4].Midi-12, ear.Wrong
	k.one(t, Wrong, "an octave lower was heard")
}

// drop takes played note i away and reports it missed.
func (t *take) drop(i int, confidence float64) {
	n := t.h.Played[i]
	t.h.Missed = append(t.h.Missed, ear.Missed{Note: n.Note, Pass: n.Pass, ExpectedS: n.OnsetS, Confidence: confidence})
	t.h.Played = append(t.h.Played[:i:i], t.h.Played[i+1:]...)
}

func TestMissedNotes(t *testing.T) {
	k := newTake(8, 4)
	k.drop(9, 0.8)
	f := k.one(t, Missed, "Bar 3, beat 2: the F was not heard")
	if f.FromS != 1+9*0.5 {
		t.Errorf("place %v", f.FromS)
	}
	k.none(t, Hesitation, Dragging, Clean)

	k = newTake(8, 4)
	k.drop(10, 0.8)
	k.drop(9, 0.8)
	k.one(t, Missed, "Bar 3: 2 notes were not heard")

	k = newTake(8, 4)
	k.drop(9, 0.3)
	k.none(t, Missed)
}

func TestExtraNote(t *testing.T) {
	k := newTake(8, 4)
	k.h.Played = append(k.h.Played, ear.Played{Note: -1, Pass: 1, OnsetS: 1 + 8.25, Midi: 70, Verdict: ear.Extra, Confidence: 0.8})
	f := k.one(t, Extra, "Bar 5: an added B flat")
	k.none(t, Clean)
	if len(f.Evidence) != 2 || f.Evidence[0] != "n17" || f.Evidence[1] != "n18" { // the notes between which it fell
		t.Errorf("evidence %v", f.Evidence)
	}
}

func TestBarThatCameApart(t *testing.T) {
	k := newTake(8, 4)
	for i := 16; i < 20; i++ {
		k.h.Played[i].Midi += 1 + i%3
		k.h.Played[i].Verdict = ear.Wrong
	}
	k.one(t, Passage, "Bar 5", "4 other than written")
	k.none(t, Wrong)
}

// warp plays a whole take anew by a clock.
func (t *take) warp(clock func(q float64) float64) *take {
	t.again()
	t.play(0, len(t.h.Score), 1, clock)
	return t
}

func TestRushingStretch(t *testing.T) {
	k := newTake(16, 4).warp(func(q float64) float64 { // bars 7 to 10 a tenth faster
		s := math.Min(q, 24) / 2
		s += math.Max(0, math.Min(q, 40)-24) / 2 / 1.1
		return s + math.Max(0, q-40)/2
	})
	f := k.one(t, Rushing, "Bars 7–10", "faster than the rest")
	if math.Abs(f.Size-10) > 0.5 {
		t.Errorf("size %.2f %%, played 10 %% faster", f.Size)
	}
	k.none(t, Dragging, Hesitation)
}

func TestSpeedingUpAllAlong(t *testing.T) {
	k := newTake(16, 4).warp(func(q float64) float64 { return q / 2 * (1 - 0.0016*q) })
	k.one(t, Rushing, "gets faster all the way through bars 1–15", "from about 12")
}

func TestSlowingAtTheEndIsMusic(t *testing.T) {
	k := newTake(16, 4).warp(func(q float64) float64 { return q/2 + math.Max(0, q-56)*0.15 })
	k.none(t, Dragging, Rushing)
}

func TestWrittenRitardandoIsNotDragging(t *testing.T) {
	k := newTake(16, 4).warp(func(q float64) float64 { return q/2 + math.Max(0, math.Min(q, 40)-24)*0.1 })
	k.one(t, Dragging, "Bars 7–10")
	k.score.Parts[0].Directions = []music.Direction{
		{Bar: 6, Kind: music.Words, Text: "rit."}, {Bar: 10, Kind: music.Words, Text: "a tempo"}}
	k.none(t, Dragging)
}

func TestWrittenTempoChangeIsNotRushing(t *testing.T) {
	k := newTake(16, 4)
	k.score.Tempos = append(k.score.Tempos, music.TempoMark{At: music.Quarters(32, 1), Bpm: 160, Unit: music.Quarters(1, 1)})
	k.warp(func(q float64) float64 { return math.Min(q, 32)/2 + math.Max(0, q-32)*60/160 })
	k.none(t, Rushing, Dragging)
}

func TestUnsteady(t *testing.T) {
	k := newTake(8, 4)
	k.h.Passes[0].SteadinessPct = unsteadyPct + 3
	k.one(t, Unsteady, "bars 1–8", "15 %")
	k.h.Passes[0].SteadinessPct = unsteadyPct - 1
	k.none(t, Unsteady)

	k.play(0, 32, 20, func(q float64) float64 { return q / 2 })
	k.h.Passes[0].SteadinessPct, k.h.Passes[1].SteadinessPct = unsteadyPct+1, unsteadyPct+8
	if f := k.one(t, Unsteady, "20 %", "2 passes"); len(f.AtS) != 2 || f.FromS != 20 {
		t.Errorf("%+v", f)
	}
}

// TestSteadyNeedsEvenNotes: bars of the right length whose notes come early and late are not steady.
func TestSteadyNeedsEvenNotes(t *testing.T) {
	k := newTake(8, 8).warp(func(q float64) float64 {
		if q == math.Floor(q) {
			return q / 2
		}
		return q/2 + 0.04*math.Cos(5*q) // up to a sixth of an eighth
	})
	k.none(t, Steady)
}

func TestHesitation(t *testing.T) {
	stop := func(over float64) *take {
		return newTake(8, 4).warp(func(q float64) float64 {
			if q >= 16 {
				return q/2 + over
			}
			return q / 2
		})
	}
	f := stop(0.8).one(t, Hesitation, "A stop of 0.8 seconds before bar 5")
	if math.Abs(f.Size-0.8) > 0.01 || math.Abs(f.FromS-8.5) > 0.01 {
		t.Errorf("size and place: %+v", f)
	}
	stop(0.8).none(t, Dragging, Rushing)
	stop(0.2).none(t, Hesitation)

	k := stop(0.8)
	k.score.Parts[0].Notes[15].Marks = []music.Mark{{Kind: "fermata"}}
	k.none(t, Hesitation)
}

func TestRestartsAtOnePlaceAreOne(t *testing.T) {
	k := newTake(8, 4).again()
	clock := func(q float64) float64 { return q / 2 }
	k.play(0, 18, 1, clock)
	k.play(12, 18, 12, clock)
	k.play(12, 32, 17, clock)
	k.h.Jumps = []ear.Jump{
		{Kind: ear.Restart, FromBar: "5", ToBar: "4", StopS: 9.5, ResumeS: 12, Confidence: 0.8},
		{Kind: ear.Restart, FromBar: "5", ToBar: "4", StopS: 14.5, ResumeS: 17, Confidence: 0.8}}
	f := k.one(t, Restart, "Stopped in bar 5 and went back to bar 4, twice")
	if f.Size != 2 || f.Confidence < 0.9 || len(f.AtS) != 2 {
		t.Errorf("%+v", f)
	}
	k.none(t, Skip, Hesitation)
	k.h.Jumps[0].Confidence, k.h.Jumps[1].Confidence = 0.2, 0.2
	k.none(t, Restart)
}

func TestSkip(t *testing.T) {
	k := newTake(8, 4).again()
	clock := func(q float64) float64 { return q / 2 }
	k.play(0, 16, 1, clock)
	k.play(24, 32, 9.2, clock)
	k.h.Jumps = []ear.Jump{{Kind: ear.Skip, FromBar: "4", ToBar: "7", StopS: 8.5, ResumeS: 9.2, Confidence: 0.9}}
	k.one(t, Skip, "from bar 4 on to bar 7")
}

func TestStopBetweenTwoPassesWithoutJump(t *testing.T) {
	k := newTake(8, 4).again()
	clock := func(q float64) float64 { return q / 2 }
	k.play(0, 16, 1, clock)
	k.play(16, 32, 11, clock)
	k.one(t, Hesitation, "A stop of 2.0 seconds before bar 5")
}

func TestRounds(t *testing.T) {
	k := newTake(2, 8).again()
	for i, bpm := range []float64{60, 80, 100} {
		k.play(0, 16, 1+20*float64(i), func(q float64) float64 { return q * 60 / bpm })
		k.h.Passes[i].Bpm, k.h.Passes[i].SteadinessPct = bpm, 5-float64(i)
		if i > 0 {
			k.h.Jumps = append(k.h.Jumps, ear.Jump{Kind: ear.Repeat, FromBar: "2", ToBar: "1", StopS: k.h.Passes[i-1].EndS, ResumeS: k.h.Passes[i].StartS, Confidence: 0.9})
		}
	}
	k.one(t, Rounds, "Played round 3 times, at 60, 80 and 100 a minute", "third round is the steadiest (within 3 %)")
	k.none(t, Tempo, Restart)
	for i := range k.h.Passes {
		k.h.Passes[i].Bpm = 80 + 0.3*float64(i)
	}
	k.one(t, Rounds, "Played round 3 times, at about 80 a minute each time")
	k.score.Bars[1].RepeatEnd = 2
	k.none(t, Rounds)
}

func TestTempoAgainstMarkAndGoal(t *testing.T) {
	k := newTake(8, 4)
	k.h.Tempo.MedianBpm = 108
	f := k.one(t, Tempo, "about 108 a minute; the score says 120 (10 % slower)")
	if math.Abs(f.Size+10) > 1e-9 {
		t.Errorf("size %v", f.Size)
	}
	for _, f := range Of(k.h, k.score, Options{GoalBpm: 108}) {
		if f.Kind == Tempo {
			t.Errorf("goal met, yet %q", f.Text)
		}
	}
	k.h.Tempo.MedianBpm = 118
	k.none(t, Tempo)
	k.h.Tempo.MarkedBpm = 0
	k.none(t, Tempo)
}

func TestLongShortPattern(t *testing.T) {
	lilt := func(share float64) *take {
		return newTake(4, 8).warp(func(q float64) float64 {
			beat, in := math.Modf(q)
			if in > 0.25 {
				return beat/2 + share/2
			}
			return beat / 2
		})
	}
	f := lilt(0.6).one(t, UnevenPattern, "long and short, about 1.5 to 1")
	if math.Abs(f.Size-1.5) > 0.01 {
		t.Errorf("ratio %v, played 0.6 to 0.4", f.Size)
	}
	lilt(0.4).one(t, UnevenPattern, "short and long")
	lilt(0.52).none(t, UnevenPattern)
}

func TestUnevenFinger(t *testing.T) {
	k := newTake(8, 4)
	k.h.Evenness = []ear.FingerSpread{{Finger: "i", TimingSd: 10, Notes: 16}, {Finger: "m", TimingSd: 10, Notes: 16},
		{Finger: "a", TimingMs: -25, TimingSd: 12, Notes: 16, LevelDb: -4, LevelSdDb: 1}}
	got := k.of(UnevenFinger)
	if len(got) != 2 || !strings.Contains(got[0].Text+got[1].Text, "The ring finger (a) tends to come early, by about 25") || !strings.Contains(got[0].Text+got[1].Text, "The ring finger (a) sounds softer") {
		t.Fatalf("%+v", got)
	}
	k.h.Evenness[2].Notes = 4
	k.none(t, UnevenFinger)
}

func TestDynamics(t *testing.T) {
	for _, c := range []struct {
		soft, loud float64
		want       Kind
	}{{-1, 4, DynamicsHeard}, {0, 0.4, DynamicsFlat}, {0, 2, ""}, {3, 0, DynamicsFlat}} {
		k := newTake(8, 4)
		k.h.Dynamics.ByMark = []ear.MarkLevel{{Mark: "f", Db: c.loud, Notes: 12}, {Mark: "p", Db: c.soft, Notes: 12}}
		for _, kind := range []Kind{DynamicsHeard, DynamicsFlat} {
			if got := len(k.of(kind)); (got == 1) != (kind == c.want) {
				t.Errorf("p %v dB, f %v dB: %d of %s", c.soft, c.loud, got, kind)
			}
		}
	}
	k := newTake(8, 4)
	k.h.Dynamics.ByMark = []ear.MarkLevel{{Mark: "f", Notes: 12}, {Mark: "p", Notes: markNotes - 1}}
	k.none(t, DynamicsFlat, DynamicsHeard)
}

func TestTuning(t *testing.T) {
	k := newTake(8, 4)
	k.h.Tuning = []ear.StringTuning{{String: 3, Cents: -18, SpreadC: 2, Notes: 9, Confidence: 0.9}, {String: 2, Cents: 5, Notes: 9, Confidence: 0.9},
		{String: 1, Cents: 20, Notes: 2, Confidence: 0.9}, {String: 6, Cents: 20, Notes: 9, Confidence: 0.3}}
	k.one(t, StringTuning, "third string (G) is about 18 cents flat")
	k.none(t, ReferencePitch)
	k.h.A4Hz = 415
	k.one(t, ReferencePitch, "A = 415 Hz, about 101 cents below 440") // 1200·log2(415/440) = -101.3, worked by hand
}

func TestRecording(t *testing.T) {
	k := newTake(8, 4)
	k.h.ClippedShare = 0.01
	k.one(t, Clipped, "overdriven")
	k.h.SNRDb = 2
	k.one(t, TooQuiet, "nearer to the guitar")
}

func TestMayBuzz(t *testing.T) {
	k := newTake(8, 4)
	k.h.Played[3].Marks = []ear.Mark{{Kind: "buzz", Confidence: 0.9}}
	k.none(t, MayBuzz)
	k.h.Played[9].Marks = []ear.Mark{{Kind: "buzz", Confidence: 0.9}}
	k.one(t, MayBuzz, "may buzz (bars 1 and 3)")
}

func TestNotThisScore(t *testing.T) {
	for sound, want := range map[Sound]string{Silent: "silent", Noise: "only noise", Talk: "talk", Tones: "not this score", Unknown: "not this score"} {
		k := newTake(8, 4).again()
		k.h.Match = 0.05
		if got := Of(k.h, k.score, Options{Sound: sound}); len(got) != 1 || got[0].Kind != NotThisScore || !strings.Contains(got[0].Text, want) {
			t.Errorf("%q: %+v", sound, got)
		}
	}
}

func TestNumbersAreFiniteAndOrderIsKept(t *testing.T) {
	k := newTake(8, 4)
	k.h.Passes[0].SteadinessPct = math.Inf(1)
	k.h.Tempo.MedianBpm = math.NaN()
	k.h.Played[17].Midi, k.h.Played[17].Verdict = 70, ear.Wrong
	well := false
	for _, f := range Of(k.h, k.score, Options{}) {
		for _, v := range []float64{f.Size, f.FromS, f.ToS, f.Confidence} {
			if math.IsNaN(v) || math.IsInf(v, 0) {
				t.Errorf("%s: %+v", f.Kind, f)
			}
		}
		if well && !f.Kind.Well() {
			t.Errorf("%s comes after what went well", f.Kind)
		}
		well = f.Kind.Well()
		if f.Text == "" || f.Unit == "" || f.Evidence == nil || len(f.AtS) == 0 {
			t.Errorf("incomplete: %+v", f)
		}
	}
}

func TestEmptyHearingDoesNotPanic(t *testing.T) {
	got := Of(&ear.Hearing{}, &music.Score{}, Options{})
	if len(got) != 1 || got[0].Kind != NotThisScore {
		t.Errorf("%+v", got)
	}
}

func TestAForgottenCapo(t *testing.T) {
	for n, want := range map[int]string{2: "2 semitones higher: was there a capo at fret 2?", 12: "an octave away", -3: "3 semitones lower: check the tuning"} {
		k := newTake(2, 8)
		k.h.Passes, k.h.Played, k.h.SoundsHigher = nil, nil, n
		k.one(t, NotThisScore, want)
	}
}
