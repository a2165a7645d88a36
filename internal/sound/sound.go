// Package sound plays a score: as a guitar, with a click and a count-in where they are asked for, at
// any tempo, several tempos one after another, with voices left out, as a round, or as a loop.
//
// It plays what is written and adds nothing of its own to the time: every note and every click lies
// on the sample that the score and the tempo give it. It does not play in a room, does not imitate a
// player's unevenness, and does not make a sound louder than −20 LUFS, since children listen.
package sound

import (
	"context"
	"errors"
	"math"

	"antiphon/internal/dsp"
	"antiphon/internal/music"
)

// RateHz is the sampling rate of all that is made here.
const RateHz = 48000

// Options of Render; the zero value plays the piece once, as marked, without click.
type Options struct {
	Bpm     float64   // beats a minute, in the beat of the opening; 0: as the score says
	Ladder  []float64 // several tempos one after another, in the place of Bpm
	Click   bool      // a click through the music
	CountIn int       // bars of clicks before the music, at each tempo
	Repeats Repeats
	Loop    *Loop    // the bars that go round; nil: the whole piece, not as a loop
	Bars    *Loop    // the bars that are played once; nil: all. Not with Loop
	Mute    []string // "2" a voice, or the second part; "P1" a part by id or name; "P1/2" a voice of one part
	Solo    []string // named in the same way: these alone are played; nil: all

	EnterAfter int // bars after which the next player enters; 0: one player
	Entries    int // players of a round; 0 with EnterAfter: 2

	Mark bool // begins with a mark, for a player that puts sounds together by the sample: see MarkLeadS

	Silent   bool // lay out notes and clicks and make no sound, as for a MIDI file
	Guitar   Guitar
	Font     string  // a sound font for FluidSynth; "": the best of those installed
	A4Hz     float64 // 0: 440
	BridgeMm float64 // where our own strings are plucked if the score does not say; 0: 130, over the hole
	RestAll  bool    // our own strings are played with rest strokes where the score does not say

	LongestS float64 // what would last longer is refused; 0: half an hour, which takes 2.4 GB of memory

	Progress func(share float64) // called now and then from one goroutine; may be nil
}

// Repeats says how repeat signs are taken.
type Repeats string

const (
	Written Repeats = ""     // as the score says
	Once    Repeats = "once" // each bar once, last endings only, no jumps
)

// Loop names the bars that go round, as printed. Empty names stand for the first and the last bar.
type Loop struct{ From, To string }

// Guitar says what sounds.
type Guitar string

const (
	AnyGuitar Guitar = ""        // our own strings where the score names strokes or tone places, else recorded notes where there are any
	Recorded  Guitar = "sampled" // notes of a sound font, through FluidSynth
	Strings   Guitar = "strings" // our own plucked strings
)

// Audio is a score made audible.
type Audio struct {
	Left, Right []float32
	Looped      bool // end and beginning join

	Notes    []Heard // in order of time
	Clicks   []Click
	Rungs    []Rung
	Beat     music.Beats // the note that the tempos count
	Guitar   Guitar      // that sounds
	Font     string      // file name of the sound font; "" none
	Loudness dsp.Loudness
	MusicDb  float64 // loudest 400 ms of the music alone, LUFS
	ClickDb  float64 // loudest 400 ms of the clicks alone, LUFS; −Inf without
	Remarks  []string

	score *music.Score
	opt   Options
	muted []line
	held  bool // fermatas are
}

// Seconds is the length of the sound; of a silent rendering, until its last note or bar ends.
func (a *Audio) Seconds() float64 {
	if n := len(a.Left); n > 0 || len(a.Rungs) == 0 {
		return float64(n) / RateHz
	}
	end := a.Rungs[len(a.Rungs)-1].End
	for _, h := range a.Notes {
		end = max(end, h.Until)
	}
	return float64(end) / RateHz
}

// Heard is one stroke, or one note that sounds without one.
type Heard struct {
	Note   string // id as in Score.Sounding
	Player int    // of a round, from 1
	At     int    // sample of its onset
	Until  int    // sample where it is damped
	Midi   int
	Db     float64 // against mezzo forte
	String int     // it is played on; 0 unknown
	Part   int     // index into Score.Parts
}

// Click is one beat of the click.
type Click struct {
	At      int // sample
	Accent  Accent
	CountIn bool
}

// Rung is one playing of the piece at one tempo.
type Rung struct {
	Bpm     float64
	CountIn int // sample of the first click before the music; equal to Start without a count-in
	Start   int // sample of the first beat of the music
	End     int // sample of the final barline
	Bars    int // played in all
}

// Render plays the score. The error is an *Error.
func Render(ctx context.Context, s *music.Score, opt Options) (*Audio, error) {
	if err := opt.check(); err != nil {
		return nil, err
	}
	a := &Audio{score: s, opt: opt, Looped: opt.Loop != nil}
	p, err := perform(s, opt, a)
	if err != nil {
		return nil, err
	}
	if opt.Silent {
		for i := range p.strokes {
			a.note(&p.strokes[i])
		}
		return a, nil
	}
	g, err := chooseGuitar(p, opt, a)
	if err != nil {
		return nil, err
	}
	err = p.mix(ctx, g, a)
	if e, ok := errors.AsType[*Error](err); ok && opt.Guitar == AnyGuitar && opt.Font == "" && (e.Kind == BadFont || e.Kind == NoTool) {
		a.Guitar, a.Font = Strings, ""
		a.Remarks = append(a.Remarks, "Played on our own strings: "+e.Say+".")
		err = p.mix(ctx, newPlucked(opt), a)
	}
	if err != nil {
		return nil, err
	}
	if err := ctx.Err(); err != nil {
		return nil, problem(Internal, err, "stopped before the sound was made")
	}
	if err := a.level(ctx, p); err != nil {
		return nil, err
	}
	opt.progress(1)
	return a, nil
}

func (o Options) progress(share float64) {
	if o.Progress != nil {
		o.Progress(share)
	}
}

func (o Options) longestS() float64 {
	if o.LongestS == 0 {
		return longestS
	}
	return o.LongestS
}

func (o Options) a4Hz() float64 {
	if o.A4Hz == 0 {
		return 440
	}
	return o.A4Hz
}

func (o Options) tempos() []float64 {
	if len(o.Ladder) > 0 {
		return o.Ladder
	}
	return []float64{o.Bpm}
}

func (o Options) players() int {
	switch {
	case o.EnterAfter == 0:
		return 1
	case o.Entries == 0:
		return 2
	}
	return o.Entries
}

// Limits on what may be asked.
const (
	SlowestBpm, FastestBpm = 10, 500
	mostCountIn            = 16
	mostEntries            = 12
	mostAfter              = 1000
	mostRungs              = 60
	longestS               = 30 * 60
)

func (o Options) check() error {
	for _, bpm := range append([]float64{o.Bpm}, o.Ladder...) {
		if (bpm != 0 || len(o.Ladder) > 0 && bpm != o.Bpm) && !(bpm >= SlowestBpm && bpm <= FastestBpm) {
			return problem(BadOption, nil, "%v beats a minute is no tempo: give %d to %d", bpm, SlowestBpm, FastestBpm)
		}
	}
	switch {
	case len(o.Ladder) > mostRungs:
		return problem(BadOption, nil, "a ladder of %d tempos is too long: give at most %d", len(o.Ladder), mostRungs)
	case o.CountIn < 0 || o.CountIn > mostCountIn:
		return problem(BadOption, nil, "a count-in of %d bars cannot be: give 0 to %d", o.CountIn, mostCountIn)
	case o.EnterAfter < 0 || o.EnterAfter > mostAfter:
		return problem(BadOption, nil, "a player cannot enter after %d bars: give 1 to %d", o.EnterAfter, mostAfter)
	case o.EnterAfter == 0 && o.Entries > 1:
		return problem(BadOption, nil, "%d players of a round, but no bars after which they enter: say after how many bars", o.Entries)
	case o.Entries < 0 || o.Entries > mostEntries:
		return problem(BadOption, nil, "%d players of a round cannot be: give 1 to %d", o.Entries, mostEntries)
	case o.Loop != nil && o.Bars != nil:
		return problem(BadOption, nil, "bars are played once or as a loop: leave one of the two out")
	case o.Mark && (len(o.Ladder) > 1 || o.CountIn > 0 || o.Loop != nil):
		return problem(BadOption, nil, "a sound with a mark has one tempo and no count-in and is no loop: leave them out")
	case o.Loop != nil && len(o.Ladder) > 1:
		return problem(BadOption, nil, "a loop has one tempo: leave the ladder or the loop out")
	case o.Repeats != Written && o.Repeats != Once:
		return problem(BadOption, nil, "repeats can be taken as written or once, not %q", o.Repeats)
	case o.Guitar != AnyGuitar && o.Guitar != Recorded && o.Guitar != Strings:
		return problem(BadOption, nil, "the guitar can be sampled or strings, not %q", o.Guitar)
	case o.A4Hz != 0 && !(o.A4Hz >= 380 && o.A4Hz <= 480):
		return problem(BadOption, nil, "%v Hz is no A: give 380 to 480", o.A4Hz)
	case o.BridgeMm != 0 && !(o.BridgeMm >= 15 && o.BridgeMm <= 325):
		return problem(BadOption, nil, "strings are not plucked %v mm from the bridge: give 15 to 325", o.BridgeMm)
	}
	return nil
}

func db(gain float64) float64    { return 20 * math.Log10(gain) }
func gain(level float64) float64 { return math.Pow(10, level/20) }
