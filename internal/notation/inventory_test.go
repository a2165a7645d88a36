package notation_test

import (
	"bytes"
	"encoding/xml"
	"io"
	"maps"
	"os"
	"strings"
	"testing"
)

// element is one element of a file without its place.
type element struct {
	name, text string
	attrs      map[string]string
}

// inventory lists the elements of a score that say something about the music. Left out is what may
// change without loss: how time is counted, how directions are packed, and who wrote the file.
func inventory(t *testing.T, data []byte) []element {
	t.Helper()
	skip := map[string]bool{"duration": true, "divisions": true, "backup": true, "forward": true, "offset": true, "software": true, "encoding": true,
		"part-group": true, "group-symbol": true, "direction": true, "direction-type": true, "attributes": true, "notations": true, "technical": true, "articulations": true, "ornaments": true}
	var out []element
	var open []*element
	d := xml.NewDecoder(bytes.NewReader(data))
	for {
		tok, err := d.Token()
		if err == io.EOF {
			return out
		}
		if err != nil {
			t.Fatal(err)
		}
		switch tok := tok.(type) {
		case xml.StartElement:
			e := &element{name: tok.Name.Local, attrs: map[string]string{}}
			for _, a := range tok.Attr {
				e.attrs[a.Name.Local] = a.Value
			}
			open = append(open, e)
		case xml.CharData:
			if len(open) > 0 {
				open[len(open)-1].text += strings.TrimSpace(string(tok))
			}
		case xml.EndElement:
			e := open[len(open)-1]
			open = open[:len(open)-1]
			if !skip[e.name] && !(len(open) > 0 && open[len(open)-1].name == "forward") {
				out = append(out, *e)
			}
		}
	}
}

// within reports whether all that e says is said by f, too.
func (e element) within(f element) bool {
	if e.name != f.name || e.text != f.text {
		return false
	}
	for k, v := range e.attrs {
		if f.attrs[k] != v {
			return false
		}
	}
	return true
}

// TestEveryElementComesBack compares the file with what is written of it, element by element: a check
// that does not go through our own model.
func TestEveryElementComesBack(t *testing.T) {
	data, err := os.ReadFile("testdata/everything.musicxml")
	if err != nil {
		t.Fatal(err)
	}
	in, out := inventory(t, data), inventory(t, written(t, read(t, data)))
	if len(in) < 500 {
		t.Fatalf("only %d elements", len(in))
	}
	used := make([]bool, len(out))
	find := func(match func(f element) bool) bool {
		for i, f := range out {
			if !used[i] && match(f) {
				used[i] = true
				return true
			}
		}
		return false
	}
	for _, e := range in {
		exact := func(f element) bool { return e.within(f) && maps.Equal(e.attrs, f.attrs) }
		if !find(exact) && !find(e.within) {
			t.Errorf("lost: <%s %v>%s", e.name, e.attrs, e.text)
		}
	}
}
