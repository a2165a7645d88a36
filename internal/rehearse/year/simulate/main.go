// Command simulate runs plans, forecasts and warnings on a simulated studio whose truth is known and is not the
// planner's own model, and prints one `name value` a line. `make simulate` runs it with fresh seeds.
package main

import (
	"bytes"
	"crypto/rand"
	"encoding/binary"
	"flag"
	"fmt"
	"os"

	"antiphon/internal/rehearse/year"
)

func main() {
	file := flag.String("settings", "", "a file of settings; without it those of internal/rehearse/year/settings.yaml")
	seed := flag.Uint64("seed", 0, "of chance; 0 draws a fresh one, which is printed")
	full := flag.Bool("full", false, "500 students over two years: minutes")
	plot := flag.String("plot", "", "a file for the reliability plot of the warnings, as SVG")
	flag.Parse()
	if err := simulate(*file, *plot, *seed, *full); err != nil {
		fmt.Fprintln(os.Stderr, "simulate:", err)
		os.Exit(1)
	}
}

func simulate(file, plot string, seed uint64, full bool) error {
	s := year.Usual()
	if file != "" {
		data, err := os.ReadFile(file)
		if err != nil {
			return err
		}
		if s, err = year.ReadSettings(data); err != nil {
			return fmt.Errorf("%s: %w", file, err)
		}
	}
	for seed == 0 {
		var b [8]byte
		if _, err := rand.Read(b[:]); err != nil {
			return err
		}
		seed = binary.LittleEndian.Uint64(b[:]) >> 32 // short enough to be typed again
	}
	size := year.Quick()
	if full {
		size = year.Full()
	}
	r, err := year.Run(s, seed, size)
	if err != nil {
		return err
	}
	if plot != "" {
		var b bytes.Buffer
		if err := r.Warned.Plot(&b); err != nil {
			return err
		}
		if err := os.WriteFile(plot, b.Bytes(), 0o644); err != nil {
			return err
		}
	}
	return r.Print(os.Stdout)
}
