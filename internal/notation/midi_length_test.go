package notation

import (
	"bytes"
	"testing"
)

// The table of variable-length quantities in Standard MIDI Files 1.0 (as remembered: it stands in every
// copy of that text).
func TestVariableLengthQuantities(t *testing.T) {
	for _, c := range []struct {
		n int64
		b []byte
	}{
		{0x00000000, []byte{0x00}}, {0x00000040, []byte{0x40}}, {0x0000007F, []byte{0x7F}},
		{0x00000080, []byte{0x81, 0x00}}, {0x00002000, []byte{0xC0, 0x00}}, {0x00003FFF, []byte{0xFF, 0x7F}},
		{0x00004000, []byte{0x81, 0x80, 0x00}}, {0x00100000, []byte{0xC0, 0x80, 0x00}}, {0x001FFFFF, []byte{0xFF, 0xFF, 0x7F}},
		{0x00200000, []byte{0x81, 0x80, 0x80, 0x00}}, {0x08000000, []byte{0xC0, 0x80, 0x80, 0x00}}, {0x0FFFFFFF, []byte{0xFF, 0xFF, 0xFF, 0x7F}},
	} {
		if got := appendLength(nil, c.n); !bytes.Equal(got, c.b) {
			t.Errorf("%#x is written % X, want % X", c.n, got, c.b)
		}
		cur := trackCursor{b: c.b}
		if got, err := cur.length(); err != nil || got != c.n || cur.at != len(c.b) {
			t.Errorf("% X is read as %#x (%v), want %#x", c.b, got, err, c.n)
		}
	}
}
