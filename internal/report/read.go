package report

import (
	"encoding/json"
	"errors"
	"fmt"

	"antiphon/internal/ear"
	"antiphon/internal/findings"
	"antiphon/internal/music"
)

// ErrSchema is returned for a document that is no hearing of this contract.
var ErrSchema = errors.New("this is no " + Schema + " document")

// ErrOtherScore is returned for a hearing made with another score, or with the score before it was
// changed: then the take is to be heard again.
var ErrOtherScore = errors.New("the hearing was made with another score")

// Read takes a hearing from its JSON, with the score that it was made with. Numbers are as the contract
// rounds them. What later versions add is passed over.
func Read(doc []byte, score *music.Score) (Report, error) {
	var d document
	if err := json.Unmarshal(doc, &d); err != nil {
		return Report{}, fmt.Errorf("%w: %w", ErrSchema, err)
	}
	if d.Schema != Schema {
		return Report{}, fmt.Errorf("%w: its schema is %q", ErrSchema, d.Schema)
	}
	h := &ear.Hearing{DurationS: d.Take.DurationS, A4Hz: d.Take.A4Hz, SNRDb: d.Take.SNRDb, ClippedShare: d.Take.ClippedShare,
		Score: score.Sounding(), Match: d.Match, Covers: d.Covers, SoundsHigher: d.Higher}
	at, err := sameNotes(h.Score, d.Score.Notes)
	if err != nil {
		return Report{}, err
	}
	passes := map[int]bool{}
	for _, p := range d.Passes {
		passes[p.N] = true
		h.Passes = append(h.Passes, ear.Pass(p))
	}
	for _, j := range d.Jumps {
		h.Jumps = append(h.Jumps, ear.Jump{Kind: ear.JumpKind(j.Kind), FromBar: j.FromBar, ToBar: j.ToBar, StopS: j.StopS, ResumeS: j.ResumeS, Confidence: j.Confidence})
	}
	for i, n := range d.Played {
		p := ear.Played{Note: -1, Pass: n.Pass, OnsetS: n.OnsetS, OffsetS: n.OffsetS, Midi: n.Midi, Cents: n.Cents, Verdict: ear.Verdict(n.Verdict),
			TimingMs: n.TimingMs, LevelDb: n.LevelDb, Confidence: n.Confidence}
		known := true
		if n.Note != nil {
			p.Note, known = at[*n.Note]
		}
		if !known || !passes[n.Pass] || (p.Note < 0) != (p.Verdict == ear.Extra) {
			return Report{}, fmt.Errorf("%w: played note %d has no place", ErrSchema, i+1)
		}
		for _, m := range n.Marks {
			p.Marks = append(p.Marks, ear.Mark(m))
		}
		h.Played = append(h.Played, p)
	}
	for i, m := range d.Missed {
		note, known := at[m.Note]
		if !known || !passes[m.Pass] {
			return Report{}, fmt.Errorf("%w: missed note %d has no place", ErrSchema, i+1)
		}
		h.Missed = append(h.Missed, ear.Missed{Note: note, Pass: m.Pass, ExpectedS: m.ExpectedS, Confidence: m.Confidence})
	}
	readMeasures(h, d)
	return Report{Hearing: h, Score: score, Findings: readFindings(d.Findings), Tone: readTone(d.Tone), Meta: Meta{TakeFile: d.Take.File, ScoreFile: d.Score.File, Notes: d.Take.Notes,
		DecodeS: d.Timing.DecodeS, AnalysisS: d.Timing.AnalysisS}}, nil
}

// sameNotes gives the index of each note by id, if the document's notes are those of the score.
func sameNotes(notes []music.Sounding, in []Note) (map[string]int, error) {
	if len(notes) != len(in) {
		return nil, fmt.Errorf("%w: it had %d notes, this one has %d", ErrOtherScore, len(in), len(notes))
	}
	at := make(map[string]int, len(notes))
	for i, n := range notes {
		if m := in[i]; m.ID != n.ID || m.Midi != n.Midi || m.OnsetQ != rounded(n.Onset.Q(), 6) {
			return nil, fmt.Errorf("%w: note %s in bar %s differs", ErrOtherScore, n.ID, n.Bar)
		}
		at[n.ID] = i
	}
	return at, nil
}

func readMeasures(h *ear.Hearing, d document) {
	h.Tempo = ear.Tempo{MedianBpm: d.Tempo.MedianBpm, BeatUnitQ: d.Tempo.BeatUnitQ, SteadinessPct: d.Tempo.SteadinessPct, NPVI: d.Tempo.NPVI}
	if d.Tempo.MarkedBpm != nil {
		h.Tempo.MarkedBpm = *d.Tempo.MarkedBpm
	}
	for _, c := range d.Tempo.Curve {
		h.Tempo.Curve = append(h.Tempo.Curve, ear.TempoPoint(c))
	}
	h.Dynamics.RangeDb = d.Dynamics.RangeDb
	for _, m := range d.Dynamics.ByMark {
		h.Dynamics.ByMark = append(h.Dynamics.ByMark, ear.MarkLevel{Mark: m.Mark, Db: m.LevelDb, Notes: m.Notes})
	}
	for _, v := range d.Dynamics.Voices {
		h.Dynamics.VoicesDb = append(h.Dynamics.VoicesDb, ear.VoiceLevel{Part: v.Part, Voice: v.Voice, Db: v.LevelDb, Notes: v.Notes})
	}
	for _, t := range d.Tuning.Strings {
		h.Tuning = append(h.Tuning, ear.StringTuning{String: t.String, Cents: t.Cents, SpreadC: t.SpreadCents, Notes: t.Notes, Confidence: t.Confidence})
	}
	for _, e := range d.Evenness.Fingers {
		h.Evenness = append(h.Evenness, ear.FingerSpread{Finger: e.Finger, TimingMs: e.TimingMs, TimingSd: e.TimingSdMs, LevelDb: e.LevelDb, LevelSdDb: e.LevelSdDb, Notes: e.Notes})
	}
}

func readFindings(in []finding) []findings.Finding {
	var out []findings.Finding
	for _, f := range in {
		g := findings.Finding{Kind: findings.Kind(f.Kind), Aspect: f.Aspect, FromS: f.FromS, ToS: f.ToS, Size: f.Size, Unit: f.Unit,
			Confidence: f.Confidence, Text: f.Text, Evidence: f.Evidence, AtS: f.AtS}
		if f.FromBar != nil && f.ToBar != nil {
			g.FromBar, g.ToBar = *f.FromBar, *f.ToBar
		}
		out = append(out, g)
	}
	return out
}
