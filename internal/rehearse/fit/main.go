// Command fit teaches the ear to decide. It renders takes with known truth, or reads some that were
// rendered before, has the ear hear them, labels every decision that the ear had to take, and trains the
// nets that take them: whether a pitch begins at a stroke, whether a written note does, whether one that
// is not written does, where in its window; and the two about notes once more, beside all that was
// weighed. It prints how well they do on takes that they did not learn from; with -write it replaces the
// ear's models. It refuses takes of instruments that figures are reported on. `make fit` runs it.
//
// What the first model says is among what the next two see, so they are at their best when the takes are
// heard again after it was written: -model begins -write, then the others. What these say is all that
// the two -again models see: they are taught last, and with takes that nothing was taught with before,
// since on those everything looks surer than it is.
package main

import (
	"context"
	"errors"
	"flag"
	"fmt"
	"io"
	"os"
	"os/signal"
	"path/filepath"
	"runtime"
	"slices"
	"strconv"
	"strings"

	"antiphon/internal/ear"
)

type options struct {
	takes, out, npm, rows string
	n, jobs               int
	draw                  string
	faults                float64
	thin                  thinning
	model, models         string
	write                 bool
	seed                  uint64
	training              [len(decisions)]training
}

// trainings are what did best, or as well as any, model by model, of what was tried on 2,569, 2,813 and, the last two, 7,205 takes.
func trainings() [len(decisions)]training {
	return [...]training{
		ear.Begins:        {hidden: []int{64, 16}, outputs: 1, goal: yesOrNo, drop: 0.15, noise: 0.05, decay: 0.01, rate: 2e-3, epochs: 20, batch: 1024, least: 0.05},
		ear.Written:       {hidden: []int{256, 64}, outputs: 1, goal: yesOrNo, drop: 0.5, noise: 0.2, decay: 0.05, rate: 1.5e-3, epochs: 24, batch: 1024, least: 0.05},
		ear.Stranger:      {hidden: []int{256, 64}, outputs: 1, goal: yesOrNo, drop: 0.5, noise: 0.2, decay: 0.05, rate: 1.5e-3, epochs: 24, batch: 1024, least: 0.05},
		ear.Onset:         {hidden: []int{128, 64}, outputs: fineFrames, goal: nearFrame, drop: 0.15, noise: 0.05, decay: 0.02, rate: 1.5e-3, epochs: 30, batch: 512, least: 0.02},
		ear.WrittenAgain:  {hidden: []int{128, 32}, outputs: 1, goal: yesOrNo, drop: 0.4, noise: 0.15, decay: 0.1, rate: 2e-3, epochs: 36, batch: 1024, least: 0.05},
		ear.StrangerAgain: {hidden: []int{128, 32}, outputs: 1, goal: yesOrNo, drop: 0.4, noise: 0.15, decay: 0.1, rate: 2e-3, epochs: 36, batch: 1024, least: 0.05},
	}
}

func main() {
	o := options{training: trainings()}
	flag.StringVar(&o.takes, "takes", "", "folders with sets rendered before, separated as in PATH; rendered anew if empty")
	flag.StringVar(&o.out, "out", filepath.Join(os.TempDir(), "antiphon-fit"), "folder to render into")
	flag.IntVar(&o.n, "n", 2500, "how many takes to render for each seed")
	flag.StringVar(&o.draw, "draw", "101", "seeds of the takes to render, separated by commas; the set to develop on has another")
	flag.Float64Var(&o.faults, "faults", 3, "so many times the usual faults in three takes of four")
	flag.StringVar(&o.npm, "npm", filepath.Join("scripts", "peers"), "folder of the recorded notes from npm")
	flag.StringVar(&o.rows, "rows", "", "folder of rows: they are learned from if they were heard before, else kept there")
	flag.IntVar(&o.thin.begins, "begins", 6, "one in so many pitches at strokes is learned from")
	flag.IntVar(&o.thin.strangers, "strangers", 2, "and of strangers")
	flag.IntVar(&o.jobs, "jobs", 2, "processors to use")
	flag.StringVar(&o.model, "model", "", "fit only these models, separated by commas, and keep the others")
	flag.Uint64Var(&o.seed, "seed", 1, "seed of the first weights and of the order of learning")
	flag.BoolVar(&o.write, "write", false, "write the models")
	flag.StringVar(&o.models, "models", filepath.Join("internal", "ear", "models.bin"), "where -write writes them, and the text about them beside it")
	flag.Parse()
	runtime.GOMAXPROCS(max(1, o.jobs))
	ctx, stop := signal.NotifyContext(context.Background(), os.Interrupt)
	defer stop()
	if err := o.run(ctx, os.Stdout); err != nil {
		fmt.Fprintln(os.Stderr, "fit:", err)
		os.Exit(1)
	}
}

func (o options) run(ctx context.Context, w io.Writer) error {
	var m models
	only := strings.FieldsFunc(o.model, func(r rune) bool { return r == ',' })
	if len(only) > 0 {
		for _, name := range only {
			if !slices.Contains(decisions[:], name) {
				return fmt.Errorf("-model %s: the models are %s", name, strings.Join(decisions[:], ", "))
			}
		}
		var err error
		if m, err = readModels(o.models); o.write && err != nil {
			return err // before hours of work, not after
		}
	}
	s, err := o.heard(ctx)
	if err != nil {
		return err
	}
	fmt.Fprintf(w, "Decisions in %d takes of %s.\n", s.Takes, s.From)
	for of, name := range decisions {
		if len(only) > 0 && !slices.Contains(only, name) {
			continue
		}
		if m.data[of], m.about[of], err = o.fit(ctx, w, s, ear.Decision(of)); err != nil {
			return fmt.Errorf("%s: %w", name, err)
		}
	}
	if !o.write {
		return nil
	}
	return m.write(o.models)
}

// heard gives the rows that were kept, or else renders, if need be, and hears.
func (o options) heard(ctx context.Context) (*shelf, error) {
	dir := o.rows
	if dir == "" {
		dir = filepath.Join(o.out, "rows")
	} else if s, err := openShelf(dir); !errors.Is(err, os.ErrNotExist) {
		return s, err
	}
	from, dirs := "sets rendered before:", filepath.SplitList(o.takes)
	for _, dir := range dirs {
		from += " " + filepath.Base(dir)
	}
	if o.takes == "" {
		from = fmt.Sprintf("the learning set, %d takes for each of the seeds %s", o.n, o.draw)
		for seed := range strings.SplitSeq(o.draw, ",") {
			k, err := strconv.ParseUint(seed, 10, 64)
			if err != nil {
				return nil, fmt.Errorf("-draw %s: seeds are whole numbers, separated by commas", o.draw)
			}
			specs, err := draw(o.n, k, o.faults)
			if err != nil {
				return nil, err
			}
			set := filepath.Join(o.out, "seed"+seed)
			if err := render(ctx, specs, set, filepath.Join(o.out, "cache"), o.npm); err != nil {
				return nil, err
			}
			dirs = append(dirs, set)
		}
	}
	s, err := newShelf(dir, from)
	if err != nil {
		return nil, err
	}
	if err := o.listen(ctx, dirs, s); err != nil {
		return nil, err
	}
	return s, s.close()
}

// fit trains and checks one model.
func (o options) fit(ctx context.Context, w io.Writer, s *shelf, of ear.Decision) (data []byte, about string, err error) {
	r, err := s.read(int(of))
	if err != nil {
		return nil, "", err
	}
	learn, keep := r.split()
	t := o.training[of]
	t.seed = o.seed
	m, err := fit(ctx, r, learn, t, func(epoch int, loss float64) {
		fmt.Fprintf(os.Stderr, "\r%s: %d of %d epochs, loss %.4f ", decisions[of], epoch+1, t.epochs, loss)
	})
	fmt.Fprintln(os.Stderr)
	if err != nil {
		return nil, "", err
	}
	figures := check(w, of, r, keep, decided(m, r, keep), s.Instruments)
	about = fmt.Sprintf("%d rows of %d takes heard (%s); units %v, %d epochs, seed %d; on the %d rows of takes it did not see: %s",
		len(learn), s.Takes, s.From, m.size, t.epochs, t.seed, len(keep), figures)
	return m.bytes(), about, nil
}
