package engrave

import "strings"

// wrapped breaks a text into as few lines as fit a width, and makes them about equally long. A word
// that is wider stays whole.
func (f *fonts) wrapped(text string, s style, size, width float64) []string {
	words := strings.Fields(text)
	greedy := func(limit float64) (lines []string) {
		for _, w := range words {
			if n := len(lines); n > 0 && f.width(lines[n-1]+" "+w, s, size) <= limit {
				lines[n-1] += " " + w
				continue
			}
			lines = append(lines, w)
		}
		return lines
	}
	lines := greedy(width)
	if len(lines) < 2 {
		return []string{text}
	}
	low, high := f.width(text, s, size)/float64(len(lines)), width
	for range 12 {
		middle := (low + high) / 2
		if len(greedy(middle)) > len(lines) {
			low = middle
		} else {
			high = middle
		}
	}
	return greedy(high)
}

// lineHeight from baseline to baseline, in sizes.
const lineHeight = 1.15

// linesInk is a text in as many lines as a width asks for, the last one's baseline at 0.
func (f *fonts) linesInk(kind, text string, s style, size, width float64) *ink {
	lines := f.wrapped(text, s, size, width)
	if len(lines) == 1 {
		return f.textInk(kind, "", text, s, size, 0, 0)
	}
	var parts []*ink
	for i, line := range lines {
		parts = append(parts, f.textInk("", "", line, s, size, 0, -lineHeight*size*float64(len(lines)-1-i)))
	}
	return joined(kind, parts...)
}
