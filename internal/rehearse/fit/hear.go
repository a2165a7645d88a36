package main

import (
	"context"
	"fmt"
	"os"
	"path/filepath"
	"slices"
	"sync"

	"antiphon/internal/ear"
	"antiphon/internal/media"
	"antiphon/internal/notation"
	"antiphon/internal/rehearse"
)

// draw says which takes to render. True faults are rare: three takes of four have so many times as many. Pieces that
// are spelled out are few: three turns of four through the kinds of takes have invented ones.
func draw(n int, seed uint64, times float64) ([]rehearse.Spec, error) {
	var sets [2][2][]rehearse.Spec // spelled out or invented, with the usual faults or more
	for made := range sets {
		for more, faults := range []float64{1, times} {
			recipe := rehearse.LearnSet(n, made == 1)
			recipe.Seed, recipe.Plain, recipe.Faults = seed, 0.6, faults
			specs, err := rehearse.Draw(recipe)
			if err != nil {
				return nil, err
			}
			sets[made][more] = specs
		}
	}
	specs := make([]rehearse.Spec, n)
	for i := range specs {
		made, more := 1, 1
		if (i/rehearse.TurnOfKinds)%4 == 0 {
			made = 0
		}
		if (i+i/rehearse.TurnOfKinds)%4 == 3 {
			more = 0
		}
		specs[i] = sets[made][more][i]
	}
	return specs, nil
}

// render makes takes under dir.
func render(ctx context.Context, specs []rehearse.Spec, dir, cache, npm string) error {
	banks := &rehearse.Banks{Cache: cache, NPM: npm}
	for i, s := range specs {
		if err := ctx.Err(); err != nil {
			return err
		}
		if _, err := rehearse.Render(s, banks, dir); err != nil {
			return err
		}
		fmt.Fprintf(os.Stderr, "\r%d of %d takes rendered ", i+1, len(specs))
	}
	fmt.Fprintln(os.Stderr)
	return nil
}

// thinning is how few of the many rows are kept: one in so many.
type thinning struct{ begins, strangers int }

func (t thinning) keeps(n int, of ear.Decision) bool {
	one := 1
	switch of {
	case ear.Begins:
		one = t.begins
	case ear.Stranger:
		one = t.strangers
	}
	return (uint32(n)*2654435761)>>16%uint32(max(1, one)) == 0 // scattered, since pitches come in turn
}

// heard is what one take gave.
type heard struct {
	rows [len(decisions)][]row
	err  error
}

// listen has the ear hear the takes in dirs, and puts what it observed on the shelf, in the order of the
// takes. A take that cannot be heard is reported and left out.
func (o options) listen(ctx context.Context, dirs []string, s *shelf) error {
	files, truths, err := o.takesIn(dirs)
	if err != nil {
		return err
	}
	done := make([]chan heard, len(files))
	for i := range done {
		done[i] = make(chan heard, 1)
	}
	ctx, stop := context.WithCancel(ctx)
	slots := make(chan struct{}, max(1, o.jobs))
	var wg sync.WaitGroup
	defer wg.Wait()
	defer stop()
	wg.Go(func() {
		for i, file := range files {
			slots <- struct{}{}
			wg.Go(func() {
				defer func() { <-slots }()
				rows, err := hear(ctx, filepath.Dir(file), truths[i], o.thin)
				done[i] <- heard{rows, err}
			})
		}
	})
	for i, t := range truths {
		h := <-done[i]
		if err := ctx.Err(); err != nil {
			return err
		}
		if fmt.Fprintf(os.Stderr, "\r%d of %d takes heard ", i+1, len(files)); h.err != nil {
			fmt.Fprintf(os.Stderr, "\ntake %s is left out: %v\n", t.ID, h.err)
			continue
		}
		if err := s.put(i, t.Sources[0], h.rows); err != nil {
			return err
		}
	}
	fmt.Fprintln(os.Stderr)
	return nil
}

// takesIn reads the truths of the takes in dirs.
func (o options) takesIn(dirs []string) (files []string, truths []rehearse.Truth, err error) {
	for _, dir := range dirs {
		found, err := filepath.Glob(filepath.Join(dir, "takes", "*.truth.json"))
		if err != nil || len(found) == 0 {
			return nil, nil, fmt.Errorf("no takes/*.truth.json under %s: name the folder of a set", dir)
		}
		for _, file := range found {
			var t rehearse.Truth
			if err := readJSON(file, &t); err != nil {
				return nil, nil, err
			}
			if err := mayLearnFrom(file, t); err != nil {
				return nil, nil, err
			}
			if t.Tags[0] == "other" {
				continue // of another piece: what the ear would decide there is nothing to learn from
			}
			files, truths = append(files, file), append(truths, t)
		}
	}
	return files, truths, nil
}

// mayLearnFrom refuses what figures are reported on.
func mayLearnFrom(file string, t rehearse.Truth) error {
	if len(t.Sources) == 0 || len(t.Tags) == 0 {
		return fmt.Errorf("%s names no source or no tag: render the set again", file)
	}
	tune, report := rehearse.TuneSet(0), rehearse.ReportSet(0)
	for _, s := range t.Sources {
		if slices.Contains(slices.Concat(report.Nylon, report.Steel), s) && !slices.Contains(slices.Concat(tune.Nylon, tune.Steel), s) {
			return fmt.Errorf("%s is played on %s, which is kept to report on: fit to a tuning set", file, s)
		}
	}
	return nil
}

// hear gives the labelled decisions of the ear in one take: none where it found no path.
func hear(ctx context.Context, dir string, t rehearse.Truth, thin thinning) (kept [len(decisions)][]row, err error) {
	score, _, err := notation.ReadFile(filepath.Join(dir, t.Score.MusicXML), notation.Limits{})
	if err != nil {
		return kept, err
	}
	var file struct{ Notes []scoreNote }
	if err := readJSON(filepath.Join(dir, t.Score.Notes), &file); err != nil {
		return kept, err
	}
	pcm, _, err := media.Decode(ctx, filepath.Join(dir, t.Audio), media.Options{})
	if err != nil {
		return kept, err
	}
	var seen []ear.Observation
	n := 0
	h, err := ear.Hear(ctx, pcm, score, ear.Options{Observe: func(o ear.Observation) {
		if n++; thin.keeps(n, o.Of) {
			seen = append(seen, o)
		}
	}})
	if err != nil {
		return kept, err
	}
	l := newLabels(t, file.Notes, h.Score)
	for _, o := range seen {
		if r, ok := l.row(o); ok {
			kept[o.Of] = append(kept[o.Of], r)
		}
	}
	return kept, nil
}
