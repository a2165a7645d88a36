package report

import (
	"bytes"
	"slices"
	"strings"
	"testing"

	"antiphon/internal/ear"
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

// TestTextOfManyRounds stays short: forty rounds are not forty lines.
func TestTextOfManyRounds(t *testing.T) {
	r := fixture()
	n := len(r.Hearing.Passes)
	for i := range 40 {
		at := 20 + 3*float64(i)
		play(r.Hearing, n+1+i, 1, 6, at)
		r.Hearing.Jumps = append(r.Hearing.Jumps, ear.Jump{Kind: ear.Repeat, FromBar: "1", ToBar: "1", StopS: at - 1, ResumeS: at, Confidence: 0.9})
	}
	text := textOf(t, r, TextOptions{})
	if lines := strings.Count(text, "\n"); lines > 45 {
		t.Errorf("%d lines:\n%s", lines, text)
	}
	for _, want := range []string{"… 32 more", "passes 3–42: every bar as written"} {
		if !strings.Contains(text, want) {
			t.Errorf("the text lacks %q:\n%s", want, text)
		}
	}
}

func TestPassList(t *testing.T) {
	for want, n := range map[string][]int{"pass 3": {3}, "passes 1, 3–5": {1, 3, 4, 5}, "passes 1–2": {1, 2}} {
		if got := passList(n); got != want {
			t.Errorf("%v: %q, want %q", n, got, want)
		}
	}
}

func TestWrapKeepsPerCentWithItsNumber(t *testing.T) {
	got := wrap("steady within 12 %, then more", 17)
	if want := []string{"steady within", "12 %, then more"}; !slices.Equal(got, want) {
		t.Errorf("%q, want %q", got, want)
	}
}
