package main

import (
	"errors"
	"io"
	"os"
	"path/filepath"
	"strings"
	"testing"
)

func says(s string) func(io.Writer) error {
	return func(w io.Writer) error {
		_, err := io.WriteString(w, s)
		return err
	}
}

func TestWriteWhole(t *testing.T) {
	dir := t.TempDir()
	path := filepath.Join(dir, "take.html")
	content := func() string {
		b, err := os.ReadFile(path)
		if err != nil {
			return "none"
		}
		return string(b)
	}
	for _, step := range []struct {
		name  string
		force bool
		fill  func(io.Writer) error
		err   string // part of it, "" none
		after string
	}{
		{"fails in the middle", false, func(w io.Writer) error {
			io.WriteString(w, strings.Repeat("half a page ", 1e5))
			return errors.New("the ear gave up")
		}, "gave up", "none"},
		{"new", false, says("first"), "", "first"},
		{"there already", false, says("second"), "--force", "first"},
		{"forced", true, says("third"), "", "third"},
		{"forced, fails", true, func(io.Writer) error { return errors.New("gave up") }, "gave up", "third"},
		{"comes while we write", false, nil, "--force", "someone else's"},
	} {
		fill := step.fill
		if fill == nil {
			os.Remove(path)
			fill = func(w io.Writer) error { return os.WriteFile(path, []byte("someone else's"), 0o644) }
		}
		err := writeWhole(path, step.force, fill)
		if (step.err == "") != (err == nil) || err != nil && !strings.Contains(err.Error(), step.err) {
			t.Errorf("%s: error %v, want %q", step.name, err, step.err)
		}
		if got := content(); got != step.after {
			t.Errorf("%s: the file holds %q, want %q", step.name, got, step.after)
		}
		left, err := filepath.Glob(filepath.Join(dir, ".*"))
		if err != nil || len(left) > 0 {
			t.Errorf("%s: left behind %q, %v", step.name, left, err)
		}
	}
	if st, err := os.Stat(path); err != nil || st.Mode().Perm() != 0o644 {
		t.Errorf("mode %v, %v", st.Mode(), err)
	}
}

func TestWriteWholePlaces(t *testing.T) {
	dir := t.TempDir()
	link := filepath.Join(dir, "link")
	if err := os.Symlink("/dev/null", link); err != nil {
		t.Fatal(err)
	}
	for _, c := range []struct{ name, path, err string }{
		{"a folder", dir, "is a folder"},
		{"no such folder", filepath.Join(dir, "no", "file"), "choose another folder"},
		{"a link, not followed", link, "not an ordinary file"},
		{"a device", "/dev/null", "not an ordinary file"},
	} {
		err := writeWhole(c.path, true, says("x"))
		if err == nil || !strings.Contains(err.Error(), c.err) || !strings.Contains(err.Error(), c.path) {
			t.Errorf("%s: %v, want %q", c.name, err, c.err)
		}
	}
}

func TestPrintable(t *testing.T) {
	for _, c := range []struct{ in, want string }{
		{"Drei blinde Mäuse – ♯ 鳥", "Drei blinde Mäuse – ♯ 鳥"},
		{"two\nlines\r", `two\nlines\r`},
		{"\x1b[31mred\x1b]0;title\a", `\x1b[31mred\x1b]0;title\a`},
		{"c1 \u009b31m", `c1 \u009b31m`},           // CSI as one character
		{"take\u202efdp.m4a", `take\u202efdp.m4a`}, // turns the order of letters around
		{"zero\u200bwidth\ufeff", `zero\u200bwidth\ufeff`},
		{"broken \xff\xfe", `broken \xff\xfe`},
		{"real \ufffd", "real \ufffd"},
		{"tag \U000e0041", `tag \U000e0041`},
		{"line\u2028end", `line\u2028end`},
		{"", ""},
	} {
		if got := printable(c.in); got != c.want {
			t.Errorf("%q: got %q, want %q", c.in, got, c.want)
		}
	}
}
