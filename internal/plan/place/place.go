// Package place finds where a new student stands from two or three takes and a few answers, and says how
// unsure that is.
//
// It gives a level for choosing the first works, on the scale of those works; it is no mark, is shown to no
// family, and compares nobody with anybody.
package place

import (
	"fmt"
	"math"
	"slices"

	"antiphon/internal/plan/memory"
)

// Take is one work that was tried.
type Take struct {
	Load   float64 // of the work: 1 the usual; each doubling is DoublingLevels
	Rating memory.Rating
}

// Answers of the family. What is not known is left 0.
type Answers struct {
	Years        float64 // played so far; below 0 unknown
	ReadsMusic   bool
	MinutesADay  int
	HardestTitle string // that they name themselves; shown, not used
}

// Levels are on the scale of Elo (memory.Expected): a work of load 1 stands at Middle.
const (
	Middle         = 1500.0
	DoublingLevels = 200.0 // our choice, no source
	wide           = 350.0 // of what is believed of somebody unknown
)

// LevelOf a work of a load.
func LevelOf(load float64) float64 {
	if load <= 0 {
		load = 1
	}
	return Middle + DoublingLevels*math.Log2(load)
}

// Place is what is believed of a student.
type Place struct {
	Level  float64
	Spread float64 // one standard deviation
	Low    float64 // four in five lie between Low and High
	High   float64
	Words  []string // whole sentences
}

// how much a take shows: a steady one means that works like it are managed.
func managed(r memory.Rating) float64 {
	switch r {
	case memory.AtTempo:
		return 0.97
	case memory.Steady:
		return 0.8
	case memory.Stopped:
		return 0.4
	}
	return 0.08
}

// Find weighs all levels by how well they fit what was heard and said.
func Find(takes []Take, a Answers) Place {
	prior := Middle - 150
	if a.Years > 0 {
		prior += 120 * math.Log2(1+min(a.Years, 15))
	}
	const low, high, step = 400.0, 2900.0, 10.0
	var levels, weights []float64
	sum := 0.0
	for l := low; l <= high; l += step {
		z := (l - prior) / wide
		w := -z * z / 2
		for _, t := range takes {
			m := managed(t.Rating)
			p := min(max(memory.Expected(l, LevelOf(t.Load)), 1e-9), 1-1e-9)
			w += 2 * (m*math.Log(p) + (1-m)*math.Log(1-p)) // a rating tells about as much as two meetings
		}
		levels, weights = append(levels, l), append(weights, w)
	}
	top := slices.Max(weights)
	for i := range weights {
		weights[i] = math.Exp(weights[i] - top)
		sum += weights[i]
	}
	p := Place{}
	var mean, square, so float64
	for i, l := range levels {
		w := weights[i] / sum
		mean, square = mean+w*l, square+w*l*l
		if so < 0.1 && so+w >= 0.1 {
			p.Low = l
		}
		if so < 0.9 && so+w >= 0.9 {
			p.High = l
		}
		so += w
	}
	p.Level, p.Spread = mean, math.Sqrt(max(square-mean*mean, 0))
	p.Words = words(takes, a, p)
	return p
}

func words(takes []Take, a Answers, p Place) []string {
	var out []string
	switch len(takes) {
	case 0:
		out = append(out, "Nothing was heard yet: this rests on the answers alone, and is a guess.")
	case 1:
		out = append(out, "One take was heard; a second of another kind would make this surer.")
	default:
		out = append(out, fmt.Sprintf("This rests on %d takes.", len(takes)))
	}
	load := func(level float64) float64 { return math.Exp2((level - Middle) / DoublingLevels) }
	out = append(out, fmt.Sprintf("Four in five such students are at home somewhere between works that ask %s the usual one and works that ask %s it.", asks(load(p.Low)), asks(load(p.High))))
	if p.High-p.Low > 500 {
		out = append(out, "The first weeks will show more: begin on the easy side, and look again after two lessons.")
	}
	if a.Years == 0 && !a.ReadsMusic {
		out = append(out, "Begin without notes: by ear and by showing.")
	}
	return out
}

// asks says how much a work asks beside the usual one.
func asks(load float64) string {
	switch {
	case load < 0.4:
		return "a third as much as"
	case load < 0.6:
		return "half as much as"
	case load < 0.87:
		return "three quarters as much as"
	case load < 1.2:
		return "as much as"
	case load < 1.75:
		return "half as much again as"
	case load < 2.5:
		return "twice as much as"
	}
	return fmt.Sprintf("%.0f times as much as", load)
}

// Chance that a student at this place manages a work within the usual weeks, the uncertainty counted in.
func (p Place) Chance(load float64) float64 {
	// a logistic curve over a normal spread, by MacKay's approximation (1992)
	k := math.Ln10 / 400
	s := k * p.Spread
	return 1 / (1 + math.Exp(-k*(p.Level-LevelOf(load))/math.Sqrt(1+math.Pi*s*s/8)))
}

// Work that may come first.
type Work struct {
	ID    string
	Title string
	Load  float64
}

// First is one proposal for the first weeks.
type First struct {
	Work
	Chance float64
	Why    string
}

// likely says how it will go, by its chance and not by the place that it takes: a library may hold nothing that is surely managed.
func likely(chance float64) string {
	switch {
	case chance >= 0.85:
		return "It will very likely go well, and is for joy."
	case chance >= 0.65:
		return "It is likely to go well with some work."
	}
	return "It is something to reach for; leave it if it is too much."
}

// Proposals are up to three first works: one that is surely managed, for joy; one that is likely; one to reach for. Where
// none fits well, the nearest is taken, and no work twice.
func (p Place) Proposals(works []Work) []First {
	var out []First
	used := map[string]bool{}
	for _, want := range []float64{0.9, 0.75, 0.55} {
		best := -1
		for i, w := range works {
			if !used[w.ID] && (best < 0 || math.Abs(p.Chance(w.Load)-want) < math.Abs(p.Chance(works[best].Load)-want)) {
				best = i
			}
		}
		if best < 0 {
			break
		}
		w := works[best]
		used[w.ID] = true
		c := p.Chance(w.Load)
		out = append(out, First{w, c, fmt.Sprintf("%s About %d in 10 students who stand here manage it.", likely(c), int(10*c+0.5))})
	}
	return out
}

// Rated moves the levels of works by what many students made of them: Elo with a small step, in the order in which it
// was heard. It gives back loads.
func Rated(loads map[string]float64, heard []Met) map[string]float64 {
	const step = 16
	level, student := map[string]float64{}, map[string]float64{}
	for id, l := range loads {
		level[id] = LevelOf(l)
	}
	for _, m := range heard {
		if _, known := level[m.Work]; !known {
			continue
		}
		if _, known := student[m.Student]; !known {
			student[m.Student] = Middle
		}
		student[m.Student], level[m.Work] = memory.Met(student[m.Student], level[m.Work], step, m.Managed)
	}
	out := map[string]float64{}
	for id, l := range level {
		out[id] = math.Exp2((l - Middle) / DoublingLevels)
	}
	return out
}

// Met is one student's first steady playing of a work in the usual time, or that it did not come to that.
type Met struct {
	Student, Work string
	Managed       bool
}
