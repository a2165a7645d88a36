package dsp

// DotLanes is the sum of w[i]·x[at[i]]; w is as long as at. Every at[i] must lie within x: nothing checks it.
//
//go:noescape
func DotLanes(at []int32, w []float32, x []Lanes) Lanes

// SpreadLanes adds w[i]·h to dst[at[i]]; w is as long as at. Every at[i] must lie within dst: nothing checks it.
//
//go:noescape
func SpreadLanes(dst []Lanes, at []int32, w []float32, h Lanes)

// AddRows adds to dst the sum of x[j] times the j-th of four rows, each as long as dst.
func AddRows(dst, rows []float32, x Lanes) {
	n := len(dst)
	_ = rows[:4*n]
	addRows(dst, rows, x)
	for o := n &^ 3; o < n; o++ {
		dst[o] += float32(x[0]*rows[o]) + float32(x[1]*rows[n+o]) + float32(x[2]*rows[2*n+o]) + float32(x[3]*rows[3*n+o])
	}
}

// addRows is AddRows without what is over after the last four.
//
//go:noescape
func addRows(dst, rows []float32, x Lanes)

// times fills dst with the products of x and w, as long as dst, a multiple of 4.
func times(dst, x, w []float32) { timesLanes(dst, x[:len(dst)], w[:len(dst)]) }

//go:noescape
func timesLanes(dst, x, w []float32)

// quarters is quartersInGo.
func quarters(re, im, turns []float32) {
	n := len(re)
	quartersLanes(re, im[:n], turns[:n/4/4*turnLanes])
}

//go:noescape
func quartersLanes(re, im, turns []float32)
