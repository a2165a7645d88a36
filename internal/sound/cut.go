package sound

import "math"

// cutNote makes a recording of one note that was played into silence: finds its onset, brings it
// into tune and to the common level. Nil where nothing is heard.
func cutNote(raw []float32, hz, times float64) recording {
	onset := firstRise(raw)
	if onset < 0 {
		return recording{}
	}
	from := max(0, onset-samples(beforeS))
	pcm := raw[from:]
	onset -= from
	ratio := times
	if heard := pitchHz(pcm[onset:], hz); heard > 0 {
		ratio *= hz / heard
	}
	out := resampled(pcm, ratio)
	onset = int(math.Round(float64(onset) / ratio))
	for i := range min(onset, fadeInN) { // what was cut off before it leaves no step
		out[i] *= float32(i) / fadeInN
	}
	for i := range min(len(out), fadeOutN) { // a note that is let go while it still sounds
		out[len(out)-1-i] *= float32(i) / fadeOutN
	}
	equallyLoud(out, onset)
	return recording{out, onset}
}

const (
	beforeS = 0.004 // the finger is heard this long before the string
	fadeInN = 48
	// fadeOutN is also for fonts whose notes go on for ever.
	fadeOutN = 2400
)

// risen is the share of a note's first peak that counts as its onset. With it, three onset detectors of
// aubio put recorded notes within about a millisecond (0.3 to 1.1) of clicks on the same samples.
const risen = 0.5

// firstRise is where a note begins: the first half millisecond whose level passes a share of the
// loudest in the 60 ms after it. −1 for silence.
func firstRise(pcm []float32) int {
	const grain = RateHz / 2000
	level := make([]float64, len(pcm)/grain)
	peak, at := 0.0, -1
	for i := range level {
		prev := 0.0
		if i > 0 {
			prev = float64(pcm[i*grain-1])
		}
		for _, v := range pcm[i*grain : (i+1)*grain] {
			d := float64(v) - 0.9*prev // lifts the stroke over what swells
			level[i] += d * d
			prev = float64(v)
		}
		level[i] = math.Sqrt(level[i] / grain)
		if float64(i*grain) < (slotLeadS+0.2)*RateHz && level[i] > peak {
			peak, at = level[i], i
		}
	}
	if at < 0 || peak < 1e-5 {
		return -1
	}
	for i := max(0, at-120); i <= at; i++ {
		if level[i] > peak*risen {
			return i * grain
		}
	}
	return at * grain
}

// pitchHz measures a note that should sound at about hz: the mean of its first partials against their
// place in the series, by level, since a recorded string's partials are a few cents apart and drift.
// Each is found in the spectrum after the attack and refined by the phase that it gains until 0.4 s
// later. 0 where it is not clear. Sound fonts are a few cents out of tune from note to note.
func pitchHz(pcm []float32, hz float64) float64 {
	const n, partials = 8192, 6
	skip, hop := samples(0.09), samples(0.4)
	for len(pcm) < skip+hop+n && hop > samples(0.02) {
		hop /= 2
	}
	if len(pcm) < skip+hop+n {
		return 0
	}
	sum, weights := 0.0, 0.0
	for k := 1.0; k <= partials; k++ {
		level, f := refine(pcm[skip:], n, hop, hz*k)
		if off := 1200 * math.Log2(f/k/hz); level > 0 && math.Abs(off) < mostOffCents {
			sum, weights = sum+level*off, weights+level
		}
	}
	if weights == 0 {
		return 0
	}
	return hz * math.Exp2(sum/weights/1200)
}

// mostOffCents: a note further off than this is another note, or none, and is left alone.
const mostOffCents = 45

// refine finds a partial near hz: first the largest of a grid of 3 Hz, then by phase over a short and
// a long time, so that the turns cannot be miscounted.
func refine(pcm []float32, n, hop int, hz float64) (level, found float64) {
	const stepHz = 3
	for f := hz * math.Exp2(-50.0/1200); f <= hz*math.Exp2(50.0/1200); f += stepHz {
		if re, im := against(pcm[:n], f); math.Hypot(re, im) > level {
			level, found = math.Hypot(re, im), f
		}
	}
	if level == 0 {
		return 0, 0
	}
	for _, far := range []int{samples(.02), hop / 4, hop} {
		ar, ai := against(pcm[:n], found)
		br, bi := against(pcm[far:far+n], found)
		turn := math.Atan2(bi, br) - math.Atan2(ai, ar) - 2*math.Pi*found*float64(far)/RateHz
		turn -= 2 * math.Pi * math.Round(turn/(2*math.Pi))
		found += turn * RateHz / (2 * math.Pi * float64(far))
	}
	return level, found
}

// against is the Hann-windowed sound against a complex tone.
func against(pcm []float32, hz float64) (re, im float64) {
	w := 2 * math.Pi * hz / RateHz
	h := 2 * math.Pi / float64(len(pcm))
	c, s, dc, ds := 1.0, 0.0, math.Cos(w), math.Sin(w)
	hc, hs, dhc, dhs := 1.0, 0.0, math.Cos(h), math.Sin(h)
	for _, v := range pcm {
		x := float64(v) * (1 - hc)
		re += x * c
		im -= x * s
		c, s = c*dc-s*ds, c*ds+s*dc
		hc, hs = hc*dhc-hs*dhs, hc*dhs+hs*dhc
	}
	return re, im
}
