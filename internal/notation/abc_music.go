package notation

import (
	"fmt"
	"strings"
	"unicode/utf8"

	"antiphon/internal/music"
)

// music reads one line of notes. It may switch to another voice on the way ([V:2]).
func (v *abcVoice) music(l abcLine) error {
	s := l.text
	for i := 0; i < len(s); {
		if v.t.tokens++; v.t.tokens > v.t.lim.Elements {
			return tooLarge("it has more than %d signs", v.t.lim.Elements)
		}
		n, err := v.t.voice().token(s[i:], l.n)
		if err != nil {
			return err
		}
		i += max(n, 1)
	}
	return nil
}

// token reads what stands at the start of s and gives its length.
func (v *abcVoice) token(s string, line int) (int, error) {
	c := s[0]
	switch {
	case c == ' ' || c == '\t' || c == '`' || c == '\\' || c == '$' || c == '*' || c == ';':
		return 1, nil
	case c == '"':
		return v.quoted(s, line), nil
	case c == '!' || c == '+':
		if end := strings.IndexByte(s[1:], c); end > 0 && end < 40 && !strings.ContainsAny(s[1:end+1], " |") {
			v.decorate(s[1:end+1], line)
			return end + 2, nil
		}
		return 1, nil
	case c == '[' && len(s) > 2 && isField(s[1:]):
		end := strings.IndexByte(s, ']')
		if end < 0 {
			v.forgive(line, "a field in brackets is not closed")
			return len(s), nil
		}
		return end + 1, v.t.field(abcLine{line, s[1:end]}, s[1], strings.TrimSpace(s[3:end]))
	case c == '[' && len(s) > 1 && s[1] >= '0' && s[1] <= '9':
		n := digitsEnd(s, 1)
		v.ending(s[1:n])
		return n, nil
	case c == '|' || c == ':' && len(s) > 1 && (s[1] == '|' || s[1] == ':') || c == '[' && len(s) > 1 && (s[1] == '|' || s[1] == ']'):
		return v.barSign(s, line)
	case c == '[':
		return v.chord(s, line)
	case c == '{':
		return v.graces(s, line)
	case c == '(':
		return v.parenthesis(s, line), nil
	case c == ')':
		v.endSlur()
		return 1, nil
	case c == '-':
		v.tie(v.last[0], v.last[1])
		return 1, nil
	case c == '<' || c == '>':
		return v.brokenRhythm(s, line), nil
	case c == '&':
		v.cursor, v.last = music.Beats{}, [2]int{}
		v.overlay++
		return 1, nil
	case c == 'y': // space
		return digitsEnd(s, 1), nil
	case strings.IndexByte("zxZX", c) >= 0:
		return v.rest(s, line)
	case c == '.' && len(s) > 1 && s[1] == '|': // a dotted bar line
		return 1, nil
	}
	if name, ok := v.t.user[c]; ok {
		v.decorate(name, line)
		return 1, nil
	}
	if name, ok := shorthand(c); ok {
		v.decorate(name, line)
		return 1, nil
	}
	if note, n, ok := v.note(s, line); ok {
		return n, v.place([]music.Note{note}, line)
	}
	_, n := utf8.DecodeRuneInString(s)
	v.forgive(line, fmt.Sprintf("sign %q is unknown; it was left out", printable(s[:n])))
	return n, nil
}

// barSign reads a bar line with the repeats and the ending that go with it.
func (v *abcVoice) barSign(s string, line int) (int, error) {
	n := 0
	for n < len(s) {
		if strings.IndexByte("|:", s[n]) >= 0 || (s[n] == ']' && n > 0 && (s[n-1] == '|' || s[n-1] == '[')) ||
			(s[n] == '[' && n+1 < len(s) && (s[n+1] == '|' || s[n+1] == ']')) {
			n++
			continue
		}
		break
	}
	if err := v.barline(s[:n], line); err != nil {
		return 0, err
	}
	if n < len(s) && s[n] >= '1' && s[n] <= '9' {
		end := digitsEnd(s, n)
		v.ending(s[n:end])
		n = end
	}
	return n, nil
}

// digitsEnd is where a list of numbers like "1,3-4" ends.
func digitsEnd(s string, i int) int {
	for i < len(s) && (s[i] >= '0' && s[i] <= '9' || (i > 0 && (s[i] == ',' || s[i] == '-') && i+1 < len(s) && s[i+1] >= '0' && s[i+1] <= '9')) {
		i++
	}
	return i
}

// quoted reads a chord symbol, or a text if it begins with ^ _ < > or @.
func (v *abcVoice) quoted(s string, line int) int {
	end := strings.IndexByte(s[1:], '"')
	if end < 0 {
		v.forgive(line, "a quotation mark is not closed")
		return len(s)
	}
	text := clip(abcText(s[1:end+1]), maxText)
	if text == "" {
		return end + 2
	}
	switch text[0] {
	case '^', '_', '<', '>', '@':
		place := map[byte]string{'^': "above", '_': "below"}[text[0]]
		if words := oneLine(text[1:]); words != "" {
			v.direct(music.Direction{Kind: music.Words, Text: words, Placed: place})
		}
	default:
		kind := music.Harmony
		if _, _, _, ok := splitChord(text); !ok && text != "N.C." {
			kind = music.Words
		}
		v.direct(music.Direction{Kind: kind, Text: oneLine(text), Placed: "above"})
	}
	return end + 2
}
