package ear

import (
	"context"

	"antiphon/internal/media"
	"antiphon/internal/music"
)

// Listening is a take that has been listened to before any score is looked at. It is what takes the
// time; afterwards Hear and SoundsLike are quick. One goroutine at a time may ask it.
type Listening struct {
	pcm     media.PCM
	e       *evidence
	strokes []stroke
}

// Listen takes all the measurements that need no score. progress is called now and then, from 0 to 1;
// nil means never. The error is ErrRate or that of the context.
func Listen(ctx context.Context, pcm media.PCM, progress func(share float64)) (*Listening, error) {
	if pcm.RateHz != RateHz {
		return nil, ErrRate
	}
	if progress == nil {
		progress = func(float64) {}
	}
	e, err := listen(ctx, pcm.Samples, progress)
	if err != nil {
		return nil, err
	}
	return &Listening{pcm: pcm, e: e, strokes: findStrokes(e)}, nil
}

// Hear measures the take against a score, as the function Hear does; Options.Progress is called at the end only.
func (l *Listening) Hear(ctx context.Context, score *music.Score, opt Options) (*Hearing, error) {
	r := newRoute(score)
	if len(r.moments) == 0 {
		return nil, ErrNoNotes
	}
	return l.hear(ctx, r, opt)
}

func (l *Listening) hear(ctx context.Context, r *route, opt Options) (*Hearing, error) {
	e := l.e
	e.hearAt(0)
	h := &Hearing{DurationS: l.pcm.Seconds(), A4Hz: 440, ClippedShare: l.pcm.ClippedShare, Score: r.notes}
	path, err := locate(ctx, e, r, l.strokes, opt, h)
	if err != nil {
		return nil, err
	}
	e.report(l.strokes, opt.Observe)
	h.A4Hz = hzAt(69+e.shift-opt.Capo, e.cents)
	j := &judge{evidence: e, route: r, strokes: l.strokes, path: path, observe: opt.Observe}
	j.run()
	h.Played, h.Missed = j.played, j.missed
	h.layOut(r, l.strokes, path)
	h.sureOf(opt.Hints)
	h.pulse(r)
	if err := h.measureSound(e, r); err != nil {
		return nil, err
	}
	if opt.Progress != nil {
		opt.Progress(1)
	}
	return h, nil
}
