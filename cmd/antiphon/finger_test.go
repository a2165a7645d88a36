package main

import (
	"bytes"
	"encoding/json"
	"os"
	"path/filepath"
	"strings"
	"testing"
	"time"
)

// fingered runs the command line.
func fingered(t *testing.T, args ...string) (out, errs string, code int) {
	t.Helper()
	var o, e bytes.Buffer
	code = run(&app{ctx: t.Context(), out: &o, err: &e, now: time.Now}, append([]string{"finger"}, args...))
	return o.String(), e.String(), code
}

// abcStudy is ours: four bars, one mark.
const abcStudy = "X:1\nT:Small steps\nM:4/4\nL:1/4\nK:C\nCEGc|[Ec]G[FB]G|!4!d2 B2|[C4E4c4]|]\n"

func abcFile(t *testing.T, text string) string {
	t.Helper()
	file := filepath.Join(t.TempDir(), "study.abc")
	if err := os.WriteFile(file, []byte(text), 0o600); err != nil {
		t.Fatal(err)
	}
	return file
}

func TestFingerJSON(t *testing.T) {
	file := abcFile(t, abcStudy)
	out, errs, code := fingered(t, file, "--json", "-k", "4", "--fix", "n1:5/3")
	if code != exitDone {
		t.Fatalf("exit %d: %s", code, errs)
	}
	var d fingeringDocument
	if err := json.Unmarshal([]byte(out), &d); err != nil {
		t.Fatal(err)
	}
	if d.Schema != schemaHands || len(d.Notes) != 15 || len(d.Alternatives) != 3 {
		t.Fatalf("schema %q, %d notes, %d alternatives", d.Schema, len(d.Notes), len(d.Alternatives))
	}
	open := []int{64, 59, 55, 50, 45, 40}
	for _, n := range d.Notes {
		if n.String == nil || n.Fret == nil || n.Finger == nil || open[*n.String-1]+*n.Fret != n.Midi {
			t.Errorf("%s has no place that gives its pitch: %+v", n.ID, n)
		}
		if n.Pluck == nil {
			t.Errorf("%s has no right-hand finger", n.ID)
		}
		if len(n.Options) == 0 || n.Options[0].String != *n.String || n.Options[0].Finger != *n.Finger {
			t.Errorf("%s: the first option is not the answer", n.ID)
		}
	}
	for _, raw := range []string{`"onset_q"`, `"midi"`, `"extra_cost"`, `"reason"`, `"told"`} { // the contract's words
		if !strings.Contains(out, raw) {
			t.Errorf("no %s in the answer", raw)
		}
	}
}

func TestFingerWrites(t *testing.T) {
	file := abcFile(t, abcStudy)
	to := filepath.Join(t.TempDir(), "fingered.musicxml")
	if _, errs, code := fingered(t, file, "-o", to); code != exitDone {
		t.Fatalf("exit %d: %s", code, errs)
	}
	data, err := os.ReadFile(to)
	if err != nil {
		t.Fatal(err)
	}
	if n := bytes.Count(data, []byte("<fingering")); n != 15 {
		t.Errorf("%d fingerings were written, want 15", n)
	}
	if n := bytes.Count(data, []byte("<pluck")); n != 15 {
		t.Errorf("%d plucks were written, want 15", n)
	}
	// what was written is kept when it is fingered again
	again, _, _ := fingered(t, to, "--json")
	first, _, _ := fingered(t, file, "--json")
	var a, b fingeringDocument
	if json.Unmarshal([]byte(first), &a) != nil || json.Unmarshal([]byte(again), &b) != nil || len(a.Notes) != len(b.Notes) {
		t.Fatal("the answers cannot be compared")
	}
	for i := range a.Notes {
		if *a.Notes[i].String != *b.Notes[i].String || *a.Notes[i].Finger != *b.Notes[i].Finger {
			t.Errorf("%s changed when its own marks were read back", a.Notes[i].ID)
		}
	}
	if _, errs, code := fingered(t, file, "-o", to); code != exitFailed || !strings.Contains(errs, to) {
		t.Errorf("an existing file: exit %d, %s", code, errs)
	}
}

func TestFingerWrongUse(t *testing.T) {
	file := abcFile(t, abcStudy)
	for _, c := range []struct {
		args []string
		code int
		say  string
	}{
		{[]string{file, "--fix", "n1"}, exitUsage, "NOTE:STRING/FINGER"},
		{[]string{file, "--fix", "n1:0/2"}, exitUsage, "NOTE:STRING/FINGER"},
		{[]string{file, "--forbid", "n99:1/1"}, exitUsage, "n99"},
		{[]string{file, "-k", "0"}, exitUsage, "-k"},
		{[]string{file, "--from", "77"}, exitUsage, "77"},
		{[]string{file, "--tuning", "E2 X3"}, exitUsage, "X3"},
		{[]string{file, "--span", "900"}, exitUsage, "--span"},
		{[]string{file, "--scale", "20"}, exitUsage, "20"},
		{[]string{file, "-o", filepath.Join(t.TempDir(), "page.pdf")}, exitUsage, ".musicxml"},
		{[]string{file, "--from", "3", "--to", "1"}, exitUsage, "--from, --to: bar 3"},
		{[]string{file, "--pattern", "q"}, exitUsage, "pattern"},
		{[]string{file + ".none"}, exitFailed, "no such file"},
		{[]string{abcFile(t, "X:1\nT:Rests\nM:4/4\nL:1/4\nK:C\nz4|]\n")}, exitFailed, "no pitched notes"},
	} {
		_, errs, code := fingered(t, c.args...)
		if code != c.code || !strings.Contains(errs, c.say) || strings.Count(strings.TrimSpace(errs), "\n") > 0 {
			t.Errorf("%v: exit %d, %q; want exit %d and %q on one line", c.args[1:], code, errs, c.code, c.say)
		}
	}
}
