package media

import (
	"context"
	"encoding/binary"
	"errors"
	"fmt"
	"io"
	"math"
	"strings"
	"time"

	"antiphon/internal/cage"
)

// decode runs ffmpeg once, or twice where the two channels must not be mixed.
func decode(ctx context.Context, abs, path string, info Info, opt Options) (PCM, Info, error) {
	m := newMixer(info, opt)
	clip := &clipCounter{}
	if err := run(ctx, abs, path, info, opt, m, clip); err != nil {
		return PCM{}, info, err
	}
	pcm := PCM{Samples: m.samples, RateHz: opt.RateHz, ClippedShare: clip.share()}
	if len(pcm.Samples) == 0 {
		return PCM{}, info, problem(NoSound, path, nil, "%s has a sound track without any sound in it: ask for the recording again", path)
	}
	if short := info.ClaimedS - pcm.Seconds(); short > max(0.5, 0.02*info.ClaimedS) {
		info.Truncated = true
		info.Notes = append(info.Notes, fmt.Sprintf("The file stops at %.1f s although it says %.1f s: it was cut off on the way.", pcm.Seconds(), info.ClaimedS))
	}
	return pcm, info, nil
}

func run(ctx context.Context, abs, path string, info Info, opt Options, m *mixer, clip *clipCounter) error {
	stream := fmt.Sprintf("0:%d", info.streamIdx)
	args := append([]string{"-nostdin", "-hide_banner", "-threads", "1"}, guarded(abs)...)
	args = append(args,
		"-map", stream, "-af", fmt.Sprintf("aresample=%d:async=1:first_pts=0", opt.RateHz),
		"-ac", "2", "-f", "f32le", "pipe:1",
		"-map", stream, "-f", "s16le", "pipe:3")
	_, err := cage.Job{
		Program: "ffmpeg", Args: args, Stdout: m, Streams: []io.Writer{clip},
		Read:   []string{abs},
		Limits: cage.Limits{Wall: opt.Timeout},
	}.Run(ctx)
	if m.tooLong {
		return tooLong(path, float64(len(m.samples))/float64(opt.RateHz), opt)
	}
	if len(m.samples) > 0 {
		if ee, ok := errors.AsType[*cage.ExitError](err); ok && ee.Code > 0 {
			return nil // damaged towards its end: what was decoded is usable
		}
	}
	if err != nil {
		return explain(ctx, err, abs, path)
	}
	return nil
}

func tooLong(path string, s float64, opt Options) *Error {
	return problem(TooLong, path, nil, "%s is longer than allowed (%s, limit %s): send the part that matters, or raise the limit",
		path, clock(s), clock(opt.MaxDuration.Seconds()))
}

func clock(s float64) string {
	return (time.Duration(math.Round(s)) * time.Second).String()
}

// explain turns the end of a job into a sentence.
func explain(ctx context.Context, err error, abs, path string) *Error {
	switch ee, ok := errors.AsType[*cage.ExitError](err); {
	case errors.Is(err, cage.ErrNotInstalled):
		return problem(NoTool, path, err, "ffmpeg is not installed, so %s cannot be read: run apt-get install ffmpeg", path)
	case errors.Is(err, cage.ErrTooSlow), errors.Is(err, context.DeadlineExceeded):
		return problem(TooSlow, path, err, "%s takes too long to decode: send a shorter recording", path)
	case ctx.Err() != nil:
		return problem(Stopped, path, err, "%s: stopped while reading it", path)
	case ok && strings.Contains(ee.Stderr, "moov atom not found"):
		return problem(Broken, path, err, "%s is cut off before its table of contents, so nothing in it can be played: send it again, complete", path)
	case ok:
		return problem(NotMedia, path, err, "%s is not a recording that can be read: send m4a, mp4, mov, webm, ogg, mp3, wav or flac", path)
	}
	return problem(Internal, path, err, "%s could not be read (%v): try again, and report it if it stays", path, err)
}

// mixer takes stereo float frames and keeps their mean.
type mixer struct {
	samples []float32
	limit   int
	tooLong bool
	rest    []byte
	opt     Options
	totalS  float64
	told    int
}

var errTooLong = errors.New("longer than the limit")

func newMixer(info Info, opt Options) *mixer {
	expect := min(info.ClaimedS+1, opt.MaxDuration.Seconds())
	return &mixer{
		samples: make([]float32, 0, int(expect*float64(opt.RateHz))),
		limit:   int(opt.MaxDuration.Seconds() * float64(opt.RateHz)),
		opt:     opt, totalS: info.ClaimedS,
	}
}

func (m *mixer) Write(p []byte) (int, error) {
	n := len(p)
	if len(m.rest) > 0 {
		p = append(m.rest, p...)
	}
	for ; len(p) >= 8; p = p[8:] {
		l := math.Float32frombits(binary.LittleEndian.Uint32(p))
		r := math.Float32frombits(binary.LittleEndian.Uint32(p[4:]))
		m.samples = append(m.samples, (l+r)/2)
	}
	m.rest = append(m.rest[:0], p...)
	if len(m.samples) > m.limit {
		m.tooLong = true
		return 0, errTooLong
	}
	if m.opt.Progress != nil && len(m.samples)-m.told > 10*m.opt.RateHz {
		m.told = len(m.samples)
		m.opt.Progress(float64(m.told)/float64(m.opt.RateHz), m.totalS)
	}
	return n, nil
}

// clipCounter counts 16-bit samples at full scale. A lossy codec blurs a flattened peak by a little,
// so a sample counts from −0.1 dB on.
type clipCounter struct {
	clipped, all int
	odd          []byte
}

const fullScale = 32393 // 32767 × 10^(−0.1/20)

func (c *clipCounter) Write(p []byte) (int, error) {
	n := len(p)
	if len(c.odd) > 0 {
		p = append(c.odd, p...)
	}
	for ; len(p) >= 2; p = p[2:] {
		if v := int16(binary.LittleEndian.Uint16(p)); v >= fullScale || v <= -fullScale {
			c.clipped++
		}
		c.all++
	}
	c.odd = append(c.odd[:0], p...)
	return n, nil
}

func (c *clipCounter) share() float64 {
	if c.all == 0 {
		return 0
	}
	return float64(c.clipped) / float64(c.all)
}
