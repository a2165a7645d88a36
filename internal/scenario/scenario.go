// Package scenario is the invented studio that `antiphon demo` opens: twelve families, sixteen students,
// four months of lessons and takes, and what waits on the desk this week.
//
// Nobody in it exists. The tunes are traditional or our own exercises. Everything goes into the studio
// through the same use-cases as in a real one; only the measuring of what lies in the past comes from a
// file that `make demo-data` made with the same ear, because hearing it all again would take minutes.
package scenario

import (
	"fmt"
	"hash/fnv"
	"math/rand/v2"
)

// Weeks is how far the story goes back. Week 0 is the present one, whose takes wait.
const Weeks = 16

// dice are a student's own for one week and purpose, so that changing one story leaves the others as they were.
func dice(student string, week int, what string) *rand.Rand {
	h := fnv.New64a()
	fmt.Fprint(h, student, "/", week, "/", what)
	return rand.New(rand.NewPCG(h.Sum64(), 2026))
}
