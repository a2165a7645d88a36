//go:build !amd64

package dsp

// DotLanes is the sum of w[i]·x[at[i]].
func DotLanes(at []int32, w []float32, x []Lanes) Lanes { return dotInGo(at, w, x) }

// SpreadLanes adds w[i]·h to dst[at[i]].
func SpreadLanes(dst []Lanes, at []int32, w []float32, h Lanes) { spreadInGo(dst, at, w, h) }

// AddRows adds to dst the sum of x[j] times the j-th of four rows, each as long as dst.
func AddRows(dst, rows []float32, x Lanes) { addRowsInGo(dst, rows, x) }

func times(dst, x, w []float32) { timesInGo(dst, x, w) }

func quarters(re, im, turns []float32) { quartersInGo(re, im, turns) }
