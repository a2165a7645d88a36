package practice_test

import (
	"encoding/json"
	"os"
	"os/exec"
	"path/filepath"
	"strings"
	"testing"

	"github.com/evanw/esbuild/pkg/api"
)

// TestLadderRule: up after the agreed passes that went well in a row, down after two that did not, and never off either
// end. A pass is w or n; what comes of it is the step with what is said.
func TestLadderRule(t *testing.T) {
	needs(t, "node")
	dir := t.TempDir()
	for name, text := range map[string]string{"ladder.cjs": script(t, "_ladder.ts", "", api.FormatCommonJS), "go.cjs": `
		const { after, rungOf } = require('./ladder.cjs')
		const [from, clean, passes] = JSON.parse(process.argv[2])
		let at = { rung: from, well: 0, not: 0 }, said = []
		for (const p of passes) { const [next, turn] = after(at, p === 'w', 3, clean); at = next; said.push(at.rung + (turn === 'stays' ? '' : ' ' + turn)) }
		console.log(JSON.stringify([said.join(', '), rungOf(67.8, [60, 68, 76]), rungOf(68, [60, 68, 76]), rungOf(20, [60, 68, 76])]))`} {
		if err := os.WriteFile(filepath.Join(dir, name), []byte(text), 0o600); err != nil {
			t.Fatal(err)
		}
	}
	for _, c := range []struct {
		from, clean int
		passes      string
		want        string
	}{
		{0, 2, "ww", "0, 1 up"},
		{0, 2, "wnw", "0, 0, 0"},
		{0, 3, "wwwwww", "0, 0, 1 up, 1, 1, 2 up"},
		{1, 2, "nn", "1, 0 down"},
		{1, 2, "nwn", "1, 1, 1"},
		{0, 2, "nnnn", "0, 0 lowest, 0, 0 lowest"},
		{2, 1, "ww", "2 arrived, 2 arrived"},
		{1, 0, "wwnn", "1, 1, 1, 1"}, // no ladder
	} {
		b, err := json.Marshal([]any{c.from, c.clean, strings.Split(c.passes, "")})
		if err != nil {
			t.Fatal(err)
		}
		out, err := exec.CommandContext(t.Context(), "node", filepath.Join(dir, "go.cjs"), string(b)).Output()
		if err != nil {
			t.Fatal(err)
		}
		var got []any
		if err := json.Unmarshal(out, &got); err != nil {
			t.Fatal(err)
		}
		if got[0] != c.want || got[1] != 0.0 || got[2] != 1.0 || got[3] != 0.0 {
			t.Errorf("from %d, %d in a row, %s: %v, want %s", c.from, c.clean, c.passes, got, c.want)
		}
	}
}
