package rehearse

import "math/rand/v2"

// inventedBlocks is a row of block and rolled chords, three to six notes each.
func inventedBlocks(name string, rng *rand.Rand) Piece {
	names := []string{"C", "Am", "F", "G", "Em", "D", "Dm", "E", "A", "G7", "E7", "B7", "A7", "D7", "C7", "Bm"}
	beats := 3 + rng.IntN(2)
	p := Piece{Name: name, Title: "Study " + name, Kind: "chordal", Bpm: float64(56 + rng.IntN(40)), Beats: beats, BeatType: 4}
	for bar := 0; bar < 6+rng.IntN(3); bar++ {
		f := frets(shapes[names[rng.IntN(len(names))]])
		for at := 0; at < beats*TicksPerQuarter; {
			ticks := min([]int{48, 48, 96, 24}[rng.IntN(4)], beats*TicksPerQuarter-at)
			var strings []int
			for s := 6; s >= 1; s-- {
				if f[s] >= 0 {
					strings = append(strings, s)
				}
			}
			if n := 3 + rng.IntN(4); n < len(strings) { // a bass and the upper ones, or the lower ones
				if rng.IntN(2) == 0 {
					strings = append(strings[:1], strings[len(strings)-n+1:]...)
				} else {
					strings = strings[:n]
				}
			}
			rolled := rng.IntN(4) == 0
			for _, s := range strings {
				p.Notes = append(p.Notes, Note{At: bar*beats*TicksPerQuarter + at, Ticks: ticks, Midi: openMidi[s] + f[s], Part: 1, Voice: 1, String: s, Rolled: rolled})
			}
			at += ticks
		}
	}
	return p.finish(0)
}

// inventedTremolo is four strokes to an eighth, a bass and three repeated notes above it.
func inventedTremolo(name string, rng *rand.Rand) Piece {
	names := []string{"C", "Am", "F", "Em", "D", "Dm", "E", "A", "E7"}
	chords := make([]string, 4+rng.IntN(2))
	for i := range chords {
		chords[i] = names[rng.IntN(len(names))]
	}
	pattern := []string{"b,1,1,1,4,1,1,1,3,1,1,1", "b,2,2,2,3,2,2,2", "b,1,1,1,3,1,1,1,2,1,1,1,3,1,1,1"}[rng.IntN(3)]
	p := arpeggio(Piece{Name: name, Title: "Tremolo " + name, Bpm: float64(52 + rng.IntN(18)), Beats: 3, BeatType: 4}, 6, pattern, chords...)
	p.Kind = "tremolo"
	return p
}

// inventedPair is a line for two guitars: a round at one or two bars' distance, or a line over a bass.
func inventedPair(name string, rng *rand.Rand) Piece {
	kind := "monophonic"
	if rng.IntN(2) == 0 {
		kind = "two-voice"
	}
	p := invented(name, rng, kind)
	p.Kind = "two-guitars"
	if kind == "two-voice" {
		for i := range p.Notes {
			p.Notes[i].Part, p.Notes[i].String = p.Notes[i].Voice, 0
		}
		return p.finish(0)
	}
	late := (1 + rng.IntN(2)) * p.Bars[0].Ticks
	line := p.Notes
	for _, n := range line {
		n.At, n.Part, n.Voice, n.String = n.At+late, 2, 2, 0
		p.Notes = append(p.Notes, n)
	}
	return p.finish(0)
}

// repeated marks bars of the first half to be played twice, in half of the cases with two endings.
func repeated(p Piece, rng *rand.Rand) Piece {
	to := 2 + rng.IntN(max(1, len(p.Bars)/2-1))
	if to+1 >= len(p.Bars) {
		return p
	}
	e := Ending{From: 0, To: to, First: -1, Second: -1}
	if rng.IntN(2) == 0 {
		e.First, e.Second = to, to+1
	}
	p.Repeats = []Ending{e}
	return p
}
