package dsp

// The inner loops of the ear go over four numbers at a time, a lane each. On amd64 they are written in the SSE
// instructions that every such processor has (lanes_amd64.s), which Go's compiler does not use for loops:
// a hearing takes three quarters of the time. Elsewhere, and in the test that compares the two, they are in Go.
// There each product is rounded before it is added, as in SSE: a compiler may join the two otherwise.

// Lanes are four numbers that go through the same sums side by side.
type Lanes [4]float32

// dotInGo is what DotLanes does.
func dotInGo(at []int32, w []float32, x []Lanes) Lanes {
	var even, odd Lanes
	for i, k := range at {
		sum := &even
		if i%2 == 1 {
			sum = &odd
		}
		for j, v := range x[k] {
			sum[j] += float32(w[i] * v)
		}
	}
	for j, v := range odd {
		even[j] += v
	}
	return even
}

// spreadInGo is what SpreadLanes does.
func spreadInGo(dst []Lanes, at []int32, w []float32, h Lanes) {
	for i, k := range at {
		for j, v := range h {
			dst[k][j] += float32(w[i] * v)
		}
	}
}

// addRowsInGo is what AddRows does.
func addRowsInGo(dst, rows []float32, x Lanes) {
	n := len(dst)
	a, b, c, d := rows[:n], rows[n:2*n], rows[2*n:3*n], rows[3*n:4*n]
	for o := range dst {
		dst[o] += float32(x[0]*a[o]) + float32(x[1]*b[o]) + float32(x[2]*c[o]) + float32(x[3]*d[o])
	}
}

// timesInGo fills dst with the products of x and w, as long as dst.
func timesInGo(dst, x, w []float32) {
	for i := range dst {
		dst[i] = x[i] * w[i]
	}
}

// quartersInGo joins four transforms of n numbers, one after the other in re and im, to one. Of four numbers
// after the other, turns holds the cosines, then the sines, that the second is multiplied by, then the third,
// then the fourth; n is a multiple of 4.
func quartersInGo(re, im, turns []float32) {
	n := len(re) / 4
	for k := range n {
		t := turns[k/4*turnLanes+k%4:]
		ar, br, cr, dr := &re[k], &re[n+k], &re[2*n+k], &re[3*n+k]
		ai, bi, ci, di := &im[k], &im[n+k], &im[2*n+k], &im[3*n+k]
		b, bI := rounded(*br, *bi, t[0], t[4])
		c, cI := rounded(*cr, *ci, t[8], t[12])
		d, dI := rounded(*dr, *di, t[16], t[20])
		p, pI, q, qI := *ar+b, *ai+bI, *ar-b, *ai-bI
		r, rI, s, sI := c+d, cI+dI, c-d, cI-dI
		*ar, *ai = p+r, pI+rI
		*br, *bi = q+sI, qI-s
		*cr, *ci = p-r, pI-rI
		*dr, *di = q-sI, qI+s
	}
}

// rounded turns a number, each product rounded by itself.
func rounded(re, im, cos, sin float32) (float32, float32) {
	return float32(re*cos) - float32(im*sin), float32(re*sin) + float32(im*cos)
}

// turnLanes is how many numbers four butterflies of quarters are turned by.
const turnLanes = 24
