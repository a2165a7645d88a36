package main

import (
	"encoding/json"
	"os"
	"path/filepath"
	"strings"
	"testing"

	"antiphon/internal/exercise"
	"antiphon/internal/notation"
)

// TestExerciseCommand composes from a recipe of the program, from a file, from flags and from a
// passage of what it has just written.
func TestExerciseCommand(t *testing.T) {
	dir := t.TempDir()
	at := func(name string) string { return filepath.Join(dir, name) }
	recipe := at("mine.yaml")
	if err := os.WriteFile(recipe, []byte("pattern: scale\nkey: A minor\noctaves: 1\nstart: 5/0\ntempo: 60\ngoal: 90\n"), 0o600); err != nil {
		t.Fatal(err)
	}
	for _, c := range []struct {
		args  []string
		file  string
		words string // of the text
	}{
		{[]string{"two-octaves-in-g", "-o", at("g.musicxml")}, "g.musicxml", "G2 to G4"},
		{[]string{"two-octaves-in-g", "--right-hand", "m a", "--key", "F major", "--start", "6/1", "-o", at("f.musicxml")}, "f.musicxml", "m a"},
		{[]string{recipe, "-o", at("a.musicxml")}, "a.musicxml", "60 to 90 beats a minute"},
		{[]string{"--pattern", "thirds", "--key", "D major", "--octaves", "1", "-o", at("thirds.musicxml")}, "thirds.musicxml", "D3 to D4"},
		{[]string{"--from-score", at("g.musicxml"), "--bars", "1-2", "--fault", "unevenness on m", "-o", at("even.musicxml")}, "even.musicxml", "Because"},
		{[]string{"--from-score", at("g.musicxml"), "--bars", "2", "--variants", "backwards, slow-fast", "--names", "do-re-mi", "-o", at("var.musicxml")}, "var.musicxml", "Written to"},
	} {
		code, out, errs := ran(t, append([]string{"exercise"}, c.args...)...)
		if code != exitDone || errs != "" || !strings.Contains(out, c.words) {
			t.Errorf("%q: exit %d, %q, stderr %q", c.args, code, out, errs)
			continue
		}
		s, forgiven, err := notation.ReadFile(at(c.file), notation.Limits{})
		if err != nil || len(forgiven) > 0 || len(s.Sounding()) == 0 {
			t.Errorf("%s: %v %v", c.file, err, forgiven)
		}
	}

	code, out, errs := ran(t, "exercise", "two-octaves-in-g", "--json")
	var made struct {
		Schema, File, Title string
		exercise.Made
	}
	if err := json.Unmarshal([]byte(out), &made); err != nil || code != exitDone || errs != "" {
		t.Fatalf("exit %d, %v, %q", code, err, errs)
	}
	if made.Schema != "antiphon.exercise/1" || made.Bars != 4 || made.Notes != 29 || made.Lowest != "G2" || made.TempoBpm != 60 || made.GoalBpm != 92 || made.LengthS != 16 || strings.Join(made.Needs, ", ") != "rest stroke, fourth finger" {
		t.Errorf("printed %s", out)
	}
	if code, out, _ := ran(t, "exercise", "--list"); code != exitDone || strings.Count(out, "\n") < 12 || !strings.Contains(out, "two-octaves-in-g") {
		t.Errorf("list: exit %d, %s", code, out)
	}
	if code, out, _ := ran(t, "exercise", "two-octaves-in-g", "--show"); code != exitDone || !strings.Contains(out, "key: G major") {
		t.Errorf("show: exit %d, %s", code, out)
	}
}

func TestExerciseRefuses(t *testing.T) {
	dir := t.TempDir()
	there := filepath.Join(dir, "there.musicxml")
	recipe := filepath.Join(dir, "bad.yaml")
	for name, text := range map[string]string{there: "x", recipe: "pattern: scale\ncolour: blue\n"} {
		if err := os.WriteFile(name, []byte(text), 0o600); err != nil {
			t.Fatal(err)
		}
	}
	for _, c := range []struct {
		args  []string
		code  int
		words string
	}{
		{nil, exitUsage, "name a recipe"},
		{[]string{"no-such-recipe"}, exitFailed, "--list"},
		{[]string{recipe}, exitFailed, "line 2"},
		{[]string{"two-octaves-in-g", "-o", there}, exitFailed, "is there already"},
		{[]string{"two-octaves-in-g", "-o", filepath.Join(dir, "x.pdf")}, exitUsage, ".musicxml"},
		{[]string{"two-octaves-in-g", "--tempo", "1"}, exitUsage, "--tempo: \"1\""},
		{[]string{"two-octaves-in-g", "--position", "9"}, exitFailed, "position"},
		{[]string{"--pattern", "scale", "--key", "H major"}, exitUsage, "--key: \"H\""},
		{[]string{"two-octaves-in-g", "--bars", "1"}, exitUsage, "--from-score"},
		{[]string{"--from-score", there}, exitUsage, "--bars"},
		{[]string{"--from-score", there, "--bars", "1", "--key", "C"}, exitUsage, "--key"},
		{[]string{"--from-score", there, "--bars", "1", "--fault", "too blue"}, exitUsage, "too blue"},
		{[]string{"--from-score", there, "--bars", "1", "--fault", "shift"}, exitFailed, "there.musicxml"},
		{[]string{"--list", "x"}, exitUsage, "--list"},
	} {
		code, out, errs := ran(t, append([]string{"exercise"}, c.args...)...)
		if code != c.code || out != "" || strings.Count(errs, "\n") != 1 || !strings.Contains(errs, c.words) {
			t.Errorf("%q: exit %d, %q, stderr %q, want %d and %q", c.args, code, out, errs, c.code, c.words)
		}
	}
}
