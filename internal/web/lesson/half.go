package lesson

import (
	"fmt"
	"maps"
	"slices"
	"strings"

	"antiphon/internal/studio"
)

// halfSays names the first field of a draft that cannot be read, or not yet; "" where there is none. The draft is kept
// all the same, and is not sent.
func halfSays(l studio.Lesson) string {
	for i, a := range l.Assignments {
		for _, name := range slices.Sorted(maps.Keys(a.Half)) {
			return fmt.Sprintf("Task %d: “%s” %s", i+1, short(a.Half[name]), unread(name))
		}
	}
	return ""
}

// unread says of a field what it is to hold.
func unread(name string) string {
	switch {
	case strings.HasSuffix(name, "title"):
		return "is not in the library. Choose a title from the list."
	case name == "minutes", name == "clean", name == "after", name == "ladderclean":
		return "is no whole number. Write one, or leave it empty."
	case name == "contrast", name == "ladderstep":
		return "is no number. Write one, or leave it empty."
	case strings.Contains(name, "."):
		return "is no place in a recording. Write minutes and seconds, such as 1:05."
	}
	return fmt.Sprintf("is no tempo. Write quarter notes a minute, from %d to %d, such as 66.", slowestBpm, fastestBpm)
}

// typed shows a field as it was typed where it could not be read, else as it reads.
func typed(a studio.Assignment, name, reads string) string {
	if half, ok := a.Half[name]; ok {
		return half
	}
	return reads
}
