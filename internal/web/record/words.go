package record

import (
	"encoding/json"

	"antiphon/internal/web/tongue"
)

// What the islands say. up.… are said of a recording on its way, by both.
var (
	upWords     = []string{"sending", "waits", "full", "here", "before", "refused", "elsewhere", "stop", "hurry", "stopped"}
	bothWords   = []string{"way", "cut", "cut.today", "cut.yesterday", "cut.what"}
	recordWords = []string{"cannot", "denied", "none", "busy", "broken", "full", "little", "interrupted", "choose", "with.away", "running", "over", "over.longest",
		"level.silent", "level.quiet", "level.good", "level.loud", "light.dark", "light.good",
		"try", "facts", "listen", "away", "away.sure", "away.yes", "away.no", "lost", "refused", "cut.short"}
	pendingWords = []string{"unsent.one", "unsent.more", "unsent.what"}
)

// wordsOf is what an island says, as JSON: its own words, and those of recordings on their way.
func wordsOf(t *tongue.Tongue, own []string) (string, error) {
	words := map[string]string{}
	add := func(key, in string) error {
		say, err := t.Say(key)
		words[in] = say
		return err
	}
	for _, k := range upWords {
		if err := add("upload."+k, "up."+k); err != nil {
			return "", err
		}
	}
	for _, l := range [][]string{bothWords, own} {
		for _, k := range l {
			if err := add("record."+k, k); err != nil {
				return "", err
			}
		}
	}
	b, err := json.Marshal(words)
	return string(b), err
}
