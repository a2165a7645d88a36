package pluck

import (
	"antiphon/internal/guitar"
)

// guessPlaces gives strings to notes of which none is known: each the lowest fret whose string is
// not taken by a note that starts with it, higher notes first. It only has to be good enough to tell
// basses from trebles and neighbours from leaps.
func (l *layout) guessPlaces() {
	for k := 0; k < len(l.all); {
		end := k + 1
		for end < len(l.all) && l.all[end].Onset == l.all[k].Onset && l.all[end].Grace == l.all[k].Grace {
			end++
		}
		l.guess(l.all[k:end])
		k = end
	}
}

func (l *layout) guess(notes []*note) {
	taken := map[int]int{} // string to pitch
	for _, n := range notes {
		if n.place.String > 0 {
			taken[n.place.String] = n.Midi
		}
	}
	for k := len(notes) - 1; k >= 0; k-- { // Sounding goes from low to high
		n := notes[k]
		if n.place.String > 0 {
			continue
		}
		places := l.in.Places(n.Midi)
		for _, at := range places {
			if midi, ok := taken[at.String]; !ok || midi == n.Midi {
				n.place = at
				break
			}
		}
		if n.place.String == 0 { // out of range, or no string left
			n.place = guitar.Place{String: 1}
			if n.Midi < l.in.Pitch(l.in.Strings(), 0) {
				n.place.String = l.in.Strings()
			} else if len(places) > 0 {
				n.place = places[0]
			}
		}
		taken[n.place.String] = n.Midi
	}
}

// registers gives every note its string in the lowest position, whatever string it is played on.
func (l *layout) registers() {
	kept := make([]guitar.Place, len(l.all))
	for k, n := range l.all {
		kept[k], n.place = n.place, guitar.Place{}
	}
	l.guessPlaces()
	for k, n := range l.all {
		n.low, n.place = n.place.String, kept[k]
	}
}
