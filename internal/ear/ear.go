// Package ear compares one take with one score and reports what was played.
//
// It measures; it does not judge. It knows no student, no goal and no clock, and it does not guess
// the piece: a take of something else gives a hearing without passes, not an error.
package ear
