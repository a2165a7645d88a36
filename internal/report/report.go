// Package report shows a hearing: as JSON for programs (the contract that other parts and other
// people's programs build on), as text in a terminal, as one self-contained page, and as MIDI. It also
// puts on paper what a family keeps: a week with its music and boxes to tick, and a letter about a term.
//
// It measures nothing and judges nothing; it runs no program and reads no file. What comes from
// outside (titles, names, file names) is escaped for where it is shown.
package report

import (
	"math"

	"antiphon/internal/ear"
	"antiphon/internal/findings"
	"antiphon/internal/music"
	"antiphon/internal/tone"
)

// Report is all that there is to show of one hearing.
type Report struct {
	Hearing  *ear.Hearing
	Score    *music.Score
	Findings []findings.Finding // the strongest first, as findings.Of gives them
	Tone     tone.Heard         // where the strings were plucked; zero: nothing is known
	Meta     Meta
}

// Meta is what is known about the files and the run.
type Meta struct {
	TakeFile  string   // name of the take, without its folder
	ScoreFile string   // name of the score, without its folder
	Notes     []string // remarks on the take or the score, each one sentence
	DecodeS   float64
	AnalysisS float64
}

// finite is v, or 0 where v is no number: JSON and SVG have no words for the others.
func finite(v float64) float64 {
	if math.IsNaN(v) || math.IsInf(v, 0) {
		return 0
	}
	return v
}

// rounded is a finite v with so many decimals.
func rounded(v float64, decimals int) float64 {
	p := math.Pow10(decimals)
	r := math.Round(finite(v)*p) / p
	if r == 0 {
		return 0 // not −0
	}
	return finite(r)
}

// title of the piece, or the name of the file where the score has none.
func (r Report) title() string {
	switch {
	case r.Score.Title != "":
		return r.Score.Title
	case r.Score.Subtitle != "":
		return r.Score.Subtitle
	}
	return r.Meta.ScoreFile
}
