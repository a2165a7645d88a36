package engrave

import (
	"slices"

	"antiphon/internal/music"
)

// A score with a fingering that was worked out says finger, string and fret of nearly every note, but
// prints no position and no barre. A player wants both at a glance, so they are read off the fingering.
// Where an editor has printed some, they are all that is printed.

const (
	workedOut = 0.8 // share of the notes with string, fret and finger from which on a fingering counts as worked out
	lowest    = 3   // first position that is worth a numeral; below it hands move about among open strings
	fullBarre = 5   // strings from which on a barre is a whole one. Common practice, no source
)

// stopped is a note that the left hand stops.
type stopped struct {
	at, end   music.Beats
	bar       int
	str, fret int
	finger    int
}

// leftSigns gives the positions and barres of each part that needs them.
func leftSigns(s *music.Score, printed []sign) (out []sign) {
	byEditor := map[int]bool{}
	for i := range printed {
		if k := printed[i].kind; k == positionSign || k == barreSign {
			byEditor[printed[i].part] = true
		}
	}
	index := map[string]int{}
	for i := range s.Parts {
		index[s.Parts[i].ID] = i
	}
	notes := make([][]stopped, len(s.Parts))
	all := make([]int, len(s.Parts))
	known := make([]int, len(s.Parts))
	for _, n := range s.Sounding() {
		i := index[n.Part]
		all[i]++
		if n.String == 0 || n.Fret < 0 || len(n.Finger) != 1 {
			continue
		}
		known[i]++
		if f := int(n.Finger[0] - '0'); f > 0 && n.Fret > 0 && !n.Grace {
			notes[i] = append(notes[i], stopped{at: n.Onset, end: n.Onset.Add(n.Duration), bar: n.BarIndex, str: n.String, fret: n.Fret, finger: f})
		}
	}
	for i := range s.Parts {
		if byEditor[i] || all[i] == 0 || float64(known[i]) < workedOut*float64(all[i]) {
			continue
		}
		barres := barresOf(s, notes[i])
		for _, g := range append(positionsOf(notes[i], barres), barres...) {
			g.part, g.above = i, true
			out = append(out, g)
		}
	}
	return out
}

// strikes cuts notes in order of time into those that begin together.
func strikes(notes []stopped) (out [][]stopped) {
	for i := 0; i < len(notes); {
		j := i + 1
		for j < len(notes) && notes[j].at.Cmp(notes[i].at) == 0 {
			j++
		}
		out = append(out, notes[i:j])
		i = j
	}
	return out
}

// barresOf finds the first finger across several strings, and how long it lies there.
func barresOf(s *music.Score, notes []stopped) (out []sign) {
	var held []stopped // by the first finger
	type lying struct {
		from, end music.Beats
		bar, fret int
		low, high int
	}
	var now *lying
	finish := func() {
		if now == nil {
			return
		}
		text := "C" + roman(now.fret)
		if now.high-now.low+1 < fullBarre {
			text = "½" + text
		}
		end := now.end
		out = append(out, sign{kind: barreSign, text: text, bar: now.bar, at: now.from, end: &end, endBar: max(s.BarAt(end), now.bar)})
		now = nil
	}
	for _, strike := range strikes(notes) {
		at := strike[0].at
		held = slices.DeleteFunc(held, func(n stopped) bool { return !at.Less(n.end) })
		fresh := false
		for _, n := range strike {
			if n.finger == 1 {
				held, fresh = append(held, n), true
			}
		}
		if !fresh {
			continue
		}
		fret := strike[slices.IndexFunc(strike, func(n stopped) bool { return n.finger == 1 })].fret
		low, high, end := 0, 0, at
		begin := at
		bar := strike[0].bar
		for _, n := range held {
			if n.fret != fret {
				continue
			}
			if low == 0 || n.str < low {
				low = n.str
			}
			high = max(high, n.str)
			if end.Less(n.end) {
				end = n.end
			}
			if n.at.Less(begin) {
				begin, bar = n.at, n.bar
			}
		}
		switch {
		case now != nil && now.fret == fret && !now.end.Less(at):
			now.low, now.high = min(now.low, low), max(now.high, high)
			if now.end.Less(end) {
				now.end = end
			}
		case low != high:
			finish()
			now = &lying{from: begin, end: end, bar: bar, fret: fret, low: low, high: high}
		default:
			if now != nil && at.Less(now.end) { // the finger goes elsewhere
				now.end = at
			}
			finish()
		}
	}
	finish()
	return out
}

// positionsOf gives a numeral where the hand goes to another position: where the first finger shows it,
// or two strikes in a row agree.
func positionsOf(notes []stopped, barres []sign) (out []sign) {
	list := strikes(notes)
	where := func(strike []stopped) (position int, sure bool) {
		position = strike[0].fret - strike[0].finger + 1
		for _, n := range strike {
			if n.finger == 1 {
				return n.fret, true
			}
			position = min(position, n.fret-n.finger+1)
		}
		return max(position, 1), false
	}
	now, shown := 1, 1
	for i, strike := range list {
		p, sure := where(strike)
		if p == now {
			continue
		}
		if !sure {
			if i+1 == len(list) {
				continue
			}
			if next, _ := where(list[i+1]); next != p {
				continue // a stretch
			}
		}
		now = p
		if p < lowest && shown < lowest {
			shown = p
			continue
		}
		shown = p
		if slices.ContainsFunc(barres, func(b sign) bool { return b.at.Cmp(strike[0].at) == 0 }) {
			continue // the barre says it
		}
		out = append(out, sign{kind: positionSign, text: roman(p), bar: strike[0].bar, at: strike[0].at})
	}
	return out
}
