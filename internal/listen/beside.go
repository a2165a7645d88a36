package listen

import (
	"cmp"
	"context"
	"math"
	"slices"

	"antiphon/internal/dsp"
	"antiphon/internal/ear"
	"antiphon/internal/music"
	"antiphon/internal/studio"
)

// withPartner hears a take against what was asked, as against does, and of two players the child only.
func withPartner(ctx context.Context, l *ear.Listening, score *music.Score, m studio.Material, hints []ear.Hint) (*ear.Hearing, int, error) {
	with := m.Take.With
	if inside(with) {
		if h, ok, err := beside(ctx, l, score, m.FromBar, m.ToBar, with, hints); ok || err != nil {
			return h, 0, err
		}
	}
	own, at := alone(ctx, score, with)
	h, capo, err := against(ctx, l, own, m.FromBar, m.ToBar, hints)
	if err == nil {
		lift(h, score, at)
	}
	return h, capo, err
}

// lostPlace is what the teacher should know where a child did not stay with its partner: a jump beside somebody
// who goes on cannot be followed well, so only what was surely heard is told. The zero value: it stayed.
func lostPlace(h *ear.Hearing, with studio.Partner) studio.Concern {
	if !inside(with) || h == nil || len(h.Jumps) == 0 {
		return studio.Concern{}
	}
	h.Missed = nil
	h.Played = slices.DeleteFunc(h.Played, func(n ear.Played) bool { return n.Verdict != ear.Right })
	return studio.Concern{Kind: "with-partner", AtS: h.Jumps[0].ResumeS,
		Say: "A second part sounds in this recording, and the child stopped or went back while it went on. Only notes that were surely heard are marked."}
}

// beside hears a take with a partner in it against what was asked. False where it cannot: then it is heard as
// any other.
func beside(ctx context.Context, l *ear.Listening, score *music.Score, fromBar, toBar string, with studio.Partner, hints []ear.Hint) (*ear.Hearing, bool, error) {
	cut, at := score, []int(nil)
	if fromBar != "" {
		cut, at = passage(score, fromBar, toBar)
	}
	p, ok := pairOf(ctx, cut, with)
	if !ok {
		return nil, false, nil
	}
	if at != nil && leadsOut(hints, score, at) {
		hints = nil
	}
	h, err := heed(ctx, l, p.score, ear.Options{Hints: hints})
	if err != nil || len(h.Passes) == 0 {
		return nil, false, err
	}
	p.childOnly(h, cut.Sounding())
	if len(h.Passes) == 0 {
		return nil, false, nil
	}
	lift(h, score, at)
	return h, true, nil
}

// Near the partner's notes the ear cannot tell who played.
const (
	togetherS = 0.12 // nearer than this two strokes of one pitch are one
	ringsS    = 1.5  // so long after its stroke the partner's note may be taken for an extra one
)

// others are the moments of the partner's notes, as they were heard or expected.
type others []struct {
	at   float64
	midi int
}

// explains tells whether the partner has this pitch, or its octave, around this moment.
func (o others) explains(at float64, midi int, after float64) bool {
	for _, n := range o {
		if at >= n.at-togetherS && at <= n.at+after && (n.midi-midi)%12 == 0 {
			return true
		}
	}
	return false
}

// childOnly tells a hearing of a pair in the child's notes. What the partner's notes explain as well is no
// fault of the child's: it is left out.
func (p pair) childOnly(h *ear.Hearing, asked []music.Sounding) {
	var partner others
	add := func(note int, at float64) {
		if note >= 0 && p.child[note] < 0 {
			partner = append(partner, struct {
				at   float64
				midi int
			}{at, h.Score[note].Midi})
		}
	}
	for _, n := range h.Played {
		add(n.Note, n.OnsetS)
	}
	for _, n := range h.Missed {
		add(n.Note, n.ExpectedS)
	}
	h.Played = slices.DeleteFunc(h.Played, func(n ear.Played) bool {
		switch {
		case n.Note >= 0 && p.child[n.Note] < 0:
			return true
		case n.Verdict == ear.Wrong:
			return partner.explains(n.OnsetS, n.Midi, togetherS)
		case n.Verdict == ear.Extra:
			return partner.explains(n.OnsetS, n.Midi, ringsS)
		}
		return false
	})
	h.Missed = slices.DeleteFunc(h.Missed, func(n ear.Missed) bool { return p.child[n.Note] < 0 })
	for i := range h.Played {
		if n := h.Played[i].Note; n >= 0 {
			h.Played[i].Note = p.child[n]
		}
	}
	for i := range h.Missed {
		h.Missed[i].Note = p.child[h.Missed[i].Note]
	}
	h.Score = asked
	h.Dynamics.VoicesDb = slices.DeleteFunc(h.Dynamics.VoicesDb, func(v ear.VoiceLevel) bool {
		return !slices.ContainsFunc(asked, func(n music.Sounding) bool { return n.Part == v.Part && n.Voice == v.Voice })
	})
	partner.trim(h)
	p.shorten(h)
}

// trim leaves out what the partner played before the child came in and after it stopped: there more of the
// child's notes are missing than there. A note that both have at once says nothing about that.
func (o others) trim(h *ear.Hearing) {
	type one struct {
		at   float64
		mine int // 1 played, -1 missed
	}
	byPass := map[int][]one{}
	for _, n := range h.Played {
		if n.Note >= 0 && !(n.Verdict == ear.Right && o.explains(n.OnsetS, n.Midi, togetherS)) {
			byPass[n.Pass] = append(byPass[n.Pass], one{n.OnsetS, 1})
		}
	}
	for _, n := range h.Missed {
		byPass[n.Pass] = append(byPass[n.Pass], one{n.ExpectedS, -1})
	}
	type span struct{ from, to float64 }
	played := map[int]span{}
	for pass, l := range byPass {
		slices.SortFunc(l, func(a, b one) int { return cmp.Compare(a.at, b.at) })
		// The stretch in which played notes outnumber missed ones the most.
		best, sum, from := 0, 0, 0
		for i, n := range l {
			if sum <= 0 {
				sum, from = 0, i
			}
			if sum += n.mine; sum > best {
				best = sum
				played[pass] = span{l[from].at, n.at}
			}
		}
		if best == 0 {
			continue
		}
		// Where nothing is missing before or after, what both have at once is the child's too.
		s := played[pass]
		if !slices.ContainsFunc(l, func(n one) bool { return n.mine < 0 && n.at < s.from }) {
			s.from = math.Inf(-1)
		}
		if !slices.ContainsFunc(l, func(n one) bool { return n.mine < 0 && n.at > s.to }) {
			s.to = math.Inf(1)
		}
		played[pass] = s
	}
	out := func(pass int, at float64) bool {
		s, ok := played[pass]
		return !ok || at < s.from-togetherS || at > s.to+togetherS
	}
	h.Missed = slices.DeleteFunc(h.Missed, func(n ear.Missed) bool { return out(n.Pass, n.ExpectedS) })
	h.Played = slices.DeleteFunc(h.Played, func(n ear.Played) bool { return n.Note >= 0 && out(n.Pass, n.OnsetS) })
}

// shorten lays passes round the child's notes, since the partner may go on alone, and measures the range anew.
func (p pair) shorten(h *ear.Hearing) {
	var kept []ear.Pass
	renamed := map[int]int{}
	firstBar, lastBar := -1, -1
	for i, n := range h.Score {
		if slices.Contains(p.child, i) {
			if firstBar < 0 {
				firstBar = n.BarIndex
			}
			lastBar = max(lastBar, n.BarIndex)
		}
	}
	for _, pass := range h.Passes {
		low, high := -1, -1
		pass.StartS, pass.EndS = math.Inf(1), math.Inf(-1)
		for _, n := range h.Played {
			if n.Pass != pass.N || n.Note < 0 {
				continue
			}
			b := h.Score[n.Note]
			if low < 0 || b.BarIndex < low {
				low, pass.FromBar = b.BarIndex, b.Bar
			}
			if b.BarIndex > high {
				high, pass.ToBar = b.BarIndex, b.Bar
			}
			pass.StartS, pass.EndS = min(pass.StartS, n.OnsetS), max(pass.EndS, n.OnsetS)
		}
		if low < 0 {
			continue // the partner alone
		}
		pass.Complete = low == firstBar && high == lastBar
		renamed[pass.N] = len(kept) + 1
		pass.N = len(kept) + 1
		kept = append(kept, pass)
	}
	h.Passes = kept
	h.Played = slices.DeleteFunc(h.Played, func(n ear.Played) bool { return renamed[n.Pass] == 0 })
	h.Missed = slices.DeleteFunc(h.Missed, func(n ear.Missed) bool { return renamed[n.Pass] == 0 })
	for i := range h.Played {
		h.Played[i].Pass = renamed[h.Played[i].Pass]
	}
	for i := range h.Missed {
		h.Missed[i].Pass = renamed[h.Missed[i].Pass]
	}
	known := func(bar string) bool {
		return slices.ContainsFunc(h.Score, func(n music.Sounding) bool { return n.Bar == bar })
	}
	h.Jumps = slices.DeleteFunc(h.Jumps, func(j ear.Jump) bool { return !known(j.FromBar) || !known(j.ToBar) })
	h.Tempo.Curve = slices.DeleteFunc(h.Tempo.Curve, func(t ear.TempoPoint) bool { return !known(t.Bar) })
	var levels []float64
	for _, n := range h.Played {
		levels = append(levels, n.LevelDb)
	}
	if len(levels) > 0 {
		h.Dynamics.RangeDb = dsp.Percentile(levels, 0.9) - dsp.Percentile(levels, 0.1)
	}
}
