package scenario

import (
	"fmt"
	"strings"
)

// What the teacher writes and families say, all invented.
var (
	openings = []string{
		"I enjoyed these takes, thank you. Three things this week, none of them long.",
		"One can hear that you practised. This week we go on a little and keep what is there.",
		"A good week. Keep the sessions short: fifteen minutes, then something else.",
		"Thank you for sending this so early. Let us make it sing now.",
		"Small steps this week. If something aches, stop, shake the hands out, and tell me.",
	}
	newWords = []string{
		"A new tune. First say the names of the notes aloud while pointing at them, then play the first four bars slowly.",
		"A new one. Listen to it twice before the guitar comes out, then try the first four bars.",
		"Look for the places where the tune repeats itself before you play. Then the first line only.",
	}
	drillWords = []string{
		"Every day first, three minutes. Two fingers walking, never the same one twice.",
		"Before the tune, three minutes. Listen for every note being as long as the one before.",
		"With the click, quietly. Shoulders low, and breathe out at the end of every line.",
	}
	backWords = []string{
		"An old friend: play it for a grandparent or a teddy.",
		"From last month, so that the fingers do not forget it.",
	}
	familyNotes = []string{
		"We found the second line hard.",
		"Recorded before school, so a bit sleepy.",
		"Best of four tries!",
		"Little brother in the background, sorry.",
		"Practised four days this week.",
	}
	kindWords = []string{
		"Lovely: calm from the first note to the last.",
		"The ends of the phrases breathe now. Keep that.",
		"I could hear every note. Thank you.",
	}
	phrases = []string{
		"Before bar …: breathe out, then play.",
		"Play … for somebody who does not know it.",
		"Slower than you want, … times, and then once as you want.",
		"I heard … get calmer this week. Keep that.",
		"Put … away for a week; it grows by itself.",
	}
	habitWords = map[habit]string{
		rushes:   "Walk round the room in time before you begin, and keep that walk while you play. The end as calm as the beginning.",
		stops:    "Before the bar where you stop: play only the last note before it and the first note in it, back and forth, five times.",
		restarts: "When something goes wrong, keep the beat going and join again in the next bar. Going back is not needed.",
		uneven:   "Say ma-ri-o-nette on four even notes, then play them. Each syllable the same length.",
		soft:     "Play to the far wall. The string goes towards the top of the guitar, not outwards.",
		steady:   "All of it now. The second time a little softer, like an echo.",
	}
)

// keyOf names a take in the file of what was heard.
func keyOf(family, student string, week, n int) string {
	return fmt.Sprintf("%s-%s-%02d-%d", strings.ToLower(family), strings.ToLower(strings.ReplaceAll(student, "é", "e")), week, n)
}
