package main

import (
	"bytes"
	"context"
	"encoding/binary"
	"math"
	"os"
	"path/filepath"
	"strings"
	"testing"
)

// asTheEar runs a model from its bytes, written apart from the code that trains: the layout and the
// arithmetic are those that the ear's model.go states. It gives what is left of the bytes.
func asTheEar(t *testing.T, data []byte, inputs []float32) (out []float32, rest []byte) {
	t.Helper()
	in := bytes.NewReader(data)
	read := func(v any) {
		if err := binary.Read(in, binary.LittleEndian, v); err != nil {
			t.Fatal(err)
		}
	}
	var layers uint32
	read(&layers)
	size := make([]uint32, layers+1)
	read(size)
	mean, scale := make([]float32, size[0]), make([]float32, size[0])
	read(mean)
	read(scale)
	x := make([]float32, size[0])
	for i := range x {
		x[i] = min(max((inputs[i]-mean[i])*scale[i], -6), 6)
	}
	for l := range layers {
		w, y := make([]float32, size[l]*size[l+1]), make([]float32, size[l+1])
		read(w)
		read(y)
		for o := range y {
			for i, v := range x {
				y[o] += v * w[i*len(y)+o]
			}
			if y[o] < 0 && l+1 < layers {
				y[o] *= 0.01
			}
		}
		x = y
	}
	return x, data[len(data)-in.Len():]
}

func TestWrittenModelsSayTheSame(t *testing.T) {
	r, all := circle(200)
	var raw []byte
	for _, v := range r.x {
		raw = binary.LittleEndian.AppendUint32(raw, math.Float32bits(v))
	}
	tr := quick
	tr.epochs = 5
	m, err := fit(context.Background(), r, all, tr, quiet)
	if err != nil {
		t.Fatal(err)
	}
	path := filepath.Join(t.TempDir(), "models.bin")
	var ms models
	for i, name := range decisions {
		ms.data[i], ms.about[i] = m.bytes(), "a circle, as "+name
	}
	if want := 4 * (1 + 4 + 3 + 3 + (3*12 + 12) + (12*6 + 6) + (6 + 1)); len(ms.data[0]) != want {
		t.Errorf("a model takes %d bytes, want %d", len(ms.data[0]), want)
	}
	if err := ms.write(path); err != nil {
		t.Fatal(err)
	}
	data, err := os.ReadFile(path)
	if err != nil {
		t.Fatal(err)
	}
	said := decided(m, r, all)
	for i := range 20 {
		x := make([]float32, 3)
		if err := binary.Read(bytes.NewReader(raw[12*i:]), binary.LittleEndian, x); err != nil {
			t.Fatal(err)
		}
		rest := data
		for range decisions {
			var out []float32
			if out, rest = asTheEar(t, rest, x); math.Abs(float64(out[0]-said[i])) > 1e-4 {
				t.Fatalf("row %d: the written model gives %v, the trained one %v", i, out[0], said[i])
			}
		}
		if len(rest) > 0 {
			t.Fatalf("%d bytes after the last model", len(rest))
		}
	}
	back, err := readModels(path)
	if err != nil {
		t.Fatal(err)
	}
	for i := range decisions {
		if !bytes.Equal(back.data[i], ms.data[i]) || back.about[i] != ms.about[i] {
			t.Errorf("%s came back as %d bytes, %q", decisions[i], len(back.data[i]), back.about[i])
		}
	}
	for _, c := range []struct {
		name string
		data []byte
		want string
	}{
		{"cut", data[:len(data)-1], "ends within"},
		{"cut in the sizes", data[:10], "ends within"},
		{"too long", append(bytes.Clone(data), 0), "1 bytes after"},
		{"empty", nil, "ends within"},
		{"too many layers", bytes.Repeat([]byte{0xff}, 4000), "ends within"},
	} {
		if err := os.WriteFile(path, c.data, 0o644); err != nil {
			t.Fatal(err)
		}
		if _, err := readModels(path); err == nil || !strings.Contains(err.Error(), c.want) {
			t.Errorf("%s: %v", c.name, err)
		}
	}
}

// The ear's own models must be read, or one alone could not be fitted anew.
func TestTheEarsModelsAreRead(t *testing.T) {
	path := filepath.Join("..", "..", "ear", "models.bin")
	m, err := readModels(path)
	if err != nil {
		t.Fatal(err)
	}
	want, err := os.ReadFile(path)
	if err != nil {
		t.Fatal(err)
	}
	if !bytes.Equal(bytes.Join(m.data[:], nil), want) {
		t.Error("the parts are not the whole")
	}
	for i, tr := range trainings() {
		inputs := binary.LittleEndian.Uint32(m.data[i][4:])
		if out, _ := asTheEar(t, m.data[i], make([]float32, inputs)); len(out) != tr.outputs {
			t.Errorf("%s has %d outputs, and is fitted with %d", decisions[i], len(out), tr.outputs)
		}
	}
}
