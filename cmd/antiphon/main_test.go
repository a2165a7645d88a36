package main

import (
	"bytes"
	"regexp"
	"strings"
	"testing"
	"time"
)

// ran runs a command line inside this process.
func ran(t *testing.T, args ...string) (code int, out, errs string) {
	t.Helper()
	var o, e bytes.Buffer
	a := &app{ctx: t.Context(), in: strings.NewReader(""), out: &o, err: &e, now: time.Now}
	code = run(a, args)
	return code, o.String(), e.String()
}

func TestWrongUse(t *testing.T) {
	for _, args := range [][]string{{"no-such-command"}, {"--no-such-flag"}, {"a\nb"}} {
		code, out, errs := ran(t, args...)
		if code != exitUsage || out != "" || strings.Count(errs, "\n") != 1 || !strings.HasPrefix(errs, "antiphon: ") {
			t.Errorf("%q: exit %d, stdout %q, stderr %q", args, code, out, errs)
		}
	}
}

// TestHelpShowsAnExample: every command's help has one, and it begins as the user would type it.
func TestHelpShowsAnExample(t *testing.T) {
	code, out, errs := ran(t, "--help")
	if code != exitDone || errs != "" || !strings.Contains(out, "Usage: antiphon") {
		t.Fatalf("exit %d, %q, %q", code, out, errs)
	}
	if _, bare, _ := ran(t); bare != out {
		t.Error("without arguments there is no help")
	}
	_, list, _ := strings.Cut(out, "Commands:\n")
	names := regexp.MustCompile(`(?m)^  ([a-z]+)`).FindAllStringSubmatch(list, -1)
	for _, n := range names {
		code, out, errs := ran(t, n[1], "--help")
		if code != exitDone || errs != "" || !strings.Contains(out, "Example:") || !strings.Contains(out, "antiphon "+n[1]) {
			t.Errorf("%s --help: exit %d, stderr %q, no example in:\n%s", n[1], code, errs, out)
		}
	}
}
