package notation_test

import (
	"bytes"
	"os"
	"os/exec"
	"path/filepath"
	"reflect"
	"testing"

	"antiphon/internal/music"
	"antiphon/internal/notation"
)

func read(t testing.TB, data []byte) *music.Score {
	t.Helper()
	s, _, err := notation.Read(bytes.NewReader(data), "test", notation.Limits{})
	if err != nil {
		t.Fatalf("read: %v\n%s", err, clipped(data))
	}
	return s
}

func clipped(b []byte) []byte { return b[:min(len(b), 2000)] }

func readFile(t testing.TB, name string) *music.Score {
	t.Helper()
	data, err := os.ReadFile(filepath.Join("testdata", name))
	if err != nil {
		t.Fatal(err)
	}
	return read(t, data)
}

func written(t testing.TB, s *music.Score) []byte {
	t.Helper()
	var b bytes.Buffer
	if err := notation.WriteMusicXML(&b, s); err != nil {
		t.Fatalf("write: %v", err)
	}
	return b.Bytes()
}

// TestNothingIsLost reads a score with every sign, writes it, reads it again and compares all of it.
func TestNothingIsLost(t *testing.T) {
	files, err := filepath.Glob("testdata/*.musicxml")
	if err != nil || len(files) == 0 {
		t.Fatal("no scores in testdata", err)
	}
	for _, f := range files {
		a := readFile(t, filepath.Base(f))
		out := written(t, a)
		b := read(t, out)
		if !reflect.DeepEqual(a, b) {
			t.Errorf("%s: changed by writing and reading: %s", f, firstDifference(a, b))
		}
		if again := written(t, b); !bytes.Equal(out, again) {
			t.Errorf("%s: written differently the second time", f)
		}
		validate(t, f, out)
	}
}

// firstDifference names the first thing that two scores do not share.
func firstDifference(a, b *music.Score) string {
	x, y := reflect.ValueOf(*a), reflect.ValueOf(*b)
	return differ("score", x, y)
}

func differ(at string, x, y reflect.Value) string {
	if reflect.DeepEqual(x.Interface(), y.Interface()) {
		return ""
	}
	switch x.Kind() {
	case reflect.Struct:
		for i := range x.NumField() {
			if !x.Type().Field(i).IsExported() {
				break
			}
			if d := differ(at+"."+x.Type().Field(i).Name, x.Field(i), y.Field(i)); d != "" {
				return d
			}
		}
	case reflect.Slice:
		for i := range min(x.Len(), y.Len()) {
			if d := differ(at+"["+itoa(i)+"]", x.Index(i), y.Index(i)); d != "" {
				return d
			}
		}
		if x.Len() != y.Len() {
			return at + ": " + itoa(x.Len()) + " and " + itoa(y.Len()) + " of them"
		}
	case reflect.Pointer:
		if !x.IsNil() && !y.IsNil() {
			return differ(at, x.Elem(), y.Elem())
		}
	}
	return at + ": " + show(x) + " and " + show(y)
}

// schema is the W3C schema where it is at hand, with xmllint to use it.
func schema() (xsd string, ok bool) {
	xsd = filepath.Join(os.Getenv("ANTIPHON_SHARED"), "standards", "musicxml", "musicxml.xsd")
	if _, err := os.Stat(xsd); err != nil || os.Getenv("ANTIPHON_SHARED") == "" {
		return "", false
	}
	_, err := exec.LookPath("xmllint")
	return xsd, err == nil
}

// validate checks against the W3C schema of MusicXML 4.0 where it is at hand, and always against our
// own list of which element may follow which.
func validate(t testing.TB, name string, score []byte) {
	t.Helper()
	checkOrder(t, name, score)
	xsd, ok := schema()
	if !ok {
		return
	}
	cmd := exec.Command("xmllint", "--nonet", "--noout", "--schema", xsd, "-")
	cmd.Stdin = bytes.NewReader(score)
	if out, err := cmd.CombinedOutput(); err != nil {
		t.Errorf("%s: not valid by the W3C schema: %s", name, clipped(out))
	}
}

// TestStrokesAreKept: rest and free stroke come back from MusicXML on the note that they stand on.
func TestStrokesAreKept(t *testing.T) {
	s := readFile(t, "everything.musicxml")
	want := map[int]music.Stroke{}
	for i := range s.Parts[0].Notes {
		if n := &s.Parts[0].Notes[i]; n.Pitched() {
			want[i] = [...]music.Stroke{music.RestStroke, music.FreeStroke, music.NoStroke}[i%3]
			n.SetStroke(want[i])
		}
	}
	back := read(t, written(t, s))
	for i, w := range want {
		if got := back.Parts[0].Notes[i].Stroke(); got != w {
			t.Errorf("note %d: %q came back as %q", i, w, got)
		}
	}
}
