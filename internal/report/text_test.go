package report

import (
	"bytes"
	"strings"
	"testing"

	"antiphon/internal/findings"
)

func textOf(t *testing.T, r Report, opt TextOptions) string {
	t.Helper()
	var b bytes.Buffer
	if err := r.Text(&b, opt); err != nil {
		t.Fatal(err)
	}
	return b.String()
}

func TestTextGolden(t *testing.T) {
	golden(t, "hearing.80.golden", []byte(textOf(t, fixture(), TextOptions{})))
	golden(t, "hearing.40.golden", []byte(textOf(t, fixture(), TextOptions{Cols: 40})))
}

func TestTextKeepsToItsWidth(t *testing.T) {
	r := fixture()
	r.Score.Title = strings.Repeat("The very long title of a piece ", 9)
	for _, cols := range []int{40, 60, 80, 100} {
		for _, l := range strings.Split(textOf(t, r, TextOptions{Cols: cols}), "\n") {
			if columns(l) > cols {
				t.Errorf("%d columns asked, %d used: %q", cols, columns(l), l)
			}
		}
	}
}

// TestTextIsPlain: foreign text cannot move the cursor, ring, recolour or reorder the line; our own
// bold is only for terminals.
func TestTextIsPlain(t *testing.T) {
	r := fixture()
	r.Score.Title = "Waltz\x1b[2J\x07 \u202Etxet\u2066 \u200b\x9b31m\nnext"
	r.Meta.TakeFile = "a\rb\x00c\xff.m4a"
	r.Meta.Notes = []string{"x\x1b]0;title\x07y"}
	r.Score.Bars[1].Number = "1\x1b[31m"
	r.Findings = append(r.Findings, findings.Finding{Text: "Bar \x1b[5m: \u2028 stop", Kind: findings.Wrong})
	text := textOf(t, r, TextOptions{})
	for _, bad := range "\x1b\x07\r\x00\u202e\u2066\u200b\u009b\u2028" {
		if strings.ContainsRune(text, bad) {
			t.Errorf("%q got through", bad)
		}
	}
	if strings.Contains(text, "\nnext") {
		t.Error("a title broke its line")
	}
	if bold := textOf(t, fixture(), TextOptions{Terminal: true}); !strings.Contains(bold, "\x1b[1mWorth saying\x1b[0m") {
		t.Error("no bold headings in a terminal")
	}
}

func TestColumns(t *testing.T) {
	for _, c := range []struct {
		text string
		want int
	}{{"abc", 3}, {"e\u0301", 1}, {"練習", 4}, {"𝄪", 1}, {"", 0}} { // widths after Unicode UAX #11, from memory
		if got := columns(c.text); got != c.want {
			t.Errorf("%q takes %d columns, want %d", c.text, got, c.want)
		}
	}
	if got := cut("練習曲", 4); columns(got) > 4 || !strings.HasSuffix(got, "…") {
		t.Errorf("cut to %q", got)
	}
}
