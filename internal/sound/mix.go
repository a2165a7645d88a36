package sound

import (
	"context"
	"math"
)

// How notes end. A damped string dies within some hundredths of a second; one that is struck again is
// touched a moment before; the last notes ring out. Ours; no source.
const (
	dampS     = 0.055 // time in which a damped note falls to 1/e
	cutS      = 0.012 // before the next stroke on the same string
	outS      = 0.45  // the same as dampS for the last notes
	softenS   = 0.014 // a note without a stroke swells so long
	silentDb  = -75   // below it a note is over
	tailS     = 2.2   // after the last barline
	ladderOut = 0.25  // last notes between the tempos of a ladder die sooner
)

// mix records the tones and puts them where they belong.
func (p *performance) mix(ctx context.Context, g guitarist, a *Audio) error {
	var tones []tone
	var needs []int
	index := map[tone]int{}
	for i := range p.strokes {
		st := &p.strokes[i]
		st.tone.layerDb = layer(st.gainDb)
		k, known := index[st.tone]
		if !known {
			k = len(tones)
			index[st.tone] = k
			tones, needs = append(tones, st.tone), append(needs, 0)
		}
		needs[k] = max(needs[k], p.soundingN(st, a))
	}
	if len(tones) == 0 { // clicks alone
		a.Guitar, a.Font = AnyGuitar, ""
	}
	recs, err := record(ctx, g, tones, needs, a.opt)
	if err != nil {
		return err
	}
	n := p.lengthN
	if !p.looped {
		n += samples(tailS)
	}
	a.Left, a.Right = make([]float32, n), make([]float32, n)
	for i := range p.strokes {
		if i%256 == 0 && ctx.Err() != nil {
			return problem(Internal, ctx.Err(), "stopped while the notes were mixed")
		}
		st := &p.strokes[i]
		p.add(a, st, recs[index[st.tone]])
		a.note(st)
	}
	a.opt.progress(0.85)
	return nil
}

func (a *Audio) note(st *stroke) {
	a.Notes = append(a.Notes, Heard{Note: st.note, Player: st.player + 1, At: st.at, Until: st.until, Midi: st.tone.midi, Db: st.gainDb, String: st.tone.str, Part: st.part})
}

// record asks for the tones in portions, so that progress can be shown.
func record(ctx context.Context, g guitarist, tones []tone, needs []int, opt Options) ([]recording, error) {
	if _, whole := g.(sampled); whole && len(tones) > 0 {
		opt.progress(0.1)
		return g.record(ctx, tones, needs)
	}
	const portion = 16
	var out []recording
	for from := 0; from < len(tones); from += portion {
		to := min(len(tones), from+portion)
		recs, err := g.record(ctx, tones[from:to], needs[from:to])
		if err != nil {
			return nil, problem(Internal, err, "stopped while the notes were made")
		}
		out = append(out, recs...)
		opt.progress(0.75 * float64(to) / float64(len(tones)))
	}
	return out, nil
}

// soundingN is how long a stroke is heard, with its damping.
func (p *performance) soundingN(st *stroke, a *Audio) int {
	return st.until - st.at + samples(p.fallS(st, a)*-silentDb/8.7)
}

func (p *performance) fallS(st *stroke, a *Audio) float64 {
	switch {
	case st.cut:
		return cutS / 4
	case st.last && len(a.Rungs) > 1:
		return ladderOut
	case st.last:
		return outS
	}
	return dampS
}

// startN is how many samples a note fades in whose beginning lies before that of the file.
const startN = 32

// add puts one stroke into the mix.
func (p *performance) add(a *Audio, st *stroke, r recording) {
	left, right := p.side(st, a)
	level := gain(st.gainDb)
	gl, gr := float32(level*left), float32(level*right)
	cutFrom := st.until - samples(cutS)
	fall := 1 - 1/(p.fallS(st, a)*RateHz)
	env := 1.0
	n := len(a.Left)
	soften := samples(softenS)
	for i, v := range r.pcm {
		at := st.at - r.onset + i
		since := i - r.onset
		e := env
		switch {
		case st.cut && at >= st.until:
			return
		case st.cut && at >= cutFrom:
			x := float64(st.until-at) / float64(st.until-cutFrom)
			e *= x * x * (3 - 2*x)
		case !st.cut && at >= st.until:
			env *= fall
			if env < 1.8e-4 {
				return
			}
			e = env
		}
		if st.soften && since < soften {
			x := max(0, float64(since)/float64(soften))
			e *= 0.15 + 0.85*x*x*(3-2*x)
			if since < 0 {
				continue
			}
		}
		if p.looped {
			at = ((at % n) + n) % n
		}
		if at < 0 || at >= n {
			continue
		}
		if !p.looped && at < startN && st.at < r.onset { // what comes before the first sample is lost: no step there
			e *= float64(at) / startN
		}
		a.Left[at] += gl * v * float32(e)
		a.Right[at] += gr * v * float32(e)
	}
}

// mostAside is how far left or right the outermost player sits: 0 the middle, 1 one loudspeaker alone.
const mostAside = 0.7

// side gives the gains of the two channels, constant in power: players of a round side by side from
// left to right, or else the parts.
func (p *performance) side(st *stroke, a *Audio) (left, right float64) {
	k, of := st.player, p.players
	if of == 1 {
		k, of = st.part, len(a.score.Parts)
	}
	at := 0.0
	if of > 1 {
		at = mostAside * (2*float64(k)/float64(of-1) - 1)
	}
	angle := (at + 1) * math.Pi / 4
	return math.Cos(angle), math.Sin(angle)
}
