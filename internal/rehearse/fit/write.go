package main

import (
	"bytes"
	"encoding/binary"
	"fmt"
	"math"
	"os"
	"strings"
)

// bytes is how the ear keeps a model: the number of layers and the sizes from the inputs on, as 32-bit
// integers, then means, scales, and for each layer weights and biases, as 32-bit floats, little-endian.
func (m *model) bytes() []byte {
	b := binary.LittleEndian.AppendUint32(nil, uint32(m.layers()))
	for _, n := range m.size {
		b = binary.LittleEndian.AppendUint32(b, uint32(n))
	}
	for _, v := range [][]float32{m.mean, m.scale, m.w} { // the net's own order is the ear's
		for _, x := range v {
			b = binary.LittleEndian.AppendUint32(b, math.Float32bits(x))
		}
	}
	return b
}

// models are those of the ear with a line about each.
type models struct {
	data  [len(decisions)][]byte
	about [len(decisions)]string
}

const aboutHead = "What the models in models.bin were fitted to, one a line. Written by internal/rehearse/fit.\n"

// aboutPath is the text beside the models.
func aboutPath(path string) string { return strings.TrimSuffix(path, ".bin") + ".txt" }

// readModels reads what is to be kept of models that were written before.
func readModels(path string) (m models, err error) {
	data, err := os.ReadFile(path)
	if err != nil {
		return m, err
	}
	for i := range m.data {
		n := modelLen(data)
		if n < 0 {
			return m, fmt.Errorf("%s ends within the model %q: fit all models", path, decisions[i])
		}
		m.data[i], data = data[:n], data[n:]
	}
	if len(data) > 0 {
		return m, fmt.Errorf("%s has %d bytes after its last model: fit all models", path, len(data))
	}
	text, err := os.ReadFile(aboutPath(path))
	if err != nil && !os.IsNotExist(err) {
		return m, err
	}
	for i, name := range decisions {
		m.about[i] = "not recorded"
		for line := range strings.Lines(string(text)) {
			if said, ok := strings.CutPrefix(line, name+": "); ok {
				m.about[i] = strings.TrimSpace(said)
			}
		}
	}
	return m, nil
}

// modelLen is how many bytes the model takes that data begins with; -1 if it is not all there.
func modelLen(data []byte) int {
	const most = 8 // layers, as in the ear
	var words []int
	for k := 0; len(words) < 2 || len(words) < words[0]+2; k += 4 {
		if len(data) < k+4 || len(words) > 0 && words[0] > most {
			return -1
		}
		words = append(words, int(binary.LittleEndian.Uint32(data[k:])&0xffff))
	}
	size := words[1:]
	n := len(words) + 2*size[0]
	for i := 1; i < len(size); i++ {
		n += (size[i-1] + 1) * size[i]
	}
	if 4*n > len(data) {
		return -1
	}
	return 4 * n
}

// write replaces the models and the text about them.
func (m models) write(path string) error {
	text := aboutHead
	for i, name := range decisions {
		text += name + ": " + m.about[i] + "\n"
	}
	if err := os.WriteFile(path, bytes.Join(m.data[:], nil), 0o644); err != nil {
		return err
	}
	return os.WriteFile(aboutPath(path), []byte(text), 0o644)
}
