package pluck

// Formulas lists the arpeggio patterns of n single strokes that begin with p and in which no finger
// plays twice in a row, also not from the end to the beginning; with thumbOnce p plays only the first
// stroke. It gives nil for n below 2 or above 10, where the list would be too long to be of use.
func Formulas(n int, thumbOnce bool) []string {
	if n < 2 || n > 10 {
		return nil
	}
	var out []string
	var grow func(done string)
	grow = func(done string) {
		if len(done) == n {
			if done[n-1] != 'p' {
				out = append(out, done)
			}
			return
		}
		for _, f := range "pima" {
			if byte(f) == done[len(done)-1] || thumbOnce && f == 'p' {
				continue
			}
			grow(done + string(f))
		}
	}
	grow("p")
	return out
}
