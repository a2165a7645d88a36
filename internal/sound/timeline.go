package sound

import (
	"math"
	"slices"

	"antiphon/internal/music"
)

// Timeline is where the bars and the beats of a score fall when it is played at one tempo. All places in it
// are seconds from its first beat. At another tempo each of them is Bpm/other times as far, since tempo
// changes keep their proportion and nothing is held.
type Timeline struct {
	Bpm     float64
	Beat    music.Beats // the note that Bpm counts
	LengthS float64     // to the final barline of one player
	EntryS  float64     // when the next player of a round enters; 0 without one
	Bars    []BarAt     // in the order in which they are played
	CountIn []ClickAt   // before the music, negative
	Clicks  []ClickAt   // through it, and until the last player of a round has ended
}

// BarAt is one bar played.
type BarAt struct {
	Index int // into Score.Bars
	AtS   float64
}

// ClickAt is one beat.
type ClickAt struct {
	AtS    float64
	Accent Accent
}

// Lay gives the timeline of what Render plays with the same Options. It asks for Bpm, Bars or Loop, Repeats,
// CountIn, EnterAfter and Entries. The error is an *Error.
func Lay(s *music.Score, opt Options) (Timeline, error) {
	if err := opt.check(); err != nil {
		return Timeline{}, err
	}
	if len(s.Bars) == 0 {
		return Timeline{}, problem(NoNotes, nil, "the score has no bars to play: choose another")
	}
	r, err := newRoute(s, opt)
	if err != nil {
		return Timeline{}, err
	}
	beat, marked, _ := r.opening()
	t := Timeline{Bpm: opt.Bpm, Beat: beat}
	if t.Bpm == 0 {
		t.Bpm = marked
	}
	if !(marked > 0) || math.IsInf(marked, 1) {
		return Timeline{}, problem(BadOption, nil, "the score's own tempo is %.3g beats a minute, which cannot be played: give a tempo", marked)
	}
	c := newClock(r, t.Bpm/marked, nil)
	t.LengthS = c.seconds(r.length)
	end := r.length
	if n := opt.players(); n > 1 {
		t.EntryS = c.seconds(r.entry(1, opt.EnterAfter))
		end = end.Add(r.entry(n-1, opt.EnterAfter))
	}
	for k, b := range r.bars {
		t.Bars = append(t.Bars, BarAt{b, c.seconds(r.at[k])})
	}
	for _, p := range r.countIn(opt.CountIn, beat) {
		t.CountIn = append(t.CountIn, ClickAt{c.seconds(p.at), p.accent})
	}
	for _, p := range r.beats(end, beat) {
		t.Clicks = append(t.Clicks, ClickAt{c.seconds(p.at), p.accent})
	}
	return t, nil
}

// Wait puts a silence before the music, after the mark if there is one. It moves what a says of places with it.
func (a *Audio) Wait(s float64) {
	from, n := 0, samples(s)
	if a.opt.Mark {
		from = 2 * markAt()
	}
	for _, c := range []*[]float32{&a.Left, &a.Right} {
		*c = slices.Insert(*c, min(from, len(*c)), make([]float32, n)...)
	}
	for i := range a.Notes {
		a.Notes[i].At, a.Notes[i].Until = a.Notes[i].At+n, a.Notes[i].Until+n
	}
	for i := range a.Clicks {
		a.Clicks[i].At += n
	}
	for i := range a.Rungs {
		r := &a.Rungs[i]
		r.CountIn, r.Start, r.End = r.CountIn+n, r.Start+n, r.End+n
	}
}
