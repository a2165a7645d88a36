package main

import (
	"strconv"
	"strings"
	"unicode"
)

// printable makes foreign text safe to show on one line of a terminal: whatever could move the
// cursor, ring, recolour or reorder the line is shown as an escape such as \x1b or \u202e.
func printable(s string) string {
	var b strings.Builder
	for i, r := range s {
		switch {
		case r == unicode.ReplacementChar && !strings.HasPrefix(s[i:], "\uFFFD"):
			b.WriteString(`\x` + strconv.FormatUint(uint64(s[i])|0x100, 16)[1:]) // a byte that is no UTF-8
		case unicode.IsGraphic(r) && r != '\u2028' && r != '\u2029':
			b.WriteRune(r)
		default:
			q := strconv.QuoteRune(r)
			b.WriteString(q[1 : len(q)-1])
		}
	}
	return b.String()
}
