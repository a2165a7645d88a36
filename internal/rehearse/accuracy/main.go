// Command accuracy renders takes with known truth, has the antiphon binary hear them, and says how
// right it was.
package main

import (
	"flag"
	"fmt"
	"os"
	"path/filepath"
	"runtime"

	"antiphon/internal/rehearse"
)

func main() {
	set := flag.String("set", "held", "which set: dev (to develop on) or held (to report on)")
	takes := flag.Int("takes", 60, "how many takes")
	out := flag.String("out", filepath.Join(os.TempDir(), "rehearse"), "folder for the takes; the set is a folder in it")
	npm := flag.String("npm", filepath.Join(os.TempDir(), "rehearse", "npm"), "folder with the recorded notes from npm")
	seed := flag.Uint64("seed", 0, "another seed than the set's own")
	render := flag.Bool("render", false, "only render the takes")
	flag.Parse()
	if err := run(*set, *takes, *out, *npm, *seed, *render); err != nil {
		fmt.Fprintln(os.Stderr, "accuracy:", err)
		os.Exit(1)
	}
}

func run(set string, takes int, out, npm string, seed uint64, render bool) error {
	recipe := rehearse.Report(takes)
	if set == "dev" {
		recipe = rehearse.Tune(takes)
	}
	if seed != 0 {
		recipe.Seed = seed
	}
	specs, err := rehearse.Draw(recipe)
	if err != nil {
		return err
	}
	banks := &rehearse.Banks{Cache: filepath.Join(out, "cache"), NPM: npm}
	dir := filepath.Join(out, set)
	for i, s := range specs {
		if _, err := rehearse.Render(s, banks, dir); err != nil {
			return err
		}
		fmt.Fprintf(os.Stderr, "\r%d of %d takes", i+1, len(specs))
	}
	runtime.GC()
	fmt.Fprintln(os.Stderr)
	return nil
}
