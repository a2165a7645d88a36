package rehearse

// Tunes are traditional melodies, long in the public domain, in plain settings of our own: what a family's
// folder is full of. From memory; small differences from printed versions do not matter here.
func Tunes() ([]Piece, error) {
	var out []Piece
	for _, t := range tunes {
		p, err := compose(Piece{Name: t.name, Title: t.title, Kind: "monophonic", Bpm: t.bpm, Beats: t.beats, BeatType: t.beatType, Fifths: t.fifths}, t.pickup, voiceText{1, t.text})
		if err != nil {
			return nil, err
		}
		out = append(out, p)
	}
	return out, nil
}

// tunes are spelled as compose reads them.
var tunes = [...]struct {
	name, title     string
	bpm             float64
	beats, beatType int
	fifths, pickup  int
	text            string
}{
	{"three-blind-mice", "Three Blind Mice", 132, 6, 8, 0, 0,
		`E4:6 D4 | C4:12 | E4:6 D4 | C4:12 | G4:6 F4:4 F4:2 | E4:12 | G4:6 F4:4 F4:2 | E4:10 G4:2 | C5:4 C5:2 B4 A4 B4 | C5:4 G4:2 G4:4 G4:2 | C5 C5 C5 B4 A4 B4 | C5:4 G4:2 G4:4 G4:2 | C5:4 C5:2 B4 A4 B4 | C5 G4 G4 G4:4 F4:2 | E4:6 D4 | C4:12 |`},
	{"ode-to-joy", "Ode to Joy", 104, 4, 4, 0, 0,
		`E4:4 E4 F4 G4 | G4 F4 E4 D4 | C4 C4 D4 E4 | E4:6 D4:2 D4:8 | E4:4 E4 F4 G4 | G4 F4 E4 D4 | C4 C4 D4 E4 | D4:6 C4:2 C4:8 | D4:4 D4 E4 C4 | D4 E4:2 F4 E4:4 C4 | D4 E4:2 F4 E4:4 D4 | C4 D4 G3:8 | E4:4 E4 F4 G4 | G4 F4 E4 D4 | C4 C4 D4 E4 | D4:6 C4:2 C4:8 |`},
	{"canon", "Tallis's Canon", 88, 4, 4, 1, 0,
		`G3:4 G3 F#3 G3 | G3 A3 A3 B3 | G3 C4 C4 B3 | B3 A3 A3 G3 | D4 B3 C4 D4 | D4 E4 D4 C4 | B3 G3 A3 B3 | B3 A3 A3 G3 |`},
	{"au-clair", "Au clair de la lune", 96, 4, 4, 0, 0,
		`C4:4 C4 C4 D4 | E4:8 D4 | C4:4 E4 D4 D4 | C4:16 | C4:4 C4 C4 D4 | E4:8 D4 | C4:4 E4 D4 D4 | C4:16 | D4:4 D4 D4 D4 | A3:8 A3 | D4:4 C4 B3 A3 | G3:16 | C4:4 C4 C4 D4 | E4:8 D4 | C4:4 E4 D4 D4 | C4:16 |`},
	{"frere-jacques", "Frère Jacques", 108, 4, 4, 1, 0,
		`G3:4 A3 B3 G3 | G3 A3 B3 G3 | B3 C4 D4:8 | B3:4 C4 D4:8 | D4:2 E4 D4 C4 B3:4 G3 | D4:2 E4 D4 C4 B3:4 G3 | G3 D3 G3:8 | G3:4 D3 G3:8 |`},
	{"ah-vous-dirai-je", "Ah! vous dirai-je, maman", 100, 4, 4, 0, 0,
		`C4:4 C4 G4 G4 | A4 A4 G4:8 | F4:4 F4 E4 E4 | D4 D4 C4:8 | G4:4 G4 F4 F4 | E4 E4 D4:8 | G4:4 G4 F4 F4 | E4 E4 D4:8 | C4:4 C4 G4 G4 | A4 A4 G4:8 | F4:4 F4 E4 E4 | D4 D4 C4:8 |`},
	{"lightly-row", "Lightly Row", 104, 4, 4, 1, 0,
		`D4:4 B3 B3:8 | C4:4 A3 A3:8 | G3:4 A3 B3 C4 | D4 D4 D4:8 | D4:4 B3 B3:8 | C4:4 A3 A3:8 | G3:4 B3 D4 D4 | G3:16 | A3:4 A3 A3 A3 | A3 B3 C4:8 | B3:4 B3 B3 B3 | B3 C4 D4:8 | D4:4 B3 B3:8 | C4:4 A3 A3:8 | G3:4 B3 D4 D4 | G3:16 |`},
	{"good-king", "Good King Wenceslas", 112, 4, 4, 1, 0,
		`G3:4 G3 G3 A3 | G3 G3 D3:8 | E3:4 D3 E3 F#3 | G3:8 G3 | G3:4 G3 G3 A3 | G3 G3 D3:8 | E3:4 D3 E3 F#3 | G3:8 G3 | D4:4 C4 B3 A3 | B3 A3 G3:8 | E3:4 D3 E3 F#3 | G3:8 G3 | D3:4 D3 E3 F#3 | G3 G3 A3:8 | D4:4 C4 B3 A3 | G3:8 C4 | G3:16 |`},
	{"greensleeves", "Greensleeves", 132, 6, 8, 0, 2,
		`A3:2 | C4:4 D4:2 E4:3 F4:1 E4:2 | D4:4 B3:2 G3:3 A3:1 B3:2 | C4:4 A3:2 A3:3 G#3:1 A3:2 | B3:4 G#3:2 E3:4 A3:2 | C4:4 D4:2 E4:3 F4:1 E4:2 | D4:4 B3:2 G3:3 A3:1 B3:2 | C4:3 B3:1 A3:2 G#3:3 F#3:1 G#3:2 | A3:6 A3 | G4:6 G4:3 F#4:1 E4:2 | D4:4 B3:2 G3:3 A3:1 B3:2 | C4:4 A3:2 A3:3 G#3:1 A3:2 | B3:4 G#3:2 E3:6 | G4:6 G4:3 F#4:1 E4:2 | D4:4 B3:2 G3:3 A3:1 B3:2 | C4:3 B3:1 A3:2 G#3:3 F#3:1 G#3:2 | A3:12 |`},
	{"auld-lang-syne", "Auld Lang Syne", 92, 4, 4, 1, 4,
		`D4:4 | G4:6 G4:2 G4:4 B4 | A4:6 G4:2 A4:4 B4 | G4:6 G4:2 B4:4 D5 | E5:12 E5:4 | D5:6 B4:2 B4:4 G4 | A4:6 G4:2 A4:4 B4 | G4:6 E4:2 E4:4 D4 | G4:12 E5:4 | D5:6 B4:2 B4:4 G4 | A4:6 G4:2 A4:4 E5 | D5:6 B4:2 B4:4 D5 | E5:12 E5:4 | D5:6 B4:2 B4:4 G4 | A4:6 G4:2 A4:4 B4 | G4:6 E4:2 E4:4 D4 | G4:16 |`},
	{"scarborough-fair", "Scarborough Fair", 120, 3, 4, 0, 0,
		`D4:8 D4:4 | A4:8 A4:4 | E4:6 F4:2 E4:4 | D4:12 | r:4 A4 C5 | D5:8 C5:4 | A4 B4 G4 | A4:12 | r:8 D5:4 | D5:8 D5:4 | C5:8 A4:4 | A4 G4 F4 | E4 C4:8 | D4 A4:4 | G4:8 F4:4 | E4 D4 C4 | D4:12 |`},
	{"new-britain", "Amazing Grace", 88, 3, 4, 1, 4,
		`D4:4 | G4:8 B4:2 G4 | B4:8 A4:4 | G4:8 E4:4 | D4:8 D4:4 | G4:8 B4:2 G4 | B4:8 A4:4 | D5:12 | r:8 B4:4 | D5:8 B4:2 G4 | B4:8 A4:4 | G4:8 E4:4 | D4:8 D4:4 | G4:8 B4:2 G4 | B4:8 A4:4 | G4:12 |`},
	{"row-your-boat", "Row, Row, Row Your Boat", 126, 6, 8, 0, 0,
		`C4:6 C4 | C4:4 D4:2 E4:6 | E4:4 D4:2 E4:4 F4:2 | G4:12 | C5:2 C5 C5 G4 G4 G4 | E4 E4 E4 C4 C4 C4 | G4:4 F4:2 E4:4 D4:2 | C4:12 |`},
	{"pont-d-avignon", "Sur le pont d'Avignon", 116, 4, 4, -1, 0,
		`F4:4 F4 F4:8 | G4:4 G4 G4:8 | A4:4 Bb4 C5 F4 | E4 F4 G4 C4 | F4 F4 F4:8 | G4:4 G4 G4:8 | A4:4 Bb4 C5 F4 | G4 E4 F4:8 |`},
	{"london-bridge", "London Bridge", 96, 2, 4, 0, 0,
		`G4:3 A4:1 G4:2 F4 | E4 F4 G4:4 | D4:2 E4 F4:4 | E4:2 F4 G4:4 | G4:3 A4:1 G4:2 F4 | E4 F4 G4:4 | D4 G4 | E4:2 C4:6 |`},
	{"aunt-rhody", "Go Tell Aunt Rhody", 92, 4, 4, 0, 0,
		`E4:4 E4:2 D4 C4:4 C4 | D4 D4 F4:2 E4 D4 C4 | G4:4 G4:2 F4 E4:4 E4 | D4:2 C4 D4 E4 C4:8 |`},
	{"old-farmer", "Old MacDonald", 112, 4, 4, 1, 0,
		`G3:4 G3 G3 D3 | E3 E3 D3:8 | B3:4 B3 A3 A3 | G3:12 D3:4 | G3 G3 G3 D3 | E3 E3 D3:8 | B3:4 B3 A3 A3 | G3:12 D3:2 D3 | G3:4 G3 G3 D3:2 D3 | G3:4 G3 G3:8 | G3:2 G3 G3:4 G3:2 G3 G3:4 | G3:2 G3 G3 G3 G3:4 G3 | G3 G3 G3 D3 | E3 E3 D3:8 | B3:4 B3 A3 A3 | G3:16 |`},
	{"hot-cross-buns", "Hot Cross Buns", 100, 4, 4, 1, 0,
		`B3:8 A3 | G3:16 | B3:8 A3 | G3:16 | G3:4 G3 G3 G3 | A3 A3 A3 A3 | B3:8 A3 | G3:16 |`},
	{"little-lamb", "Mary Had a Little Lamb", 104, 4, 4, 1, 0,
		`B3:4 A3 G3 A3 | B3 B3 B3:8 | A3:4 A3 A3:8 | B3:4 D4 D4:8 | B3:4 A3 G3 A3 | B3 B3 B3 B3 | A3 A3 B3 A3 | G3:16 |`},
	{"stille-nacht", "Silent Night", 84, 6, 8, 0, 0,
		`G4:3 A4:1 G4:2 E4:6 | G4:3 A4:1 G4:2 E4:6 | D5:4 D5:2 B4:6 | C5:4 C5:2 G4:6 | A4:4 A4:2 C5:3 B4:1 A4:2 | G4:3 A4:1 G4:2 E4:6 | A4:4 A4:2 C5:3 B4:1 A4:2 | G4:3 A4:1 G4:2 E4:6 | D5:4 D5:2 F5:3 D5:1 B4:2 | C5:6 E5 | C5:3 G4:1 E4:2 G4:3 F4:1 D4:2 | C4:12 |`},
}
