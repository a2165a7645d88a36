package rehearse

import (
	"math"
	"math/rand/v2"
	"sort"
)

// free is one note played without a score; the score is made from it afterwards, on a grid of
// sixteenths, as people write down what was played. Edits of that score then make "mistakes".
type free struct {
	pluck Pluck
	tick  int // nearest sixteenth
	kind  string
}

// improviser plays freely at a tempo that moves a little.
type improviser struct {
	rng   *rand.Rand
	bpm   float64
	beats []float64 // seconds of each quarter
	notes []free
	ghost []Pluck
}

func newImproviser(rng *rand.Rand, bpm float64, quartersLong int) *improviser {
	im := &improviser{rng: rng, bpm: bpm}
	t, drift := 0.5+0.8*rng.Float64(), 0.0
	for i := 0; i <= quartersLong+1; i++ {
		im.beats = append(im.beats, t)
		drift = 0.9*drift + 0.008*rng.NormFloat64()
		t += 60 / bpm * math.Exp(drift)
	}
	return im
}

// at is the second of a place in quarters.
func (im *improviser) at(q float64) float64 {
	i := min(max(int(q), 0), len(im.beats)-2)
	return im.beats[i] + (q-float64(i))*(im.beats[i+1]-im.beats[i])
}

// nearestTick is the sixteenth nearest to a second: what a hand that writes down hears.
func (im *improviser) nearestTick(s float64) int {
	i := max(0, sort.SearchFloat64s(im.beats, s)-1)
	i = min(i, len(im.beats)-2)
	q := float64(i) + (s-im.beats[i])/(im.beats[i+1]-im.beats[i])
	return max(0, int(math.Round(q*4))) * 12
}

func (im *improviser) play(tick int, pk Pluck) {
	for _, o := range im.notes { // one note head for one place and pitch
		if o.tick == tick && o.pluck.Midi == pk.Midi {
			return
		}
		if o.pluck.String == pk.String && math.Abs(o.pluck.OnsetS-pk.OnsetS) < 0.035 {
			return
		}
	}
	im.notes = append(im.notes, free{pluck: pk, tick: tick, kind: "correct"})
}

// solo is a lead line: swung or straight, slurs, slides, bends, ghosts, double stops.
func (im *improviser) solo(bars int) {
	rng := im.rng
	scale := [][]int{{0, 3, 5, 7, 10}, {0, 2, 4, 7, 9}, {0, 2, 3, 5, 7, 9, 10}, {0, 3, 5, 6, 7, 10}}[rng.IntN(4)]
	root := 52 + rng.IntN(10)
	swing := []float64{0.5, 0.5, 0.58, 0.64}[rng.IntN(4)]
	pitch := func(d int) int {
		o := 0
		for d < 0 {
			d, o = d+len(scale), o-1
		}
		return root + scale[d%len(scale)] + 12*(d/len(scale)+o)
	}
	degree, lastString, lastMidi, lastOnset := rng.IntN(6), 0, 0, -9.0
	for q := 0.0; q < float64(4*bars); {
		step := []float64{0.5, 0.5, 0.5, 0.25, 0.25, 1, 1, 0.5, 2}[rng.IntN(9)]
		if step == 0.25 && math.Mod(q, 0.5) != 0 {
			step = 0.25
		}
		if rng.IntN(7) == 0 {
			q += step
			continue
		}
		degree += []int{-1, 1, -1, 1, 2, -2, 0, 3, -3}[rng.IntN(9)]
		for pitch(degree) > 81 {
			degree -= 3
		}
		for pitch(degree) < 45 {
			degree += 3
		}
		place := q
		if f := q - math.Floor(q); f == 0.5 {
			place = math.Floor(q) + swing
		}
		onset := im.at(place) + 0.012*clamp(rng.NormFloat64(), 2.5)
		midi := pitch(degree)
		pk := Pluck{OnsetS: onset, Midi: float64(midi), Part: 1, Db: 5 * clamp(rng.NormFloat64(), 2), String: nearString(midi, lastString)}
		pk.OffsetS = im.at(place+step*(0.6+0.4*rng.Float64())) - 0.01
		pk.OffsetS = math.Max(pk.OffsetS, onset+0.06)
		close := onset-lastOnset < 0.6 && pk.String == lastString && midi != lastMidi && abs(midi-lastMidi) <= 3
		switch r := rng.IntN(12); {
		case close && r < 4:
			pk.Soft = true
		case close && r == 4:
			pk.GlideFrom, pk.GlideS = float64(lastMidi), 0.05+0.07*rng.Float64()
			pk.Soft = true
		case r == 5 && step >= 0.5: // bent up to pitch from a semitone below or less
			pk.GlideFrom, pk.GlideS = float64(midi)-0.3-0.6*rng.Float64(), 0.06+0.08*rng.Float64()
		case r == 6:
			pk.Db -= 9
			pk.Muted = rng.IntN(2) == 0
		case r == 7 && step >= 1:
			pk.VibratoCents = 12 + 20*rng.Float64()
		}
		if !pk.Soft && midi > 42 && rng.IntN(11) == 0 { // an ornament from just below, too quick for the grid
			grace := pk
			grace.Midi, grace.OnsetS, grace.Db = float64(midi-1-rng.IntN(2)), onset-0.055-0.05*rng.Float64(), pk.Db-3
			if int(grace.Midi) >= openMidi[pk.String] && grace.OnsetS-lastOnset > 0.08 {
				grace.OffsetS = onset
				im.play(im.nearestTick(grace.OnsetS), grace)
				pk.Soft = true
			}
		}
		tick := im.nearestTick(onset)
		im.play(tick, pk)
		if rng.IntN(9) == 0 && !pk.Soft { // a double stop
			second := pk
			second.Midi = float64(pitch(degree + 2))
			second.String = pk.String - 1
			if second.String >= 1 && int(second.Midi) >= openMidi[second.String] && second.Midi <= 83 {
				second.OnsetS += 0.004 + 0.014*rng.Float64()
				im.play(tick, second)
			}
		}
		if rng.IntN(14) == 0 {
			im.ghost = append(im.ghost, Pluck{OnsetS: im.at(place + step/2), Db: -3 * rng.Float64(), String: 3, Part: 1, Ghost: true})
		}
		lastString, lastMidi, lastOnset = pk.String, midi, onset
		q += step
	}
}

func abs(a int) int {
	if a < 0 {
		return -a
	}
	return a
}

// nearString keeps to the string of the note before where a hand could, else takes a low fret.
func nearString(midi, last int) int {
	if last > 0 {
		if f := midi - openMidi[last]; f >= 0 && f <= 12 {
			return last
		}
	}
	for s := 1; s <= 6; s++ {
		if f := midi - openMidi[s]; f >= 0 && (f <= 7 || s == 1) {
			return s
		}
	}
	return 6
}

// strums is an accompaniment: down- and up-strokes over chords, some strings hardly touched.
func (im *improviser) strums(bars int) {
	rng := im.rng
	names := []string{"C", "Am", "F", "G", "Em", "D", "Dm", "E", "A", "G7", "E7", "B7", "A7", "D7", "Bm"}
	rhythm := []string{"D---D-U-D-UDD-U-", "D--DD-U--U-DD-UD", "D-DUD-DUD-DUD-DU", "D-----D---D-U-D-"}[rng.IntN(4)]
	var touch [7]float64 // how loud each string is in this hand
	for s := range touch {
		touch[s] = -4 * math.Abs(rng.NormFloat64())
	}
	for bar := 0; bar < bars; bar++ {
		f := frets(shapes[names[rng.IntN(len(names))]])
		for i := 0; i < 16; i++ {
			if rhythm[i] == '-' || rng.IntN(14) == 0 {
				continue
			}
			q := float64(4*bar) + float64(i)/4
			onset := im.at(q) + 0.01*clamp(rng.NormFloat64(), 2)
			if rng.IntN(9) == 0 {
				im.ghost = append(im.ghost, Pluck{OnsetS: onset, Db: 2, String: 3, Part: 1, Ghost: true})
				continue
			}
			strings := []int{6, 5, 4, 3, 2, 1}
			if rhythm[i] == 'U' {
				strings = []int{1, 2, 3, 4, 5, 6}[:3+rng.IntN(3)]
			} else if rng.IntN(3) == 0 {
				strings = strings[rng.IntN(3) : 4+rng.IntN(3)]
			}
			spread := 0.005 + 0.025*rng.Float64()
			hard := 3 * clamp(rng.NormFloat64(), 2)
			if i%8 == 0 {
				hard += 2
			}
			played := 0
			for _, s := range strings {
				if f[s] < 0 {
					continue
				}
				pk := Pluck{OnsetS: onset + spread*float64(played)/5 + 0.001*rng.NormFloat64(), Midi: float64(openMidi[s] + f[s]), String: s, Part: 1}
				pk.Db = hard + touch[s] + 3*clamp(rng.NormFloat64(), 2)
				if rng.IntN(8) == 0 {
					pk.Db -= 8 + 6*rng.Float64()
				}
				pk.OffsetS = im.at(float64(4 * (bar + 1)))
				if rng.IntN(5) == 0 {
					pk.OffsetS = im.at(q + 0.4)
				}
				pk.OffsetS = math.Max(pk.OffsetS, pk.OnsetS+0.06)
				im.play(im.nearestTick(pk.OnsetS), pk)
				played++
			}
		}
	}
}

// scale runs up and down, with the little unevenness of a trained hand.
func (im *improviser) scale(bars int) {
	rng := im.rng
	modes := [][]int{{0, 2, 4, 5, 7, 9, 11}, {0, 2, 3, 5, 7, 8, 10}, {0, 1, 2, 3, 4, 5, 6, 7, 8, 9, 10, 11}}
	mode := modes[rng.IntN(3)]
	root, step := 40+rng.IntN(8), []float64{0.25, 0.5, 0.5}[rng.IntN(3)]
	degree, dir := 0, 1
	for q := 0.0; q < float64(4*bars); q += step {
		midi := root + mode[degree%len(mode)] + 12*(degree/len(mode))
		onset := im.at(q) + 0.009*clamp(rng.NormFloat64(), 2)
		pk := Pluck{OnsetS: onset, Midi: float64(midi), Db: 2 * clamp(rng.NormFloat64(), 2), String: nearString(midi, 0), Part: 1,
			OffsetS: im.at(q + step*(0.85+0.15*rng.Float64()))}
		im.play(im.nearestTick(onset), pk)
		if midi+2 > root+26 && dir > 0 {
			dir = -1
		}
		if degree == 0 {
			dir = 1
		}
		degree += dir
	}
}

// writeDown makes the score from the playing and then edits it: a share of the notes is written at
// another pitch (so the playing is wrong), left out (extra), or written though nobody played (missed).
func (im *improviser) writeDown(p Piece, edits float64) (Piece, Performance) {
	rng := im.rng
	var perf Performance
	sort.SliceStable(im.notes, func(i, j int) bool { return im.notes[i].pluck.OnsetS < im.notes[j].pluck.OnsetS })
	type head struct {
		note Note
		from int // index of the played note, -1 nobody
	}
	var heads []head
	has := map[[2]int]bool{}
	for _, n := range im.notes {
		has[[2]int{n.tick, int(n.pluck.Midi)}] = true
	}
	for i := range im.notes {
		n := &im.notes[i]
		midi := int(n.pluck.Midi)
		if r := rng.Float64(); r < edits/3 && i > 2 {
			n.kind = "extra"
			continue
		} else if r < 2*edits/3 {
			if w := midi + []int{-2, -1, 1, 2}[rng.IntN(4)]; w >= 40 && !has[[2]int{n.tick, w}] {
				n.kind, midi = "wrong", w
				has[[2]int{n.tick, w}] = true
			}
		} else if r < edits && i > 2 {
			w := midi + []int{-5, -4, -3, 3, 4, 5, 7}[rng.IntN(7)]
			if w >= 40 && w <= 82 && !has[[2]int{n.tick, w}] {
				has[[2]int{n.tick, w}] = true
				heads = append(heads, head{Note{At: n.tick, Midi: w, Part: 1, Voice: 1}, -1})
			}
		}
		heads = append(heads, head{Note{At: n.tick, Midi: midi, Part: 1, Voice: 1, String: n.pluck.String}, i})
	}
	sort.SliceStable(heads, func(i, j int) bool {
		if heads[i].note.At != heads[j].note.At {
			return heads[i].note.At < heads[j].note.At
		}
		return heads[i].note.Midi < heads[j].note.Midi
	})
	next := 0
	for i := range heads { // a head lasts to the next one, at most to the bar line
		for next = i; next < len(heads) && heads[next].note.At == heads[i].note.At; next++ {
		}
		bar := (heads[i].note.At/192 + 1) * 192
		end := bar
		if next < len(heads) {
			end = min(bar, heads[next].note.At)
		}
		heads[i].note.Ticks = end - heads[i].note.At
		if from := heads[i].from; from >= 0 && im.notes[from].kind == "wrong" {
			heads[i].note.String = 0
		}
		p.Notes = append(p.Notes, heads[i].note)
	}
	p.Bpm, p.Beats, p.BeatType = math.Round(im.bpm), 4, 4
	for i := range p.Notes { // the score shows no strings: whoever wrote it down did not know them
		p.Notes[i].String = 0
	}
	p = p.finish(0)
	index := map[int]int{}
	for i, h := range heads {
		if h.from < 0 {
			perf.Missed = append(perf.Missed, TrueMiss{i, 0, im.at(quarters(h.note.At))})
		} else {
			index[h.from] = i
		}
	}
	for i, n := range im.notes {
		t := TrueNote{OnsetS: n.pluck.OnsetS, OffsetS: n.pluck.OffsetS, Midi: int(n.pluck.Midi), Kind: n.kind, String: n.pluck.String, Part: 1,
			Velocity: min(127, max(10, int(84+2.2*n.pluck.Db)))}
		if at, ok := index[i]; ok {
			t.Score = &at
		}
		pk := n.pluck
		pk.note = i
		perf.Plucks, perf.Notes = append(perf.Plucks, pk), append(perf.Notes, t)
	}
	for _, g := range im.ghost {
		g.note = -1
		perf.Plucks = append(perf.Plucks, g)
	}
	pl := player{out: perf}
	for i, b := range im.beats[:len(im.beats)-2] {
		pl.out.Beats = append(pl.out.Beats, [3]float64{float64(i), 0, b})
		pl.ibi = append(pl.ibi, im.beats[i+1]-b)
	}
	pl.settle()
	pl.out.EndS = im.beats[len(im.beats)-2]
	return p, pl.out
}
