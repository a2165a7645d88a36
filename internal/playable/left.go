package playable

import (
	"slices"

	"antiphon/internal/guitar"
)

// weakBarre is how many strings fingers 2 to 4 can lie across. Common practice, no source.
const weakBarre = 3

// places checks each note alone: that there is such a place, that it gives the pitch, and that finger
// and fret agree.
func (sh *sheet) places() {
	for _, m := range sh.marks {
		one := []*mark{m}
		switch {
		case m.place.String == 0 || m.odd && m.place.Fret < 0:
			sh.add(NotMarked, Unmarked, 0, "", one, "%s has no string and fret", m.Name)
		case m.place.Fret < 0 || sh.in.Pitch(m.place.String, m.place.Fret) == 0:
			sh.add(NoPlace, Impossible, 0, "", one, "%s is marked on string %d, which does not have it", m.Name, m.place.String)
			m.placed = false
		case !m.odd && sh.in.Pitch(m.place.String, m.place.Fret) != m.Midi:
			sh.add(WrongFret, Impossible, 0, "", one, "%s gives another pitch than %s", where(m.place), m.Name)
		case m.finger > 0 && m.place.Fret == 0:
			sh.add(OpenFinger, Impossible, 0, "", one, "%s is marked %s, but also with finger %d", m.Name, where(m.place), m.finger)
		case m.finger == 0 && m.place.Fret > 0 && !m.odd:
			sh.add(OpenFinger, Impossible, 0, "", one, "%s is marked %s, but also 0 for an open string", m.Name, where(m.place))
		case m.finger < 0 && m.place.Fret > 0:
			sh.add(NotMarked, Unmarked, 0, "", one, "%s has no finger", m.Name)
		}
	}
}

// crowds cuts moments with far more notes than strings, which need not be looked at pair by pair.
func (sh *sheet) crowds() {
	most := 2 * sh.in.Strings() // each string may be written in two voices
	for k := range sh.slices {
		if sl := &sh.slices[k]; len(sl.notes) > most {
			sh.add(TwoOnString, Impossible, float64(len(sl.notes)), "notes", sl.notes[:1], "%d notes are to start at once on %d strings", len(sl.notes), sh.in.Strings())
			sl.notes = sl.notes[:most]
		}
	}
}

// clash is why two notes cannot be held at the same time.
type clash struct {
	kind Kind
	size float64 // mm, of a reach
	most float64
}

// between compares two notes that are to be held at the same time; the zero clash means that they can.
func (sh *sheet) between(a, b *mark) clash {
	switch {
	case !a.placed || !b.placed:
		return clash{}
	case a.place.String == b.place.String:
		if a.place == b.place && a.Midi == b.Midi {
			return clash{} // two voices meet on one note
		}
		return clash{kind: TwoOnString}
	case !a.fretted() || !b.fretted():
		return clash{}
	case a.finger == b.finger:
		if a.place.Fret != b.place.Fret {
			return clash{kind: FingerTwice}
		}
		if a.finger > 1 && abs(a.place.String-b.place.String)+1 > weakBarre {
			return clash{kind: LongBarre}
		}
		return clash{} // a barre, looked at by itself
	}
	if (a.finger < b.finger) != (a.place.Fret <= b.place.Fret) && a.place.Fret != b.place.Fret {
		return clash{kind: OutOfOrder}
	}
	mm := sh.in.TipsMm(a.place, b.place)
	if most, _ := sh.hand.Reach(a.finger, b.finger); mm > most {
		return clash{OutOfReach, mm, most}
	}
	return clash{}
}

// barre is one finger across several strings.
type barre struct {
	finger, fret int
	low, high    int // string numbers, low < high
	notes        []*mark
}

func barres(notes []*mark) []barre {
	var out []barre
	for _, m := range notes {
		if !m.fretted() {
			continue
		}
		i := slices.IndexFunc(out, func(b barre) bool { return b.finger == m.finger && b.fret == m.place.Fret })
		if i < 0 {
			out = append(out, barre{m.finger, m.place.Fret, m.place.String, m.place.String, nil})
			i = len(out) - 1
		}
		b := &out[i]
		b.low, b.high = min(b.low, m.place.String), max(b.high, m.place.String)
		b.notes = append(b.notes, m)
	}
	return slices.DeleteFunc(out, func(b barre) bool { return b.low == b.high })
}

// stops reports whether the barre lies over a place that must sound at a lower fret.
func (b barre) stops(p guitar.Place) bool {
	return p.String > b.low && p.String < b.high && p.Fret < b.fret
}

// grips checks the notes that start at the same moment.
func (sh *sheet) grips() {
	for _, sl := range sh.slices {
		for i, a := range sl.notes {
			for _, b := range sl.notes[i+1:] {
				two := []*mark{a, b}
				switch c := sh.between(a, b); c.kind {
				case TwoOnString:
					sh.add(c.kind, Impossible, 0, "", two, "%s and %s are both on string %d", a.Name, b.Name, a.place.String)
				case FingerTwice:
					sh.add(c.kind, Impossible, 0, "", two, "finger %d is wanted on %s and on %s at once", a.finger, where(a.place), where(b.place))
				case OutOfOrder:
					sh.add(c.kind, Impossible, 0, "", two, "finger %d on %s and finger %d on %s would have to cross", a.finger, where(a.place), b.finger, where(b.place))
				case OutOfReach:
					sh.add(c.kind, Impossible, c.size, "mm", two, "fingers %d and %d would have to reach %.0f mm; this hand reaches %.0f", a.finger, b.finger, c.size, c.most)
				}
			}
		}
		for _, b := range barres(sl.notes) {
			if b.finger > 1 && b.high-b.low+1 > weakBarre {
				sh.add(LongBarre, Impossible, float64(b.high-b.low+1), "strings", b.notes, "finger %d cannot lie across %d strings", b.finger, b.high-b.low+1)
			}
			for _, m := range sl.notes {
				if b.finger == 1 && b.high-b.low >= 2 && m.placed && m.place.Fret < b.fret && m.place.String < b.low {
					sh.add(BarreStops, Warning, 0, "", []*mark{m, b.notes[0]}, "the barre at fret %d must arch over %s", b.fret, where(m.place))
				}
				if m.placed && b.stops(m.place) {
					sh.add(BarreStops, Impossible, 0, "", []*mark{m, b.notes[0]}, "the barre of finger %d at fret %d stops %s", b.finger, b.fret, where(m.place))
				}
			}
		}
	}
}
