package notation_test

import (
	"strings"
	"testing"
)

// The same form said in the ways that writers have: bars 1 to 4, back to the sign in bar 2, after bar 3
// to the coda, bar 5.
func TestNavigation(t *testing.T) {
	n := note("C", 4, 8, "")
	dir := func(inside, sound string) string {
		return `<direction><direction-type>` + inside + `</direction-type>` + sound + `</direction>`
	}
	for _, c := range []struct {
		name string
		bars [5]string
	}{
		{"for players only", [5]string{n, `<sound segno="S1"/>` + n, n + `<sound tocoda="C1"/>`, n + `<sound dalsegno="S1"/>`, `<sound coda="C1"/>` + n}},
		{"signs that players understand", [5]string{n, dir("<segno/>", `<sound segno="1"/>`) + n, n + dir("<words>To Coda</words>", `<sound tocoda="1"/>`),
			n + dir("<words>D.S. al Coda</words>", `<sound dalsegno="1"/>`), dir("<coda/>", `<sound coda="1"/>`) + n}},
		{"the coda sign at the way out, too", [5]string{n, dir("<segno/>", `<sound segno="1"/>`) + n, n + dir("<coda/>", `<sound tocoda="1"/>`),
			n + dir("<words>D.S. al Coda</words>", `<sound dalsegno="1"/>`), dir("<coda/>", `<sound coda="1"/>`) + n}},
		{"print only", [5]string{n, dir("<segno/>", "") + n, n + dir("<words>To Coda</words>", ""), n + dir("<words>D. S. al Coda</words>", ""), dir("<coda/>", "") + n}},
		{"print only, two coda signs", [5]string{n, dir("<segno/>", "") + n, dir("<coda/>", "") + n, n + dir("<words>Dal Segno al Coda</words>", ""), dir("<coda/>", "") + n}},
		{"words for everything", [5]string{n, dir("<segno/>", "") + n, n + dir("<words>to coda</words>", ""), n + dir("<words>D.S. al Coda</words>", ""), dir("<words>Coda</words>", "") + n}},
		{"signs at the end of the bar before", [5]string{n + dir("<segno/>", ""), n, n + dir("<words>To Coda</words>", ""), n + dir("<words>D.S.</words>", "") + dir("<coda/>", ""), n}},
		{"on the bar lines", [5]string{n, `<barline location="left"><segno/></barline>` + n, n + `<sound tocoda="coda"/>`, n + `<sound dalsegno="segno"/>`, `<barline location="left"><coda/></barline>` + n}},
	} {
		var b strings.Builder
		b.WriteString(head)
		for i, inside := range c.bars {
			if i == 0 {
				inside = attr + inside
			}
			b.WriteString(bar(itoa(i+1), inside))
		}
		b.WriteString(tail)
		s := read(t, []byte(b.String()))
		again := read(t, written(t, s))
		for k, s := range map[string][]int{"read": bars(s.Performed()), "written and read": bars(again.Performed())} {
			want := []int{1, 2, 3, 4, 2, 3, 5}
			if len(s) != len(want) {
				t.Errorf("%s, %s: played %v, want %v", c.name, k, s, want)
				continue
			}
			for i := range want {
				if s[i] != want[i] {
					t.Errorf("%s, %s: played %v, want %v", c.name, k, s, want)
					break
				}
			}
		}
		validate(t, c.name, written(t, s))
	}
}
