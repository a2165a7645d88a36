package report

import (
	"fmt"
	"math"
	"strings"
	"unicode"
	"unicode/utf8"
)

// plain makes foreign text safe for one line of a terminal: control characters, and those that change
// the direction of writing, become "?"; other space becomes a blank.
func plain(s string) string {
	return strings.Map(func(r rune) rune {
		switch {
		case r == utf8.RuneError:
			return '?'
		case unicode.IsSpace(r):
			return ' '
		case unicode.IsGraphic(r) && r != '\u2028' && r != '\u2029':
			return r
		}
		return '?'
	}, s)
}

// columns is how many columns a plain text takes: marks that sit on the letter before them take none,
// East Asian wide letters two.
func columns(s string) int {
	n := 0
	for _, r := range s {
		switch {
		case unicode.Is(unicode.Mn, r) || unicode.Is(unicode.Me, r):
		case wide(r):
			n += 2
		default:
			n++
		}
	}
	return n
}

// wide covers the blocks of Unicode's East Asian Width (UAX #11) that names and titles use.
func wide(r rune) bool {
	return r >= 0x1100 && r <= 0x115F || r >= 0x2E80 && r <= 0xA4CF || r >= 0xAC00 && r <= 0xD7A3 || r >= 0xF900 && r <= 0xFAFF ||
		r >= 0xFE30 && r <= 0xFE6F || r >= 0xFF00 && r <= 0xFF60 || r >= 0xFFE0 && r <= 0xFFE6 || r >= 0x1F300 && r <= 0x1FAFF || r >= 0x20000 && r <= 0x3FFFD
}

// cut shortens plain text to so many columns.
func cut(s string, cols int) string {
	if columns(s) <= cols {
		return s
	}
	n := 0
	for i, r := range s {
		w := columns(string(r))
		if n+w > cols-1 {
			return s[:i] + "…"
		}
		n += w
	}
	return s
}

// wrap breaks text at blanks into lines of at most cols columns; a longer word stands alone, and a
// number keeps its per cent sign.
func wrap(s string, cols int) []string {
	var words []string
	for _, word := range strings.Fields(s) {
		if n := len(words); n > 0 && word[0] == '%' {
			words[n-1] += " " + word
			continue
		}
		words = append(words, word)
	}
	var lines []string
	line := ""
	for _, word := range words {
		switch {
		case line == "":
			line = word
		case columns(line)+1+columns(word) <= cols:
			line += " " + word
		default:
			lines = append(lines, line)
			line = word
		}
	}
	return append(lines, line)
}

// pad fills plain text up with blanks.
func pad(s string, cols int) string { return s + strings.Repeat(" ", max(0, cols-columns(s))) }

// clockTime is "1:05", or "1:02:05" from an hour on.
func clockTime(s float64) string {
	t := int(math.Floor(max(0, finite(s))))
	if t >= 3600 {
		return fmt.Sprintf("%d:%02d:%02d", t/3600, t/60%60, t%60)
	}
	return fmt.Sprintf("%d:%02d", t/60, t%60)
}

// sign writes accidentals with their signs: "F#4" becomes "F♯", or "F♯4" with octave.
func sign(name string, octave bool) string {
	if name == "" {
		return ""
	}
	body := strings.TrimRight(name[1:], "-0123456789")
	text := name[:1] + strings.NewReplacer("##", "𝄪", "#", "♯", "bb", "𝄫", "b", "♭").Replace(body)
	if octave {
		text += name[1+len(body):]
	}
	return text
}

// barRange is "bar 5", "bars 5–8"; "" where it is the whole take.
func barRange(from, to string) string {
	switch {
	case from == "":
		return ""
	case from == "0" && (to == "0" || to == ""):
		return "pickup"
	case from == "0":
		return "pickup to bar " + to
	case from == to || to == "":
		return "bar " + from
	}
	return "bars " + from + "–" + to
}
