package media

import (
	"context"
	"errors"
	"fmt"
	"io"
	"math"
	"strings"

	"antiphon/internal/cage"
)

// decode runs ffmpeg once, and a second time where the two channels must not be mixed: that is rare,
// and costs less than keeping both channels of every take in memory.
func decode(ctx context.Context, abs, path string, info Info, opt Options) (PCM, Info, error) {
	clip := &clipCounter{}
	d := &decoder{abs: abs, path: path, info: info, opt: opt, clip: clip}
	m := newMixer(info, opt)
	damage, err := d.run(ctx, m, "")
	if err == nil && m.frames == 0 && info.Channels > 2 { // a layout that ffmpeg cannot mix down
		m, d.clip = newMixer(info, opt), &clipCounter{}
		damage, err = d.run(ctx, m, "pan=stereo|c0=c0|c1=c1,")
		clip = d.clip
	}
	if err != nil {
		return PCM{}, info, err
	}
	if m.frames == 0 {
		return PCM{}, info, problem(NoSound, path, nil, "%s has a sound track with no sound in it (0 seconds): ask for the recording again", path)
	}
	if only, why := m.sides.verdict(opt.RateHz); only != both {
		info.Notes = append(info.Notes, why)
		m = newMixer(info, opt)
		m.channels = 1
		d.clip = &clipCounter{}
		if damage, err = d.run(ctx, m, fmt.Sprintf("aformat=channel_layouts=stereo,pan=mono|c0=c%d,", only)); err != nil {
			return PCM{}, info, err
		}
	}
	pcm := PCM{Samples: m.take(), RateHz: opt.RateHz, ClippedShare: clip.share()}
	if over := pcm.Seconds() - info.endS; info.endS > 0 && over > 0 && over < 0.1 {
		// An encoder fills its last frame with silence; the container says where the sound ends.
		pcm.Samples = pcm.Samples[:int(math.Round(info.endS*float64(opt.RateHz)))]
	}
	info.judge(pcm.Seconds(), damage)
	return pcm, info, nil
}

// judge notes what is missing from a take of which s seconds were decoded.
func (i *Info) judge(s float64, damage string) {
	short := i.ClaimedS - s
	guess := i.Container == "mp3" && i.startS == 0 // no Xing header, so a guess from the first frames
	switch {
	case !guess && short > max(0.5, 0.02*i.ClaimedS):
		i.Truncated = true
		i.Notes = append(i.Notes, fmt.Sprintf("The file ends after %s although it says %s: it was cut off on the way.", clock(s), clock(i.ClaimedS)))
	case damage != "":
		i.Damaged = true
		i.Notes = append(i.Notes, "The file is damaged in places; what could be read was heard.")
	}
}

type decoder struct {
	abs, path string
	info      Info
	opt       Options
	clip      *clipCounter
}

// run decodes the sound track into m and, at its own rate, into the clip counter. damage is what
// ffmpeg complained about without giving up.
func (d *decoder) run(ctx context.Context, m *mixer, before string) (damage string, err error) {
	stream := fmt.Sprintf("0:%d", d.info.streamIdx)
	args := []string{"-nostdin", "-hide_banner", "-threads", "1", "-filter_threads", "1"}
	if d.info.startS < 0 {
		// Opus in Matroska starts before 0 by its codec delay, which the decoder takes off. ffmpeg
		// moves every file to start at 0; move it back, or all is late by the delay.
		args = append(args, "-itsoffset", fmt.Sprintf("%.6f", d.info.startS))
	}
	args = append(args, guarded(d.abs)...)
	args = append(args,
		// Time gaps are filled with silence, and a track that starts late begins with some.
		"-map", stream, "-af", fmt.Sprintf("%saresample=%d:async=1:first_pts=0", before, d.opt.RateHz),
		"-ac", fmt.Sprint(m.channels), "-f", "f32le", "pipe:1",
		"-map", stream, "-f", "s16le", "pipe:3")
	r, err := cage.Job{
		Program: "ffmpeg", Args: args,
		Stdout: m, Streams: []io.Writer{d.clip},
		Read:   []string{d.abs},
		Limits: cage.Limits{Wall: d.opt.Timeout, MemoryBytes: 1 << 30},
	}.Run(ctx)
	if errors.Is(err, errTooLong) {
		return "", tooLong(d.path, m.seconds(), d.opt)
	}
	if ee, ok := errors.AsType[*cage.ExitError](err); ok && ee.Code > 0 && m.seconds() >= 1 {
		return ee.Stderr, nil // it gave up in the middle; what came before is usable
	}
	if err != nil {
		return "", explain(ctx, err, d.abs, d.path)
	}
	return r.Stderr, nil
}

func tooLong(path string, s float64, opt Options) *Error {
	return problem(TooLong, path, nil, "%s is longer than allowed (%s, limit %s): send the part that matters, or raise the limit",
		path, clock(s), clock(opt.MaxDuration.Seconds()))
}

// clock writes seconds as 1:02:03 or 2:03; parts of a second show below one minute.
func clock(s float64) string {
	if s < 60 {
		return fmt.Sprintf("%.1f s", s)
	}
	n := int(math.Round(s))
	if n < 3600 {
		return fmt.Sprintf("%d:%02d", n/60, n%60)
	}
	return fmt.Sprintf("%d:%02d:%02d", n/3600, n/60%60, n%60)
}

// explain turns the bad end of a job into a sentence.
func explain(ctx context.Context, err error, abs, path string) *Error {
	ee, exited := errors.AsType[*cage.ExitError](err)
	says := func(s string) bool { return exited && strings.Contains(ee.Stderr, s) }
	switch {
	case errors.Is(err, cage.ErrNotInstalled):
		return problem(NoTool, path, err, "ffmpeg is not installed, so %s cannot be read: run apt-get install ffmpeg", path)
	case errors.Is(err, cage.ErrTooSlow), errors.Is(err, context.DeadlineExceeded):
		return problem(TooSlow, path, err, "%s takes too long to decode: send a shorter recording", path)
	case errors.Is(err, cage.ErrTooMuch):
		return problem(TooLarge, path, err, "%s unpacks to more sound than allowed: send a shorter recording", path)
	case ctx.Err() != nil:
		return problem(Stopped, path, err, "%s: stopped while reading it", path)
	case says("not on whitelist") || says("not in allow"):
		return problem(NotMedia, path, err, "%s is not a recording but a list or a kind of file that points elsewhere: send the recording itself, as m4a, mp4, webm, ogg, mp3, wav or flac", path)
	case says("moov atom not found") && beginsAsQuickTime(abs):
		return problem(Broken, path, err, "%s is cut off before its table of contents, so nothing in it can be played: send it again, complete", path)
	case exited && ee.Code > 0:
		return problem(NotMedia, path, err, "%s is not a recording that can be read: send m4a, mp4, mov, webm, ogg, mp3, wav or flac", path)
	case exited:
		return problem(Broken, path, err, "%s cannot be decoded within %s of memory: convert it to m4a or wav and send that", path, "1 GB")
	}
	return problem(Internal, path, err, "%s could not be read (%v): try again, and report it if it stays", path, err)
}
