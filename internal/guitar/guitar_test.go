package guitar_test

import (
	"errors"
	"math"
	"testing"

	"antiphon/internal/guitar"
)

type check struct {
	name              string
	got, want, within float64
	source            string
}

func verify(t *testing.T, checks []check) {
	t.Helper()
	for _, c := range checks {
		if !(math.Abs(c.got-c.want) <= c.within) && c.got != c.want {
			t.Errorf("%s: got %.9g, want %.9g within %g (%s)", c.name, c.got, c.want, c.within, c.source)
		}
	}
}

const tempered = "equal temperament, x_n = L(1-2^(-n/12)); the reference's table, worked apart from this program"

func TestFretPositions(t *testing.T) {
	at650 := []float64{0, 36.482, 70.916, 103.417, 134.095, 163.050, 190.381, 216.177, 240.526, 263.508, 285.200,
		305.674, 325.000, 343.241, 360.458, 376.709, 392.047, 406.525, 420.190, 433.089}
	gaps := []float64{36.482, 34.434, 32.501, 30.677, 28.956, 27.330, 25.796, 24.349, 22.982, 21.692, 20.475, 19.326}
	in := guitar.Standard()
	for n, want := range at650 {
		verify(t, []check{{"fret on 650 mm", in.FretMm(n), want, 5e-4, tempered}})
	}
	for i, want := range gaps {
		verify(t, []check{{"gap on 650 mm", in.FretMm(i+1) - in.FretMm(i), want, 6e-4, tempered}})
	}
	verify(t, []check{{"first gap, L/17.8172", in.FretMm(1), 650 / 17.8172, 1e-4, "the fret makers' divisor, 1/(1-2^(-1/12))"}})
	for _, c := range []struct{ scale, reach, octave float64 }{
		{440, 66.08, 220}, {480, 72.08, 240}, {530, 79.59, 265}, {580, 87.10, 290}, {610, 91.61, 305},
		{630, 94.61, 315}, {640, 96.11, 320}, {650, 97.61, 325}, {660, 99.11, 330},
	} {
		in := guitar.Instrument{ScaleMm: c.scale}
		verify(t, []check{
			{"fret 1 to 4", in.AlongMm(guitar.Place{String: 1, Fret: 1}, guitar.Place{String: 6, Fret: 4}), c.reach, 5e-3, tempered},
			{"twelfth fret", in.FretMm(12), c.octave, 1e-9, tempered},
		})
	}
	// A capo shortens the string: behind fret 12 the neck is a half-size one.
	capo := guitar.Instrument{ScaleMm: 660, Capo: 12}
	verify(t, []check{{"fret 1 to 4 beyond a capo at 12", capo.FretMm(4) - capo.FretMm(1), 99.11 / 2, 5e-3, tempered}})
	// Source: the reference, 4.2; the octave is then played by a string that is 1 mm too short.
	verify(t, []check{{"1 mm at the twelfth fret, cents", 1200 * math.Log2(325.0/324.0), 5.3, 0.05, "the reference, 4.2"}})
}

func TestTension(t *testing.T) {
	const source = "a maker's table as carried by zmoon/stringcalc (MIT), 25.5 in; printed tensions to 0.1 lbf, ours of the reference to 0.001"
	midis := []float64{64, 59, 55, 50, 45, 40}
	hz := func(midi float64) float64 { return 440 * math.Exp2((midi-69)/12) }
	for _, set := range []struct {
		wires          []guitar.Wire
		printed, exact []float64
		total, totalN  float64
	}{
		{guitar.NormalSet(), []float64{15.3, 11.6, 12.1, 15.6, 15.0, 14.0}, []float64{15.301, 11.604, 12.099, 15.607, 15.000, 14.003}, 83.61, 371.9},
		{guitar.HardSet(), []float64{15.8, 12.0, 12.4, 16.3, 15.9, 14.5}, []float64{15.805, 12.002, 12.399, 16.308, 15.900, 14.503}, 86.92, 386.6},
	} {
		var total, totalN float64
		for i, w := range set.wires {
			lbf := w.TensionLbf(25.5*25.4, hz(midis[i]))
			n := w.TensionN(25.5*25.4, hz(midis[i]))
			total, totalN = total+lbf, totalN+n
			verify(t, []check{
				{"tension as printed", lbf, set.printed[i], 0.05, source},
				{"tension", lbf, set.exact[i], 6e-4, source},
				{"pounds and newtons agree", n, lbf * 4.4482216, n * 9e-4, "1 lbf = 4.4482216 N; the makers' 386.4 in/s² stands for 386.089, eight parts in ten thousand more"},
			})
		}
		verify(t, []check{{"whole set, lbf", total, set.total, 6e-3, source}, {"whole set, N", totalN, set.totalN, 0.35, source}})
	}
	steel := guitar.Wire{LbPerInch: 2.215e-5}
	verify(t, []check{{"plain steel .010 E4", steel.TensionLbf(25.5*25.4, hz(64)), 16.20, 5e-3, source}})
	verify(t, []check{{"a pound per inch, kg/m", guitar.Wire{LbPerInch: 1}.KgPerM(), 17.858, 5e-4, "the reference, 4.3"}})
	for i, want := range []float64{10.245, 7.770, 8.101, 10.450, 10.044, 9.376} {
		verify(t, []check{{"normal set on 530 mm", guitar.NormalSet()[i].TensionLbf(530, hz(midis[i])), want, 6e-4, "the reference, 4.3"}})
	}
	w := guitar.NormalSet()[0]
	verify(t, []check{{"530 against 650 mm", w.TensionN(530, 330) / w.TensionN(650, 330), .6649, 5e-5, "the reference, 4.3: (530/650)²"}})
	for _, c := range []struct{ mm, semitones float64 }{{530, 3.53}, {480, 5.25}, {580, 1.97}, {610, 1.10}} {
		verify(t, []check{{"retune for equal tension", guitar.RetuneSemitones(650, c.mm), c.semitones, 5e-3, "the reference, 4.3: 12·log2(650/L)"}})
	}
}

func TestStiffness(t *testing.T) {
	const source = "Fletcher 1964; numbers of the reference, 4.4"
	e4, g3 := guitar.Stiffness(3, .711, 70, 650), guitar.Stiffness(3, 1.024, 55, 650)
	e4Hz := 440 * math.Exp2(-5.0/12)
	verify(t, []check{
		{"B of a nylon E4", e4, 1.2559e-5, 5e-10, source},
		{"tenth partial of E4, Hz", guitar.PartialHz(10, e4Hz, e4), 3298.345, 5e-3, source},
		{"tenth partial of E4, cents", guitar.SharpCents(10, e4), 1.086, 1e-3, source},
		{"twentieth partial of E4, cents", guitar.SharpCents(20, e4), 4.338, 1e-3, source},
		{"B of a nylon G3", g3, 6.877e-5, 5e-9, source},
		{"tenth partial of G3, cents", guitar.SharpCents(10, g3), 5.93, 1e-2, source},
		{"twentieth partial of G3, cents", guitar.SharpCents(20, g3), 23.5, 5e-2, source},
	})
}

func TestPluckPoint(t *testing.T) {
	const source = "ideal string, Traube & Smith 2000; numbers of the reference, 4.5"
	in := guitar.Standard()
	for fret, want := range map[int]float64{0: .2, 3: .2378, 5: .2670, 7: .2997, 12: .4} {
		verify(t, []check{{"share of the length at 130 mm", in.PluckPoint(130, fret), want, 5e-5, source}})
	}
	fifth := map[int]float64{1: 0, 2: -7.86, 3: -14.91, 4: -24.08, 6: -31.13, 7: -29.62, 8: -31.94, 9: -38.17}
	for n, want := range fifth {
		verify(t, []check{{"partials at 1/5, dB", guitar.PluckedDb(n, .2), want, 6e-3, source}})
	}
	for i, want := range []float64{0, -6.71, -11.43, -15.74, -20.30, -25.79, -33.80} {
		verify(t, []check{{"partials at 1/8, dB", guitar.PluckedDb(i+1, .125), want, 6e-3, source}})
	}
	verify(t, []check{
		{"ninth partial at 1/8, dB", guitar.PluckedDb(9, .125), -38.17, 6e-3, source},
		{"null at 1/5", guitar.PluckedDb(10, .2), math.Inf(-1), 0, source},
	})
}

func TestPlaces(t *testing.T) {
	in := guitar.Standard()
	same := func(midi int, want ...guitar.Place) {
		t.Helper()
		got := in.Places(midi)
		if len(got) != len(want) {
			t.Fatalf("places of %d: got %v, want %v", midi, got, want)
		}
		for i := range want {
			if got[i] != want[i] {
				t.Errorf("places of %d: got %v, want %v", midi, got, want)
			}
		}
	}
	// Common practice: the five places of E4 and where low E, the top B and what is outside lie.
	same(64, guitar.Place{String: 1}, guitar.Place{String: 2, Fret: 5}, guitar.Place{String: 3, Fret: 9}, guitar.Place{String: 4, Fret: 14}, guitar.Place{String: 5, Fret: 19})
	same(40, guitar.Place{String: 6})
	same(83, guitar.Place{String: 1, Fret: 19})
	same(39)
	same(84)
	// Every place of every pitch gives that pitch, with any capo.
	for capo := range 8 {
		for _, asFingered := range []bool{false, true} {
			in := guitar.Instrument{Capo: capo, AsFingered: asFingered}
			for midi := range 128 {
				for _, p := range in.Places(midi) {
					if got := in.Pitch(p.String, p.Fret); got != midi {
						t.Fatalf("capo %d: %v gives %d, not %d", capo, p, got, midi)
					}
				}
			}
		}
	}
	// MusicXML 4.0, element capo: it raises the open strings.
	if got := (guitar.Instrument{Capo: 3}).Pitch(1, 0); got != 67 {
		t.Errorf("first string open behind a capo at 3 sounds %d, want G4 (67)", got)
	}
	for _, p := range []guitar.Place{{String: 0}, {String: 7}, {String: 1, Fret: -1}, {String: 1, Fret: 20}} {
		if got := in.Pitch(p.String, p.Fret); got != 0 {
			t.Errorf("%v is no place, but gives %d", p, got)
		}
	}
}

func TestCheck(t *testing.T) {
	good := []guitar.Instrument{{}, guitar.Standard(), {ScaleMm: 440, Capo: 5}, {Open: []int{64, 59, 55, 50, 45, 38}}}
	for _, in := range good {
		if err := in.Check(); err != nil {
			t.Errorf("%+v: %v", in, err)
		}
	}
	bad := []guitar.Instrument{{ScaleMm: 65}, {ScaleMm: math.NaN()}, {Capo: 19}, {Capo: -1}, {Frets: 99}, {Open: []int{64, 300}}, {NutMm: -1}, {Open: make([]int, 30)}}
	for _, in := range bad {
		if err := in.Check(); !errors.Is(err, guitar.ErrInstrument) {
			t.Errorf("%+v: got %v, want ErrInstrument", in, err)
		}
	}
}

func TestReach(t *testing.T) {
	in, hand := guitar.Standard(), guitar.AdultHand()
	reaches := func(in guitar.Instrument, h guitar.Hand, a, fretA, b, fretB int) bool {
		greatest, _ := h.Reach(a, b)
		return in.AlongMm(guitar.Place{String: 1, Fret: fretA}, guitar.Place{String: 1, Fret: fretB}) <= greatest
	}
	half := guitar.Instrument{ScaleMm: 530}
	child := guitar.ChildHand(150)
	for _, c := range []struct {
		name       string
		in         guitar.Instrument
		hand       guitar.Hand
		a, fa, b   int
		fb         int
		want       bool
		whereabout string
	}{
		{"one finger a fret in first position", in, hand, 1, 1, 4, 4, true, "common practice"},
		{"1 and 4 over five frets in first position", in, hand, 1, 1, 4, 5, true, "common practice: an extension"},
		{"1 and 4 over six frets in first position", in, hand, 1, 1, 4, 6, false, "our limit"},
		{"1 and 4 over six frets at IX", in, hand, 1, 9, 4, 14, true, "common practice: frets narrow"},
		{"3 and 4 three frets apart in first position", in, hand, 3, 1, 4, 3, false, "our limit"},
		{"child on a full-size neck", in, child, 1, 1, 4, 5, false, "our limit"},
		{"child, one finger a fret, full-size neck", in, child, 1, 1, 4, 4, true, "97.6 mm against 101"},
		{"the same on a half-size neck", half, child, 1, 1, 4, 4, true, "79.6 mm"},
	} {
		if got := reaches(c.in, c.hand, c.a, c.fa, c.b, c.fb); got != c.want {
			t.Errorf("%s: got %v, want %v (%s)", c.name, got, c.want, c.whereabout)
		}
	}
	// A hand that says nothing is an adult's; a greater span never reaches less; easy is within reach.
	if (guitar.Hand{}).OrAdult() != guitar.AdultHand() {
		t.Error("an empty hand is not an adult's")
	}
	for span := 90.0; span < 270; span += 10 {
		for a := 1; a <= 3; a++ {
			for b := a + 1; b <= 4; b++ {
				less, easy := guitar.ChildHand(span).Reach(b, a)
				more, _ := guitar.ChildHand(span+10).Reach(a, b)
				if !(easy < less && less < more) {
					t.Errorf("span %v, fingers %d-%d: easy %v, reach %v, with 10 mm more %v", span, a, b, easy, less, more)
				}
			}
		}
	}
	if g, e := hand.Reach(0, 4); g != 0 || e != 0 {
		t.Errorf("finger 0 reaches %v", g)
	}
	// Tips on two strings are further apart than along the neck, by Pythagoras. Source: worked by hand
	// with 43 mm at the nut, 58 mm at the bridge: at fret 12 the strings lie (43+58)/2/5 = 10.1 mm apart.
	verify(t, []check{
		{"spacing at fret 12", in.SpacingMm(12), 10.1, 1e-9, "worked by hand"},
		{"spacing at the nut", in.SpacingMm(0), 8.6, 1e-9, "worked by hand"},
		{"tips on strings 1 and 6 at fret 12", in.TipsMm(guitar.Place{String: 1, Fret: 12}, guitar.Place{String: 6, Fret: 12}), 50.5, 1e-9, "worked by hand"},
	})
}
