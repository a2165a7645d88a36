package tone

import "math"

// curve is a take's colour: dB at knots half an octave apart, straight between them.
type curve [knots]float64

const (
	knots       = 14
	curveFromHz = 60.0
	perOctave   = 2
	bendDb      = 4.0  // from straight, at each knot
	tiltDb      = 12.0 // from level, from knot to knot
)

// knot is where a frequency lies: the knot below it, and how far it is on to the next.
func knot(hz float64) (i int, f float64) {
	p := perOctave * math.Log2(max(hz, curveFromHz)/curveFromHz)
	i = min(int(p), knots-2)
	return i, min(p-float64(i), 1)
}

func (c *curve) at(hz float64) float64 {
	i, f := knot(hz)
	return c[i]*(1-f) + c[i+1]*f
}

// penalty is how unlikely a curve is before anything is heard, in the unit of touch.cost.
func (c *curve) penalty() float64 {
	sum := 0.0
	for k := range knots - 1 {
		d := c[k+1] - c[k]
		sum += d * d / (tiltDb * tiltDb)
		if k > 0 {
			d := c[k-1] - 2*c[k] + c[k+1]
			sum += d * d / (bendDb * bendDb)
		}
	}
	return sum
}

// normal are the normal equations of a curve, the right side in the last column.
type normal [knots][knots + 1]float64

// see adds what one partial asks of the curve.
func (a *normal) see(hz, db, weight float64) {
	k, f := knot(hz)
	w := [2]float64{1 - f, f}
	for i, x := range w {
		for j, y := range w {
			a[k+i][k+j] += weight * x * y
		}
		a[k+i][knots] += weight * x * db
	}
}

// prior adds the penalty.
func (a *normal) prior() {
	const unit = kinship * spreadDb * spreadDb
	add := func(k int, row []float64, sd float64) {
		for i, x := range row {
			for j, y := range row {
				a[k+i][k+j] += unit / (sd * sd) * x * y
			}
		}
	}
	for k := range knots - 1 {
		add(k, []float64{1, -1}, tiltDb)
		if k > 0 {
			add(k-1, []float64{1, -2, 1}, bendDb)
		}
	}
	a[knots/2][knots/2] += 1e-3 // levels are the notes' own
}

// solve by Gaussian elimination; the prior keeps the equations regular.
func (a *normal) solve() (c curve) {
	for i := range knots {
		for j := i + 1; j < knots; j++ {
			f := a[j][i] / a[i][i]
			for k := i; k <= knots; k++ {
				a[j][k] -= f * a[i][k]
			}
		}
	}
	for i := knots - 1; i >= 0; i-- {
		s := a[i][knots]
		for k := i + 1; k < knots; k++ {
			s -= a[i][k] * c[k]
		}
		c[i] = s / a[i][i]
	}
	return c
}
