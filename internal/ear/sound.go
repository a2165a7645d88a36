package ear

import (
	"math"
	"slices"

	"antiphon/internal/dsp"
	"antiphon/internal/music"
)

// What is measured of each note's sound, once it is known which notes were played.
const (
	levelDelayS  = 0.06 // the level is taken this long after the onset, past the pluck's noise
	pitchDelayS  = 0.13 // and the pitch later still, when the string has settled
	minPitchDb   = 12.0 // a partial must stand so far above its surroundings to be measured
	endShare     = 0.15 // a note has ended when its activity falls to this share of its peak …
	endActivity  = 0.05 // … or to this
	longestS     = 12.0
	tuningNotes  = 3
	tuningCentsS = 25.0 // measurements further from the string's median are of something else
)

// measureSound fills in level, pitch and end of each played note, and what follows from them.
func (h *Hearing) measureSound(e *evidence, r *route) error {
	long, err := dsp.NewSpectra(longWindow)
	if err != nil {
		return err
	}
	short, err := dsp.NewSpectra(shortWindow)
	if err != nil {
		return err
	}
	lm, sm := make([]float32, long.Bins()), make([]float32, short.Bins())
	levels := make([]float64, len(h.Played))
	for i := range h.Played {
		p := &h.Played[i]
		at := int((p.OnsetS + levelDelayS) * RateHz)
		short.PowerAt(sm, e.x, at)
		levels[i] = noteLevelDb(sm, e.hz(p.Midi), RateHz/float64(shortWindow))
		long.At(lm, e.x, int((p.OnsetS+pitchDelayS)*RateHz))
		p.Cents = partialCents(lm, e.hz(p.Midi))
		p.OffsetS = h.noteEnd(e, i)
	}
	mid := dsp.Percentile(levels, 0.5)
	for i := range h.Played {
		h.Played[i].LevelDb = levels[i] - mid
	}
	h.SNRDb = signalToNoiseDb(e.x)
	h.dynamics(r)
	h.tuneStrings(r)
	h.evenFingers(r)
	return nil
}

// noteLevelDb sums the power of the partials of f0, weighted as ITU-R BS.1770 weights them.
func noteLevelDb(power []float32, f0, binHz float64) float64 {
	sum := 1e-12
	for n := 1; n <= 12; n++ {
		hz := partialHz(f0, n)
		k := int(math.Round(hz / binHz))
		if k+1 >= len(power) {
			break
		}
		g := math.Pow(10, dsp.KGainDb(hz)/10)
		sum += g * float64(max(power[k-1], power[k], power[k+1]))
	}
	return 10 * math.Log10(sum)
}

// partialCents is the deviation of a sounding pitch from f0: the median over those of its first six
// partials that stand clear, weighted by none; 0 if none does. Stiffness is taken off.
func partialCents(m []float32, f0 float64) float64 {
	const binHz = float64(RateHz) / longWindow
	var dev []float64
	for n := 1; n <= 6; n++ {
		hz := partialHz(f0, n)
		k := int(math.Round(hz / binHz))
		span := max(2, int(hz*0.03/binHz)) // half a semitone to each side
		if k-span-2 < 1 || k+span+2 >= len(m) {
			break
		}
		at := k
		for i := k - span; i <= k+span; i++ {
			if m[i] > m[at] {
				at = i
			}
		}
		if m[at] <= m[at-1] || m[at] <= m[at+1] {
			continue
		}
		around := slices.Clone(m[max(1, at-12):min(len(m), at+13)])
		if 20*math.Log10(float64(m[at])/float64(dsp.Percentile(around, 0.4)+1e-9)) < minPitchDb {
			continue
		}
		l, c, r := math.Log(float64(m[at-1])+1e-9), math.Log(float64(m[at])+1e-9), math.Log(float64(m[at+1])+1e-9)
		peak := (float64(at) + 0.5*(l-r)/(l-2*c+r)) * binHz
		dev = append(dev, 1200*math.Log2(peak/hz))
	}
	if len(dev) == 0 {
		return 0
	}
	return dsp.Percentile(dev, 0.5)
}

// noteEnd is where a note has died away or its pitch is struck again.
func (h *Hearing) noteEnd(e *evidence, i int) float64 {
	n := h.Played[i]
	limit := min(n.OnsetS+longestS, h.DurationS)
	for _, m := range h.Played[i+1:] {
		if m.OnsetS > limit {
			break
		}
		if m.Midi == n.Midi && m.OnsetS > n.OnsetS+0.03 {
			limit = m.OnsetS
			break
		}
	}
	p := e.at(n.Midi)
	if p < 0 {
		return limit
	}
	t0 := int(n.OnsetS * activityFps)
	var top float64
	for t := t0; t < int(limit*activityFps) && t < e.act.frames; t++ {
		v := float64(e.act.row(t)[p])
		if t < t0+20 {
			top = max(top, v)
		}
		if t > t0+10 && e.act.mean(p, t, t+4) < max(endShare*top, endActivity) {
			return float64(t) / activityFps
		}
	}
	return limit
}

// signalToNoiseDb compares the loud tenth of the take with its quietest tenth, in blocks of 50 ms.
func signalToNoiseDb(x []float32) float64 {
	const block = RateHz / 20
	var db []float64
	for i := 0; i+block <= len(x); i += block {
		sum := 1e-12
		for _, v := range x[i : i+block] {
			sum += float64(v) * float64(v)
		}
		db = append(db, 10*math.Log10(sum/block))
	}
	return dsp.Percentile(db, 0.9) - dsp.Percentile(db, 0.1)
}

func (h *Hearing) dynamics(r *route) {
	var all []float64
	byMark, byVoice := map[string][]float64{}, map[VoiceLevel][]float64{}
	var marks []string
	var voices []VoiceLevel
	for _, p := range h.Played {
		if p.Verdict == Extra {
			continue
		}
		n := r.notes[p.Note]
		all = append(all, p.LevelDb)
		if n.Dynamic != "" {
			if byMark[n.Dynamic] == nil {
				marks = append(marks, n.Dynamic)
			}
			byMark[n.Dynamic] = append(byMark[n.Dynamic], p.LevelDb)
		}
		v := VoiceLevel{Part: n.Part, Voice: n.Voice}
		if byVoice[v] == nil {
			voices = append(voices, v)
		}
		byVoice[v] = append(byVoice[v], p.LevelDb)
	}
	h.Dynamics = Dynamics{RangeDb: dsp.Percentile(all, 0.9) - dsp.Percentile(all, 0.1)}
	for _, m := range marks {
		h.Dynamics.ByMark = append(h.Dynamics.ByMark, MarkLevel{m, dsp.Percentile(byMark[m], 0.5), len(byMark[m])})
	}
	for _, v := range voices {
		level := v
		level.Db, level.Notes = dsp.Percentile(byVoice[v], 0.5), len(byVoice[v])
		h.Dynamics.VoicesDb = append(h.Dynamics.VoicesDb, level)
	}
}

// openMidi are the open strings in the usual tuning, first string first.
var openMidi = [...]int{64, 59, 55, 50, 45, 40}

// tuneStrings compares open strings with the take's own reference pitch: notes the score puts at
// fret 0, and, where it names no string at all, pitches that are open strings.
func (h *Hearing) tuneStrings(r *route) {
	named := slices.ContainsFunc(r.notes, func(n music.Sounding) bool { return n.String > 0 })
	dev := map[int][]float64{}
	for _, p := range h.Played {
		if p.Verdict != Right || p.Cents == 0 {
			continue
		}
		n := r.notes[p.Note]
		str := 0
		switch {
		case named && n.Fret == 0:
			str = n.String
		case !named:
			str = slices.Index(openMidi[:], n.Midi) + 1
		}
		if str > 0 {
			dev[str] = append(dev[str], p.Cents)
		}
	}
	for str := len(openMidi); str >= 1; str-- {
		c := dev[str]
		if len(c) < tuningNotes {
			continue
		}
		mid := dsp.Percentile(c, 0.5)
		c = slices.DeleteFunc(c, func(v float64) bool { return math.Abs(v-mid) > tuningCentsS })
		off := make([]float64, len(c))
		for i, v := range c {
			off[i] = math.Abs(v - mid)
		}
		spread := dsp.Percentile(off, 0.5)
		h.Tuning = append(h.Tuning, StringTuning{String: str, Cents: mid, SpreadC: spread, Notes: len(c),
			Confidence: min(0.95, float64(len(c))/float64(len(c)+2)) / (1 + spread/10)})
	}
}

const fingerNotes = 6

// evenFingers compares the plucking fingers where the score names them.
func (h *Hearing) evenFingers(r *route) {
	for _, finger := range []string{"p", "i", "m", "a"} {
		var timing, level []float64
		for _, p := range h.Played {
			if p.Verdict == Right && r.notes[p.Note].Pluck == finger {
				timing, level = append(timing, p.TimingMs), append(level, p.LevelDb)
			}
		}
		if len(timing) < fingerNotes {
			continue
		}
		h.Evenness = append(h.Evenness, FingerSpread{Finger: finger,
			TimingMs: dsp.Percentile(timing, 0.5), TimingSd: spread(timing),
			LevelDb: dsp.Percentile(level, 0.5), LevelSdDb: spread(level), Notes: len(timing)})
	}
}

// spread is a robust standard deviation.
func spread(x []float64) float64 {
	m := dsp.Percentile(x, 0.5)
	dev := make([]float64, len(x))
	for i, v := range x {
		dev[i] = math.Abs(v - m)
	}
	return 1.4826 * dsp.Percentile(dev, 0.5)
}
