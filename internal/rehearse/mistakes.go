package rehearse

import "math"

// wrongPitch draws what is played instead of note k of the chord i to j: mostly a step beside, else
// the neighbouring string at the same fret. 0 means none was found. It avoids pitches that sound at
// the same place anyway, which would be no wrong note but a doubled one.
func (pl *player) wrongPitch(k, i, j int) (midi, str int) {
	n := pl.piece.Notes[k]
	for try := 0; try < 12; try++ {
		midi, str = n.Midi, n.String
		switch pl.rng.IntN(10) {
		case 0, 1, 2:
			midi++
		case 3, 4, 5:
			midi--
		case 6:
			midi += 2
		case 7:
			midi -= 2
		default: // the neighbouring string
			str += 2*pl.rng.IntN(2) - 1
			if str < 1 || str > 6 {
				continue
			}
			midi = openMidi[str] + max(0, n.Fret)
		}
		if midi < openMidi[str] {
			if str++; str > 6 {
				continue
			}
		}
		if midi < 40 || midi > 84 || midi == n.Midi {
			continue
		}
		clash := false
		for x, o := range pl.piece.Notes {
			if x == k {
				continue
			}
			near := math.Abs(float64(o.At-n.At)) < 12
			if near && (o.Midi == midi || (o.Part == n.Part && x >= i && x < j && o.String == str)) {
				clash = true
			}
		}
		if !clash {
			return midi, str
		}
	}
	return 0, 0
}

// extra adds a stroke that is not written, near the chord i to j: a string brushed with it or after
// it, a stumble on a neighbouring pitch, or the same pitch struck again.
func (pl *player) extra(i, j int, c clock, leg Leg) {
	rng, notes := pl.rng, pl.piece.Notes
	at := c.seconds(notes[i].At)
	next := c.seconds(leg.ToTick)
	if j < len(notes) && notes[j].At < leg.ToTick {
		next = c.seconds(notes[j].At)
	}
	between := next - at
	n := notes[i+rng.IntN(j-i)]
	pk := Pluck{Db: pl.manner.LevelDb - 2 - 6*rng.Float64(), Part: n.Part}
	switch kind := rng.IntN(4); {
	case kind == 0 && between > 0.3: // struck again
		pk.OnsetS, pk.Midi, pk.String = at+between*(0.4+0.25*rng.Float64()), float64(n.Midi), n.String
	case kind == 1 && between > 0.24: // a stumble beside
		step := []float64{-2, -1, 1, 2}[rng.IntN(4)]
		pk.OnsetS, pk.Midi, pk.String = at+between*(0.45+0.25*rng.Float64()), float64(n.Midi)+step, n.String
		if int(pk.Midi) < openMidi[n.String] {
			return
		}
	default: // an open string brushed
		s := min(6, max(1, n.String+2*rng.IntN(2)-1))
		pk.OnsetS, pk.Midi, pk.String = at+0.012+0.02*rng.Float64(), float64(openMidi[s]), s
		if between > 0.3 && rng.IntN(2) == 0 {
			pk.OnsetS = at + between*(0.35+0.3*rng.Float64())
		}
		for k := i; k < j; k++ {
			if notes[k].String == s {
				return
			}
		}
	}
	for k := range notes { // not where the same pitch is due, nor on a string about to be played
		t := c.seconds(notes[k].At)
		if notes[k].At < leg.FromTick || notes[k].At >= leg.ToTick {
			continue
		}
		if math.Abs(t-pk.OnsetS) < 0.13 && float64(notes[k].Midi) == pk.Midi {
			return
		}
		if notes[k].Part == pk.Part && notes[k].String == pk.String && math.Abs(t-pk.OnsetS) < 0.08 {
			return
		}
	}
	if pk.OnsetS > next-0.05 && next > at+0.1 {
		return
	}
	pk.OffsetS = pk.OnsetS + 0.1 + 0.6*rng.Float64()
	pl.add(pk, TrueNote{Pass: pl.pass, Midi: int(pk.Midi), Kind: "extra"})
}
