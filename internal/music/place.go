package music

import (
	"slices"
	"strings"
)

// Place is where the right hand plucks. The same words stand in the JSON of a hearing.
type Place string

// The places; AnyPlace where the player chooses.
const (
	AnyPlace   Place = ""
	NearBridge Place = "near-the-bridge"
	OverHole   Place = "over-the-hole"
	OverNeck   Place = "over-the-neck"
)

// PlaceOf reads a place out of words over the staff, such as "sul ponticello"; "naturale" takes the
// last one back. said is false where the words speak of something else. Common practice, no source.
func PlaceOf(words string) (p Place, said bool) {
	w := strings.ToLower(words)
	has := func(list ...string) bool {
		return slices.ContainsFunc(list, func(s string) bool { return strings.Contains(w, s) })
	}
	switch {
	case has("ponticello", "pont.", "metallic", "metálico", "metalico", "near the bridge"):
		return NearBridge, true
	case has("tasto", "tastiera", "dolce", "over the neck"):
		return OverNeck, true
	case has("boca", "over the hole"):
		return OverHole, true
	case has("naturale", "natural", "nat.", "ordinario", "ord."):
		return AnyPlace, true
	}
	return AnyPlace, false
}

// PlaceFrom is a place that words ask for, from a bar of the score on.
type PlaceFrom struct {
	Bar   int // index into Score.Bars
	At    Beats
	Place Place
}

// Places are the places that a part asks for, in order.
func (p *Part) Places() []PlaceFrom {
	var out []PlaceFrom
	for _, d := range p.Directions {
		if d.Kind != Words {
			continue
		}
		if place, said := PlaceOf(d.Text); said {
			out = append(out, PlaceFrom{d.Bar, d.At, place})
		}
	}
	slices.SortStableFunc(out, func(a, b PlaceFrom) int { return a.At.Cmp(b.At) })
	return out
}
