package main

import (
	"encoding/json"
	"math"
	"os"
	"os/exec"
	"path/filepath"
	"slices"
	"strings"
	"testing"
)

const smallTune = "X:1\nT:Small tune\nM:3/4\nL:1/4\nQ:1/4=90\nK:G\nD|GBd|c2A|FAc|B2:|\n"

// sounded runs `antiphon sound` on a tune and reads its JSON.
func sounded(t *testing.T, args ...string) soundDocument {
	t.Helper()
	code, out, errs := ran(t, append([]string{"sound"}, args...)...)
	if code != exitDone || errs != "" {
		t.Fatalf("%q: exit %d, %s", args, code, errs)
	}
	var d soundDocument
	if err := json.Unmarshal([]byte(out), &d); err != nil {
		t.Fatalf("%v in %q", err, out)
	}
	return d
}

func TestSound(t *testing.T) {
	dir := t.TempDir()
	tune := write(t, filepath.Join(dir, "tune.abc"), smallTune)
	wav := filepath.Join(dir, "a.wav")
	d := sounded(t, tune, "-o", wav, "--tempo", "120", "--click", "--guitar", "strings", "--json")
	if d.Schema != "antiphon.sound/1" || d.Guitar != "strings" || len(d.Rungs) != 1 || d.Rungs[0].Bpm != 120 || d.Volume != moderate {
		t.Errorf("%+v", d)
	}
	// One bar of three and the two beats before the pickup, at half a second each; 20 notes in all.
	if math.Abs(d.Rungs[0].StartS-2.5) > 1e-4 || len(d.Notes) != 20 || math.Abs(d.Notes[0].OnsetS-2.5) > 1e-4 {
		t.Errorf("starts at %v with %d notes", d.Rungs[0].StartS, len(d.Notes))
	}
	if math.Abs(d.Loudness.Lufs+20) > 2 || d.Loudness.PeakDb > -1 || *d.Loudness.ClicksDb > *d.Loudness.MusicDb {
		t.Errorf("loudness %+v", d.Loudness)
	}
	st, err := os.Stat(wav)
	if err != nil || st.Size() != 44+4*int64(math.Round(d.DurationS*48000)) {
		t.Errorf("%v, %v s", st, d.DurationS)
	}
	// The text says how long (24 quarters at 90), and the line for those who listen.
	code, out, errs := ran(t, "sound", tune, "-o", filepath.Join(dir, "b.mid"))
	if code != exitDone || errs != "" || !strings.Contains(out, "b.mid: 16.0 s") || !strings.Contains(out, "quarter = 90") || !strings.HasSuffix(out, moderate+"\n") {
		t.Errorf("exit %d, %q, %q", code, out, errs)
	}
	// What is there is not written over.
	if code, _, errs := ran(t, "sound", tune, "-o", wav); code != exitFailed || !strings.Contains(errs, "--force") {
		t.Errorf("written over: exit %d, %q", code, errs)
	}
}

func TestSoundLadder(t *testing.T) {
	for _, c := range []struct {
		text string
		want []float64
	}{
		// The reference works 60 to 100 by 5 % out: 60 63 66.15 69.46 72.93 76.58 80.41 84.43 88.65 93.08 97.73, then 100.
		{"60-100", []float64{60, 63, 66.2, 69.5, 72.9, 76.6, 80.4, 84.4, 88.6, 93.1, 97.7, 100}},
		{"60-100/3", []float64{60, 77.5, 100}},
		{"100-90", []float64{100, 95.2, 90.7, 90}},
		{"72-72", []float64{72}},
	} {
		if got, err := ladder(c.text); err != nil || !slices.Equal(got, c.want) {
			t.Errorf("%s: %v %v, want %v", c.text, got, err, c.want)
		}
	}
}

// TestSoundWithoutFluidSynth: our own strings play where nothing else is installed.
func TestSoundWithoutFluidSynth(t *testing.T) {
	dir := t.TempDir()
	tune := write(t, filepath.Join(dir, "tune.abc"), smallTune)
	t.Setenv("PATH", dir)
	d := sounded(t, tune, "-o", filepath.Join(dir, "a.wav"), "--json")
	if d.Guitar != "strings" || !slices.ContainsFunc(d.Remarks, func(r string) bool { return strings.Contains(r, "FluidSynth is not installed") }) {
		t.Errorf("%s, %q", d.Guitar, d.Remarks)
	}
	for _, args := range [][]string{
		{"-o", filepath.Join(dir, "b.wav"), "--guitar", "sampled"},
		{"-o", filepath.Join(dir, "b.m4a")},
	} {
		code, _, errs := ran(t, append([]string{"sound", tune}, args...)...)
		if code != exitFailed || !strings.Contains(errs, "apt-get install") || strings.Count(errs, "\n") != 1 {
			t.Errorf("%q: exit %d, %q", args, code, errs)
		}
	}
}

func TestSoundFont(t *testing.T) {
	if _, err := exec.LookPath("fluidsynth"); err != nil {
		t.Skip("fluidsynth is not installed")
	}
	dir := t.TempDir()
	tune := write(t, filepath.Join(dir, "tune.abc"), smallTune)
	const small = "/usr/share/sounds/sf2/TimGM6mb.sf2"
	if _, err := os.Stat(small); err == nil {
		d := sounded(t, tune, "-o", filepath.Join(dir, "a.wav"), "--sound-font", small, "--json")
		if d.Guitar != "sampled" || d.SoundFont != "TimGM6mb.sf2" || math.Abs(d.Loudness.Lufs+20) > 2 {
			t.Errorf("%s, %s, %v", d.Guitar, d.SoundFont, d.Loudness)
		}
	}
	broken := write(t, filepath.Join(dir, "broken.sf2"), "RIFF\x10\x00\x00\x00sfbkLIST\x04\x00\x00\x00INFO")
	for _, font := range []string{tune, broken, filepath.Join(dir, "none.sf2")} {
		code, _, errs := ran(t, "sound", tune, "-o", filepath.Join(dir, "b.wav"), "--sound-font", font)
		if code != exitFailed || strings.Count(errs, "\n") != 1 || !strings.Contains(errs, filepath.Base(font)) {
			t.Errorf("%s: exit %d, %q", font, code, errs)
		}
	}
}

// TestSoundBadInput: one line that says what, where and what to do, and no file.
func TestSoundBadInput(t *testing.T) {
	dir := t.TempDir()
	tune := write(t, filepath.Join(dir, "tune.abc"), smallTune)
	silent := write(t, filepath.Join(dir, "rests.abc"), "X:1\nT:Rests\nM:4/4\nL:1/4\nK:C\nzzzz|\n")
	out := filepath.Join(dir, "out.wav")
	for _, c := range []struct {
		args []string
		code int
		says string
	}{
		{[]string{tune, "-o", out, "--tempo", "0"}, exitUsage, "--tempo 0"},
		{[]string{tune, "-o", out, "--tempo=-5"}, exitUsage, "tempo"},
		{[]string{tune, "-o", out, "--tempo", "NaN"}, exitUsage, "no tempo"},
		{[]string{tune, "-o", out, "--tempo", "fast"}, exitUsage, "tempo"},
		{[]string{tune, "-o", out, "--mute", "9"}, exitUsage, `no voice "9"`},
		{[]string{tune, "-o", out, "--mute", "1"}, exitFailed, "no note is left"},
		{[]string{silent, "-o", out}, exitFailed, "no pitched notes"},
		{[]string{filepath.Join(dir, "none.abc"), "-o", out}, exitFailed, "none.abc"},
		{[]string{tune, "-o", filepath.Join(dir, "no", "where.wav")}, exitFailed, "no folder"},
		{[]string{tune, "-o", dir}, exitUsage, "is not made"},
		{[]string{tune, "-o", filepath.Join(dir, "out.mp3")}, exitUsage, "name it .wav"},
		{[]string{tune, "-o", out, "--ladder", "60"}, exitUsage, "--ladder 60"},
		{[]string{tune, "-o", out, "--ladder", "0-100"}, exitUsage, "--ladder 0-100"},
		{[]string{tune, "-o", out, "--ladder", "60-80", "--tempo", "60"}, exitUsage, "--ladder"},
		{[]string{tune, "-o", out, "--ladder", "60-80", "--loop", "all"}, exitUsage, "a loop has one tempo"},
		{[]string{tune, "-o", out, "--loop", "77"}, exitUsage, "no bar 77"},
		{[]string{tune, "-o", out, "--loop", "3-2"}, exitUsage, "earlier bar first"},
		{[]string{tune, "-o", out, "--loop", "-"}, exitUsage, "--loop"},
		{[]string{tune, "-o", out, "--enter-after", "0"}, exitUsage, "--enter-after 0"},
		{[]string{tune, "-o", out, "--entries", "3"}, exitUsage, "after how many bars"},
		{[]string{tune, "-o", out, "--enter-after", "1", "--entries", "99"}, exitUsage, "99 players"},
		{[]string{tune, "-o", out, "--count-in=-1"}, exitUsage, "count-in"},
		{[]string{tune, "-o", out, "--repeats", "thrice"}, exitUsage, "repeats"},
		{[]string{tune, "-o", out, "--tempo", "10", "--enter-after", "200"}, exitFailed, "at most 30"},
		{[]string{tune, "-o", tune}, exitUsage, "is not made"},
		{[]string{tune, "-o", out, "--pluck-mm", "0"}, exitUsage, "--pluck-mm 0"},
		{[]string{tune, "-o", out, "--guitar", "sampled", "--pluck-mm", "90"}, exitUsage, "leave --guitar sampled out"},
		{[]string{tune, "-o", out, "--guitar", "sampled", "--rest-strokes"}, exitUsage, "leave --guitar sampled out"},
		{[]string{tune, "-o", out, "--a4", "44"}, exitUsage, "--a4 44"},
		{[]string{tune}, exitUsage, "--out"},
	} {
		code, stdout, errs := ran(t, append([]string{"sound"}, c.args...)...)
		if code != c.code || stdout != "" || strings.Count(errs, "\n") != 1 || !strings.Contains(errs, c.says) {
			t.Errorf("%q: exit %d, stdout %q, stderr %q; want exit %d and %q", c.args[1:], code, stdout, errs, c.code, c.says)
		}
	}
	if _, err := os.Stat(out); err == nil {
		t.Error("a file was written all the same")
	}
}
