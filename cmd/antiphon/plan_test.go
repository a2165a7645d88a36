package main

import (
	"encoding/json"
	"os"
	"path/filepath"
	"strings"
	"testing"

	"antiphon/internal/plan"
)

// planFile writes the example into a folder of the test's own.
func planFile(t *testing.T) string {
	t.Helper()
	code, out, errs := ran(t, "plan", "--example")
	if code != exitDone || errs != "" || out != string(plan.Example()) {
		t.Fatalf("--example: exit %d, %q", code, errs)
	}
	return write(t, filepath.Join(t.TempDir(), "studio.json"), out)
}

func TestPlanCommand(t *testing.T) {
	file := planFile(t)
	code, out, errs := ran(t, "plan", file)
	if code != exitDone || errs != "" {
		t.Fatalf("exit %d, %q", code, errs)
	}
	for _, want := range []string{"Nora, from Monday 30 November 2026", "Advance · Tallis's Canon", "First comes small barre.", "A word may help", "the Wrens"} {
		if !strings.Contains(out, want) {
			t.Errorf("%q is not in\n%s", want, out)
		}
	}
	code, out, _ = ran(t, "plan", file, "--json", "--student", "nora", "--minutes", "8")
	var got struct {
		Schema string
		Weeks  []struct {
			Student string
			Days    []struct{ Minutes, Planned int }
			Lines   []struct{ Work, Why string }
		}
	}
	if err := json.Unmarshal([]byte(out), &got); err != nil || code != exitDone {
		t.Fatalf("exit %d, %v", code, err)
	}
	if got.Schema != "antiphon.plan/1" || len(got.Weeks) != 1 || got.Weeks[0].Student != "nora" || len(got.Weeks[0].Lines) == 0 {
		t.Fatalf("%+v", got)
	}
	for _, d := range got.Weeks[0].Days {
		if d.Planned > 8 {
			t.Errorf("a day of 8 minutes has %d", d.Planned)
		}
	}
}

func TestForecastCommand(t *testing.T) {
	file := planFile(t)
	code, out, errs := ran(t, "forecast", file)
	if code != exitDone || errs != "" || !strings.Contains(out, "four times in five") || !strings.Contains(out, "Recital:") || !strings.Contains(out, "One earlier forecast") {
		t.Fatalf("exit %d, %q\n%s", code, errs, out)
	}
	code, out, _ = ran(t, "forecast", file, "--student", "tom", "--json", "--today", "2026-12-07")
	var got struct {
		Schema   string
		Students []struct {
			Student    string
			Half, Most struct{ From, To string }
		}
	}
	if err := json.Unmarshal([]byte(out), &got); err != nil || code != exitDone {
		t.Fatalf("exit %d, %v", code, err)
	}
	if got.Schema != "antiphon.forecast/1" || len(got.Students) != 1 || got.Students[0].Most.From < "2026-12-07" || got.Students[0].Most.To <= got.Students[0].Half.To {
		t.Errorf("%+v", got)
	}
}

// TestStatesThatCannotBeRead end with one line that says what is wrong and where.
func TestStatesThatCannotBeRead(t *testing.T) {
	good := planFile(t)
	dir := filepath.Dir(good)
	bad := write(t, filepath.Join(dir, "bad.json"), strings.Replace(string(plan.Example()), `"load": 0.6`, `"load": -6`, 1))
	none := write(t, filepath.Join(dir, "none.json"), "")
	for _, c := range []struct {
		args []string
		code int
		want string
	}{
		{[]string{"plan", filepath.Join(dir, "nowhere.json")}, exitFailed, "is not there"},
		{[]string{"plan", dir}, exitFailed, "cannot"},
		{[]string{"plan", bad}, exitFailed, "three-blind-mice has load -6"},
		{[]string{"forecast", none}, exitFailed, "ends before"},
		{[]string{"forecast", good, "--student", "nobody"}, exitFailed, "nobody"},
		{[]string{"plan"}, exitUsage, "name the file"},
		{[]string{"plan", good, "--minutes", "-3"}, exitUsage, "--minutes"},
		{[]string{"plan", good, "--today", "soon"}, exitUsage, "soon"},
		{[]string{"forecast", good, "--example"}, exitUsage, "stands alone"},
	} {
		code, out, errs := ran(t, c.args...)
		if code != c.code || out != "" || strings.Count(errs, "\n") != 1 || !strings.Contains(errs, c.want) {
			t.Errorf("%q: exit %d, stdout %.60q, stderr %q; want exit %d with %q", c.args, code, out, errs, c.code, c.want)
		}
	}
	if _, err := os.Stat(good); err != nil {
		t.Error(err)
	}
}
