package main

import (
	"encoding/json"
	"errors"
	"os"
	"path/filepath"
	"strings"
	"testing"
	"time"

	"antiphon/internal/plan"
	"antiphon/internal/store"
	"antiphon/internal/studio"
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
	if !strings.Contains(out, "Bars 5–8 went wrong on the last two days they were heard.") {
		t.Errorf("the weak passage is not named in\n%s", out)
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

// TestPlanOfOwnLimits: what differs from the studio is said, and what the minutes do not reach.
func TestPlanOfOwnLimits(t *testing.T) {
	for own, want := range map[string]string{
		`{"group": "scales", "limit_days": 10}`:  "In scales the limit of Nora is 10 days.",
		`{"group": "scales", "lifted": true}`:    "In scales Nora has no limit.",
		`{"group": "scales", "limit_days": 2}`:   "In scales one thing is under a limit of 2 days, and these minutes do not reach: as often as Nora plays",
		`{"group": "arpeggios", "lifted": true}`: "",
	} {
		file := write(t, filepath.Join(t.TempDir(), "studio.json"), strings.Replace(string(plan.Example()), `"name": "Nora",`, `"name": "Nora", "limits": [`+own+`],`, 1))
		code, out, errs := ran(t, "plan", file, "--student", "nora")
		if want == "" {
			if code != exitFailed || !strings.Contains(errs, "arpeggios") {
				t.Errorf("%s: exit %d, %q", own, code, errs)
			}
		} else if code != exitDone || !strings.Contains(out, want) {
			t.Errorf("%s: exit %d, %q\n%.900s", own, code, errs, out)
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

// TestPlansOfAStudio: a studio of this program is planned from its own database.
func TestPlansOfAStudio(t *testing.T) {
	ctx, data := t.Context(), t.TempDir()
	s, err := store.OpenSQLite(ctx, filepath.Join(data, databaseFile))
	if err != nil {
		t.Fatal(err)
	}
	desk := studio.NewDesk(s, nil, nil, studio.DeskOptions{})
	st, p, err := desk.Found(ctx, "Lindenhof", "Marit")
	if err != nil {
		t.Fatal(err)
	}
	v := studio.Viewer{Studio: st.ID, Role: studio.Teacher, Person: p.ID}
	_, _, err = desk.InviteFamily(ctx, v, studio.NewFamily{Name: "Lark", Students: []studio.NewStudent{{Name: "Nora"}}}, studio.Asked{})
	if err != nil {
		t.Fatal(err)
	}
	w, err := desk.AddWork(ctx, v, studio.Work{Title: "Three Blind Mice", Rights: "traditional"})
	if err != nil {
		t.Fatal(err)
	}
	all, err := desk.Students(ctx, v)
	if err != nil || len(all) != 1 {
		t.Fatal(all, err)
	}
	if _, err := desk.Shelve(ctx, v, studio.Collection{Name: "First tunes", Items: []studio.CollectionItem{{Work: w.ID}}}); err != nil {
		t.Fatal(err)
	}
	l, err := desk.SaveDraft(ctx, v, studio.Lesson{Student: all[0].ID, Date: "2026-03-02", Assignments: []studio.Assignment{{Work: w.ID, Do: "Slowly."}}})
	if err == nil {
		err = s.SendLesson(ctx, studio.WholeStudio(st.ID), l.ID, l.Version, time.Date(2026, 3, 2, 12, 0, 0, 0, time.UTC))
	}
	if err := errors.Join(err, s.Close()); err != nil {
		t.Fatal(err)
	}
	code, out, errs := ran(t, "plan", "--data", data, "--student", string(all[0].ID))
	if code != exitDone || errs != "" || !strings.Contains(out, "Nora, from") || !strings.Contains(out, "Three Blind Mice") {
		t.Errorf("exit %d, %q\n%s", code, errs, out)
	}
	code, out, errs = ran(t, "plan", "--data", data, "--state")
	state := write(t, filepath.Join(t.TempDir(), "state.json"), out)
	if _, err := plan.Read(strings.NewReader(out)); code != exitDone || errs != "" || err != nil {
		t.Errorf("the state: exit %d, %q, %v\n%s", code, errs, err, out)
	}
	if code, out, errs = ran(t, "plan", state, "--state", "--student", string(all[0].ID)); code != exitDone || !strings.Contains(out, `"Nora"`) {
		t.Errorf("the state of one: exit %d, %q\n%s", code, errs, out)
	}
	code, out, errs = ran(t, "forecast", "--data", data)
	if code != exitDone || errs != "" || !strings.Contains(out, "First tunes") {
		t.Errorf("exit %d, %q\n%s", code, errs, out)
	}
	for _, c := range []struct {
		args []string
		code int
		want string
	}{
		{[]string{"plan", "--data", t.TempDir()}, exitFailed, "holds no studio"},
		{[]string{"plan", "state.json", "--data", data}, exitUsage, "leave state.json out"},
		{[]string{"plan", "--data", data, "--student", "nobody"}, exitFailed, "nobody"},
	} {
		if code, _, errs := ran(t, c.args...); code != c.code || strings.Count(errs, "\n") != 1 || !strings.Contains(errs, c.want) {
			t.Errorf("%q: exit %d, %q", c.args, code, errs)
		}
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
