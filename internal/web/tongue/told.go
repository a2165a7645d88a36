package tongue

import (
	"fmt"
	"maps"
	"slices"
	"strings"
)

// Retell says a refusal of the studio, which speaks English, in this language. False means that it is not known;
// then there is a phrase for each kind of refusal, "refused." and the kind.
func (t *Tongue) Retell(sentence string) (string, bool) {
	if t.told == nil {
		return sentence, true
	}
	if told, ok := t.told[sentence]; ok {
		return told, true
	}
	for _, p := range slices.Sorted(maps.Keys(t.told)) {
		if blanks, ok := filled(p, sentence); ok {
			return fmt.Sprintf(t.told[p], blanks...), true
		}
	}
	return "", false
}

// filled gives what stands in the blanks of a pattern, "%s", where a sentence is made of it.
func filled(pattern, sentence string) ([]any, bool) {
	fixed := strings.Split(pattern, "%s")
	rest, ok := strings.CutPrefix(sentence, fixed[0])
	if !ok || len(fixed) == 1 {
		return nil, false
	}
	var blanks []any
	for i, next := range fixed[1:] {
		at := strings.Index(rest, next)
		if i == len(fixed)-2 { // the last one reaches to the end
			if !strings.HasSuffix(rest, next) {
				return nil, false
			}
			at = len(rest) - len(next)
		}
		if at < 1 {
			return nil, false
		}
		blanks = append(blanks, rest[:at])
		rest = rest[at+len(next):]
	}
	return blanks, true
}
