package engrave

import "math"

// A last system that is emptier than this makes the others share their bars with it. Our choice.
const sparseLast = 0.5

// balanced gives the bars that begin new systems so that all systems are about equally full, where the
// library would leave a few bars alone on the last one; nil where it is well as it is.
func (sh *sheet) balanced(width float64) []int {
	lines := len(sh.systems)
	if lines < 2 || lines > 60 || sh.systems[lines-1].right > sparseLast*width {
		return nil
	}
	var bars []int
	var widths []float64
	for _, sys := range sh.systems {
		for i := range sys.measures {
			m := &sys.measures[i]
			w := m.x1 - m.x0
			if i == 0 && !math.IsInf(m.first, 1) {
				w -= max(m.first-m.x0-2*space, 0) // clef and key stand at the head of every system
			}
			bars, widths = append(bars, m.bar), append(widths, w)
		}
	}
	n := len(bars)
	if n <= lines {
		return nil
	}
	sum := make([]float64, n+1)
	for i, w := range widths {
		sum[i+1] = sum[i] + w
	}
	ideal := sum[n] / float64(lines)
	// cost[k][i]: the least unevenness of the first i bars on k systems.
	cost := make([][]float64, lines+1)
	from := make([][]int, lines+1)
	for k := range cost {
		cost[k], from[k] = make([]float64, n+1), make([]int, n+1)
		for i := range cost[k] {
			cost[k][i] = math.Inf(1)
		}
	}
	cost[0][0] = 0
	const mostOnALine = 24
	for k := 1; k <= lines; k++ {
		for i := k; i <= n; i++ {
			for j := max(k-1, i-mostOnALine); j < i; j++ {
				w := sum[i] - sum[j]
				if w > width && i-j > 1 {
					continue
				}
				if c := cost[k-1][j] + (w-ideal)*(w-ideal); c < cost[k][i] {
					cost[k][i], from[k][i] = c, j
				}
			}
		}
	}
	if math.IsInf(cost[lines][n], 1) {
		return nil
	}
	out := make([]int, lines-1)
	for k, i := lines, n; k > 1; k-- {
		i = from[k][i]
		out[k-2] = bars[i]
	}
	return out
}
