package notation_test

import (
	"bytes"
	"strings"
	"testing"

	"antiphon/internal/notation"
)

// longScore is a piece of n notes, four to a bar.
func longScore(n int) []byte {
	var b strings.Builder
	b.WriteString(head)
	for i := range n / 4 {
		inside := ""
		if i == 0 {
			inside = attr
		}
		for k := range 4 {
			inside += note(string("CDEFGAB"[(i+k)%7]), 3+k%2, 2, `<voice>1</voice><type>quarter</type><notations><technical><string>3</string><fret>2</fret></technical></notations>`)
		}
		b.WriteString(bar(itoa(i+1), inside))
	}
	b.WriteString(tail)
	return []byte(b.String())
}

// BenchmarkReadScore reads a long score and lists what is to be heard.
func BenchmarkReadScore(b *testing.B) {
	for _, n := range []int{3_000, 30_000} {
		data := longScore(n)
		b.Run(itoa(n), func(b *testing.B) {
			for b.Loop() {
				s, _, err := notation.Read(bytes.NewReader(data), "bench", notation.Limits{})
				if err != nil || len(s.Sounding()) != n {
					b.Fatal(err)
				}
			}
			b.ReportMetric(float64(n*b.N)/b.Elapsed().Seconds(), "notes/s")
		})
	}
}
