package pluck

import "strings"

// finger of the right hand, in the order of the hand from the bass side.
type finger int8

const (
	none finger = iota - 1
	p
	i
	m
	a
	fingers = 4
)

func (f finger) String() string {
	if f < p || f > a {
		return ""
	}
	return "pima"[f : f+1]
}

func fingerOf(s string) finger {
	if len(s) != 1 {
		return none
	}
	return finger(strings.Index("pima", s))
}
