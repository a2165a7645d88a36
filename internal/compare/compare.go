// Package compare sets hearings side by side: two takes of one score in musical time, what was asked
// beside what was played, and a row of takes as small plots.
//
// It compares a student with nobody but the same student, the teacher's own model take and what was
// asked. It gives no marks: a bar is better, as before, or not yet.
package compare

import (
	"errors"
	"math"
	"slices"

	"antiphon/internal/dsp"
	"antiphon/internal/ear"
	"antiphon/internal/evidence"
	"antiphon/internal/findings"
	"antiphon/internal/music"
)

// Schema names the JSON of Comparison and its version; fields may be added under one version.
const Schema = "antiphon.comparison/1"

// ErrOtherScore is returned for hearings that were not made with the score.
var ErrOtherScore = errors.New("the two hearings are not of the same score")

// ErrNothing is returned where one of the hearings has no pass to compare.
var ErrNothing = errors.New("one of the takes holds nothing of the score to compare")

// Side is one hearing to compare.
type Side struct {
	Hearing *ear.Hearing
	Pass    int    // N of the pass; 0, or one that is not there: the one that shows most
	Name    string // "this take", "14 October", "the model"
	Model   bool   // the teacher's own take
}

// Comparison of A, the earlier take or the model, with B, the take that is looked at.
type Comparison struct {
	Schema string   `json:"schema"`
	A      Take     `json:"a"`
	B      Take     `json:"b"`
	Bars   []Bar    `json:"bars"`  // every bar that one of the chosen passes holds, in order of the score
	Notes  []Note   `json:"notes"` // every note that one of them holds
	Say    []string `json:"say"`   // the differences, the weightiest first
}

// Take is one side with its passes.
type Take struct {
	Name          string  `json:"name"`
	Pass          int     `json:"pass"` // N of the chosen pass
	Bpm           float64 `json:"bpm"`
	SteadinessPct float64 `json:"steadiness_pct"`
	Right         int     `json:"right"` // notes of the chosen pass
	Written       int     `json:"written"`
	Lines         []Line  `json:"lines"` // of every pass
}

// Line is one pass in musical time. Q and S are places of the written score in quarters and the seconds
// of the take, both growing: whoever plays finds the same place in the other take by going from S to Q
// there and from Q to S here, in straight lines between the points.
type Line struct {
	N       int       `json:"n"`
	FromBar string    `json:"from_bar"`
	ToBar   string    `json:"to_bar"`
	Q       []float64 `json:"q"`
	S       []float64 `json:"s"`
}

// Bar is a bar in both takes. Seconds are those of the bar line; null where the chosen pass does not
// hold the bar.
type Bar struct {
	Index  int      `json:"index"`
	Bar    string   `json:"bar"`
	StartQ float64  `json:"start_q"`
	AS     *float64 `json:"a_s"`
	AEndS  *float64 `json:"a_end_s"`
	BS     *float64 `json:"b_s"`
	BEndS  *float64 `json:"b_end_s"`
	ABpm   float64  `json:"a_bpm"` // 0 unknown
	BBpm   float64  `json:"b_bpm"`
	Change Change   `json:"change"`
	Say    string   `json:"say"`

	a, b count
}

// Note is a note of the score in both takes: heard, or where it would have been; null outside the pass.
type Note struct {
	ID     string   `json:"id"`
	AS     *float64 `json:"a_s"`
	BS     *float64 `json:"b_s"`
	AHeard bool     `json:"a_heard"`
	BHeard bool     `json:"b_heard"`
}

// Change of a bar from A to B.
type Change string

// The changes. A bar that only one side holds has none.
const (
	Unknown Change = ""
	Better  Change = "better"
	Same    Change = "same"
	NotYet  Change = "not-yet"
)

// side is a hearing laid out, with its chosen pass.
type side struct {
	Side
	lines  []evidence.Line
	chosen evidence.Line
	heard  map[int]ear.Played // of the chosen pass, by note; a wrong note is heard, too
	bars   map[int]evidence.Measure
}

func newSide(s Side, score *music.Score) (side, error) {
	out := side{Side: s, heard: map[int]ear.Played{}, bars: map[int]evidence.Measure{}}
	out.lines = evidence.Lay(s.Hearing, score)
	i := evidence.Best(s.Hearing, out.lines)
	if i < 0 {
		return out, ErrNothing
	}
	for k, l := range out.lines {
		if l.Pass.N == s.Pass {
			i = k
		}
	}
	out.chosen = out.lines[i]
	for _, n := range s.Hearing.Played {
		if n.Pass == out.chosen.Pass.N && n.Note >= 0 {
			out.heard[n.Note] = n
		}
	}
	for _, m := range out.chosen.Bars {
		out.bars[m.Index] = m
	}
	return out, nil
}

// elsewhere says whether another pass than the chosen one holds the bar.
func (s *side) elsewhere(index int) bool {
	return slices.ContainsFunc(s.lines, func(l evidence.Line) bool {
		return l.Pass.N != s.chosen.Pass.N && slices.ContainsFunc(l.Bars, func(m evidence.Measure) bool { return m.Index == index })
	})
}

// Takes compares two hearings of one score.
func Takes(a, b Side, score *music.Score) (Comparison, error) {
	notes := score.Sounding()
	if !sameScore(a.Hearing.Score, notes) || !sameScore(b.Hearing.Score, notes) {
		return Comparison{}, ErrOtherScore
	}
	x, err := newSide(a, score)
	if err != nil {
		return Comparison{}, err
	}
	y, err := newSide(b, score)
	if err != nil {
		return Comparison{}, err
	}
	c := Comparison{Schema: Schema, A: x.take(), B: y.take(), Bars: []Bar{}, Notes: []Note{}}
	for i := range score.Bars {
		if bar, ok := barOf(&x, &y, score, i); ok {
			c.Bars = append(c.Bars, bar)
		}
	}
	for i, n := range notes {
		v := Note{ID: n.ID}
		v.AS, v.AHeard = x.second(i, n)
		v.BS, v.BHeard = y.second(i, n)
		if v.AS != nil || v.BS != nil {
			c.Notes = append(c.Notes, v)
		}
	}
	c.Say = differences(&x, &y, c)
	return c, nil
}

func sameScore(a, b []music.Sounding) bool {
	if len(a) != len(b) {
		return false
	}
	for i := range a {
		if a[i].ID != b[i].ID || a[i].Midi != b[i].Midi || a[i].Onset.Cmp(b[i].Onset) != 0 {
			return false
		}
	}
	return true
}

func (s *side) take() Take {
	t := Take{Name: s.Name, Pass: s.chosen.Pass.N, Bpm: rounded(s.chosen.Pass.Bpm, 1), SteadinessPct: rounded(s.chosen.Pass.SteadinessPct, 1)}
	for _, m := range s.chosen.Bars {
		n := countOf(m)
		t.Right, t.Written = t.Right+n.written-n.faults(), t.Written+n.written
	}
	for _, l := range s.lines {
		q, sec := l.Clock.Points()
		line := Line{N: l.Pass.N, FromBar: l.Pass.FromBar, ToBar: l.Pass.ToBar, Q: make([]float64, len(q)), S: make([]float64, len(q))}
		for i := range q {
			line.Q[i], line.S[i] = rounded(q[i], 4), rounded(sec[i], 3)
		}
		t.Lines = append(t.Lines, line)
	}
	return t
}

// second is when a note was heard in the chosen pass, or would have been; nil outside of it.
func (s *side) second(note int, n music.Sounding) (*float64, bool) {
	if p, ok := s.heard[note]; ok {
		v := rounded(p.OnsetS, 3)
		return &v, true
	}
	q := n.Onset.Q()
	from, to, ok := s.chosen.Clock.Span()
	if !ok || q < from || q > to {
		return nil, false
	}
	v := rounded(s.chosen.Clock.Seconds(q), 3)
	return &v, false
}

// barOf is a bar of the score in both takes; ok is false where neither holds it.
func barOf(x, y *side, score *music.Score, i int) (Bar, bool) {
	ma, inA := x.bars[i]
	mb, inB := y.bars[i]
	if !inA && !inB {
		return Bar{}, false
	}
	b := Bar{Index: i, StartQ: rounded(score.Bars[i].Start.Q(), 6)}
	if inA {
		b.Bar, b.a = ma.Label, countOf(ma)
		b.AS, b.AEndS = ends(ma)
		b.ABpm = rounded(evidence.Bpm(x.Hearing, x.chosen, ma), 1)
	}
	if inB {
		b.Bar, b.b = mb.Label, countOf(mb)
		b.BS, b.BEndS = ends(mb)
		b.BBpm = rounded(evidence.Bpm(y.Hearing, y.chosen, mb), 1)
	}
	if inA && inB {
		b.Change = change(b.a, b.b)
	}
	b.Say = barSay(b, x, y)
	return b, true
}

func ends(m evidence.Measure) (from, to *float64) {
	a, b := rounded(max(0, m.FromS), 3), rounded(m.ToS, 3)
	return &a, &b
}

// count is what a bar of one pass holds. Only what the ear is sure of counts against it.
type count struct {
	written, wrong, missed, extra int
	unevenMs                      float64 // spread of its notes about the local tempo
}

func (c count) faults() int { return c.wrong + c.missed }

func countOf(m evidence.Measure) count {
	var c count
	var ms []float64
	for _, n := range m.Heard {
		if n.Note >= 0 {
			c.written++
			ms = append(ms, math.Abs(n.TimingMs))
		}
		if n.Confidence < findings.Sure {
			continue
		}
		switch n.Verdict {
		case ear.Wrong:
			c.wrong++
		case ear.Extra:
			c.extra++
		}
	}
	for _, g := range m.Missed {
		c.written++
		if g.Confidence >= findings.Sure {
			c.missed++
		}
	}
	c.unevenMs = dsp.Median(ms)
	return c
}

// A bar is steadier or not where its notes lie this much nearer to the beat: in ms, and as a share.
const (
	unevenMs    = 15.0
	unevenShare = 0.4
)

func change(a, b count) Change {
	fa, fb := a.faults()+a.extra, b.faults()+b.extra
	switch {
	case fb < fa:
		return Better
	case fb > fa:
		return NotYet
	case a.unevenMs-b.unevenMs > unevenMs && b.unevenMs < (1-unevenShare)*a.unevenMs:
		return Better
	case b.unevenMs-a.unevenMs > unevenMs && a.unevenMs < (1-unevenShare)*b.unevenMs:
		return NotYet
	}
	return Same
}
