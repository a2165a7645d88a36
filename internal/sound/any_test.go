package sound

import (
	"errors"
	"os"
	"path/filepath"
	"testing"

	"antiphon/internal/notation"
)

// FuzzPerform: whatever can be read can be laid out: an *Error, or notes and clicks inside the sound
// and in order of time.
func FuzzPerform(f *testing.F) {
	for _, s := range []string{
		"X:1\nM:4/4\nL:1/4\nK:C\nG|CDEF|(GF)E:|\n", "X:1\nM:6/8\nL:1/8\nK:C\n|:C3 D3|[1 E3 F3:|[2 G6|\n",
		"X:1\nM:none\nL:1/8\nK:C\n[CEG]4 !fermata!c4|\n", "X:1\nM:3+2/8\nL:1/8\nQ:1/8=500\nK:C\n{cd}e5|\n",
	} {
		f.Add([]byte(s), 60.0, 1, 0, 0, false)
		f.Add([]byte(s), 0.0, 0, 2, 3, true)
	}
	if x, err := os.ReadFile(filepath.Join("..", "notation", "testdata", "everything.musicxml")); err == nil {
		f.Add(x, 77.7, 2, 1, 4, false)
	}
	small := notation.Limits{Bytes: 1 << 16, Notes: 2000, Bars: 500, Elements: 50_000}
	f.Fuzz(func(t *testing.T, in []byte, bpm float64, countIn, after, entries int, loop bool) {
		dir := t.TempDir()
		path := filepath.Join(dir, "in")
		if err := os.WriteFile(path, in, 0o600); err != nil {
			t.Fatal(err)
		}
		s, _, err := notation.ReadFile(path, small)
		if err != nil {
			return
		}
		opt := Options{Bpm: bpm, CountIn: countIn, EnterAfter: after, Entries: entries, Click: true, Silent: true}
		if loop {
			opt.Loop = &Loop{}
		}
		a, err := Render(t.Context(), s, opt)
		if err != nil {
			if _, ours := errors.AsType[*Error](err); !ours {
				t.Fatalf("%v is no *Error", err)
			}
			return
		}
		end := a.Rungs[len(a.Rungs)-1].End
		for i, n := range a.Notes {
			if n.At < 0 || n.Until <= n.At-1 || (i > 0 && n.At < a.Notes[i-1].At) {
				t.Fatalf("note %d sounds from %d to %d, after one at %d", i, n.At, n.Until, a.Notes[max(i-1, 0)].At)
			}
			if loop && n.At >= end {
				t.Fatalf("note %d begins at %d of a loop of %d", i, n.At, end)
			}
		}
		for i, c := range a.Clicks {
			if c.At < 0 || c.At > end || (i > 0 && c.At < a.Clicks[i-1].At) {
				t.Fatalf("click %d at %d of %d", i, c.At, end)
			}
		}
	})
}
