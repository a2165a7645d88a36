package sound

import (
	"fmt"
	"math"
	"slices"

	"antiphon/internal/music"
)

// performance is all that is to be heard, each thing at its sample.
type performance struct {
	strokes  []stroke
	lengthN  int // samples up to the last barline; of a loop, all of it
	players  int
	looped   bool
	toneWord bool // the score names strokes or tone places
}

// stroke is one note as it is played once.
type stroke struct {
	tone   tone
	at     int // sample
	until  int // it is damped from here on
	cut    bool
	last   bool // rings out after the final barline
	soften bool // comes in without an attack
	gainDb float64
	player int // from 0
	part   int
	note   string
}

// take is one note of the route before it has a time in samples.
type take struct {
	sound    int // index into the sounding notes
	at, ends music.Beats
}

// perform lays out what is played and says so in a.
func perform(s *music.Score, opt Options, a *Audio) (*performance, error) {
	sounds := s.Sounding()
	if len(sounds) == 0 {
		return nil, problem(NoNotes, nil, "the score has no pitched notes, so there is nothing to play: choose another")
	}
	heard, muted, err := unmuted(s, sounds, opt.Mute, opt.Solo)
	if err != nil {
		return nil, err
	}
	a.muted = muted
	r, err := newRoute(s, opt)
	if err != nil {
		return nil, err
	}
	all := touches(s, sounds, opt)
	byBar := map[int][]int{}
	for i, n := range sounds {
		if !n.Cue {
			byBar[n.BarIndex] = append(byBar[n.BarIndex], i)
		}
	}
	takes := r.takes(sounds, byBar)
	if !slices.ContainsFunc(takes, func(t take) bool { return heard[t.sound] }) && !opt.Click && opt.CountIn == 0 {
		return nil, problem(NoNotes, nil, "no note is left to play: mute less, choose other bars, or add the click")
	}
	beat, marked, isMarked := r.opening()
	a.Beat = beat
	var holds []hold
	steady := opt.Click || opt.Mark || opt.Loop != nil || opt.players() > 1
	if h := r.holds(all, sounds, byBar); len(h) > 0 {
		if steady {
			a.Remarks = append(a.Remarks, "Fermatas are not held: the beat goes on.")
		} else {
			holds = h
			a.held = true
		}
	}
	if !isMarked && opt.Bpm == 0 && len(opt.Ladder) == 0 {
		a.Remarks = append(a.Remarks, fmt.Sprintf("The score has no tempo mark: played at %g beats a minute.", marked))
	}
	if t := s.Bars[r.bars[0]].Time; t.Compound() && (opt.Click || opt.CountIn > 0) {
		bpm := opt.tempos()[0]
		if bpm == 0 {
			bpm = marked
		}
		if click := music.Quarters(12, int64(t.Parts[0].Unit)); click != beat {
			a.Remarks = append(a.Remarks, fmt.Sprintf("The score's tempo mark counts another note than the beat of the bar: at %g the click falls %g times a minute.", bpm, math.Round(10*bpm*beat.Q()/click.Q())/10))
		}
	}
	p := &performance{players: opt.players(), looped: opt.Loop != nil}
	parts := map[string]int{}
	for i := range s.Parts {
		parts[s.Parts[i].ID] = i
	}
	for i := range all {
		p.toneWord = p.toneWord || heard[i] && (all[i].bridgeMm != 0 || all[i].rest != opt.RestAll)
	}
	w := &writer{p: p, a: a, r: r, opt: opt, sounds: sounds, touches: all, takes: takes, heard: heard, parts: parts, beat: beat, holds: holds}
	for _, bpm := range opt.tempos() {
		if bpm == 0 {
			bpm = marked
		}
		if err := w.rung(bpm, bpm/marked); err != nil {
			return nil, err
		}
	}
	return p, nil
}

// takes are the notes along the route. A note that is tied over a jump ends there; a tie that leads
// in from nowhere lengthens the note that it comes from, if that one was just played.
func (r *route) takes(sounds []music.Sounding, byBar map[int][]int) []take {
	type key struct {
		part string
		midi int
		end  music.Beats
	}
	ending := map[key]int{}
	var out []take
	unbroken := r.unbroken()
	for k, b := range r.bars {
		end := unbroken[k]
		for _, i := range byBar[b] {
			n := sounds[i]
			at := r.at[k].Add(n.Onset.Sub(r.s.Bars[b].Start))
			ends := at.Add(n.Duration)
			if end.Less(ends) {
				ends = end
			}
			if n.TiedIn {
				if j, ok := ending[key{n.Part, n.Midi, at}]; ok {
					out[j].ends = ends
					ending[key{n.Part, n.Midi, ends}] = j
					continue
				}
			}
			if n.Unison && len(out) > 0 {
				if o := &out[len(out)-1]; o.at == at && sounds[o.sound].Midi == n.Midi && sounds[o.sound].Part == n.Part {
					if o.ends.Less(ends) {
						o.ends = ends
					}
					continue
				}
			}
			ending[key{n.Part, n.Midi, ends}] = len(out)
			out = append(out, take{i, at, ends})
		}
	}
	return out
}

// writer turns takes into strokes, rung by rung.
type writer struct {
	p       *performance
	a       *Audio
	r       *route
	opt     Options
	sounds  []music.Sounding
	touches []touch
	takes   []take
	heard   []bool
	parts   map[string]int
	beat    music.Beats
	holds   []hold
}

// breathS is the pause between two tempos of a ladder, in which the last notes die away.
const breathS = 1.6

// rung plays the piece once at a tempo that is so many times the score's own.
func (w *writer) rung(bpm, scale float64) error {
	if !(bpm >= SlowestBpm/4.0 && bpm <= FastestBpm*4) {
		return problem(BadOption, nil, "the score's own tempo is %.3g beats a minute, which cannot be played: give a tempo", bpm)
	}
	c := newClock(w.r, scale, w.holds)
	end := w.r.length
	if w.p.looped {
		if w.p.players > 1 && w.opt.EnterAfter > 0 {
			w.a.Remarks = append(w.a.Remarks, "Going round, all players are heard from the beginning.")
		}
	} else {
		end = end.Add(w.r.entry(w.p.players-1, w.opt.EnterAfter))
	}
	from := w.p.lengthN
	if len(w.a.Rungs) > 0 {
		from += int(breathS * RateHz)
	}
	countIn := w.r.countIn(w.opt.CountIn, w.beat)
	lead := w.leadIn(c)
	if len(countIn) > 0 {
		lead = max(lead, -c.seconds(countIn[0].at))
	}
	if w.p.looped && len(countIn) == 0 {
		lead = 0 // a grace note before the first beat goes round to the end
	}
	start := from + samples(lead)
	if w.opt.Mark {
		start = markAt() + samples(MarkLeadS)
	}
	total := float64(start)/RateHz + c.seconds(end)
	if longestS := w.opt.longestS(); !(total <= longestS) { // also of what is no number
		return problem(TooLong, nil, "this would last %.0f minutes, and at most %.0f can be made: choose a faster tempo, fewer bars or fewer tempos", total/60, longestS/60)
	}
	rung := Rung{Bpm: bpm, CountIn: start, Start: start, End: start + samples(c.seconds(end)), Bars: len(w.r.bars)}
	for _, p := range countIn {
		at := start + samples(c.seconds(p.at))
		rung.CountIn = min(rung.CountIn, at)
		w.a.Clicks = append(w.a.Clicks, Click{at, p.accent, true})
	}
	if w.opt.Click {
		for _, p := range w.r.beats(end, w.beat) {
			w.a.Clicks = append(w.a.Clicks, Click{start + samples(c.seconds(p.at)), p.accent, false})
		}
	}
	w.a.Rungs = append(w.a.Rungs, rung)
	first := len(w.p.strokes)
	for k := range w.p.players {
		w.player(k, c, start, end)
	}
	w.p.lengthN = rung.End
	if w.p.looped {
		wrapInto(w.p.strokes[first:], w.p.lengthN)
	}
	cutShort(w.p.strokes[first:], w.p.lengthN, w.p.looped)
	return nil
}

func samples(s float64) int { return int(math.Round(s * RateHz)) }

// leadIn is the time that grace notes before the first beat need.
func (w *writer) leadIn(c *clock) float64 {
	need := 0.0
	for _, t := range w.takes {
		if touch := &w.touches[t.sound]; touch.grace > 0 && w.heard[t.sound] {
			need = max(need, float64(touch.grace)*w.graceS(t, c)-c.seconds(t.at))
		}
	}
	return need
}

func (w *writer) graceS(t take, c *clock) float64 {
	beatS := c.seconds(t.at.Add(w.beat)) - c.seconds(t.at)
	return graceLengthS(w.graceGroup(t), beatS)
}

// graceGroup is the number of all grace notes before the same main note.
func (w *writer) graceGroup(t take) int {
	n := w.touches[t.sound].grace
	for i := t.sound - 1; i >= 0 && w.touches[i].grace > n && w.sounds[i].Onset == w.sounds[t.sound].Onset; i-- {
		n = w.touches[i].grace
	}
	return n
}
