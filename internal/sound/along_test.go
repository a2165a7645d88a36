package sound

import (
	"bytes"
	"fmt"
	"math"
	"slices"
	"strings"
	"testing"

	"antiphon/internal/dsp"
)

// TestFiveMinutesHeard measures five minutes of sound: the onsets of the notes in what was mixed, and those of
// the clicks in what was then added to it. The levels that follow are a gain and move nothing. The bound of
// 1 ms is what is promised of playing along.
func TestFiveMinutesHeard(t *testing.T) {
	const mostS = 0.001
	for _, bpm := range []int64{40, 97, 208} {
		beats := int(5*bpm) + 4
		beats -= beats % 4
		s := abc(t, head("Five minutes", "M:4/4\nL:1/16\nQ:1/4=60\nK:C\n"+strings.Repeat(".e z3 .B z3 .e z3 .B z3 |", beats/4)+"\n"))
		opt := Options{Bpm: float64(bpm), Guitar: Strings, Click: true}
		a := &Audio{score: s, opt: opt}
		p, err := perform(s, opt, a)
		if err == nil {
			err = p.mix(t.Context(), newPlucked(opt), a)
		}
		if err != nil {
			t.Fatal(err)
		}
		music := slices.Clone(a.Left)
		notes := onsets(music, loudest(music)/12) // at 208 the last note has not quite died away
		if err := a.addClicks(dsp.Loudness{IntegratedLufs: TargetLufs, TruePeakDb: -3}); err != nil {
			t.Fatal(err)
		}
		for i, v := range music {
			a.Left[i] -= v
		}
		clicks := onsets(a.Left, loudest(a.Left)/12)
		if len(clicks) != beats || len(notes) != beats {
			t.Fatalf("%d bpm: %d notes and %d clicks are heard, want %d", bpm, len(notes), len(clicks), beats)
		}
		worst, off := 0.0, 0.0
		for i := range notes {
			worst = max(worst, math.Abs(float64(notes[i]-clicks[i]))/RateHz)
			off = max(off, math.Abs(float64(notes[i]-exactSample(int64(i), 1, bpm)))/RateHz)
		}
		span := float64(notes[beats-1]-notes[0]) / RateHz
		heard := 60 * float64(beats-1) / span
		t.Logf("%d bpm, %.0f s: notes and clicks at most %.4f ms apart, %.4f ms from the score; the notes go at %.5f", bpm, span, worst*1000, off*1000, heard)
		if span < 300 || worst > mostS || off > mostS || math.Abs(heard/float64(bpm)-1) > 0.001 {
			t.Errorf("%d bpm, %.1f s: %.3f ms apart, %.3f ms from the score, heard tempo %.4f", bpm, span, worst*1000, off*1000, heard)
		}
	}
}

func loudest(pcm []float32) (peak float32) {
	for _, v := range pcm {
		peak = max(peak, v, -v)
	}
	return peak
}

// TestLadderHeard: each rung is heard at its tempo, within a thousandth, by the onsets in its sound.
func TestLadderHeard(t *testing.T) {
	s := abc(t, head("Rungs", "M:3/4\nL:1/16\nQ:1/4=60\nK:C\n"+strings.Repeat(".e z3 .B z3 .G z3 |", 8)+"\n"))
	for bpm := 52.0; bpm <= 80; bpm += 3.5 {
		got := onsets(rendered(t, s, Options{Bpm: bpm, Guitar: Strings, Mark: true}).Left[markAt()+samples(MarkLeadS/2):], 0)
		if len(got) != 24 {
			t.Fatalf("%v: %d onsets, want 24", bpm, len(got))
		}
		if heard := 60 * 23 / (float64(got[23]-got[0]) / RateHz); math.Abs(heard/bpm-1) > 0.001 {
			t.Errorf("the rung of %v is heard at %.4f", bpm, heard)
		}
	}
}

// TestMark: in a coded file, whatever its decoder leaves before it, the first beat lies where the mark says.
func TestMark(t *testing.T) {
	needs(t, "ffmpeg")
	s := abc(t, head("Marked", "M:4/4\nL:1/16\nQ:1/4=60\nK:C\n.e z3 .B z3 .G z3 .E z3 |.e z3 .B z3 .G z3 .E z3 |\n"))
	a := rendered(t, s, Options{Bpm: 97, Guitar: Strings, Mark: true})
	if a.Rungs[0].Start != markAt()+samples(MarkLeadS) {
		t.Fatalf("the first beat lies at %d", a.Rungs[0].Start)
	}
	var file bytes.Buffer
	if err := a.Write(t.Context(), &file, AAC); err != nil {
		t.Fatal(err)
	}
	pcm, _, err := decode(t.Context(), file.Bytes(), AAC, 1, len(a.Left))
	if err != nil {
		t.Fatal(err)
	}
	for _, delay := range []int{0, 1024, 2112} { // as decoders are known to leave
		late := append(make([]float32, delay), pcm...)
		first := findMark(late) + samples(MarkLeadS)
		if first != markAt()+samples(MarkLeadS)+delay {
			t.Errorf("%d samples late: the first beat is sought at %d, and lies at %d", delay, first, markAt()+samples(MarkLeadS)+delay)
		}
		// and the notes are there
		for i, n := range a.Notes {
			want := first + n.At - a.Rungs[0].Start
			if got := firstAbove(late, want-samples(.02), want+samples(.02)); math.Abs(float64(got-want)) > RateHz/1000 {
				t.Errorf("%d samples late: note %d begins at %d, want %d", delay, i, got, want)
			}
		}
	}
	if size := float64(file.Len()) / a.Seconds(); size > 12_000 {
		t.Errorf("%.0f bytes a second", size)
	}
}

// TestWait: who enters later in a round is silent until then, and the mark stays where it was.
func TestWait(t *testing.T) {
	s := abc(t, head("Later", "M:4/4\nL:1/16\nQ:1/4=60\nK:C\n.e z3 .B z3 .G z3 .E z3 |\n"))
	a := rendered(t, s, Options{Bpm: 60, Guitar: Strings, Mark: true})
	n, start := len(a.Left), a.Rungs[0].Start
	a.Wait(2.5)
	if len(a.Left) != n+samples(2.5) || len(a.Right) != len(a.Left) || a.Rungs[0].Start != start+samples(2.5) || a.Notes[0].At != a.Rungs[0].Start {
		t.Errorf("%d samples, the first beat at %d", len(a.Left), a.Rungs[0].Start)
	}
	if at := findMark(a.Left); at != markAt() {
		t.Errorf("the mark is at %d, want %d", at, markAt())
	}
	if got := onsets(a.Left[2*markAt():], 0)[0] + 2*markAt(); got != a.Notes[0].At {
		t.Errorf("the first note is heard at %d, want %d", got, a.Notes[0].At)
	}
}

// findMark is how the page finds it: the place where the burst fits best in the first 0.3 s.
func findMark(pcm []float32) int {
	half := samples(6 * markWidthS)
	one := &Audio{Left: make([]float32, 2*markAt()), Right: make([]float32, 2*markAt())}
	one.mark()
	burst := one.Left[markAt()-half : markAt()+half+1]
	best, at := 0.0, 0
	for i := 0; i+len(burst) < samples(.3); i++ {
		sum := 0.0
		for j, v := range burst {
			sum += float64(v) * float64(pcm[i+j])
		}
		if sum > best {
			best, at = sum, i+half
		}
	}
	return at
}

// firstAbove is where a stretch first passes a fifteenth of its peak.
func firstAbove(pcm []float32, from, to int) int {
	from, to = max(0, from), min(to, len(pcm))
	peak := float32(0)
	for _, v := range pcm[from:to] {
		peak = max(peak, v, -v)
	}
	for i := from; i < to; i++ {
		if v := pcm[i]; max(v, -v) > peak/15 {
			return i
		}
	}
	return -1
}

// TestTimeline: bars and beats fall where the sound has them, at its own tempo and in proportion at others.
func TestTimeline(t *testing.T) {
	s := abc(t, head("Endings", "M:3/4\nL:1/4\nQ:1/4=60\nK:C\nG|:CDE|[1 FGA:|[2 [Q:1/4=90]GAB|c2|\n"))
	opt := Options{Bpm: 72, CountIn: 1, EnterAfter: 2}
	line, err := Lay(s, opt)
	if err != nil {
		t.Fatal(err)
	}
	opt.Click, opt.Silent = true, true
	a := rendered(t, s, opt)
	start := a.Rungs[0].Start
	all := append(append([]ClickAt{}, line.CountIn...), line.Clicks...)
	if len(all) != len(a.Clicks) {
		t.Fatalf("%d beats are laid out, %d are heard", len(all), len(a.Clicks))
	}
	for i, c := range a.Clicks {
		if at := start + samples(all[i].AtS); at != c.At || all[i].Accent != c.Accent {
			t.Errorf("beat %d: laid out at %d (%d), heard at %d (%d)", i, at, all[i].Accent, c.At, c.Accent)
		}
	}
	var bars []string
	for _, b := range line.Bars {
		bars = append(bars, fmt.Sprint(b.Index))
	}
	if got := strings.Join(bars, " "); got != "0 1 2 1 3 4" || len(line.Bars) != a.Rungs[0].Bars {
		t.Errorf("bars %s", got)
	}
	if n := a.Notes[1].At - start; samples(line.Bars[1].AtS) != n {
		t.Errorf("bar 1 is laid out at %v, its note is heard at %d", line.Bars[1].AtS, n)
	}
	var second int
	for _, n := range a.Notes {
		if n.Player == 2 {
			second = n.At
			break
		}
	}
	if samples(line.EntryS) != second-start {
		t.Errorf("the second player enters at %v, heard at %d", line.EntryS, second-start)
	}
	slow := Options{Bpm: 36, CountIn: 1, EnterAfter: 2}
	twice, err := Lay(s, slow)
	if err != nil {
		t.Fatal(err)
	}
	for i := range twice.Clicks {
		if math.Abs(twice.Clicks[i].AtS-2*line.Clicks[i].AtS) > 1e-9 {
			t.Errorf("beat %d at half the tempo: %v, at the whole %v", i, twice.Clicks[i].AtS, line.Clicks[i].AtS)
		}
	}
	if math.Abs(twice.LengthS-2*line.LengthS) > 1e-9 || math.Abs(twice.EntryS-2*line.EntryS) > 1e-9 {
		t.Errorf("at half the tempo: %+v, at the whole %+v", twice, line)
	}
}

// TestBarsOnce: a passage is played by itself and rings out; alone in its voice where that is asked.
func TestBarsOnce(t *testing.T) {
	s := abc(t, head("Two", "M:3/4\nL:1/4\nQ:1/4=60\nK:G\nV:1 name=\"Upper\"\nGBd|c2A|G3|\nV:2 name=\"Lower\"\nG,3|D,3|G,3|\n"))
	midis := func(opt Options) (out []int) {
		opt.Silent, opt.Bars = true, &Loop{"2", "2"}
		for _, n := range rendered(t, s, opt).Notes {
			out = append(out, n.Midi)
		}
		return out
	}
	for _, c := range []struct {
		opt  Options
		want string
	}{{Options{}, "[72 50 69]"}, {Options{Solo: []string{"Lower"}}, "[50]"}, {Options{Solo: []string{"P1"}}, "[72 69]"}, {Options{Solo: []string{"P1", "P2"}, Mute: []string{"2"}}, "[72 69]"}} {
		if got := fmt.Sprint(midis(c.opt)); got != c.want {
			t.Errorf("%+v: %s, want %s", c.opt, got, c.want)
		}
	}
	if a := rendered(t, s, Options{Guitar: Strings, Bars: &Loop{"2", "2"}}); a.Looped || a.Seconds() < 3+tailS/2 {
		t.Errorf("looped %v, %.2f s", a.Looped, a.Seconds())
	}
	for _, opt := range []Options{{Bars: &Loop{}, Loop: &Loop{}}, {Mark: true, CountIn: 1}, {Solo: []string{"7"}}, {Bars: &Loop{"9", ""}}} {
		opt.Silent = true
		if _, err := Render(t.Context(), s, opt); err == nil {
			t.Errorf("%+v is played", opt)
		}
	}
}
