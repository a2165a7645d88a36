package music_test

import (
	"strconv"
	"strings"
	"testing"

	"antiphon/internal/music"
)

// form makes bars of a short description, a word a bar:
//
//	|: repeat starts    :| repeat ends (:3| three times in all)    [1 [1,2 ending starts    ] ending stops
//	S segno   C coda   >C to coda   DC DS da capo, dal segno   F fine   ! the repeat is taken after a jump, too
func form(t *testing.T, text string) *music.Score {
	t.Helper()
	s := &music.Score{}
	at := music.Beats{}
	for _, word := range strings.Split(text, " / ") {
		b := music.Bar{Start: at, Length: music.Quarters(4, 1), Number: strconv.Itoa(len(s.Bars) + 1)}
		at = b.End()
		for _, f := range strings.Fields(word) {
			switch {
			case f == "|:":
				b.RepeatStart = true
			case f == ":|":
				b.RepeatEnd = 2
			case strings.HasPrefix(f, ":"):
				b.RepeatEnd = int(f[1] - '0')
			case strings.HasPrefix(f, "["):
				for _, n := range strings.Split(f[1:], ",") {
					v, err := strconv.Atoi(n)
					if err != nil {
						t.Fatal(err)
					}
					b.Ending = append(b.Ending, v)
				}
			case f == "]":
				b.EndingStop = "stop"
			case f == "S":
				b.Segno = "segno"
			case f == "C":
				b.Coda = "coda"
			case f == ">C":
				b.ToCoda = "coda"
			case f == "DC":
				b.DaCapo = true
			case f == "DS":
				b.DalSegno = "segno"
			case f == "F":
				b.Fine = true
			case f == "!":
				b.AfterJump = true
			case f == "-":
			default:
				t.Fatalf("what is %q", f)
			}
		}
		s.Bars = append(s.Bars, b)
	}
	return s
}

func played(s *music.Score) string {
	var out []string
	for _, st := range s.Performed() {
		for b := st.From; b <= st.To; b++ {
			out = append(out, strconv.Itoa(b+1))
		}
	}
	return strings.Join(out, " ")
}

// The orders are worked by hand. That repeats are left out after a jump is common practice, no source.
func TestPerformed(t *testing.T) {
	for _, c := range []struct{ name, bars, want string }{
		{"straight on", "- / - / -", "1 2 3"},
		{"repeat from the beginning", "- / :| / -", "1 2 1 2 3"},
		{"repeat with its start", "- / |: / :| / -", "1 2 3 2 3 4"},
		{"two repeats", "|: / :| / |: / :|", "1 2 1 2 3 4 3 4"},
		{"second repeat without a start goes back to the end of the first", "- / :| / - / :|", "1 2 1 2 3 4 3 4"},
		{"one bar three times", "- / |: :3| / -", "1 2 2 2 3"},
		{"two endings", "|: / [1 ] :| / [2 ] / -", "1 2 1 3 4"},
		{"longer endings", "|: / [1 / ] :| / [2 / ]", "1 2 3 1 4 5"},
		{"first ending for two passes", "|: / [1,2 ] :| / [3 ]", "1 2 1 2 1 3"},
		{"three endings", "|: / [1 ] :| / [2 ] :| / [3 ]", "1 2 1 3 1 4"},
		{"second ending repeats, too", "|: / [1 ] :| / [2 ] :| / -", "1 2 1 3 4"},
		{"only the first ending is marked", "|: / [1 ] :| / -", "1 2 1 3"},
		{"endings twice", "|: / [1 ] :| / [2 ] / |: / [1 ] :| / [2 ]", "1 2 1 3 4 5 4 6"},
		{"da capo al fine", "- / F / - / DC", "1 2 3 4 1 2"},
		{"da capo to the end", "- / - / DC", "1 2 3 1 2 3"},
		{"dal segno al fine", "- / S / F / - / DS", "1 2 3 4 5 2 3"},
		{"dal segno al coda", "- / S / >C / - / DS / C / -", "1 2 3 4 5 2 3 6 7"},
		{"da capo al coda", "- / >C / DC / C", "1 2 3 1 2 4"},
		{"repeats are left out after da capo", "|: / :| F / - / DC", "1 2 1 2 3 4 1 2"},
		{"unless they say so", "|: / :| ! F / - / DC", "1 2 1 2 3 4 1 2"},
		{"after-jump repeat before the fine", "|: / :| ! / F / DC", "1 2 1 2 3 4 1 2 1 2 3"},
		{"last ending after da capo", "|: / [1 ] :| / [2 ] / F / DC", "1 2 1 3 4 5 1 3 4"},
		{"minuet and trio", "|: / :| / |: / :| F / |: / :| / |: / :| DC", "1 2 1 2 3 4 3 4 5 6 5 6 7 8 7 8 1 2 3 4"},
		{"repeat sign forgotten in the first ending", "- / [1 ] / [2 ]", "1 2 1 3"},
		{"first ending that ends in da capo", "- / [1 ] DC / [2 ]", "1 2 1 3"},
		{"segno without a sign", "- / DS", "1 2"},
		{"to coda without a coda", "- / >C / DC", "1 2 3 1 2 3"},
		{"fine alone does not stop", "- / F / -", "1 2 3"},
		{"ending that never closes", "|: / [1 :| / [2 / - / -", "1 2 1 3 4 5"},
	} {
		if got := played(form(t, c.bars)); got != c.want {
			t.Errorf("%s (%s): played %s, want %s", c.name, c.bars, got, c.want)
		}
	}
}

// A score made to unfold without end stops at a bound that grows with what is written.
func TestPerformedIsBounded(t *testing.T) {
	var words []string
	for range 300 {
		words = append(words, "|: :9|", "DC", "S DS", ">C", "C")
	}
	s := form(t, strings.Join(words, " / "))
	n := 0
	for _, st := range s.Performed() {
		n += st.To - st.From + 1
	}
	if n == 0 || n > 20*len(s.Bars) {
		t.Errorf("%d bars are played of %d", n, len(s.Bars))
	}
	if (&music.Score{}).Performed() != nil {
		t.Error("nothing is played of nothing")
	}
}
