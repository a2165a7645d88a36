package report

import (
	"bytes"
	"errors"
	"strings"
	"testing"
)

// TestWhatIsWrittenIsRead: a document read and written again is the same, byte for byte.
func TestWhatIsWrittenIsRead(t *testing.T) {
	r := fixture()
	var a, b bytes.Buffer
	if err := r.JSON(&a); err != nil {
		t.Fatal(err)
	}
	back, err := Read(a.Bytes(), r.Score)
	if err != nil {
		t.Fatal(err)
	}
	if err := back.JSON(&b); err != nil {
		t.Fatal(err)
	}
	if !bytes.Equal(a.Bytes(), b.Bytes()) {
		x, y := strings.Split(a.String(), "\n"), strings.Split(b.String(), "\n")
		for i := range min(len(x), len(y)) {
			if x[i] != y[i] {
				t.Fatalf("line %d: wrote %s, then %s", i+1, x[i], y[i])
			}
		}
		t.Fatalf("%d lines, then %d", len(x), len(y))
	}
	if len(back.Findings) != len(r.Findings) || back.Findings[0].Aspect != r.Findings[0].Aspect {
		t.Errorf("findings: %+v", back.Findings)
	}
}

func TestReadRefuses(t *testing.T) {
	r := fixture()
	var doc bytes.Buffer
	if err := r.JSON(&doc); err != nil {
		t.Fatal(err)
	}
	other := *r.Score
	other.Parts = append(other.Parts[:0:0], other.Parts...)
	other.Parts[0].Notes = append(other.Parts[0].Notes[:0:0], other.Parts[0].Notes...)
	other.Parts[0].Notes[3].Pitch.Octave++
	for _, c := range []struct {
		name, doc string
		want      error
	}{
		{"no JSON", "{", ErrSchema},
		{"another schema", strings.Replace(doc.String(), Schema, "antiphon.hearing/9", 1), ErrSchema},
		{"a pass that is not there", strings.Replace(doc.String(), `"pass": 2`, `"pass": 7`, 1), ErrSchema},
		{"a note that is not there", strings.Replace(doc.String(), `"note": "n9"`, `"note": "n999"`, 1), ErrSchema},
		{"an added note with a place", strings.Replace(doc.String(), `"verdict": "right"`, `"verdict": "extra"`, 1), ErrSchema},
		{"numbers too large", strings.Replace(doc.String(), `"duration_s": 24`, `"duration_s": 1e999`, 1), ErrSchema},
	} {
		if c.doc == doc.String() {
			t.Fatalf("%s: nothing was changed", c.name)
		}
		if _, err := Read([]byte(c.doc), r.Score); !errors.Is(err, c.want) {
			t.Errorf("%s: %v, want %v", c.name, err, c.want)
		}
	}
	if _, err := Read(doc.Bytes(), &other); !errors.Is(err, ErrOtherScore) {
		t.Errorf("a changed score: %v", err)
	}
}

func FuzzRead(f *testing.F) {
	r := fixture()
	var doc bytes.Buffer
	if err := r.JSON(&doc); err != nil {
		f.Fatal(err)
	}
	f.Add(doc.Bytes())
	f.Fuzz(func(t *testing.T, in []byte) {
		if back, err := Read(in, r.Score); err == nil {
			var out bytes.Buffer
			if err := back.JSON(&out); err != nil {
				t.Error(err)
			}
			if _, err := Read(out.Bytes(), r.Score); err != nil {
				t.Error(err)
			}
		}
	})
}
