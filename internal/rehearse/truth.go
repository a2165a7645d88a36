package rehearse

// Truth is what was played in one take, in the layout that the shared development takes use.
// Seconds count from the start of the coded file. Bars are printed numbers, beats are quarters.
type Truth struct {
	ID          string             `json:"id"`
	Audio       string             `json:"audio"`
	Piece       string             `json:"piece"`
	Score       ScoreFiles         `json:"score"`
	DurationS   float64            `json:"duration_s"`
	Sources     []string           `json:"sources"`
	A4Hz        float64            `json:"a4"`
	StringCents map[string]float64 `json:"string_cents"`
	Codec       string             `json:"codec"`
	CodecLagS   float64            `json:"codec_lag_s"`
	Phone       string             `json:"phone"`
	Reverb      []float64          `json:"reverb"`
	Tags        []string           `json:"tags"`
	NominalBpm  float64            `json:"nominal_bpm"`
	MedianBpm   float64            `json:"median_bpm"` // quarters a minute, over the beats of the take
	Params      map[string]any     `json:"params"`
	Speech      []Spoken           `json:"speech"`
	Notes       []TrueNote         `json:"notes"`
	Missed      []TrueMiss         `json:"missed"`
	Skipped     []int              `json:"skipped_score_notes"`
	Jumps       []TrueJump         `json:"jumps"`
	Beats       [][3]float64       `json:"beats"`          // quarter, pass, seconds
	OtherThan   bool               `json:"not_this_score"` // the take is of something else
}

// ScoreFiles are paths from the folder of the takes.
type ScoreFiles struct {
	MusicXML string `json:"musicxml"`
	Notes    string `json:"notes"`
}

// Spoken is a stretch of talk.
type Spoken struct {
	StartS float64 `json:"start_s"`
	EndS   float64 `json:"end_s"`
	Text   string  `json:"text"`
}

// TrueNote is one note that sounded.
type TrueNote struct {
	Score    *int    `json:"score_note_index"` // nil for an extra note
	Pass     int     `json:"pass"`
	OnsetS   float64 `json:"onset_s"`
	OffsetS  float64 `json:"offset_s"`
	Midi     int     `json:"midi"`
	Velocity int     `json:"velocity"`
	Kind     string  `json:"kind"` // "correct", "wrong" or "extra"
	String   int     `json:"string"`
	Part     int     `json:"part"`
}

// TrueMiss is a written note that was not played.
type TrueMiss struct {
	Score     int     `json:"score_note_index"`
	Pass      int     `json:"pass"`
	ExpectedS float64 `json:"expected_s"`
}

// TrueJump is a place where the player left the written order, or stopped ("pause").
type TrueJump struct {
	Kind     string  `json:"kind"`
	FromBeat float64 `json:"from_beat"`
	FromBar  int     `json:"from_bar"`
	ToBeat   float64 `json:"to_beat"`
	ToBar    int     `json:"to_bar"`
	StopS    float64 `json:"stop_s"`
	ResumeS  float64 `json:"resume_s"`
}

// notesFile is PIECE.notes.json.
type notesFile struct {
	Piece    string       `json:"piece"`
	Bars     [][2]float64 `json:"bars"`
	Bpm      float64      `json:"bpm"`
	Repeats  [][2]int     `json:"repeats"`
	Unrolled []int        `json:"unrolled_bars"`
	Notes    []fileNote   `json:"notes"`
}

type fileNote struct {
	Index     int     `json:"index"`
	OnsetQ    float64 `json:"onset_q"`
	DurationQ float64 `json:"duration_q"`
	Midi      int     `json:"midi"`
	Bar       int     `json:"bar"`
	Part      int     `json:"part"`
	Voice     int     `json:"voice"`
	String    int     `json:"string"`
	Fret      int     `json:"fret"`
	Finger    *string `json:"finger"`
}

func quarters(ticks int) float64 { return float64(ticks) / TicksPerQuarter }

func (p Piece) notesFile() notesFile {
	f := notesFile{Piece: p.Name, Bpm: p.Bpm, Repeats: [][2]int{}}
	for _, b := range p.Bars {
		f.Bars = append(f.Bars, [2]float64{quarters(b.At), quarters(b.Ticks)})
	}
	for _, r := range p.Repeats {
		f.Repeats = append(f.Repeats, [2]int{p.Bars[r.From].Number, p.Bars[r.To].Number})
	}
	for _, b := range p.Unrolled(true) {
		f.Unrolled = append(f.Unrolled, p.Bars[b].Number)
	}
	for i, n := range p.Notes {
		f.Notes = append(f.Notes, fileNote{i, quarters(n.At), quarters(n.Ticks), n.Midi, p.Bars[n.Bar].Number, n.Part, n.Voice, n.String, n.Fret, nil})
	}
	return f
}
