package main

import (
	"bytes"
	"context"
	"errors"
	"go/ast"
	"go/parser"
	"go/token"
	"math"
	"math/rand/v2"
	"os"
	"os/exec"
	"path/filepath"
	"slices"
	"strconv"
	"strings"
	"testing"

	"antiphon/internal/ear"
	"antiphon/internal/music"
	"antiphon/internal/rehearse"
)

var quick = training{hidden: 6, epochs: 40, batch: 16, rate: 2e-2, decay: 3e-2, seed: 1}

// circle makes rows that no straight line divides: true inside a circle.
func circle(n int) []row {
	rng := rand.New(rand.NewPCG(7, 7))
	rows := make([]row, n)
	for i := range rows {
		x, y := 4*rng.Float64()-2, 4*rng.Float64()-2
		rows[i] = row{take: i / 10, source: []string{"one", "two", "three"}[i/10%3], clues: []float64{x, y, 5}, began: x*x+y*y < 1.5}
	}
	return rows
}

func TestGradientAgainstFiniteDifferences(t *testing.T) {
	rng := rand.New(rand.NewPCG(3, 4))
	n, grad, scratch := newNet(4, 3), newNet(4, 3), newNet(4, 3)
	for i := range n.w {
		n.w[i] = rng.NormFloat64()
	}
	var x [][]float64
	var began []bool
	for range 9 {
		x = append(x, []float64{rng.NormFloat64(), rng.NormFloat64(), rng.NormFloat64(), 1})
		began = append(began, rng.IntN(2) == 0)
	}
	const decay, step = 0.7, 1e-5
	n.gradient(&grad, x, began, decay)
	for i, w := range n.w {
		n.w[i] = w + step
		above := n.gradient(&scratch, x, began, decay)
		n.w[i] = w - step
		below := n.gradient(&scratch, x, began, decay)
		n.w[i] = w
		if want := (above - below) / (2 * step); math.Abs(grad.w[i]-want) > 1e-8 {
			t.Errorf("weight %d: slope %.10f, central difference %.10f", i, grad.w[i], want)
		}
	}
}

func TestLossAgainstItsFormula(t *testing.T) {
	// One unit whose output weight is 0: log odds are the bias, 1.5, whatever comes in. Log loss by hand.
	n, grad := newNet(1, 1), newNet(1, 1)
	*n.outBias() = 1.5
	p := 1 / (1 + math.Exp(-1.5))
	want := (-math.Log(p) - math.Log(1-p)) / 2
	if got := n.gradient(&grad, [][]float64{{3}, {4}}, []bool{true, false}, 1); math.Abs(got-want) > 1e-12 {
		t.Errorf("loss %v, want %v", got, want)
	}
}

func TestWhatALineCannotDivide(t *testing.T) {
	rows := circle(600)
	m, err := fit(rows[:400], quick)
	if err != nil {
		t.Fatal(err)
	}
	right := countIf(rows[400:], func(r row) bool { return (m.logit(r.clues) > 0) == r.began })
	if right < 184 { // 92 in 100; always saying no gives about 70
		t.Errorf("%d of 200 unseen rows right", right)
	}
	if m.scale[2] != 1/leastSpread || m.mean[2] != 5 {
		t.Errorf("a clue that never differs: mean %v, scale %v", m.mean[2], m.scale[2])
	}
	if _, err := fit([]row{{clues: []float64{1}}}, quick); !errors.Is(err, errOneSided) {
		t.Errorf("rows of one kind: %v", err)
	}
}

func TestSameSeedSameModel(t *testing.T) {
	rows := circle(200)
	before := slices.Clone(rows)
	source := func(tr training) string {
		m, err := fit(rows, tr)
		if err != nil {
			t.Fatal(err)
		}
		text, err := goSource(nil, m, m)
		if err != nil {
			t.Fatal(err)
		}
		return string(text)
	}
	one := source(quick)
	if one != source(quick) {
		t.Error("the same rows and seed gave two models")
	}
	other := quick
	other.seed++
	if one == source(other) {
		t.Error("another seed gave the same model")
	}
	part := byTake(rows, 1)
	if !slices.Equal(crossValidated(rows, part, false, quick, 1), crossValidated(rows, part, false, quick, 3)) {
		t.Error("scores depend on how many models train at once")
	}
	for i := range rows {
		if !slices.Equal(rows[i].clues, before[i].clues) || rows[i].began != before[i].began {
			t.Fatal("training changed or reordered the rows")
		}
	}
}

func TestAveragePrecision(t *testing.T) {
	s := func(odds []float64, rare ...int) (out []scored) {
		for i, o := range odds {
			out = append(out, scored{o, slices.Contains(rare, i)})
		}
		return out
	}
	for _, c := range []struct {
		name   string
		in     []scored
		want   float64
		source string
	}{
		{"documented example", s([]float64{0.1, 0.4, 0.35, 0.8}, 2, 3), 0.5*1 + 0.5*2/3, "scikit-learn's page on average_precision_score: y 0 0 1 1 gives 0.83; by hand 5/6"},
		{"perfect", s([]float64{1, 2, 3}, 2, 1), 1, "definition"},
		{"all equal", s([]float64{1, 1, 1, 1}, 0), 0.25, "by hand: one threshold, precision 1/4, recall 1"},
		{"last", s([]float64{4, 3, 2, 1}, 3), 0.25, "by hand: recall comes at the fourth"},
	} {
		if got := averagePrecision(c.in); math.Abs(got-c.want) > 1e-12 {
			t.Errorf("%s: %v, want %v (%s)", c.name, got, c.want, c.source)
		}
	}
	if got := averagePrecision(s([]float64{1, 2})); !math.IsNaN(got) {
		t.Errorf("nothing to find: %v", got)
	}
	// By hand: above 0.3 stand 0.4, 0.35 and 0.8, two of them rare, and no rare one is below.
	if p, r := at(s([]float64{0.1, 0.4, 0.35, 0.8}, 2, 3), 0.3); math.Abs(p-2.0/3) > 1e-12 || r != 1 {
		t.Errorf("precision %v, recall %v, want 2/3 and 1", p, r)
	}
}

func TestNoTakeIsOnBothSides(t *testing.T) {
	rows := circle(400)
	of := map[int]int{}
	for i, p := range byTake(rows, 5) {
		if was, ok := of[rows[i].take]; ok && was != p {
			t.Fatalf("take %d is in folds %d and %d", rows[i].take, was, p)
		}
		of[rows[i].take] = p
	}
	part, names := bySource(rows)
	if strings.Join(names, " ") != "one three two" {
		t.Fatalf("instruments %q", names)
	}
	for i, p := range part {
		if names[p] != rows[i].source {
			t.Fatalf("row %d of %s is in the part of %s", i, rows[i].source, names[p])
		}
	}
	// Clues that say nothing but which take it is: learnt by heart, they cannot help with another.
	var parrot []row
	for i := range 40 {
		c := make([]float64, 10)
		c[i/4] = 1
		parrot = append(parrot, row{take: i / 4, clues: c, began: i/4%2 == 0})
	}
	s := crossValidated(parrot, byTake(parrot, 1), true, quick, 2)
	if right := countIf(s, func(x scored) bool { return (x.odds > 0) == x.rare }); right > 28 {
		t.Errorf("%d of 40 right by clues that name the take", right)
	}
}

func TestLabels(t *testing.T) {
	q := func(n int64) music.Beats { return music.Quarters(n, 2) }
	// Two parts with the same E4 at the same place, then a G4. The truth counts part 2 first.
	score := []music.Sounding{{Part: "P1", Onset: q(0), Midi: 64}, {Part: "P2", Onset: q(0), Midi: 64}, {Part: "P1", Onset: q(1), Midi: 67}, {Part: "P1", Onset: q(2), Midi: 71}}
	notes := []scoreNote{{0, 0, 64, 2}, {1, 0, 64, 1}, {2, 0.5, 67, 1}}
	if got := inTruth(score, notes); !slices.Equal(got, []int{1, 0, 2, -1}) {
		t.Fatalf("indices %v, want 1 0 2 and none", got)
	}
	ref := func(i int) *int { return &i }
	truth := rehearse.Truth{Sources: []string{"own-nylon", "tj-nylon"}, Notes: []rehearse.TrueNote{
		{Score: ref(1), OnsetS: 1, Midi: 64, Kind: "correct"},
		{Score: ref(2), OnsetS: 2, Midi: 66, Kind: "wrong"}, // F#4 in place of the G4
		{OnsetS: 3, Midi: 50, Kind: "extra"},
	}}
	for _, c := range []struct {
		name string
		o    ear.Observation
		want bool
	}{
		{"written, played", ear.Observation{S: 1.02, Midi: 64, Note: 0}, true},
		{"written, 0.24 s after the stroke", ear.Observation{S: 0.76, Midi: 64, Note: 0}, true},
		{"written, 0.26 s after", ear.Observation{S: 0.74, Midi: 64, Note: 0}, false},
		{"written, 0.14 s before", ear.Observation{S: 1.14, Midi: 64, Note: 0}, true},
		{"written, 0.16 s before", ear.Observation{S: 1.16, Midi: 64, Note: 0}, false},
		{"the other part's, left out", ear.Observation{S: 1, Midi: 64, Note: 1}, false},
		{"written, another played in its place", ear.Observation{S: 2, Midi: 67, Note: 2}, false},
		{"not in the truth's score", ear.Observation{S: 2, Midi: 71, Note: 3}, false},
		{"stranger, the wrong note", ear.Observation{S: 2, Midi: 66, Note: -1}, true},
		{"stranger, the extra note, 0.09 s after", ear.Observation{S: 2.91, Midi: 50, Note: -1}, true},
		{"stranger, 0.11 s after", ear.Observation{S: 2.89, Midi: 50, Note: -1}, false},
		{"stranger, 0.05 s before", ear.Observation{S: 3.05, Midi: 50, Note: -1}, true},
		{"stranger, 0.07 s before", ear.Observation{S: 3.07, Midi: 50, Note: -1}, false},
		{"stranger that never sounded", ear.Observation{S: 3, Midi: 62, Note: -1}, false},
	} {
		c.o.Clues = []float64{1, 2}
		written, strangers := label(9, truth, notes, score, []ear.Observation{c.o})
		rows := written
		if c.o.Note < 0 {
			rows = strangers
		}
		if len(written)+len(strangers) != 1 || len(rows) != 1 {
			t.Errorf("%s: %d written, %d strangers", c.name, len(written), len(strangers))
		} else if r := rows[0]; r.began != c.want || r.take != 9 || r.source != "own-nylon" || !slices.Equal(r.clues, c.o.Clues) {
			t.Errorf("%s: %+v", c.name, r)
		}
	}
}

// literals reads the numbers of one variable of the written file, in order.
func literals(t *testing.T, f *ast.File, name string) (v []float64) {
	t.Helper()
	sign := 1.0
	ast.Inspect(f, func(n ast.Node) bool {
		switch n := n.(type) {
		case *ast.ValueSpec:
			return n.Names[0].Name == name
		case *ast.UnaryExpr:
			sign = -1
		case *ast.BasicLit:
			x, err := strconv.ParseFloat(n.Value, 64)
			if err != nil {
				t.Fatal(err)
			}
			v, sign = append(v, sign*x), 1
		}
		return true
	})
	return v
}

func TestWrittenFileSaysTheSame(t *testing.T) {
	rows := circle(200)
	m, err := fit(rows, quick)
	if err != nil {
		t.Fatal(err)
	}
	source, err := goSource([]string{"Fitted to a circle."}, m, m)
	if err != nil {
		t.Fatal(err)
	}
	f, err := parser.ParseFile(token.NewFileSet(), "weights.go", source, parser.ParseComments)
	if err != nil {
		t.Fatalf("%v in\n%s", err, source)
	}
	if !ast.IsGenerated(f) || f.Name.Name != "ear" || f.Doc != nil {
		t.Errorf("generated %v, package %s, package comment %v", ast.IsGenerated(f), f.Name.Name, f.Doc)
	}
	for _, name := range []string{"writtenModel", "strangerModel"} {
		v := literals(t, f, name) // mean, scale, then the net in its own order
		if len(v) != 2*3+len(m.w) {
			t.Fatalf("%s has %d numbers, want %d", name, len(v), 6+len(m.w))
		}
		back := model{mean: v[:3], scale: v[3:6], net: net{3, quick.hidden, v[6:]}}
		for _, r := range rows[:50] {
			if a, b := m.logit(r.clues), back.logit(r.clues); math.Abs(a-b) > 0.01 {
				t.Fatalf("%s gives log odds %v, the model %v", name, b, a)
			}
		}
	}
}

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

func TestFromTakesToWeights(t *testing.T) {
	if testing.Short() {
		t.Skip("some seconds")
	}
	for _, tool := range []string{"ffmpeg", "espeak-ng"} {
		if _, err := exec.LookPath(tool); err != nil {
			t.Skip(tool + " is not installed")
		}
	}
	dir := t.TempDir()
	recipe := rehearse.TuneSet(4)
	recipe.Nylon, recipe.Steel = []string{"own-nylon"}, []string{"own-steel"}
	if err := render(recipe, dir, ""); err != nil {
		t.Fatal(err)
	}
	o := options{takes: dir, jobs: 2, check: true, write: true, weights: filepath.Join(dir, "weights.go"), training: quick}
	o.epochs = 1
	takes, written, strangers, err := o.listen(context.Background(), []string{dir})
	if err != nil {
		t.Fatal(err)
	}
	began := countIf(written, func(r row) bool { return r.began })
	if takes < 3 || len(written) < 60 || 10*began < 9*len(written) || len(strangers) < len(written) {
		t.Errorf("%d takes, %d of %d written notes began, %d strangers", takes, began, len(written), len(strangers))
	}
	var out bytes.Buffer
	if err := o.run(context.Background(), &out); err != nil {
		t.Fatalf("%v after\n%s", err, &out)
	}
	if source, err := os.ReadFile(o.weights); err != nil || !bytes.Contains(source, []byte("strangerModel = model{")) {
		t.Errorf("weights: %v", err)
	}
	if !strings.Contains(out.String(), "own-nylon") || !strings.Contains(out.String(), "Strangers that had begun") {
		t.Errorf("the tables lack a row:\n%s", &out)
	}
	if _, _, _, err := o.listen(context.Background(), []string{t.TempDir()}); err == nil || !strings.Contains(err.Error(), "truth.json") {
		t.Errorf("an empty folder: %v", err)
	}
}
