package sound

import (
	"bytes"
	"math"
	"os"
	"os/exec"
	"path/filepath"
	"regexp"
	"slices"
	"strconv"
	"strings"
	"testing"

	"antiphon/internal/notation"
)

// pieces of different kinds: a loud one, a very soft and sparse one, one of chords, one with a click.
func pieces(t *testing.T) map[string]*Audio {
	loud := abc(t, head("Loud", "M:4/4\nL:1/8\nQ:1/4=120\nK:E\n!ff!"+strings.Repeat("E,B,EG Be g b|", 4)+"\n"))
	sparse := abc(t, head("Sparse", "M:4/4\nL:1/4\nQ:1/4=40\nK:C\n!pp!.e z3|.E, z3|!ff!.[E,B,EGBe] z3|\n"))
	chords := abc(t, head("Chords", "M:3/4\nL:1/4\nQ:1/4=90\nK:G\n"+strings.Repeat("[G,,B,,D,G,Bg][DGBd][DGBd]|", 4)+"\n"))
	return map[string]*Audio{
		"loud":              rendered(t, loud, Options{Guitar: Strings}),
		"sparse":            rendered(t, sparse, Options{Guitar: Strings}),
		"chords, clicks":    rendered(t, chords, Options{Guitar: Strings, Click: true, CountIn: 1}),
		"chords, round":     rendered(t, chords, Options{Guitar: Strings, EnterAfter: 1, Entries: 3}),
		"clicks alone":      rendered(t, chords, Options{Click: true, CountIn: 2, Mute: []string{"1"}}),
		"chords, as a loop": rendered(t, chords, Options{Guitar: Strings, Click: true, Loop: &Loop{}}),
	}
}

// TestLevel: −20 ± 2 LUFS, true peak at most −1 dBTP (the house's promise), clicks no louder than the
// music by peak, by the loudest 400 ms and over all. ffmpeg's ebur128 filter is the outside reference
// for what our meter says of the very file.
func TestLevel(t *testing.T) {
	needs(t, "ffmpeg")
	for name, a := range pieces(t) {
		l := a.Loudness
		if math.Abs(l.IntegratedLufs-TargetLufs) > 2 || l.TruePeakDb > PromisedPeak {
			t.Errorf("%s: %.2f LUFS, %.2f dBTP", name, l.IntegratedLufs, l.TruePeakDb)
		}
		if name != "clicks alone" && a.ClickDb > a.MusicDb {
			t.Errorf("%s: the clicks reach %.2f LUFS, the music %.2f", name, a.ClickDb, a.MusicDb)
		}
		path := filepath.Join(t.TempDir(), "a.wav")
		writeTo(t, a, path, WAV)
		lufs, peak := ebur128(t, path)
		if math.Abs(lufs-l.IntegratedLufs) > .15 || math.Abs(peak-l.TruePeakDb) > .15 {
			t.Errorf("%s: ffmpeg hears %.1f LUFS and %.1f dBTP, we %.2f and %.2f", name, lufs, peak, l.IntegratedLufs, l.TruePeakDb)
		}
	}
}

func writeTo(t *testing.T, a *Audio, path string, f FileFormat) {
	t.Helper()
	file, err := os.Create(path)
	if err != nil {
		t.Fatal(err)
	}
	if err := a.Write(t.Context(), file, f); err != nil {
		t.Fatal(err)
	}
	if err := file.Close(); err != nil {
		t.Fatal(err)
	}
}

// ebur128 is what ffmpeg's filter of that name measures.
func ebur128(t *testing.T, path string) (lufs, peak float64) {
	t.Helper()
	out, err := exec.Command("ffmpeg", "-nostdin", "-hide_banner", "-i", path, "-af", "ebur128=peak=true", "-f", "null", "-").CombinedOutput()
	if err != nil {
		t.Fatalf("%v: %s", err, out)
	}
	_, summary, _ := strings.Cut(string(out), "Summary:")
	read := func(pattern string) float64 {
		m := regexp.MustCompile(pattern).FindStringSubmatch(summary)
		if m == nil {
			t.Fatalf("no %s in %s", pattern, summary)
		}
		v, err := strconv.ParseFloat(m[1], 64)
		if err != nil {
			t.Fatal(err)
		}
		return v
	}
	return read(`I:\s+(-?[\d.]+) LUFS`), read(`Peak:\s+(-?[\d.]+) dBFS`)
}

// TestClicksStayUnderTheMusic compares the two alone, as they are mixed.
func TestClicksStayUnderTheMusic(t *testing.T) {
	for _, dynamics := range []string{"!ppp!", "!mf!", "!fff!"} {
		s := abc(t, head("Under", "M:4/4\nL:1/4\nQ:1/4=208\nK:C\n"+dynamics+strings.Repeat("EGce|", 6)+"\n"))
		with := rendered(t, s, Options{Guitar: Strings, Click: true})
		clicks := make([]float32, len(with.Left))
		unit := [3][]float32{clickSound(Weak), clickSound(Middle), clickSound(Strong)}
		plain := rendered(t, s, Options{Guitar: Strings})
		// The difference of the two mixes, after undoing the level, is the click track.
		var top, all float64
		for _, c := range with.Clicks {
			for i, v := range unit[c.Accent] {
				if c.At+i < len(clicks) {
					clicks[c.At+i] += v
				}
			}
		}
		scale, score := fit(with.Left, plain.Left, clicks)
		for i := range clicks {
			top = max(top, math.Abs(float64(clicks[i])*score))
			all = max(all, math.Abs(float64(plain.Left[i])*scale))
		}
		if score == 0 || top > all {
			t.Errorf("%s: clicks peak at %.3f, the music at %.3f", dynamics, top, all)
		}
	}
}

// fit solves x ≈ a·m + b·c by least squares.
func fit(x, m, c []float32) (a, b float64) {
	var mm, mc, cc, xm, xc float64
	for i := range x {
		p, q, r := float64(x[i]), float64(m[i]), float64(c[i])
		mm, mc, cc, xm, xc = mm+q*q, mc+q*r, cc+r*r, xm+p*q, xc+p*r
	}
	d := mm*cc - mc*mc
	return (xm*cc - xc*mc) / d, (xc*mm - xm*mc) / d
}

// TestFiles: each format holds the same music at the same place. AAC and Opus are decoded as a player
// does: their delay is stated, so nothing moves; peaks stay below the promise after coding.
func TestFiles(t *testing.T) {
	needs(t, "ffmpeg")
	s := abc(t, head("Files", "M:4/4\nL:1/4\nQ:1/4=100\nK:C\n!ff!EG,ce|[CEGc]2 [G,DGB]2|c4|\n"))
	a := rendered(t, s, Options{Guitar: Strings, Click: true})
	want := slices.Clone(a.Left)
	for _, f := range []FileFormat{WAV, FLAC, AAC, Opus} {
		path := filepath.Join(t.TempDir(), "a."+string(f))
		writeTo(t, a, path, f)
		lufs, peak := ebur128(t, path)
		if math.Abs(lufs-TargetLufs) > 2 || peak > PromisedPeak+.05 {
			t.Errorf("%s: ffmpeg hears %.1f LUFS and %.1f dBTP", f, lufs, peak)
		}
		data, err := os.ReadFile(path)
		if err != nil {
			t.Fatal(err)
		}
		left, _, err := decode(t.Context(), data, f, 2, len(want))
		if err != nil {
			t.Fatal(err)
		}
		best, at := 0.0, 0
		for lag := -1500; lag <= 1500; lag++ {
			sum := 0.0
			for i := 2000; i < 2000+RateHz && i+lag < len(left); i++ {
				sum += float64(want[i]) * float64(left[i+lag])
			}
			if sum > best {
				best, at = sum, lag
			}
		}
		if at != 0 {
			t.Errorf("%s is %d samples late", f, at)
		}
		over := len(left) - len(want)
		if f == AAC && over > 0 && over < 1024 { // ffmpeg's reader leaves the last frame whole; the container says where it ends
			over = 0
		}
		if over != 0 {
			t.Errorf("%s: %d samples too many", f, over)
		}
	}
}

// TestMIDIFile is read back by notation: the same notes at the same times, to half a millisecond.
func TestMIDIFile(t *testing.T) {
	s := abc(t, head("Back", "M:3/4\nL:1/4\nQ:1/4=97\nK:G\nD|G,2 B|[CE]2 c|\n"))
	a := rendered(t, s, Options{Silent: true, Click: true, CountIn: 1})
	var b bytes.Buffer
	if err := a.Write(t.Context(), &b, MIDI); err != nil {
		t.Fatal(err)
	}
	back, _, err := notation.Read(bytes.NewReader(b.Bytes()), "back.mid", notation.Limits{})
	if err != nil {
		t.Fatal(err)
	}
	notes := back.Sounding()
	if len(notes) != len(a.Notes) {
		t.Fatalf("%d notes came back of %d", len(notes), len(a.Notes))
	}
	for i, n := range notes {
		if got, want := n.Onset.Q()/2, float64(a.Notes[i].At)/RateHz; n.Midi != a.Notes[i].Midi || math.Abs(got-want) > .02 {
			t.Errorf("note %d: %d at %.4f s, want %d at %.4f s", i, n.Midi, got, a.Notes[i].Midi, want)
		}
	}
}

// TestMIDIInBars: music alone keeps its bars and says its new tempo; what is muted is not there.
func TestMIDIInBars(t *testing.T) {
	s := abc(t, head("Bars", "M:3/4\nL:1/4\nQ:1/4=90\nK:G\nV:1\nGBd|c2A|\nV:2\nG,3|D,3|\n"))
	a := rendered(t, s, Options{Silent: true, Bpm: 60, Mute: []string{"2"}})
	var b bytes.Buffer
	if err := a.Write(t.Context(), &b, MIDI); err != nil {
		t.Fatal(err)
	}
	back, _, err := notation.Read(bytes.NewReader(b.Bytes()), "back.mid", notation.Limits{})
	if err != nil {
		t.Fatal(err)
	}
	q, marked := back.TempoAt(back.Bars[0].Start)
	if len(back.Bars) != 2 || !marked || math.Abs(q-60) > .01 || len(back.Sounding()) != len(a.Notes) || len(a.Notes) != 5 {
		t.Errorf("%d bars, %v quarters a minute, %d notes", len(back.Bars), q, len(back.Sounding()))
	}
}

// TestRecordedNotesAreInTune: FluidSynth's notes after our tuning, measured by a long transform.
func TestRecordedNotesAreInTune(t *testing.T) {
	needsFont(t)
	g, err := chooseGuitar(&performance{}, Options{Guitar: Recorded}, &Audio{})
	if err != nil {
		t.Fatal(err)
	}
	var tones []tone
	var needs []int
	for midi := 40; midi <= 81; midi++ {
		tones, needs = append(tones, tone{midi: midi}), append(needs, 2*RateHz)
	}
	recs, err := g.record(t.Context(), tones, needs)
	if err != nil {
		t.Fatal(err)
	}
	for i, r := range recs {
		hz := music440(tones[i].midi)
		pcm := r.pcm[r.onset+samples(.08) : r.onset+samples(.9)]
		sum, weights := 0.0, 0.0
		for k := 1.0; k <= 6; k++ { // the ear takes its pitch from the lower partials together
			f := spectrumHz(t, pcm, k*hz)
			l := gain(partialDb(pcm, f))
			sum, weights = sum+l*cents(f, k*hz), weights+l
		}
		off := sum / weights
		if math.Abs(off) > 2 {
			t.Errorf("note %d is %.2f cents off", tones[i].midi, off)
		}
	}
}

// TestFluidSynthFails: a FluidSynth that cannot play is no reason to play nothing, unless it was asked for.
func TestFluidSynthFails(t *testing.T) {
	if findFont() == "" {
		t.Skip("no sound font is installed")
	}
	dir := t.TempDir()
	if err := os.WriteFile(filepath.Join(dir, "fluidsynth"), []byte("#!/bin/sh\necho no audio >&2\nexit 1\n"), 0o755); err != nil {
		t.Fatal(err)
	}
	t.Setenv("PATH", dir)
	s := abc(t, head("Fails", "M:4/4\nL:1/4\nQ:1/4=120\nK:C\nEGce|\n"))
	a := rendered(t, s, Options{})
	if a.Guitar != Strings || a.Font != "" || len(a.Notes) != 4 || len(a.Remarks) != 1 {
		t.Errorf("%q, %q, %d notes, %q", a.Guitar, a.Font, len(a.Notes), a.Remarks)
	}
	if _, err := Render(t.Context(), s, Options{Guitar: Recorded}); err == nil {
		t.Error("a guitar that was asked for was quietly replaced")
	}
}
