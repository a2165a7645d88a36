package pluck

import (
	"fmt"

	"antiphon/internal/music"
)

// strokes decides where a rest stroke may land, and plays it in melodies where that was asked. A stroke
// of i m a lands on the next string towards the bass, of p on the next towards the treble; it silences
// that string, so nothing may sound there, and nothing may be plucked there with it. A stroke that the
// score marks is kept.
func (l *layout) strokes(o Options) {
	sounds := map[int]*note{} // string to its latest note
	for k := range l.moments {
		mo := &l.moments[k]
		for _, n := range mo.notes {
			n.mayRest, n.why = l.mayRest(mo, n, sounds)
		}
		for _, n := range mo.all {
			sounds[n.place.String] = n
		}
	}
	for _, n := range l.all {
		n.stroke = n.marked
	}
	if !o.Rest {
		return
	}
	for k := range l.moments {
		mo := &l.moments[k]
		for _, n := range mo.notes {
			if n.marked != music.NoStroke {
				continue
			}
			n.stroke = music.FreeStroke
			if n.mayRest && l.melodic(k, n) {
				n.stroke = music.RestStroke
			}
		}
	}
	for _, n := range l.all {
		if n.twin != nil {
			n.stroke, n.mayRest, n.why = n.twin.stroke, n.twin.mayRest, n.twin.why
		}
	}
}

func (l *layout) mayRest(mo *moment, n *note, sounds map[int]*note) (bool, string) {
	onto := n.place.String + 1
	if n.finger == p {
		onto = n.place.String - 1
	}
	if onto < 1 || onto > l.in.Strings() {
		return false, fmt.Sprintf("no rest stroke: %s has no string to land on", n.finger)
	}
	for _, x := range mo.all {
		if x.place.String == onto {
			return false, fmt.Sprintf("no rest stroke: string %d is played with it", onto)
		}
	}
	if x := sounds[onto]; x != nil && x.endQ > mo.atQ+1e-9 {
		return false, fmt.Sprintf("no rest stroke: string %d still sounds (%s)", onto, x.Name)
	}
	return true, ""
}

// melodic reports whether a note is one of a line that steps along, or the top of a moment above a bass:
// where the trade plays rest strokes; broken chords and block chords take free strokes.
func (l *layout) melodic(k int, n *note) bool {
	mo := &l.moments[k]
	return n.grain > 0 && n == mo.notes[len(mo.notes)-1] && len(mo.notes) <= 2 && n.finger != p && !l.broken(k)
}

// brokenS is how quickly the notes of a broken chord follow each other, at the slowest. Our choice; no
// source.
const brokenS = 0.45

// broken reports whether the strings around a moment go to and fro, as those of a broken chord do; in
// slow notes that is a tune.
func (l *layout) broken(k int) bool {
	str := func(j int) int {
		if j < 0 || j >= len(l.moments) {
			return 0
		}
		notes := l.moments[j].notes
		return notes[len(notes)-1].place.String
	}
	for j := k - 2; j <= k; j++ { // three moments that hold this one
		if j >= 0 && str(j+2) > 0 && min(l.moments[j].secs, l.moments[j+1].secs) < brokenS && str(j) == str(j+2) && str(j) != str(j+1) {
			return true
		}
	}
	return false
}
