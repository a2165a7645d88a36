package report

import (
	"antiphon/internal/music"
	"antiphon/internal/tone"
)

// The tone of a take; package tone says what the fields mean. A place that is not known is "".
type (
	toneJSON struct {
		Place      music.Place   `json:"place"`
		Confidence float64       `json:"confidence"`
		R          float64       `json:"r"`
		Brightness float64       `json:"brightness"`
		Notes      int           `json:"notes"`
		Of         int           `json:"of"`
		Stretches  []stretchJSON `json:"stretches"`
		ByNote     []noteTone    `json:"by_note"`
	}
	stretchJSON struct {
		Pass        int         `json:"pass"`
		FromBar     string      `json:"from_bar"`
		ToBar       string      `json:"to_bar"`
		FromIndex   int         `json:"from_index"` // of the bar in the score, from 0: printed numbers may come twice
		ToIndex     int         `json:"to_index"`
		StartS      float64     `json:"start_s"`
		EndS        float64     `json:"end_s"`
		Place       music.Place `json:"place"`
		Confidence  float64     `json:"confidence"`
		R           float64     `json:"r"`
		Brightness  float64     `json:"brightness"`
		Notes       int         `json:"notes"`
		AgainstTake tone.Lean   `json:"against_take"`
	}
	noteTone struct {
		Played     int     `json:"played"` // index into played
		R          float64 `json:"r"`
		Brightness float64 `json:"brightness"`
	}
)

func toneDocument(t tone.Heard) toneJSON {
	d := toneJSON{Place: t.Place, Confidence: share(t.Confidence), R: rounded(t.R, 3), Brightness: rounded(t.Brightness, 2), Notes: t.Notes, Of: t.Of,
		Stretches: []stretchJSON{}, ByNote: []noteTone{}}
	for _, s := range t.Stretches {
		d.Stretches = append(d.Stretches, stretchJSON{Pass: s.Pass, FromBar: s.FromBar, ToBar: s.ToBar, FromIndex: s.From, ToIndex: s.To, StartS: rounded(s.StartS, 3), EndS: rounded(s.EndS, 3),
			Place: s.Place, Confidence: share(s.Confidence), R: rounded(s.R, 3), Brightness: rounded(s.Brightness, 2), Notes: s.Notes, AgainstTake: s.Lean})
	}
	for _, n := range t.ByNote {
		d.ByNote = append(d.ByNote, noteTone{n.Played, rounded(n.R, 3), rounded(n.Brightness, 2)})
	}
	return d
}

// readTone takes the tone from its JSON. Hearings of versions that did not measure it have an empty one.
func readTone(d toneJSON) tone.Heard {
	t := tone.Heard{Place: d.Place, Confidence: d.Confidence, R: d.R, Brightness: d.Brightness, Notes: d.Notes, Of: d.Of}
	for _, s := range d.Stretches {
		t.Stretches = append(t.Stretches, tone.Stretch{Pass: s.Pass, FromBar: s.FromBar, ToBar: s.ToBar, From: s.FromIndex, To: s.ToIndex, StartS: s.StartS, EndS: s.EndS,
			Place: s.Place, Confidence: s.Confidence, R: s.R, Brightness: s.Brightness, Notes: s.Notes, Lean: s.AgainstTake})
	}
	for _, n := range d.ByNote {
		t.ByNote = append(t.ByNote, tone.Note(n))
	}
	return t
}
