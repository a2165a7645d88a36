package main

import (
	"errors"
	"fmt"
	"io"
	"io/fs"
	"os"
	"path/filepath"
	"runtime/debug"
	"time"

	"antiphon/internal/ear"
	"antiphon/internal/findings"
	"antiphon/internal/media"
	"antiphon/internal/music"
	"antiphon/internal/notation"
	"antiphon/internal/report"
	"antiphon/internal/tone"
)

// hearCmd hears one take against one score.
type hearCmd struct {
	Take  string `arg:"" help:"The recording: m4a, mp4, mov, webm, ogg, mp3, wav or flac."`
	Score string `required:"" help:"The score that was asked for: MusicXML, MIDI or ABC." placeholder:"FILE"`

	JSON  bool   `name:"json" help:"Print the hearing for programs (antiphon.hearing/1) instead of the text."`
	HTML  string `name:"html" help:"Write one page with the sound in it." placeholder:"FILE"`
	MIDI  string `name:"midi" help:"Write what was heard as a MIDI file." placeholder:"FILE"`
	Part  bool   `help:"Hear a take that was cut off on the way, as far as it goes."`
	Force bool   `help:"Replace files that are there already."`

	Capo       int     `help:"Fret of the capo, where one was used." placeholder:"FRET"`
	Tempo      float64 `help:"Tempo that was asked for, in beats a minute; without it the score's own mark." placeholder:"BPM"`
	MaxMinutes float64 `help:"Longest take to hear, in minutes." default:"60" placeholder:"N"`
}

// Help is what `antiphon hear --help` says below the usage line.
func (hearCmd) Help() string {
	return `Says what was played: the passes with their tempo, the few things worth saying with their bars, and what went well.
The page plays at reduced speed with the pitch kept, and every finding jumps to its place.

Example:
  antiphon hear take.m4a --score tune.musicxml
  antiphon hear take.m4a --score tune.musicxml --html take.html --midi take.mid`
}

// Limits on what may be asked.
const (
	highestCapo   = 12
	longestMin    = 24 * 60
	longestSoundS = 20 * 60 // of a take that is put into the page, about 10 MB
)

func (c *hearCmd) check() error {
	switch {
	case c.Capo < 0 || c.Capo > highestCapo:
		return usage("--capo %d is no fret: give 0 to %d", c.Capo, highestCapo)
	case !(c.Tempo == 0 || c.Tempo >= 10 && c.Tempo <= 500):
		return usage("--tempo %v is no tempo: give 10 to 500 beats a minute", c.Tempo)
	case !(c.MaxMinutes > 0 && c.MaxMinutes <= longestMin):
		return usage("--max-minutes %v cannot be: give more than 0 and at most %d", c.MaxMinutes, longestMin)
	case c.HTML != "" && c.HTML == c.MIDI:
		return usage("--html and --midi name the same file: give each its own")
	}
	for _, out := range []string{c.HTML, c.MIDI} {
		if out != "" && (sameFile(out, c.Take) || sameFile(out, c.Score)) {
			return usage("%s is what is read, and is not written over: name another file", out)
		}
	}
	return nil
}

func sameFile(a, b string) bool {
	if filepath.Clean(a) == filepath.Clean(b) {
		return true
	}
	x, errX := os.Stat(a)
	y, errY := os.Stat(b)
	return errX == nil && errY == nil && os.SameFile(x, y)
}

// Run hears the take and writes what was asked for: files first, then the text or the JSON.
func (c *hearCmd) Run(a *app) error {
	// A long take is kept whole: sweeping at half the usual growth takes 50 MB of 300 off 20 minutes of
	// arpeggios, and no time that could be measured.
	defer debug.SetGCPercent(debug.SetGCPercent(50))
	if err := c.check(); err != nil {
		return err
	}
	for _, out := range []string{c.HTML, c.MIDI} { // said before the work, not after it
		if out == "" || c.Force {
			continue
		}
		if _, err := os.Lstat(out); err == nil {
			return existsError(out)
		}
	}
	h, err := c.hear(a)
	if err != nil {
		return err
	}
	if err := c.writeFiles(a, h); err != nil {
		return err
	}
	if c.JSON {
		err = h.report.JSON(a.out)
	} else {
		err = h.report.Text(a.out, report.TextOptions{Cols: a.outCols, Terminal: a.outTerm})
	}
	if err != nil {
		return fmt.Errorf("the result could not be printed (%w)", err)
	}
	return nil
}

// heard is a report with the sound that it is about.
type heard struct {
	report report.Report
	sound  media.PCM
}

func (c *hearCmd) hear(a *app) (heard, error) {
	score, remarks, err := readScore(c.Score)
	if err != nil {
		return heard{}, err
	}
	if len(score.Sounding()) == 0 {
		return heard{}, noPitches(c.Score)
	}
	bar := newProgress(a, "hearing "+filepath.Base(c.Take))
	defer bar.done()
	start := a.now()
	pcm, info, err := media.Decode(a.ctx, c.Take, media.Options{
		MaxDuration: time.Duration(c.MaxMinutes * float64(time.Minute)),
		Progress: func(doneS, totalS float64) {
			if totalS > 0 {
				bar.at(decodeShare * doneS / totalS)
			}
		}})
	if err == nil && info.Truncated && !c.Part {
		err = fmt.Errorf("%s is cut off: it ends after %.1f s, before its own header says; ask for it again, or give --part to hear what is there", c.Take, pcm.Seconds())
	}
	if err != nil {
		return heard{}, err
	}
	decoded := a.now()
	h, err := ear.Hear(a.ctx, pcm, score, ear.Options{Capo: c.Capo, Progress: func(share float64) {
		bar.at(decodeShare + (1-decodeShare)*share)
	}})
	switch {
	case errors.Is(err, ear.ErrNoNotes):
		return heard{}, noPitches(c.Score)
	case err != nil:
		return heard{}, fmt.Errorf("%s could not be heard (%w): try again, and report it if it stays", c.Take, err)
	}
	touch, err := tone.Measure(pcm, h, tone.Options{Capo: c.Capo})
	if err != nil {
		return heard{}, fmt.Errorf("%s could not be heard (%w): try again, and report it if it stays", c.Take, err)
	}
	sound := findings.Unknown
	if len(h.Passes) == 0 { // only then does it matter what else was heard
		if sound, err = findings.Listen(pcm); err != nil {
			return heard{}, fmt.Errorf("%s could not be heard (%w): try again, and report it if it stays", c.Take, err)
		}
	}
	r := report.Report{Hearing: h, Score: score, Findings: findings.Of(h, score, findings.Options{GoalBpm: c.Tempo, Sound: sound}), Tone: touch, Meta: report.Meta{
		TakeFile: filepath.Base(c.Take), ScoreFile: filepath.Base(c.Score), Notes: append(info.Notes, remarks...),
		DecodeS: decoded.Sub(start).Seconds(), AnalysisS: a.now().Sub(decoded).Seconds()}}
	return heard{r, pcm}, nil
}

// decodeShare is the part of the work that decoding is.
const decodeShare = 0.15

func noPitches(path string) error {
	return fmt.Errorf("%s has no pitched notes, so there is nothing to compare the take with: choose the score that was played", path)
}

func (c *hearCmd) writeFiles(a *app, h heard) error {
	if c.HTML != "" {
		if err := writePage(a, c.HTML, c.Force, h); err != nil {
			return err
		}
	}
	if c.MIDI != "" {
		return writeWhole(c.MIDI, c.Force, h.report.MIDI)
	}
	return nil
}

// writePage writes the page with the sound in it, where it is not too long.
func writePage(a *app, path string, force bool, h heard) error {
	p := report.Page{Sound: h.sound}
	if h.sound.Seconds() > longestSoundS {
		p.NoAudio = fmt.Sprintf("The recording is longer than %d minutes and is not part of this page.", longestSoundS/60)
	} else {
		audio, err := media.Playable(a.ctx, h.sound)
		if err != nil {
			return err
		}
		p.Audio, p.AudioType = audio, media.PlayableType
	}
	if !report.HasPlayer() {
		fmt.Fprintln(a.err, "antiphon: the page gets the browser's own player only; for slow playing and jumps run make assets and build again")
	}
	return writeWhole(path, force, func(w io.Writer) error { return h.report.HTML(w, p) })
}

// mostRemarks are the remarks on a score that are shown; a score with more has one cause for most.
const mostRemarks = 4

// readScore reads a score, with what was forgiven as sentences for a person.
func readScore(path string) (*music.Score, []string, error) {
	score, forgiven, err := notation.ReadFile(path, notation.Limits{})
	if err != nil {
		if _, known := errors.AsType[*notation.ReadError](err); known {
			return nil, nil, err
		}
		if errors.Is(err, fs.ErrNotExist) {
			return nil, nil, fmt.Errorf("%s: there is no such file; check the name", path)
		}
		return nil, nil, fmt.Errorf("%s cannot be read (%w): check its permissions", path, cause(err))
	}
	var remarks []string
	for i, f := range forgiven {
		if i == mostRemarks {
			remarks = append(remarks, fmt.Sprintf("The score has %d more remarks of this sort; antiphon score shows them.", len(forgiven)-i))
			break
		}
		remarks = append(remarks, "The score: "+f.String())
	}
	return score, remarks, nil
}
