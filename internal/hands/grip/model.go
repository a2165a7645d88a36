package grip

// Learned is the model that this program fingers with: the prior and what printed fingerings added.
func Learned() *Model {
	m := &Model{W: Prior()}
	for _, row := range learned() {
		for i, x := range row[1:] {
			m.W[int(row[0])+i] += float32(x) / 100
		}
	}
	return m
}
