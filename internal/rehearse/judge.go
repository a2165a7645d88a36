package rehearse

import (
	"encoding/json"
	"errors"
	"fmt"
	"math"
	"sort"
	"strings"
)

// Report is the part of the hearing contract (antiphon.hearing/1) that is measured here.
type Report struct {
	Score struct {
		Notes []struct {
			ID     string  `json:"id"`
			Part   string  `json:"part"`
			OnsetQ float64 `json:"onset_q"`
			Midi   int     `json:"midi"`
		} `json:"notes"`
	} `json:"score"`
	Passes []struct {
		N   int     `json:"n"`
		Bpm float64 `json:"bpm"`
	} `json:"passes"`
	Jumps []struct {
		ToBar   string  `json:"to_bar"`
		ResumeS float64 `json:"resume_s"`
	} `json:"jumps"`
	Played []struct {
		Note    *string `json:"note"`
		OnsetS  float64 `json:"onset_s"`
		Midi    float64 `json:"midi"`
		Verdict string  `json:"verdict"`
	} `json:"played"`
	Missed []struct {
		Note      string  `json:"note"`
		ExpectedS float64 `json:"expected_s"`
	} `json:"missed"`
	Tempo struct {
		MedianBpm float64 `json:"median_bpm"`
		BeatUnitQ float64 `json:"beat_unit_q"`
	} `json:"tempo"`
	Findings []struct {
		Kind string `json:"kind"`
	} `json:"findings"`
}

// ParseReport reads what `antiphon hear --json` printed.
func ParseReport(out []byte) (Report, error) {
	var r Report
	i := strings.IndexByte(string(out), '{')
	if i < 0 {
		return r, errors.New("no JSON in the output")
	}
	if err := json.Unmarshal(out[i:], &r); err != nil {
		return r, fmt.Errorf("reading the hearing: %w", err)
	}
	return r, nil
}

// Marks are the measures of one take, or of several added up.
type Marks struct {
	Takes                 int
	Notes50, Notes25      Counts
	Onsets50              Counts
	Aligned50, AlignedOf  int
	OnsetErrS             []float64 // of score notes that were found within 0.3 s
	Wrong, Missed, Extra  Counts
	Jumps                 Counts
	Clean, CleanUnaccused int // takes without a mistake, and those where none was reported
	TempoErr              []float64
	Other, OtherKnown     int // takes of something else, and those recognised
	AudioS, WallS         float64
	Failed                []string
}

// Errors are wrong, missed and extra notes together.
func (m Marks) Errors() Counts {
	c := m.Wrong
	c.add(m.Missed)
	c.add(m.Extra)
	return c
}

// Add adds the marks of another take.
func (m *Marks) Add(o Marks) {
	m.Takes += o.Takes
	m.Notes50.add(o.Notes50)
	m.Notes25.add(o.Notes25)
	m.Onsets50.add(o.Onsets50)
	m.Aligned50, m.AlignedOf = m.Aligned50+o.Aligned50, m.AlignedOf+o.AlignedOf
	m.OnsetErrS = append(m.OnsetErrS, o.OnsetErrS...)
	m.Wrong.add(o.Wrong)
	m.Missed.add(o.Missed)
	m.Extra.add(o.Extra)
	m.Jumps.add(o.Jumps)
	m.Clean, m.CleanUnaccused = m.Clean+o.Clean, m.CleanUnaccused+o.CleanUnaccused
	m.TempoErr = append(m.TempoErr, o.TempoErr...)
	m.Other, m.OtherKnown = m.Other+o.Other, m.OtherKnown+o.OtherKnown
	m.AudioS, m.WallS = m.AudioS+o.AudioS, m.WallS+o.WallS
	m.Failed = append(m.Failed, o.Failed...)
}

// Quantile is the q-quantile of absolute values; NaN of nothing.
func Quantile(v []float64, q float64) float64 {
	if len(v) == 0 {
		return math.NaN()
	}
	s := make([]float64, len(v))
	for i := range v {
		s[i] = math.Abs(v[i])
	}
	sort.Float64s(s)
	return s[min(len(s)-1, int(q*float64(len(s))))]
}

// Judge compares one report with the truth. shown is the score that was given to the ear.
func Judge(t Truth, shown Piece, r Report) Marks {
	m := Marks{Takes: 1, AudioS: t.DurationS}
	if t.OtherThan {
		m.Other = 1
		if len(r.Passes) == 0 && len(r.Played) == 0 {
			m.OtherKnown = 1
		}
		return m
	}
	index := scoreIndex(shown, r)
	judgeNotes(&m, t, r, index)
	judgeMistakes(&m, t, r, index)
	judgeJumps(&m, t, r)
	if e := m.Errors(); e.True == 0 {
		m.Clean = 1
		if e.Reported == 0 {
			m.CleanUnaccused = 1
		}
	}
	if t.MedianBpm > 0 && r.Tempo.MedianBpm > 0 {
		m.TempoErr = []float64{r.Tempo.MedianBpm*r.Tempo.BeatUnitQ/t.MedianBpm - 1}
	}
	return m
}

// scoreIndex maps the note ids of a report to indices of the piece, by place, pitch and part.
func scoreIndex(shown Piece, r Report) map[string]int {
	used := map[int]bool{}
	index := map[string]int{}
	for _, n := range r.Score.Notes {
		found := -1
		for i, p := range shown.Notes {
			if p.Midi != n.Midi || math.Abs(quarters(p.At)-n.OnsetQ) > 0.011 || used[i] {
				continue
			}
			if found < 0 || strings.HasSuffix(n.Part, fmt.Sprint(p.Part)) {
				found = i
			}
		}
		if found >= 0 {
			index[n.ID], used[found] = found, true
		}
	}
	return index
}

func hz(midi float64) float64 { return 440 * math.Exp2((midi-69)/12) }

func judgeNotes(m *Marks, t Truth, r Report, index map[string]int) {
	var truth, heard []Heard
	var trueOnsets, onsets []float64
	for _, n := range t.Notes {
		trueOnsets = append(trueOnsets, n.OnsetS)
		truth = append(truth, Heard{n.OnsetS, hz(float64(n.Midi))})
	}
	for _, p := range r.Played {
		onsets = append(onsets, p.OnsetS)
		heard = append(heard, Heard{p.OnsetS, hz(math.Round(p.Midi))})
	}
	m.Notes50 = Counts{MatchNotes(truth, heard, 0.05), len(truth), len(heard)}
	m.Notes25 = Counts{MatchNotes(truth, heard, 0.025), len(truth), len(heard)}
	m.Onsets50 = CountOnsets(trueOnsets, onsets)
	var est []place
	for _, p := range r.Played {
		if p.Note != nil {
			if i, ok := index[*p.Note]; ok {
				est = append(est, place{p.OnsetS, i})
			}
		}
	}
	judgePlaces(m, t, est)
}

// place is a moment for one note of the score.
type place struct {
	s    float64
	note int
}

// JudgePlaces measures an aligner: moments, and for each the note of the score it is meant for.
func JudgePlaces(t Truth, onsetsS []float64, notes []int) Marks {
	m := Marks{Takes: 1, AudioS: t.DurationS}
	est := make([]place, len(notes))
	for i, n := range notes {
		est[i] = place{onsetsS[i], n}
	}
	judgePlaces(&m, t, est)
	return m
}

func judgePlaces(m *Marks, t Truth, est []place) {
	var ref []place
	for _, n := range t.Notes {
		if n.Score != nil {
			ref = append(ref, place{n.OnsetS, *n.Score})
		}
	}
	m.AlignedOf = len(ref)
	for _, p := range nearest(len(ref), len(est), func(i int) float64 { return ref[i].s }, func(j int) float64 { return est[j].s },
		func(i, j int) bool { return ref[i].note == est[j].note && math.Abs(ref[i].s-est[j].s) <= 0.3 }) {
		d := math.Abs(ref[p[0]].s - est[p[1]].s)
		m.OnsetErrS = append(m.OnsetErrS, d)
		if d <= 0.05 {
			m.Aligned50++
		}
	}
}

// judgeMistakes counts wrong notes by place in the score (±0.2 s), extra notes by pitch (±0.1 s) and
// missed ones by place (±1 s).
func judgeMistakes(m *Marks, t Truth, r Report, index map[string]int) {
	type mistake struct {
		s   float64
		key int
	}
	count := func(ref, est []mistake, tolS float64) Counts {
		found := nearest(len(ref), len(est), func(i int) float64 { return ref[i].s }, func(j int) float64 { return est[j].s },
			func(i, j int) bool { return ref[i].key == est[j].key && math.Abs(ref[i].s-est[j].s) <= tolS })
		return Counts{len(found), len(ref), len(est)}
	}
	var wrong, extra, missed, saidWrong, saidExtra, saidMissed []mistake
	for _, n := range t.Notes {
		switch n.Kind {
		case "wrong":
			wrong = append(wrong, mistake{n.OnsetS, *n.Score})
		case "extra":
			extra = append(extra, mistake{n.OnsetS, n.Midi})
		}
	}
	for _, n := range t.Missed {
		missed = append(missed, mistake{n.ExpectedS, n.Score})
	}
	id := func(note string) int {
		if i, ok := index[note]; ok {
			return i
		}
		return -1
	}
	for _, p := range r.Played {
		switch p.Verdict {
		case "wrong":
			key := -1
			if p.Note != nil {
				key = id(*p.Note)
			}
			saidWrong = append(saidWrong, mistake{p.OnsetS, key})
		case "extra":
			saidExtra = append(saidExtra, mistake{p.OnsetS, int(math.Round(p.Midi))})
		}
	}
	for _, n := range r.Missed {
		saidMissed = append(saidMissed, mistake{n.ExpectedS, id(n.Note)})
	}
	m.Wrong, m.Extra, m.Missed = count(wrong, saidWrong, 0.2), count(extra, saidExtra, 0.1), count(missed, saidMissed, 1)
}

// judgeJumps counts a jump as found where the report resumes within 1.5 s and one bar of the truth.
func judgeJumps(m *Marks, t Truth, r Report) {
	var ref []TrueJump
	for _, j := range t.Jumps {
		if j.Kind != "pause" {
			ref = append(ref, j)
		}
	}
	bars := make([]int, len(r.Jumps))
	for i, j := range r.Jumps {
		bars[i] = -9
		if digits := strings.Map(func(c rune) rune {
			if c >= '0' && c <= '9' {
				return c
			}
			return -1
		}, j.ToBar); digits != "" {
			fmt.Sscan(digits, &bars[i])
		}
	}
	found := nearest(len(ref), len(r.Jumps), func(i int) float64 { return ref[i].ResumeS }, func(j int) float64 { return r.Jumps[j].ResumeS },
		func(i, j int) bool {
			return math.Abs(ref[i].ResumeS-r.Jumps[j].ResumeS) <= 1.5 && math.Abs(float64(ref[i].ToBar-bars[j])) <= 1
		})
	m.Jumps = Counts{len(found), len(ref), len(r.Jumps)}
}
