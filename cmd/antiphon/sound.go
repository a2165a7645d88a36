package main

import (
	"errors"
	"fmt"
	"io"
	"math"
	"os"
	"path/filepath"
	"strconv"
	"strings"

	"antiphon/internal/sound"
)

// soundCmd plays a score into a file.
type soundCmd struct {
	Score string `arg:"" help:"The score: MusicXML, MIDI or ABC."`
	Out   string `short:"o" required:"" help:"The file to write: .wav, .flac, .m4a, .opus or .mid." placeholder:"FILE"`

	Tempo   *float64 `help:"Beats a minute, in the beat of the opening; without it the score's own mark." placeholder:"BPM"`
	Ladder  string   `help:"Tempos one after another, each 5 % above the last: 60-100. FROM-TO/N gives N tempos." placeholder:"FROM-TO"`
	Click   bool     `help:"A click through the music, accented by the metre."`
	CountIn *int     `name:"count-in" help:"Bars of clicks before the music; 1 with a click or a ladder, else 0." placeholder:"BARS"`
	Repeats string   `help:"Repeats as written, or each bar once." enum:"written,once" default:"written" placeholder:"written|once"`
	Loop    string   `help:"Bars that go round without a gap, each once: 5-8, 5, or all." placeholder:"BARS"`
	Mute    []string `help:"A voice (2), a part by id or name (P1), or a voice of a part (P1/2) to leave out. May be given again." placeholder:"VOICE"`

	EnterAfter *int `name:"enter-after" help:"The next player enters after so many bars, as in a round." placeholder:"BARS"`
	Entries    *int `help:"Players of the round; 2 without it." placeholder:"N"`

	Guitar    string   `help:"Recorded notes (sampled) or our own strings; auto takes the strings where the score says how or where to pluck." enum:"auto,sampled,strings" default:"auto" placeholder:"auto|sampled|strings"`
	SoundFont string   `name:"sound-font" env:"ANTIPHON_SOUND_FONT" help:"A sound font in place of the installed one." placeholder:"FILE"`
	PluckMm   *float64 `name:"pluck-mm" help:"Where our own strings are plucked, in millimetres from the bridge; 130 without it." placeholder:"MM"`
	Rest      bool     `name:"rest-strokes" help:"Our own strings are played with rest strokes where the score does not say."`
	A4        *float64 `name:"a4" help:"Hertz of the A above middle C." placeholder:"HZ"`

	JSON  bool `name:"json" help:"Print what was made for programs (antiphon.sound/1)."`
	Force bool `help:"Replace a file that is there already."`
}

// Help is what `antiphon sound --help` says below the usage line.
func (soundCmd) Help() string {
	return `Plays a score for listening and playing along: at any tempo, with a click and a count-in, several tempos one after another,
without a voice that the student plays, as a round, or as a loop that goes round without a gap.

Example:
  antiphon sound tune.musicxml -o tune.m4a --tempo 72 --click
  antiphon sound tune.musicxml -o ladder.m4a --ladder 60-100
  antiphon sound round.musicxml -o round.wav --enter-after 2 --entries 3
  antiphon sound tune.musicxml -o bars.wav --loop 5-8 --tempo 60`
}

// moderate stands beside everything that is made to be listened to.
const moderate = "Children listen: keep headphones at a moderate volume."

// Run plays the score and writes the file.
func (c *soundCmd) Run(a *app) error {
	opt, err := c.options()
	if err != nil {
		return err
	}
	format, err := sound.FormatOf(c.Out)
	if err != nil {
		return usage("%v", err)
	}
	if sameFile(c.Out, c.Score) {
		return usage("%s is what is read, and is not written over: name another file", c.Out)
	}
	if st, err := os.Stat(filepath.Dir(c.Out)); err != nil || !st.IsDir() { // said before the work, not after it
		return fmt.Errorf("%s cannot be written: there is no folder %s", c.Out, filepath.Dir(c.Out))
	}
	if _, err := os.Lstat(c.Out); err == nil && !c.Force {
		return existsError(c.Out)
	}
	score, remarks, err := readScore(c.Score)
	if err != nil {
		return err
	}
	bar := newProgress(a, "playing "+filepath.Base(c.Score))
	defer bar.done()
	opt.Progress, opt.Silent = bar.at, format == sound.MIDI
	made, err := sound.Render(a.ctx, score, opt)
	if err != nil {
		return soundError(err, c.Score)
	}
	err = writeWhole(c.Out, c.Force, func(w io.Writer) error { return made.Write(a.ctx, w, format) })
	if err != nil {
		return err
	}
	bar.done()
	if format == sound.AAC && made.Looped {
		remarks = append(remarks, "Players of .m4a leave a gap at the join: for a loop choose .wav, .flac or .opus.")
	}
	if c.JSON {
		err = soundJSON(a.out, c.Out, format, score, made, remarks)
	} else {
		err = soundText(a.out, c.Out, format, score, made, remarks)
	}
	if err != nil {
		return fmt.Errorf("the result could not be printed (%w)", err)
	}
	return nil
}

// soundError names the score where the sentence does not, and tells wrong usage from work that failed.
func soundError(err error, score string) error {
	e, ok := errors.AsType[*sound.Error](err)
	switch {
	case !ok:
		return err
	case e.Kind == sound.NoNotes:
		return fmt.Errorf("%s: %w", score, err)
	case e.Kind == sound.NoVoice || e.Kind == sound.NoSuchBar:
		return usage("%s: %v", score, err)
	case e.Kind == sound.BadOption:
		return usage("%v", err)
	}
	return err
}

func (c *soundCmd) options() (sound.Options, error) {
	opt := sound.Options{Click: c.Click, Mute: c.Mute, Font: c.SoundFont}
	if c.Repeats == "once" {
		opt.Repeats = sound.Once
	}
	switch c.Guitar {
	case "sampled":
		opt.Guitar = sound.Recorded
	case "strings":
		opt.Guitar = sound.Strings
	}
	if c.Tempo != nil {
		if !(*c.Tempo >= sound.SlowestBpm && *c.Tempo <= sound.FastestBpm) {
			return opt, usage("--tempo %v is no tempo: give %d to %d beats a minute", *c.Tempo, sound.SlowestBpm, sound.FastestBpm)
		}
		opt.Bpm = *c.Tempo
	}
	if c.Ladder != "" {
		if c.Tempo != nil {
			return opt, usage("--tempo and --ladder both say how fast: give one of them")
		}
		var err error
		if opt.Ladder, err = ladder(c.Ladder); err != nil {
			return opt, err
		}
	}
	if c.Click || c.Ladder != "" {
		opt.CountIn = 1
	}
	if c.Loop != "" {
		l, err := loop(c.Loop)
		if err != nil {
			return opt, err
		}
		opt.Loop, opt.CountIn = &l, 0
	}
	if c.CountIn != nil {
		opt.CountIn = *c.CountIn
	}
	if c.EnterAfter != nil {
		if *c.EnterAfter < 1 {
			return opt, usage("--enter-after %d cannot be: give 1 bar or more", *c.EnterAfter)
		}
		opt.EnterAfter = *c.EnterAfter
	}
	if c.Entries != nil {
		if *c.Entries < 1 {
			return opt, usage("--entries %d cannot be: give 1 player or more", *c.Entries)
		}
		opt.Entries = *c.Entries
	}
	if c.Guitar == "sampled" && (c.Rest || c.PluckMm != nil) {
		return opt, usage("recorded notes sound as they were plucked: leave --guitar sampled out, or --pluck-mm and --rest-strokes")
	}
	opt.RestAll = c.Rest
	if c.PluckMm != nil {
		if !(*c.PluckMm >= 15 && *c.PluckMm <= 325) {
			return opt, usage("--pluck-mm %v is no place to pluck: give 15 to 325 mm from the bridge", *c.PluckMm)
		}
		opt.BridgeMm = *c.PluckMm
	}
	if c.A4 != nil {
		if !(*c.A4 >= 380 && *c.A4 <= 480) {
			return opt, usage("--a4 %v is no tuning: give 380 to 480 Hz", *c.A4)
		}
		opt.A4Hz = *c.A4
	}
	return opt, nil
}

// ladderStep from one tempo to the next. A teacher's preference, no source; --ladder FROM-TO/N sets another.
const ladderStep = 1.05

// ladder reads "60-100" or "60-100/5": equal steps by proportion, the last one the tempo that was named.
func ladder(text string) ([]float64, error) {
	bad := func() ([]float64, error) {
		return nil, usage("--ladder %s is not understood: give two tempos between %d and %d, as 60-100, or with their number, as 60-100/5", text, sound.SlowestBpm, sound.FastestBpm)
	}
	span, many, counted := strings.Cut(text, "/")
	low, high, two := strings.Cut(span, "-")
	if !two {
		return bad()
	}
	from, err1 := strconv.ParseFloat(strings.TrimSpace(low), 64)
	to, err2 := strconv.ParseFloat(strings.TrimSpace(high), 64)
	inside := func(v float64) bool { return v >= sound.SlowestBpm && v <= sound.FastestBpm }
	if err1 != nil || err2 != nil || !inside(from) || !inside(to) {
		return bad()
	}
	if counted {
		n, err := strconv.Atoi(strings.TrimSpace(many))
		if err != nil || n < 2 || n > 60 {
			return bad()
		}
		var out []float64
		for k := range n {
			out = append(out, tenth(from*math.Pow(to/from, float64(k)/float64(n-1))))
		}
		return out, nil
	}
	step := ladderStep
	if to < from {
		step = 1 / ladderStep
	}
	var out []float64
	for v := from; (to-v)*(to-from) > 0; v *= step {
		out = append(out, tenth(v))
	}
	if len(out) > 1 && math.Abs(out[len(out)-1]-to) < 0.5 {
		out = out[:len(out)-1]
	}
	return append(out, to), nil
}

func tenth(v float64) float64 { return math.Round(v*10) / 10 }

// loop reads "5-8", "5" or "all".
func loop(text string) (sound.Loop, error) {
	if text == "all" {
		return sound.Loop{}, nil
	}
	from, to, two := strings.Cut(text, "-")
	from, to = strings.TrimSpace(from), strings.TrimSpace(to)
	if !two {
		to = from
	}
	if from == "" || to == "" {
		return sound.Loop{}, usage("--loop %s is not understood: give bars as printed, as 5-8, or all", text)
	}
	return sound.Loop{From: from, To: to}, nil
}
