package rehearse_test

import (
	"bytes"
	"context"
	"os/exec"
	"path/filepath"
	"testing"

	"antiphon/internal/ear"
	"antiphon/internal/media"
	"antiphon/internal/notation"
	"antiphon/internal/rehearse"
	"antiphon/internal/report"
)

// hears runs a take through the house, from the coded file to the contract, without the command.
func hears(t *testing.T, dir string, truth rehearse.Truth) rehearse.Report {
	t.Helper()
	score, _, err := notation.ReadFile(filepath.Join(dir, "takes", truth.Score.MusicXML), notation.Limits{})
	if err != nil {
		t.Fatal(err)
	}
	pcm, _, err := media.Decode(context.Background(), filepath.Join(dir, "takes", truth.Audio), media.Options{})
	if err != nil {
		t.Fatal(err)
	}
	heard, err := ear.Hear(context.Background(), pcm, score, ear.Options{})
	if err != nil {
		t.Fatal(err)
	}
	var out bytes.Buffer
	if err := (report.Report{Hearing: heard, Score: score}).JSON(&out); err != nil {
		t.Fatal(err)
	}
	r, err := rehearse.ParseReport(out.Bytes())
	if err != nil {
		t.Fatal(err)
	}
	return r
}

// A watch on the ear that needs no sound fonts and half a minute: the real figures are make accuracy's.
// The floors lie below what was measured on 25 November 2026, so that only a real loss trips them.
func TestTheEarHoldsItsOwn(t *testing.T) {
	if testing.Short() {
		t.Skip("half a minute")
	}
	for _, tool := range []string{"ffmpeg", "espeak-ng"} {
		if _, err := exec.LookPath(tool); err != nil {
			t.Skip(tool + " is not installed")
		}
	}
	recipe := rehearse.ReportSet(24)
	recipe.Seed, recipe.Nylon, recipe.Steel = 77, []string{"own-nylon"}, []string{"own-steel"}
	specs, err := rehearse.Draw(recipe)
	if err != nil {
		t.Fatal(err)
	}
	dir := t.TempDir()
	banks := &rehearse.Banks{Cache: filepath.Join(dir, "cache")}
	var all rehearse.Marks
	for _, i := range []int{0, 1, 2, 4, 6, 7, 12, 13, 14, 18} {
		truth, err := rehearse.Render(specs[i], banks, dir)
		if err != nil {
			t.Fatal(err)
		}
		m := rehearse.Judge(truth, specs[i].ShownPiece(), hears(t, dir, truth))
		t.Logf("%s: notes F1 %.3f, jumps %+v, errors %+v", truth.ID, m.Notes50.F1(), m.Jumps, m.Errors())
		all.Add(m)
	}
	if f := all.Notes50.F1(); f < 0.94 {
		t.Errorf("played notes F1 %.3f, want at least 0.94", f)
	}
	if share := float64(all.Aligned50) / float64(all.AlignedOf); share < 0.93 {
		t.Errorf("%.3f of the score's notes within 50 ms, want at least 0.93", share)
	}
	if e := rehearse.Quantile(all.OnsetErrS, 0.5); e > 0.006 {
		t.Errorf("onset error %.1f ms in the median, want at most 6", 1000*e)
	}
	if f := all.Jumps.F1(); f < 0.85 {
		t.Errorf("jumps F1 %.2f, want at least 0.85", f)
	}
	if p := all.Errors().Precision(); p < 0.5 {
		t.Errorf("%.2f of the reported mistakes are true, want at least half", p)
	}
}

// The same spec gives the same file and the same truth, byte for byte.
func TestSameSpecSameTake(t *testing.T) {
	if _, err := exec.LookPath("ffmpeg"); err != nil {
		t.Skip("ffmpeg is not installed")
	}
	recipe := rehearse.ReportSet(1)
	recipe.Nylon, recipe.Steel = []string{"own-nylon"}, []string{"own-steel"}
	specs, err := rehearse.Draw(recipe)
	if err != nil {
		t.Fatal(err)
	}
	var files [2][]byte
	for k := range files {
		dir := t.TempDir()
		truth, err := rehearse.Render(specs[0], &rehearse.Banks{Cache: dir}, dir)
		if err != nil {
			t.Fatal(err)
		}
		pcm, _, err := media.Decode(context.Background(), filepath.Join(dir, "takes", truth.Audio), media.Options{})
		if err != nil {
			t.Fatal(err)
		}
		for _, v := range pcm.Samples {
			files[k] = append(files[k], byte(int(v*120)))
		}
		if len(truth.Notes) == 0 || truth.DurationS < 5 {
			t.Fatalf("an empty take: %+v", truth)
		}
	}
	if !bytes.Equal(files[0], files[1]) {
		t.Error("rendered twice, two sounds")
	}
}
