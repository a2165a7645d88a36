// Command learn teaches the left hand's model from printed fingerings, and says how well it does on
// pieces that it has not seen.
//
//	go run ./internal/hands/learn -data fingering.json            cross-validation only
//	go run ./internal/hands/learn -data fingering.json -write FILE  learns from all and writes the weights
//
// The file is a list of parts, each with tuning (MIDI numbers of strings 1 to 6), group, file and notes
// with onset and dur in quarters, midi, and finger and string where they are printed.
package main

import (
	"encoding/binary"
	"flag"
	"fmt"
	"log"
	"math"
	"os"

	"antiphon/internal/hands/grip"
)

func main() {
	log.SetFlags(0)
	var o options
	flag.StringVar(&o.data, "data", "", "printed fingerings to learn from")
	flag.IntVar(&o.folds, "folds", 4, "folds of the cross-validation, by work; 0 none")
	flag.IntVar(&o.epochs, "epochs", 14, "rounds through the data")
	flag.IntVar(&o.orders, "orders", 3, "orders of the parts to average over")
	flag.IntVar(&o.beam, "beam", 32, "states kept while learning")
	flag.IntVar(&o.testBeam, "testbeam", 48, "states kept while measuring")
	flag.Float64Var(&o.rate, "rate", 0.006, "step size")
	flag.Float64Var(&o.decay, "decay", 50, "pull towards the prior weights")
	flag.StringVar(&o.write, "write", "", "Go file to write the weights to")
	flag.IntVar(&o.only, "only", -1, "run one fold only")
	flag.BoolVar(&o.byPart, "bypart", false, "fold by part instead of by work")
	flag.BoolVar(&o.verbose, "v", false, "print the likelihood after each round")
	flag.BoolVar(&o.dump, "dump", false, "print every mark with what was chosen")
	flag.StringVar(&o.save, "save", "", "prefix of files to keep each fold's weights in")
	flag.StringVar(&o.load, "load", "", "prefix of files to take each fold's weights from, instead of learning")
	flag.Float64Var(&o.rules, "rules", 0.45, "weight of the scales and chords of the first position beside the print")
	flag.Float64Var(&o.fine, "fine", 2, "how much stronger that pull is for fine features")
	flag.Parse()
	if o.data == "" {
		log.Fatal("learn: name the file of printed fingerings with -data")
	}
	parts, err := read(o.data)
	if err != nil {
		log.Fatalf("learn: %v", err)
	}
	if o.folds > 0 {
		validate(parts, o)
	}
	if o.write != "" {
		m := train(parts, o)
		report(os.Stdout, "in sample", measure(parts, m, o))
		if err := writeWeights(o.write, m, fmt.Sprintf("From %d parts; -epochs %d -orders %d -rate %v -decay %v -fine %v -rules %v -beam %d.", len(parts), o.epochs, o.orders, o.rate, o.decay, o.fine, o.rules, o.beam)); err != nil {
			log.Fatalf("learn: %v", err)
		}
	}
}

type options struct {
	data, write    string
	folds, epochs  int
	orders         int
	beam, testBeam int
	rate, decay    float64
	only           int
	byPart         bool
	save           string
	load           string
	rules          float64
	fine           float64
	dump           bool
	verbose        bool
}

// validate trains without each fold in turn and measures on it.
func validate(parts []*part, o options) {
	foldOf := deal(parts, o.folds, o.byPart)
	var all []result
	for k := range o.folds {
		if o.only >= 0 && k != o.only {
			continue
		}
		var in, out []*part
		for i, p := range parts {
			if foldOf[i] == k {
				out = append(out, p)
			} else {
				in = append(in, p)
			}
		}
		if len(out) == 0 {
			continue
		}
		m := o.foldModel(in, k)
		rs := measure(out, m, o)
		report(os.Stderr, fmt.Sprintf("fold %d", k), rs)
		all = append(all, rs...)
	}
	report(os.Stdout, "cross-validated", all)
}

// deal gives each work, with all its parts, to the fold that has the fewest marks so far.
func deal(parts []*part, folds int, byPart bool) []int {
	size := make([]int, folds)
	of := map[string]int{}
	out := make([]int, len(parts))
	marks := map[string]int{}
	name := func(i int) string {
		if byPart {
			return parts[i].ID
		}
		return parts[i].File
	}
	var order []string
	for i, p := range parts {
		if _, ok := marks[name(i)]; !ok {
			order = append(order, name(i))
		}
		marks[name(i)] += p.marks()
	}
	sortBy(order, func(a string) int { return -marks[a] })
	for _, f := range order {
		best := 0
		for k := range size {
			if size[k] < size[best] {
				best = k
			}
		}
		of[f] = best
		size[best] += marks[f]
	}
	for i := range parts {
		out[i] = of[name(i)]
	}
	return out
}

// foldModel learns a fold's weights, or takes them from a file.
func (o options) foldModel(in []*part, k int) *grip.Model {
	if o.load != "" {
		data, err := os.ReadFile(fmt.Sprintf("%s.%d", o.load, k))
		if err != nil {
			log.Fatalf("learn: %v", err)
		}
		m := &grip.Model{W: make([]float32, len(data)/4)}
		for i := range m.W {
			m.W[i] = math.Float32frombits(binary.LittleEndian.Uint32(data[4*i:]))
		}
		return m
	}
	m := train(in, o)
	if o.save != "" {
		data := make([]byte, 4*len(m.W))
		for i, w := range m.W {
			binary.LittleEndian.PutUint32(data[4*i:], math.Float32bits(w))
		}
		if err := os.WriteFile(fmt.Sprintf("%s.%d", o.save, k), data, 0o644); err != nil {
			log.Fatalf("learn: %v", err)
		}
	}
	return m
}
