package report

import (
	"encoding/json"
	"io"
	"math"

	"antiphon/internal/ear"
)

// Schema names the contract and its version. Fields may be added under one version; none changes its
// meaning.
const Schema = "antiphon.hearing/1"

// The contract. Seconds count from the start of the take. Every list is there, if empty; every
// number is finite.
type (
	document struct {
		Schema   string     `json:"schema"`
		Take     takeJSON   `json:"take"`
		Score    scoreJSON  `json:"score"`
		Match    float64    `json:"match"`         // how well the take fits the score, 0 to 1
		Covers   float64    `json:"covers"`        // share of clear strokes that the passes explain, 0 to 1
		Higher   int        `json:"sounds_higher"` // semitones by which a take that does not fit lies above the score, if so moved it would fit; else 0
		Passes   []passJSON `json:"passes"`
		Jumps    []jumpJSON `json:"jumps"`
		Played   []played   `json:"played"`
		Missed   []missed   `json:"missed"`
		Tempo    tempoJSON  `json:"tempo"`
		Dynamics dynamics   `json:"dynamics"`
		Tone     toneJSON   `json:"tone"`
		Tuning   tuning     `json:"tuning"`
		Evenness evenness   `json:"evenness"`
		Findings []finding  `json:"findings"`
		Timing   timing     `json:"timing"`
	}
	takeJSON struct {
		File         string   `json:"file"`
		DurationS    float64  `json:"duration_s"`
		A4Hz         float64  `json:"a4_hz"`
		SNRDb        float64  `json:"snr_db"`
		ClippedShare float64  `json:"clipped_share"`
		Notes        []string `json:"notes"` // remarks on the files, for a person
	}
	scoreJSON struct {
		File  string `json:"file"`
		Title string `json:"title"`
		Bars  int    `json:"bars"`
		Notes []Note `json:"notes"`
	}
	passJSON struct {
		N             int     `json:"n"`
		FromBar       string  `json:"from_bar"`
		ToBar         string  `json:"to_bar"`
		StartS        float64 `json:"start_s"`
		EndS          float64 `json:"end_s"`
		Complete      bool    `json:"complete"`
		Bpm           float64 `json:"bpm"`
		SteadinessPct float64 `json:"steadiness_pct"`
	}
	jumpJSON struct {
		Kind       string  `json:"kind"`
		FromBar    string  `json:"from_bar"`
		ToBar      string  `json:"to_bar"`
		StopS      float64 `json:"stop_s"`
		ResumeS    float64 `json:"resume_s"`
		Confidence float64 `json:"confidence"`
	}
	played struct {
		Note       *string    `json:"note"` // null for an added note
		Pass       int        `json:"pass"`
		OnsetS     float64    `json:"onset_s"`
		OffsetS    float64    `json:"offset_s"`
		Midi       int        `json:"midi"`
		Cents      float64    `json:"cents"`
		Verdict    string     `json:"verdict"`
		TimingMs   float64    `json:"timing_ms"`
		LevelDb    float64    `json:"level_db"`
		Confidence float64    `json:"confidence"`
		Marks      []markJSON `json:"marks"`
	}
	markJSON struct {
		Kind       string  `json:"kind"`
		Confidence float64 `json:"confidence"`
	}
	missed struct {
		Note       string  `json:"note"`
		Pass       int     `json:"pass"`
		ExpectedS  float64 `json:"expected_s"`
		Confidence float64 `json:"confidence"`
	}
	tempoJSON struct {
		MedianBpm     float64      `json:"median_bpm"`
		BeatUnitQ     float64      `json:"beat_unit_q"`
		MarkedBpm     *float64     `json:"marked_bpm"` // null where the score has no mark
		Curve         []curvePoint `json:"curve"`
		SteadinessPct float64      `json:"steadiness_pct"`
		NPVI          float64      `json:"npvi"`
	}
	curvePoint struct {
		S   float64 `json:"s"`
		Bar string  `json:"bar"`
		Bpm float64 `json:"bpm"`
	}
	dynamics struct {
		RangeDb float64      `json:"range_db"`
		ByMark  []markLevel  `json:"by_mark"`
		Voices  []voiceLevel `json:"voices"`
	}
	markLevel struct {
		Mark    string  `json:"mark"`
		LevelDb float64 `json:"level_db"`
		Notes   int     `json:"notes"`
	}
	voiceLevel struct {
		Part    string  `json:"part"`
		Voice   string  `json:"voice"`
		LevelDb float64 `json:"level_db"`
		Notes   int     `json:"notes"`
	}
	tuning struct {
		A4Hz    float64        `json:"a4_hz"`
		Strings []stringTuning `json:"strings"`
	}
	stringTuning struct {
		String      int     `json:"string"`
		Cents       float64 `json:"cents"`
		SpreadCents float64 `json:"spread_cents"`
		Notes       int     `json:"notes"`
		Confidence  float64 `json:"confidence"`
	}
	evenness struct {
		Fingers []fingerSpread `json:"fingers"`
	}
	fingerSpread struct {
		Finger     string  `json:"finger"`
		TimingMs   float64 `json:"timing_ms"`
		TimingSdMs float64 `json:"timing_sd_ms"`
		LevelDb    float64 `json:"level_db"`
		LevelSdDb  float64 `json:"level_sd_db"`
		Notes      int     `json:"notes"`
	}
	finding struct {
		Kind       string    `json:"kind"`
		Aspect     string    `json:"aspect"` // a finer sort of the kind; "" none
		FromS      float64   `json:"from_s"`
		ToS        float64   `json:"to_s"`
		FromBar    *string   `json:"from_bar"` // null where it is about the whole take
		ToBar      *string   `json:"to_bar"`
		Size       float64   `json:"size"`
		Unit       string    `json:"unit"`
		Confidence float64   `json:"confidence"`
		Text       string    `json:"text"`
		Evidence   []string  `json:"evidence"`
		AtS        []float64 `json:"at_s"`
		Well       bool      `json:"well"` // something that went well
	}
	timing struct {
		DecodeS   float64 `json:"decode_s"`
		AnalysisS float64 `json:"analysis_s"`
	}
)

// JSON writes the hearing as the contract has it.
func (r Report) JSON(w io.Writer) error {
	e := json.NewEncoder(w)
	e.SetEscapeHTML(false)
	e.SetIndent("", " ")
	return e.Encode(r.document())
}

func (r Report) document() document {
	h := r.Hearing
	d := document{
		Schema: Schema,
		Take: takeJSON{File: r.Meta.TakeFile, DurationS: rounded(h.DurationS, 3), A4Hz: rounded(h.A4Hz, 2), SNRDb: rounded(h.SNRDb, 1),
			ClippedShare: rounded(h.ClippedShare, 6), Notes: append([]string{}, r.Meta.Notes...)},
		Score: scoreJSON{File: r.Meta.ScoreFile, Title: r.title(), Bars: len(r.Score.Bars), Notes: Notes(h.Score)},
		Match: rounded(h.Match, 3), Covers: rounded(h.Covers, 3), Higher: h.SoundsHigher,
		Passes: []passJSON{}, Jumps: []jumpJSON{}, Played: []played{}, Missed: []missed{}, Findings: []finding{},
		Timing: timing{DecodeS: rounded(r.Meta.DecodeS, 3), AnalysisS: rounded(r.Meta.AnalysisS, 3)},
	}
	for _, p := range h.Passes {
		d.Passes = append(d.Passes, passJSON{N: p.N, FromBar: p.FromBar, ToBar: p.ToBar, StartS: rounded(p.StartS, 4), EndS: rounded(p.EndS, 4),
			Complete: p.Complete, Bpm: rounded(p.Bpm, 2), SteadinessPct: rounded(p.SteadinessPct, 2)})
	}
	for _, j := range h.Jumps {
		d.Jumps = append(d.Jumps, jumpJSON{string(j.Kind), j.FromBar, j.ToBar, rounded(j.StopS, 4), rounded(j.ResumeS, 4), share(j.Confidence)})
	}
	for _, n := range h.Played {
		d.Played = append(d.Played, r.playedJSON(n))
	}
	for _, m := range h.Missed {
		d.Missed = append(d.Missed, missed{h.Score[m.Note].ID, m.Pass, rounded(m.ExpectedS, 4), share(m.Confidence)})
	}
	d.Tempo = tempoDocument(h.Tempo)
	d.Dynamics = dynamicsDocument(h.Dynamics)
	d.Tuning = tuning{A4Hz: d.Take.A4Hz, Strings: []stringTuning{}}
	for _, t := range h.Tuning {
		d.Tuning.Strings = append(d.Tuning.Strings, stringTuning{t.String, rounded(t.Cents, 1), rounded(t.SpreadC, 1), t.Notes, share(t.Confidence)})
	}
	d.Tone = toneDocument(r.Tone)
	d.Evenness.Fingers = []fingerSpread{}
	for _, e := range h.Evenness {
		d.Evenness.Fingers = append(d.Evenness.Fingers, fingerSpread{e.Finger, rounded(e.TimingMs, 1), rounded(e.TimingSd, 1),
			rounded(e.LevelDb, 1), rounded(e.LevelSdDb, 1), e.Notes})
	}
	for _, f := range r.Findings {
		j := finding{Kind: string(f.Kind), Aspect: f.Aspect, FromS: rounded(f.FromS, 3), ToS: rounded(f.ToS, 3), Size: rounded(f.Size, 3), Unit: f.Unit,
			Confidence: share(f.Confidence), Text: f.Text, Evidence: append([]string{}, f.Evidence...), AtS: []float64{}, Well: f.Kind.Well()}
		if f.FromBar != "" {
			j.FromBar, j.ToBar = &f.FromBar, &f.ToBar
		}
		for _, s := range f.AtS {
			j.AtS = append(j.AtS, rounded(s, 3))
		}
		d.Findings = append(d.Findings, j)
	}
	return d
}

func (r Report) playedJSON(n ear.Played) played {
	p := played{Pass: n.Pass, OnsetS: rounded(n.OnsetS, 4), OffsetS: rounded(n.OffsetS, 4), Midi: n.Midi, Cents: rounded(n.Cents, 1),
		Verdict: string(n.Verdict), TimingMs: rounded(n.TimingMs, 1), LevelDb: rounded(n.LevelDb, 1), Confidence: share(n.Confidence), Marks: []markJSON{}}
	if n.Note >= 0 {
		p.Note = &r.Hearing.Score[n.Note].ID
	}
	for _, m := range n.Marks {
		p.Marks = append(p.Marks, markJSON{m.Kind, share(m.Confidence)})
	}
	return p
}

func tempoDocument(t ear.Tempo) tempoJSON {
	d := tempoJSON{MedianBpm: rounded(t.MedianBpm, 2), BeatUnitQ: rounded(t.BeatUnitQ, 6), Curve: []curvePoint{},
		SteadinessPct: rounded(t.SteadinessPct, 2), NPVI: rounded(t.NPVI, 1)}
	if t.MarkedBpm > 0 && !math.IsInf(t.MarkedBpm, 0) {
		m := rounded(t.MarkedBpm, 2)
		d.MarkedBpm = &m
	}
	for _, p := range t.Curve {
		d.Curve = append(d.Curve, curvePoint{rounded(p.S, 3), p.Bar, rounded(p.Bpm, 2)})
	}
	return d
}

func dynamicsDocument(d ear.Dynamics) dynamics {
	out := dynamics{RangeDb: rounded(d.RangeDb, 1), ByMark: []markLevel{}, Voices: []voiceLevel{}}
	for _, m := range d.ByMark {
		out.ByMark = append(out.ByMark, markLevel{m.Mark, rounded(m.Db, 1), m.Notes})
	}
	for _, v := range d.VoicesDb {
		out.Voices = append(out.Voices, voiceLevel{v.Part, v.Voice, rounded(v.Db, 1), v.Notes})
	}
	return out
}

// share is a number from 0 to 1.
func share(v float64) float64 { return min(1, max(0, rounded(v, 3))) }
