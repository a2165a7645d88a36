package sound

import (
	"cmp"
	"math"
	"slices"

	"antiphon/internal/music"
)

// player plays the route from where the k-th player enters.
func (w *writer) player(k int, c *clock, start int, end music.Beats) {
	enter := w.r.entry(k, w.opt.EnterAfter)
	if w.p.looped {
		enter = modulo(enter, w.r.length)
	}
	for _, t := range w.takes {
		if !w.heard[t.sound] {
			continue
		}
		n, touch := &w.sounds[t.sound], &w.touches[t.sound]
		at, ends := c.seconds(t.at.Add(enter)), c.seconds(t.ends.Add(enter))
		if w.p.looped {
			at = c.seconds(modulo(t.at.Add(enter), w.r.length))
			ends = at + lasting(t, enter, w.r.length, c)
		}
		part := w.parts[n.Part]
		st := stroke{player: k, part: part, note: n.ID, gainDb: touch.db, tone: w.tone(n, touch), soften: touch.slurred}
		switch {
		case n.Grace:
			g := w.graceS(t, c)
			at -= float64(touch.grace) * g
			ends = at + g
		case touch.tremolo.Q() > 0 && touch.tremolo.Less(t.ends.Sub(t.at)):
			each := touch.tremolo
			for o := (music.Beats{}); o.Less(t.ends.Sub(t.at)); o = o.Add(each) {
				step := c.seconds(t.at.Add(enter).Add(o)) - c.seconds(t.at.Add(enter))
				next := c.seconds(t.at.Add(enter).Add(o.Add(each))) - c.seconds(t.at.Add(enter))
				one := st
				one.at, one.until = start+samples(at+step), start+samples(min(at+next, ends))
				w.p.strokes = append(w.p.strokes, one)
			}
			continue
		}
		late := touch.rollS(ends - at)
		st.at = start + samples(at+late)
		length := (ends - at) * touch.length
		if touch.rings {
			length = max(length, ringsS)
		}
		if far := touch.ringTo; !far.IsZero() {
			length = max(length, c.seconds(t.at.Add(enter).Add(far))-c.seconds(t.at.Add(enter)))
		}
		st.until = max(start+samples(at+length), st.at+samples(quickestS))
		st.last = !w.p.looped && !t.ends.Add(enter).Less(end) && touch.length == 1
		w.p.strokes = append(w.p.strokes, st)
	}
}

// ringsS is how long a note rings that is to ring on, unless its string is needed before.
const ringsS = 4.0

func (w *writer) tone(n *music.Sounding, t *touch) tone {
	mm := t.bridgeMm
	if mm == 0 {
		mm = w.opt.BridgeMm
	}
	if mm == 0 {
		mm = overHoleMm
	}
	return tone{midi: n.Midi, str: t.str, fret: t.fret, bridgeMm: int(math.Round(mm)), rest: t.rest, harmonic: t.harmonic, slurred: t.slurred}
}

func modulo(b, length music.Beats) music.Beats {
	for !b.Less(length) {
		b = b.Sub(length)
	}
	return b
}

// lasting is how long a note of a loop sounds, also where it goes over the end.
func lasting(t take, enter, length music.Beats, c *clock) float64 {
	at := modulo(t.at.Add(enter), length)
	ends := at.Add(t.ends.Sub(t.at))
	if !length.Less(ends) {
		return c.seconds(ends) - c.seconds(at)
	}
	return c.seconds(length) - c.seconds(at) + c.seconds(ends.Sub(length))
}

// wrapInto moves what begins before a loop to its end.
func wrapInto(strokes []stroke, lengthN int) {
	for i := range strokes {
		if st := &strokes[i]; st.at < 0 {
			st.at, st.until = st.at+lengthN, st.until+lengthN
		}
	}
}

// cutShort ends each note where its string is struck again, or the same pitch of the same player
// where no string is known.
func cutShort(strokes []stroke, lengthN int, looped bool) {
	slices.SortStableFunc(strokes, func(a, b stroke) int {
		return cmp.Or(cmp.Compare(a.at, b.at), cmp.Compare(a.player, b.player), cmp.Compare(a.part, b.part))
	})
	type place struct{ player, part, str, midi int }
	of := func(st *stroke) place {
		if st.tone.str > 0 {
			return place{st.player, st.part, st.tone.str, 0}
		}
		return place{st.player, st.part, 0, st.tone.midi}
	}
	last, first := map[place]*stroke{}, map[place]*stroke{}
	for i := range strokes {
		st := &strokes[i]
		p := of(st)
		// Two notes at once on one string are a mistake in the score: both are heard.
		if b := last[p]; b != nil && b.until >= st.at && st.at-b.at >= samples(quickestS) {
			b.until, b.cut = st.at, true
		}
		last[p] = st
		if first[p] == nil {
			first[p] = st
		}
	}
	if !looped {
		return
	}
	for p, st := range last {
		if next := first[p].at + lengthN; st.until >= next {
			st.until, st.cut = next, true
		}
	}
}
