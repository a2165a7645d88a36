package playable

import "strings"

// Speeds of the right hand, as time from stroke to stroke. From memory: one finger plucks a string at
// most six or seven times a second for a while, trained players up to ten in short bursts.
const (
	quickPluckS = 0.25 // from here on a repeated finger is against the trade's rule of alternation
	topPluckS   = 0.09
)

// order of the fingers from the bass side of the hand; c is the little finger.
const pluckOrder = "pimac"

// right checks the right hand.
func (sh *sheet) right() {
	var before *slice
	last := make([]*mark, sh.in.Strings()+1) // the latest note on each string
	for k := range sh.slices {
		sl := &sh.slices[k]
		plucked := false
		for _, m := range sl.notes {
			plucked = plucked || m.Pluck != "" && !m.Slurred
		}
		sh.rests(sl, k, last)
		for _, m := range sl.notes {
			if m.placed && m.place.String < len(last) {
				last[m.place.String] = m
			}
		}
		if !plucked {
			// A note that is slurred takes no finger, so the finger before it still counts; a note
			// without a mark may be plucked by any finger.
			for _, m := range sl.notes {
				if !m.Slurred {
					before = nil
				}
			}
			continue
		}
		sh.chord(sl)
		if before != nil {
			sh.repeated(before, sl)
		}
		before = sl
	}
}

// chord checks the fingers that pluck at the same moment.
func (sh *sheet) chord(sl *slice) {
	for i, a := range sl.notes {
		for _, b := range sl.notes[i+1:] {
			if a.Pluck == "" || b.Pluck == "" || a.Slurred || b.Slurred {
				continue
			}
			two := []*mark{a, b}
			same := a.placed && b.placed && a.place.String == b.place.String
			if same && a.Midi == b.Midi {
				continue // one stroke for two voices
			}
			apart := 0
			if a.placed && b.placed {
				apart = abs(a.place.String - b.place.String)
			}
			rolled := a.Rolled && b.Rolled
			x, y := strings.Index(pluckOrder, a.Pluck), strings.Index(pluckOrder, b.Pluck)
			switch {
			case a.Pluck == b.Pluck && a.Pluck == "p" && (apart <= 1 || rolled || sh.sweeps(sl)):
			case a.Pluck == b.Pluck && rolled:
			case a.Pluck == b.Pluck:
				sh.add(PluckTwice, Impossible, 0, "", two, "%s would have to pluck %s and %s at once", a.Pluck, a.Name, b.Name)
			case apart > 0 && (x < y) != (a.place.String > b.place.String):
				sh.add(PluckCrossed, Warning, 0, "", two, "%s on string %d and %s on string %d cross", a.Pluck, a.place.String, b.Pluck, b.place.String)
			}
		}
	}
}

// sweeps reports whether the thumb takes neighbouring strings one after the other, none left out.
func (sh *sheet) sweeps(sl *slice) bool {
	var has [64]bool
	low, high := 64, 0
	for _, m := range sl.notes {
		if m.Pluck == "p" && m.placed && m.place.String < 64 {
			has[m.place.String] = true
			low, high = min(low, m.place.String), max(high, m.place.String)
		}
	}
	for s := low; s <= high; s++ {
		if !has[s] {
			return false
		}
	}
	return low <= high
}

// repeated looks for a finger that plays two strokes in a row.
func (sh *sheet) repeated(before, now *slice) {
	s := now.atS - before.atS
	single := plucks(before) == 1 && plucks(now) == 1
	for _, a := range before.notes {
		for _, b := range now.notes {
			if a.Pluck == "" || a.Pluck != b.Pluck || a.Slurred || b.Slurred {
				continue
			}
			if glides(a, b) {
				continue
			}
			two := []*mark{b, a}
			switch {
			case s < topPluckS && now.sure:
				sh.add(RepeatedPluck, Impossible, 1000*s, "ms", two, "%s plucks %s and, %.0f ms later, %s", a.Pluck, a.Name, 1000*s, b.Name)
				return
			case s < quickPluckS && single && a.Pluck != "p":
				sh.add(RepeatedPluck, Warning, 1000*s, "ms", two, "%s plucks %s and, %.0f ms later, %s", a.Pluck, a.Name, 1000*s, b.Name)
				return
			}
		}
	}
}

// glides reports whether one stroke of the finger can carry on to the next string: p towards the
// treble, the others towards the bass.
func glides(a, b *mark) bool {
	if !a.placed || !b.placed {
		return false
	}
	if a.Pluck == "p" {
		return b.place.String == a.place.String-1
	}
	return b.place.String == a.place.String+1 && a.stroke != "" && b.stroke == a.stroke
}

func plucks(sl *slice) int {
	n := 0
	for _, m := range sl.notes {
		if m.Pluck != "" && !m.Slurred && !m.Unison {
			n++
		}
	}
	return n
}

// rests checks where rest strokes land.
func (sh *sheet) rests(sl *slice, k int, last []*mark) {
	for _, m := range sl.notes {
		if m.stroke != "rest stroke" || !m.placed || m.Pluck == "" {
			continue
		}
		onto := m.place.String + 1
		if m.Pluck == "p" {
			onto = m.place.String - 1
		}
		if onto < 1 || onto > sh.in.Strings() {
			sh.add(RestNowhere, Warning, 0, "", []*mark{m}, "a rest stroke of %s on string %d has no string to land on", m.Pluck, m.place.String)
			continue
		}
		if r := ringing(onto, last, sl, k); r != nil {
			sh.add(RestLands, Impossible, 0, "", []*mark{m, r}, "the rest stroke of %s on string %d lands on string %d, where %s still sounds", m.Pluck, m.place.String, onto, r.Name)
		}
	}
}

// ringing is the note that must go on sounding on a string during a slice, or starts there with it.
func ringing(onto int, last []*mark, sl *slice, k int) *mark {
	for _, m := range sl.notes {
		if m.placed && m.place.String == onto {
			return m
		}
	}
	if m := last[onto]; m != nil && (m.ring || m.downAt(k, sl)) {
		return m
	}
	return nil
}

func abs(n int) int { return max(n, -n) }
