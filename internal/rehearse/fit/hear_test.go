package main

import (
	"bytes"
	"context"
	"errors"
	"os"
	"os/exec"
	"path/filepath"
	"slices"
	"strings"
	"testing"

	"antiphon/internal/ear"
	"antiphon/internal/rehearse"
)

func TestReportSourcesAreRefused(t *testing.T) {
	for source, may := range map[string]bool{"timgm-nylon": true, "tj-nylon": true, "own-steel": true, "fluid-nylon": false, "tj-steel": false, "fluid-jazz": false} {
		err := mayLearnFrom("x", rehearse.Truth{Sources: []string{"own-nylon", source}, Tags: []string{"monophonic"}})
		if (err == nil) != may {
			t.Errorf("%s: %v", source, err)
		}
	}
	if mayLearnFrom("x", rehearse.Truth{}) == nil {
		t.Error("a truth without sources is taken")
	}
}

func TestTakesToLearnFrom(t *testing.T) {
	specs, err := draw(60, 5, 3)
	if err != nil {
		t.Fatal(err)
	}
	invented := 0
	for i, s := range specs {
		recipe := rehearse.LearnSet(60, i >= rehearse.TurnOfKinds)
		recipe.Seed, recipe.Plain = 5, 0.6
		usual, err := rehearse.Draw(recipe)
		if err != nil {
			t.Fatal(err)
		}
		want := 3 * usual[i].Manner.Wrong
		if (i+i/rehearse.TurnOfKinds)%4 == 3 {
			want /= 3
		}
		if d := s.Manner.Wrong - want; d > 1e-9 || d < -1e-9 {
			t.Errorf("take %d: wrong notes %v, usually %v", i, s.Manner.Wrong, usual[i].Manner.Wrong)
		}
		if strings.HasPrefix(s.Piece.Name, recipe.Name) && s.Piece.Kind != "real" {
			invented++
		}
		if err := mayLearnFrom(s.ID, rehearse.Truth{Sources: s.Sources, Tags: s.Tags}); err != nil {
			t.Error(err)
		}
	}
	if invented < 15 || invented > 30 {
		t.Errorf("%d of 60 pieces are invented, want most of the second half", invented)
	}
}

func TestThinning(t *testing.T) {
	thin := thinning{begins: 6, strangers: 2}
	kept := [len(decisions)]int{}
	for n := range 6000 {
		for of := range decisions {
			if thin.keeps(n, ear.Decision(of)) {
				kept[of]++
			}
		}
	}
	for of, want := range [...]int{ear.Begins: 1000, ear.Written: 6000, ear.Stranger: 3000, ear.Onset: 6000} {
		if kept[of] < want*9/10 || kept[of] > want*11/10 {
			t.Errorf("%s: %d of 6000 kept, want about %d", decisions[of], kept[of], want)
		}
	}
	if !(thinning{}).keeps(1, ear.Begins) {
		t.Error("0 means all")
	}
}

func TestShelf(t *testing.T) {
	dir := t.TempDir()
	if _, err := openShelf(dir); !errors.Is(err, os.ErrNotExist) {
		t.Errorf("nothing was heard yet: %v", err)
	}
	s, err := newShelf(dir, "two takes")
	if err != nil {
		t.Fatal(err)
	}
	var one, two [len(decisions)][]row
	one[ear.Written] = []row{{inputs: []float32{1, 2}, said: 0.5, target: 1}, {inputs: []float32{3, 4}, said: -1}}
	two[ear.Written] = []row{{inputs: []float32{5, 6}, said: 7}}
	two[ear.Onset] = []row{{inputs: []float32{9}, said: 8, target: 2.5}}
	if err := errors.Join(s.put(4, "reed", one), s.put(9, "pipe", two)); err != nil {
		t.Fatal(err)
	}
	if _, err := openShelf(dir); !errors.Is(err, os.ErrNotExist) {
		t.Errorf("a hearing that was not ended counts: %v", err)
	}
	if err := s.close(); err != nil {
		t.Fatal(err)
	}
	if s, err = openShelf(dir); err != nil || s.Takes != 2 || s.From != "two takes" {
		t.Fatalf("%+v, %v", s, err)
	}
	r, err := s.read(int(ear.Written))
	if err != nil || !slices.Equal(r.x, []float32{1, 2, 3, 4, 5, 6}) || !slices.Equal(r.target, []float32{1, 0, 0}) || !slices.Equal(r.said, []float32{0.5, -1, 7}) ||
		!slices.Equal(r.take, []int{4, 4, 9}) || s.Instruments[r.instrument[1]] != "reed" || s.Instruments[r.instrument[2]] != "pipe" {
		t.Errorf("written: %+v, %v", r, err)
	}
	if r, err = s.read(int(ear.Onset)); err != nil || r.width != 1 || r.target[0] != 2.5 {
		t.Errorf("onset: %+v, %v", r, err)
	}
	if r, err = s.read(int(ear.Begins)); err != nil || len(r.target) != 0 {
		t.Errorf("begins: %+v, %v", r, err)
	}
	if err := os.Truncate(s.path(int(ear.Written)), 30); err != nil {
		t.Fatal(err)
	}
	if _, err := s.read(int(ear.Written)); err == nil || !strings.Contains(err.Error(), "hear the takes again") {
		t.Errorf("a file that was cut: %v", err)
	}
	if err := s.put(1, "reed", [len(decisions)][]row{{}, {{inputs: []float32{1, 2, 3}}}}); err == nil {
		t.Error("rows of two widths are taken")
	}
}

func TestFromTakesToModels(t *testing.T) {
	if testing.Short() {
		t.Skip("some seconds")
	}
	for _, tool := range []string{"ffmpeg", "espeak-ng"} {
		if _, err := exec.LookPath(tool); err != nil {
			t.Skip(tool + " is not installed")
		}
	}
	dir := t.TempDir()
	specs, err := draw(4, 101, 3)
	if err != nil {
		t.Fatal(err)
	}
	for i := range specs {
		specs[i].Sources = []string{"own-nylon"}
	}
	ctx := context.Background()
	if err := render(ctx, specs, dir, "", ""); err != nil {
		t.Fatal(err)
	}
	if err := os.WriteFile(filepath.Join(dir, "takes", "e0-deaf.truth.json"),
		[]byte(`{"id":"deaf","audio":"nothing.m4a","sources":["own-nylon"],"tags":["monophonic"],"score":{"musicxml":"../scores/none.musicxml"}}`), 0o644); err != nil {
		t.Fatal(err)
	}
	o := options{takes: dir, rows: filepath.Join(dir, "rows"), jobs: 2, write: true, models: filepath.Join(dir, "models.bin"), training: trainings(), seed: 1}
	for of := range o.training {
		o.training[of].epochs = 1
	}
	var out bytes.Buffer
	if err := o.run(ctx, &out); err != nil {
		t.Fatalf("%v after\n%s", err, &out)
	}
	s, err := openShelf(o.rows)
	if err != nil {
		t.Fatal(err)
	}
	r, err := s.read(int(ear.Written))
	if err != nil {
		t.Fatal(err)
	}
	began := 0
	for _, y := range r.target {
		began += int(y)
	}
	onsets := s.Rows[ear.Onset]
	if s.Takes != 4 || len(r.target) < 60 || 10*began < 8*len(r.target) || 10*onsets < 8*began || onsets > len(r.target) || s.Rows[ear.Begins] < len(r.target) {
		t.Errorf("%d takes, %d of %d written notes began, %d onsets, %d beginnings", s.Takes, began, len(r.target), onsets, s.Rows[ear.Begins])
	}
	for _, want := range []string{"own-nylon", "stranger, on takes", "median error", "4 takes"} {
		if !strings.Contains(out.String(), want) {
			t.Errorf("no %q in\n%s", want, &out)
		}
	}
	all, err := os.ReadFile(o.models)
	if err != nil {
		t.Fatal(err)
	}
	// One alone, from the rows that were kept: the others stay as they are, and what is said of them too.
	o.takes, o.model, o.training[ear.Written].hidden = "", "written", []int{5}
	if err := o.run(ctx, &out); err != nil {
		t.Fatal(err)
	}
	was, now := models{}, models{}
	if now, err = readModels(o.models); err != nil {
		t.Fatal(err)
	}
	if err := os.WriteFile(o.models, all, 0o644); err != nil {
		t.Fatal(err)
	}
	if was, err = readModels(o.models); err != nil {
		t.Fatal(err)
	}
	for of, name := range decisions {
		if same := bytes.Equal(was.data[of], now.data[of]); same == (name == "written") {
			t.Errorf("%s is the same: %v", name, same)
		}
		if !strings.Contains(now.about[of], "4 takes heard") {
			t.Errorf("about %s: %s", name, now.about[of])
		}
	}
	o.model = "ending"
	if err := o.run(ctx, &out); err == nil || !strings.Contains(err.Error(), "begins, written, stranger, onset") {
		t.Errorf("a model that there is not: %v", err)
	}
	o.model, o.rows, o.takes = "", filepath.Join(dir, "none"), t.TempDir()
	if err := o.run(ctx, &out); err == nil || !strings.Contains(err.Error(), "truth.json") {
		t.Errorf("an empty folder: %v", err)
	}
}
