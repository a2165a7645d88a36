package main

import (
	"os"
	"path/filepath"
	"strconv"
	"strings"
	"testing"

	"antiphon/internal/engrave"
)

// desk is a folder with a score in it; what is compiled is kept for the other tests.
func desk(t *testing.T) (dir, score string) {
	t.Helper()
	if !engrave.Available() {
		t.Skip("built without the engraving library: run make assets")
	}
	t.Setenv("XDG_CACHE_HOME", filepath.Join(os.TempDir(), "antiphon-command-test"))
	dir = t.TempDir()
	score = filepath.Join(dir, "walk.abc")
	if err := os.WriteFile(score, []byte(abcTune), 0o600); err != nil {
		t.Fatal(err)
	}
	return dir, score
}

func TestEngraveCommand(t *testing.T) {
	dir, score := desk(t)
	for name, begins := range map[string]string{"a.svg": "<svg xmlns", "a.pdf": "%PDF-1.", "a.png": "\x89PNG\r\n\x1a\n", "B.SVG": "<svg xmlns"} {
		out := filepath.Join(dir, name)
		code, printed, errs := ran(t, "engrave", score, "-o", out)
		if code != exitDone || printed != "" || errs != "" {
			t.Errorf("%s: exit %d, %q, %q", name, code, printed, errs)
		}
		data, err := os.ReadFile(out)
		if err != nil || !strings.HasPrefix(string(data), begins) {
			t.Errorf("%s begins with %.20q (%v), want %q", name, data, err, begins)
		}
	}
	svg := filepath.Join(dir, "a.svg")
	if code, _, errs := ran(t, "engrave", score, "-o", svg); code != exitFailed || !strings.Contains(errs, "--force") {
		t.Errorf("an old file: exit %d, %q", code, errs)
	}
	if code, _, errs := ran(t, "engrave", score, "-o", svg, "--force", "--width", "390", "--tab", "--names", "doremi", "--strings", "none", "--no-title"); code != exitDone {
		t.Errorf("exit %d, %q", code, errs)
	}
	data, err := os.ReadFile(svg)
	if err != nil {
		t.Fatal(err)
	}
	for _, want := range []string{`width="390"`, `id="tab-n1"`, ">si</text>"} {
		if !strings.Contains(string(data), want) {
			t.Errorf("no %s in the picture", want)
		}
	}
	if strings.Contains(string(data), "A walk") && strings.Contains(string(data), `class="title"`) {
		t.Error("the title is printed with --no-title")
	}
}

// TestEngravePassage: bars by their printed numbers, with the ids of the whole score.
func TestEngravePassage(t *testing.T) {
	dir, score := desk(t)
	for bars, want := range map[string]string{"0": "n1", "0-1": "n1 n2 n3 n4", "2-3": "n5 n6 n7", "4": "n8"} {
		out := filepath.Join(dir, "bars"+bars+".svg")
		if code, _, errs := ran(t, "engrave", score, "-o", out, "--bars", bars); code != exitDone {
			t.Fatalf("%s: exit %d, %q", bars, code, errs)
		}
		data, err := os.ReadFile(out)
		if err != nil {
			t.Fatal(err)
		}
		var got []string
		for i := 1; i <= 8; i++ {
			if id := "n" + strconv.Itoa(i); strings.Contains(string(data), `id="`+id+`"`) {
				got = append(got, id)
			}
		}
		if strings.Join(got, " ") != want {
			t.Errorf("bars %s have the notes %v, want %s", bars, got, want)
		}
	}
}

func TestEngraveWrongUse(t *testing.T) {
	dir, score := desk(t)
	page := filepath.Join(dir, "page.svg")
	for _, c := range []struct {
		args []string
		code int
		says string
	}{
		{[]string{"-o", page}, exitUsage, "no score"},
		{[]string{score}, exitUsage, "no page"},
		{[]string{score, "-o", filepath.Join(dir, "page.doc")}, exitUsage, ".svg, .pdf or .png"},
		{[]string{score, "-o", page, "--width", "10"}, exitUsage, "--width"},
		{[]string{score, "-o", page, "--bars", "3-2"}, exitUsage, "--bars 3-2"},
		{[]string{score, "-o", page, "--bars", "77"}, exitUsage, "its last one is 4"},
		{[]string{score, "-o", page, "--scale", "99"}, exitUsage, "--scale"},
		{[]string{score, "-o", page, "--paper", "a5"}, exitUsage, "paper"},
		{[]string{filepath.Join(dir, "nothing.abc"), "-o", page}, exitFailed, "no such file"},
		{[]string{score, "-o", page, "--engraver", filepath.Join(dir, "nothing.wasm")}, exitFailed, "scripts/engraver"},
		{[]string{score, "-o", page, "--engraver", score}, exitFailed, "scripts/engraver"},
	} {
		code, out, errs := ran(t, append([]string{"engrave"}, c.args...)...)
		if code != c.code || out != "" || strings.Count(errs, "\n") != 1 || !strings.Contains(errs, c.says) {
			t.Errorf("%q: exit %d, %q, %q; want exit %d and %q", c.args, code, out, errs, c.code, c.says)
		}
		if _, err := os.Stat(page); err == nil {
			t.Errorf("%q: a page was written", c.args)
		}
	}
}

// TestEngraverReplaced gives the build that make assets left, as a user who changed the library would.
func TestEngraverReplaced(t *testing.T) {
	dir, score := desk(t)
	var pages []string
	for _, more := range [][]string{nil, {"--engraver", "../../internal/engrave/assets/engine.wasm.gz"}} {
		out := filepath.Join(dir, "page"+strconv.Itoa(len(more))+".svg")
		if code, _, errs := ran(t, append([]string{"engrave", score, "-o", out}, more...)...); code != exitDone {
			t.Fatalf("%q: exit %d, %q", more, code, errs)
		}
		data, err := os.ReadFile(out)
		if err != nil {
			t.Fatal(err)
		}
		pages = append(pages, string(data))
	}
	if pages[0] != pages[1] {
		t.Error("the same library, given by name, draws another page")
	}
}

func TestEngraveLicences(t *testing.T) {
	code, out, errs := ran(t, "engrave", "--licences")
	if code != exitDone || errs != "" || !strings.Contains(out, "GNU LESSER GENERAL PUBLIC LICENSE") || !strings.Contains(out, "SIL OPEN FONT LICENSE") {
		t.Errorf("exit %d, %q, %.200q", code, errs, out)
	}
}
