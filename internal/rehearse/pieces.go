package rehearse

import (
	"fmt"
	"math/rand/v2"
)

// The pieces are our own: scales, studies and small dances made for this test, and two rounds on
// plain scales. Nothing here is anybody's work.

// written are the pieces that are spelled out; each exists for one difficulty.
func written() ([]Piece, error) {
	one := func(text string) []voiceText { return []voiceText{{1, text}} }
	two := func(a, b string) []voiceText { return []voiceText{{1, a}, {1, b}} }
	round := func(a, b string) []voiceText { return []voiceText{{1, a}, {2, b}} }
	specs := []struct {
		piece  Piece
		pickup int
		voices []voiceText
	}{
		{Piece{Name: "lane", Title: "Down the Lane", Kind: "monophonic", Bpm: 92, Beats: 4, BeatType: 4}, 0, one(
			`C4:4 D4 E4 G4 | A4:6 G4:2 E4:4 C4 | D4:2 E4 F4 D4 E4:4 C4 | D4:8 G3 | E4:4 E4 F4 G4 | A4:2 B4 C5:4 B4:2 A4 G4:4 | F4:2 E4 D4 F4 E4 D4 C4 B3 | C4:16 |`)},
		{Piece{Name: "ascent", Title: "Scale in G over two octaves", Kind: "monophonic", Bpm: 100, Beats: 4, BeatType: 4, Fifths: 1}, 0, one(
			`G2:2 A2 B2 C3 D3 E3 F#3 G3 | A3 B3 C4 D4 E4 F#4 G4 A4 | B4 A4 G4 F#4 E4 D4 C4 B3 | A3 G3 F#3 E3 D3 C3 B2 A2 | G2:4 D3 G3 B3 | D4 G4 B4 G4 | D4 B3 G3 D3 | G2:16 |`)},
		{Piece{Name: "chroma", Title: "Chromatic study", Kind: "monophonic", Bpm: 80, Beats: 4, BeatType: 4, Transposed: true}, 0, one(
			`E2:2 F2 F#2 G2 G#2 A2 A#2 B2 | C3 C#3 D3 D#3 E3 F3 F#3 G3 | G#3 A3 A#3 B3 C4 C#4 D4 D#4 | E4 F4 F#4 G4 G#4 A4 A#4 B4 | C5 B4 A#4 A4 G#4 G4 F#4 F4 | E4 D#4 D4 C#4 C4 B3 A#3 A3 | G#3 G3 F#3 F3 E3 D#3 D3 C#3 | C3 B2 A#2 A2 G#2 G2 F#2 F2 | E2:16 |`)},
		{Piece{Name: "mill", Title: "The Mill (sixteenths)", Kind: "monophonic", Bpm: 112, Beats: 4, BeatType: 4}, 0, one(
			`A3:1 B3 C4 D4 E4 D4 C4 B3 A3 C4 E4 C4 A3:4 | D4:1 E4 F4 G4 A4 G4 F4 E4 D4 F4 A4 F4 D4:4 | E4:1 F#4 G#4 A4 B4 A4 G#4 F#4 E4 G#4 B4 G#4 E4:4 | A4:1 G4 F4 E4 D4 C4 B3 A3 G#3 A3 B3 G#3 A3:4 | C5:2 B4:1 A4 B4:2 A4:1 G4 A4:2 G4:1 F4 G4:2 F4:1 E4 | D4 E4 F4 D4 B3 C4 D4 B3 G#3 A3 B3 G#3 E3:4 | A3:1 E4 A3 E4 B3 E4 B3 E4 C4 E4 C4 E4 D4 E4 D4 E4 | C4 B3 A3 G#3 A3:2 E3 A2:8 |`)},
		{Piece{Name: "jig", Title: "Tinker's Jig", Kind: "monophonic", Bpm: 126, Beats: 6, BeatType: 8, Fifths: 1, Repeats: []Ending{{1, 4, -1, -1}}}, 2, one(
			`D4:2 | G4:2 F#4 G4 B4 A4 G4 | A4:4 F#4:2 D4:6 | E4:2 F#4 G4 A4 G4 E4 | D4:6 D4:4 D4:2 | B4:2 A4 B4 G4 A4 B4 | C5 B4 A4 B4:4 G4:2 | A4:2 G4 F#4 E4 F#4 D4 | G4:6 G4:6 |`)},
		{Piece{Name: "tied", Title: "Held over", Kind: "monophonic", Bpm: 84, Beats: 3, BeatType: 4, Fifths: -1}, 0, one(
			`F4:6 A4:2 G4:4 | F4:4 D4:8 | Bb3:4 D4 F4 | E4:t D4 C4 D4:8 | A3:2 D4 F4 E4 D4 C#4 | D4:12 | G4:3 F4:1 E4:4 C4 | F4:12 |`)},
		{Piece{Name: "duo", Title: "Two walkers", Kind: "two-voice", Bpm: 88, Beats: 4, BeatType: 4, Repeats: []Ending{{0, 3, -1, -1}}}, 0, two(

			`E4:4 G4 F4 E4 | D4:6 E4:2 F4:4 D4 | C4:2 D4 E4 C4 D4:4 B3 | C4:8 r | G4:4 A4 G4 E4 | F4:2 G4 A4 F4 G4:4 E4 | D4:2 E4 F4 D4 E4 D4 C4 B3 | C4:16 |`,
			`C3:8 A2 | B2 G2 | A2:4 F2 G2 G3 | C3:4 G2 C3 r | C3:8 E3 | F3 C3 | G2:4 B2 G2 G2 | C3:8 C3 |`)},
		{Piece{Name: "minuet", Title: "A small minuet", Kind: "two-voice", Bpm: 108, Beats: 3, BeatType: 4, Fifths: 2, Repeats: []Ending{{0, 7, 7, 8}}}, 0, two(

			`D4:4 F#4:2 G4 A4:4 | B4 A4 F#4 | G4:2 F#4 E4 D4 E4:4 | F#4:8 D4:4 | E4 G4:2 A4 B4:4 | A4 G4 F#4 | E4:2 D4 C#4 D4 E4 C#4 | D4:8 A3:4 | D4:12 | D4:4 A4 D4 | F#4:2 A4 F#4 D4 E4:4 | G4:2 B4 G4 E4 F#4:4 | E4:4 C#4 A3 | D4:12 |`,
			`D3:12 | G2:8 D3:4 | E3:4 A2 A2 | D3:8 F#3:4 | E3:12 | A2:8 D3:4 | G2:4 A2:8 | D3:4 A2 F#2 | D3:12 | D3:8 r:4 | D3:12 | E3:12 | A2:8 G2:4 | D3:12 |`)},
		{Piece{Name: "rollings", Title: "Rolled and blocked", Kind: "chordal", Bpm: 66, Beats: 4, BeatType: 4}, 0, one(
			`~A2+E3+A3+C4+E4:8 ~D3+A3+D4+F4 | E2+B2+E3+G#3+B3+E4:8 A2+E3+A3+C4:4 E4 | F2+C3+F3+A3:4 G3+B3+D4 C3+E3+G3+C4:8 | ~D3+A3+D4+F#4:8 ~G2+B2+D3+G3+B3+G4 | C3+G3+C4+E4:4 B2+G3+D4 A2+E3+C4 G2+D3+B3 | F3+A3+C4:4 E3+G#3+B3 ~A2+E3+A3+C4+E4+A4:8 |`)},
		{Piece{Name: "blocks", Title: "Three-note chords", Kind: "chordal", Bpm: 84, Beats: 3, BeatType: 4, Fifths: 1}, 0, one(
			`G3+B3+D4:4 G3+B3+D4 A3+C4+E4 | B3+D4+G4:8 G4:4 | C4+E4+G4:4 B3+D4+G4 A3+C4+F#4 | G3+B3+D4:12 | E3+G3+B3:4 E3+G3+B3 F#3+A3+C4 | G3+B3+E4:8 D4:4 | C3+G3+E4:4 D3+F#3+C4 D3+A3+F#4 | G2+D3+G3+B3+G4:12 |`)},
		{Piece{Name: "round8", Title: "Round on eight notes", Kind: "two-guitars", Bpm: 96, Beats: 4, BeatType: 4}, 0, round(
			`C4:4 D4 E4 C4 | E4 F4 G4:8 | G4:2 A4 G4 F4 E4:4 C4 | C4 G3 C4:8 | C4:4 D4 E4 C4 | E4 F4 G4:8 | G4:2 A4 G4 F4 E4:4 C4 | C4 G3 C4:8 | r:16 |`,
			`r:16 | C4:4 D4 E4 C4 | E4 F4 G4:8 | G4:2 A4 G4 F4 E4:4 C4 | C4 G3 C4:8 | C4:4 D4 E4 C4 | E4 F4 G4:8 | G4:2 A4 G4 F4 E4:4 C4 | C4 G3 C4:8 |`)},
		{Piece{Name: "duet", Title: "Bass and song for two guitars", Kind: "two-guitars", Bpm: 76, Beats: 3, BeatType: 4, Fifths: -1}, 0, round(
			`A4:8 G4:4 | F4:2 G4 A4:4 F4 | G4:6 F4:2 E4:4 | F4:12 | D4:8 F4:4 | E4:2 F4 G4:4 E4 | F4:4 D4 E4 | D4:12 |`,
			`D3:4 F3 A3 | D3 F3 A3 | C3 E3 G3 | F3:8 C3:4 | Bb2:4 D3 F3 | C3 E3 G3 | A2 A3 A2 | D3:12 |`)},
		{Piece{Name: "slowdrill", Title: "Slur drill, two bars", Kind: "exercise", Bpm: 92, Beats: 4, BeatType: 4}, 0, one(
			`A3:2 B3 C4 B3 A3 C4 B3 D4 | C4 E4 D4 C4 B3:4 A3 |`)},
		{Piece{Name: "onebar", Title: "One bar of thirds", Kind: "exercise", Bpm: 80, Beats: 4, BeatType: 4}, 0, one(
			`C4+E4:4 D4+F4 E4+G4 D4+F4 |`)},
		{Piece{Name: "fourbars", Title: "String crossing, four bars", Kind: "exercise", Bpm: 104, Beats: 3, BeatType: 4}, 0, one(
			`E3:2 B3 E4 B3 G3 B3 | F3 A3 E4 A3 G3 B3 | A3 C4 E4 C4 B3 D4 | E3 G#3 B3 D4 E4:4 |`)},
		{Piece{Name: "heights", Title: "Up to the twelfth fret", Kind: "monophonic", Bpm: 72, Beats: 4, BeatType: 4, Fifths: 4}, 0, one(
			`E4:2 G#4 B4 E5 D#5 C#5 B4 A4 | G#4 B4 E5 G#5 F#5 E5 D#5 C#5 | B4:4 E5:2 C#5 A4:4 B4 | E4:2 F#4 G#4 A4 B4 C#5 D#5 E5 | F#5:3 E5:1 D#5:2 C#5 B4:8 | C#5:t D#5 E5 C#5 B4 A4 G#4:2 F#4 E4:4 |`)},
	}
	var out []Piece
	for _, s := range specs {
		p, err := compose(s.piece, s.pickup, s.voices...)
		if err != nil {
			return nil, err
		}
		out = append(out, p)
	}
	return out, nil
}

// shapes are chords in first position, sixth string to first; x is not played.
var shapes = map[string]string{
	"C": "x32010", "Am": "x02210", "F": "133211", "G": "320003", "Em": "022000", "D": "xx0232",
	"Dm": "xx0231", "E": "022100", "A": "x02220", "G7": "320001", "E7": "020100", "B7": "x21202",
	"A7": "x02020", "D7": "xx0212", "C7": "x32310", "Bm": "x24432",
}

// frets reads a shape; -1 is not played. Index 1 is the first string.
func frets(shape string) [7]int {
	var f [7]int
	for i, c := range shape {
		f[6-i] = -1
		if c != 'x' {
			f[6-i] = int(c - '0')
		}
	}
	return f
}

// arpeggio plays one shape a bar with a pattern of strings in equal notes; "b" in the pattern is the
// bass of the shape, and every note is written as long as its step but rings on.
func arpeggio(p Piece, step int, pattern string, chords ...string) Piece {
	p.Kind, p.Rings = "arpeggio", true
	at := 0
	barTicks := p.Beats * TicksPerQuarter * 4 / p.BeatType
	for _, name := range chords {
		f := frets(shapes[name])
		for k := 0; k*step < barTicks; k++ {
			for _, c := range splitPattern(pattern, k) {
				s := int(c - '0')
				if c == 'b' {
					for s = 6; f[s] < 0; s-- {
					}
				}
				if f[s] < 0 {
					continue
				}
				p.Notes = append(p.Notes, Note{At: at + k*step, Ticks: step, Midi: openMidi[s] + f[s], Part: 1, Voice: 1, String: s})
			}
		}
		at += barTicks
	}
	f := frets(shapes[chords[0]])
	s := 6
	for ; f[s] < 0; s-- {
	}
	p.Notes = append(p.Notes, Note{At: at, Ticks: barTicks, Midi: openMidi[s] + f[s], Part: 1, Voice: 1, String: s})
	return p.finish(0)
}

// splitPattern is the group of strings at step k; groups are divided by commas and the pattern goes
// round.
func splitPattern(pattern string, k int) string {
	var groups []string
	start := 0
	for i := 0; i <= len(pattern); i++ {
		if i == len(pattern) || pattern[i] == ',' {
			groups, start = append(groups, pattern[start:i]), i+1
		}
	}
	return groups[k%len(groups)]
}

// strummed writes chords struck in a rhythm: one letter per sixteenth, D a stroke over all strings,
// U an up-stroke over the upper four, B the bass alone, - held.
func strummed(p Piece, rhythm string, chords ...string) Piece {
	p.Kind, p.Rings = "strum", true
	barTicks := p.Beats * TicksPerQuarter * 4 / p.BeatType
	for bar, name := range chords {
		f := frets(shapes[name])
		for i := 0; i < len(rhythm); i++ {
			if rhythm[i] == '-' {
				continue
			}
			length := 1
			for i+length < len(rhythm) && rhythm[i+length] == '-' {
				length++
			}
			low := 6
			if rhythm[i] == 'U' {
				low = 4
			}
			for s := low; s >= 1; s-- {
				if f[s] < 0 {
					continue
				}
				p.Notes = append(p.Notes, Note{At: bar*barTicks + i*12, Ticks: length * 12, Midi: openMidi[s] + f[s], Part: 1, Voice: 1, String: s})
				if rhythm[i] == 'B' {
					break
				}
			}
		}
	}
	return p.finish(0)
}

// built are the pieces made from chord shapes.
func built() []Piece {
	tremolo := arpeggio(Piece{Name: "tremor", Title: "Tremolo", Bpm: 66, Beats: 3, BeatType: 4}, 6, "b,1,1,1,4,1,1,1,3,1,1,1,4,1,1,1", "Am", "E", "Dm", "Am")
	tremolo.Kind = "tremolo"
	return []Piece{
		tremolo,
		arpeggio(Piece{Name: "brook", Title: "Brook", Bpm: 84, Beats: 4, BeatType: 4}, 24, "b,3,2,1,2,3,2,3", "Am", "E", "Am", "C", "G", "Am", "Dm", "E7"),
		arpeggio(Piece{Name: "wheel", Title: "Wheel", Bpm: 72, Beats: 3, BeatType: 4, Fifths: 1}, 12, "b,4,3,2,1,2,3,4,3,2,1,2", "G", "Em", "C", "D7", "G", "Bm", "C", "D"),
		arpeggio(Piece{Name: "pinch", Title: "Pinches", Bpm: 96, Beats: 4, BeatType: 4}, 24, "b1,3,2,3,41,3,2,3", "C", "Am", "F", "G", "C", "E7", "Am", "G7"),
		strummed(Piece{Name: "campfire", Title: "Campfire", Bpm: 96, Beats: 4, BeatType: 4, Fifths: 1}, "D---D-U--U-UD-U-", "G", "Em", "C", "D", "G", "C", "D7", "G"),
		strummed(Piece{Name: "bootstep", Title: "Bass and strum", Bpm: 108, Beats: 4, BeatType: 4}, "B---D-U-B---D-U-", "C", "Am", "F", "G7", "C", "A7", "D7", "G"),
	}
}

// invented writes a piece nobody has seen: a walk in a key with bars of drawn rhythms. Two voices put
// a slow bass under it.
func invented(name string, rng *rand.Rand, kind string) Piece {
	scale := []int{0, 2, 4, 5, 7, 9, 11}
	keys := []struct{ fifths, root int }{{0, 60}, {1, 55}, {2, 62}, {3, 57}, {-1, 53}, {-2, 58}, {4, 52}}
	key := keys[rng.IntN(len(keys))]
	beats := 3 + rng.IntN(2)
	p := Piece{Name: name, Title: "Study " + name, Kind: kind, Bpm: float64(66 + rng.IntN(60)), Beats: beats, BeatType: 4, Fifths: key.fifths, Transposed: rng.IntN(2) == 0}
	rhythms := [][]int{{48}, {24, 24}, {48}, {24, 24}, {36, 12}, {12, 12, 12, 12}, {24, 12, 12}, {16, 16, 16}, {96}, {72, 24}}
	bars := 7 + rng.IntN(4)
	if kind == "exercise" {
		bars = 1 + rng.IntN(4)
	}
	pitch := func(degree int) int {
		octave := 0
		for degree < 0 {
			degree, octave = degree+7, octave-1
		}
		return key.root + scale[degree%7] + 12*(degree/7+octave)
	}
	degree := rng.IntN(6)
	for b := 0; b < bars; b++ {
		for at := 0; at < beats*48; {
			r := rhythms[rng.IntN(len(rhythms))]
			for _, t := range r {
				if at >= beats*48 {
					break
				}
				t = min(t, beats*48-at)
				step := []int{-2, -1, -1, 0, 1, 1, 2, 3, -3, 4, -4}[rng.IntN(11)]
				degree += step
				for pitch(degree) > 79 {
					degree -= 5
				}
				low := 45
				if kind == "two-voice" {
					low = 57
				}
				for pitch(degree) < low {
					degree += 4
				}
				n := Note{At: b*beats*48 + at, Ticks: t, Midi: pitch(degree), Part: 1, Voice: 1}
				// A short exercise begins with a note, so that the beginning of each round can be heard.
				if rest := rng.IntN(12) == 0; !rest || kind == "exercise" && b+at == 0 {
					p.Notes = append(p.Notes, n)
					if kind == "exercise" && rng.IntN(8) == 0 && pitch(degree+2) < 79 {
						n.Midi = pitch(degree + 2)
						p.Notes = append(p.Notes, n)
					}
				}
				at += t
			}
		}
		if kind == "two-voice" {
			for at := 0; at < beats*48; {
				t := []int{48, 96, 48}[rng.IntN(3)]
				t = min(t, beats*48-at)
				bass := pitch([]int{-7, -5, -3, -9, -10, -4}[rng.IntN(6)])
				for bass > 55 {
					bass -= 12
				}
				for bass < 40 {
					bass += 12
				}
				p.Notes = append(p.Notes, Note{At: b*beats*48 + at, Ticks: t, Midi: bass, Part: 1, Voice: 2})
				at += t
			}
		}
	}
	return p.finish(0)
}

// inventedChords strings shapes together, as arpeggios or as strums.
func inventedChords(name string, rng *rand.Rand, kind string) Piece {
	names := []string{"C", "Am", "F", "G", "Em", "D", "Dm", "E", "A", "G7", "E7", "B7", "A7", "D7", "C7", "Bm"}
	chords := make([]string, 6+rng.IntN(3))
	for i := range chords {
		chords[i] = names[rng.IntN(len(names))]
	}
	p := Piece{Name: name, Title: "Study " + name, Bpm: float64(66 + rng.IntN(48)), Beats: 4, BeatType: 4}
	if kind == "strum" {
		return strummed(p, []string{"D---D-U-D-UD-UD-", "D--UD--UD--UD-U-", "B-U-D-U-B-D-DU--", "D-U-D-U-D-U-D-U-"}[rng.IntN(4)], chords...)
	}
	return arpeggio(p, []int{24, 24, 16, 12}[rng.IntN(4)], []string{"b,3,2,1", "b,2,3,1,3,2", "b,3,21,3", "b,1,2,3", "b4,3,2,1,2,3"}[rng.IntN(5)], chords...)
}

// Studies are the pieces that takes are drawn from, and more of the same kinds that nobody tuned on, until
// there are n.
func Studies(n int) ([]Piece, error) {
	out, err := written()
	if err != nil {
		return nil, err
	}
	out = append(out, built()...)
	rng := rand.New(rand.NewPCG(2026, 11))
	for i := len(out); i < n; i++ {
		name := fmt.Sprintf("study%02d", i)
		switch kind := []string{"monophonic", "two-voice", "arpeggio", "monophonic", "strum"}[i%5]; kind {
		case "arpeggio", "strum":
			out = append(out, inventedChords(name, rng, kind))
		default:
			out = append(out, invented(name, rng, kind))
		}
	}
	return out[:n], nil
}
