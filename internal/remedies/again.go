package remedies

import "fmt"

// Running counts in how many lessons in a row a point was made, the newest backwards: lessons are the
// student's, newest first; made are those in which it was made, in any order. Both by their own ids.
func Running(lessons, made []string) int {
	in := map[string]bool{}
	for _, m := range made {
		in[m] = true
	}
	n := 0
	for _, l := range lessons {
		if !in[l] {
			break
		}
		n++
	}
	return n
}

// tooOften is the number of lessons from which a point wants another way; common practice, no source.
const tooOften = 3

// Warning is what to say to the teacher of a point made in so many lessons running; "" below three.
func Warning(running int) string {
	if running < tooOften {
		return ""
	}
	return fmt.Sprintf("This was said %d lessons running. Try another cause, a smaller step, or show it instead of saying it.", running)
}
