package sound

import "antiphon/internal/music"

// Accent is the weight of a click.
type Accent int

const (
	Weak   Accent = iota // a beat
	Middle               // the second half of an even bar, or the start of a group in an uneven one
	Strong               // the first beat of a bar
)

// pulse is one beat of a bar, at a place from the bar's start.
type pulse struct {
	at     music.Beats
	accent Accent
}

// pulses are the beats of a full bar. Compound time beats in dotted notes; sums such as 3+2+2/8 and
// odd eighths are counted in their small unit with the groups accented, since no one beat fits them.
// Four and twelve-eight bars have a second, lighter accent in the middle (common practice, no source).
func pulses(t music.Time, length, beat music.Beats) []pulse {
	full := t.Length()
	if full.IsZero() { // no time signature: the beat of the score, from each barline
		return every(beat, length)
	}
	if t.Compound() {
		out := every(music.Quarters(12, int64(t.Parts[0].Unit)), full)
		accentMiddle(out)
		return out
	}
	single := len(t.Parts) == 1 && len(t.Parts[0].Beats) == 1
	if single {
		out := every(music.Quarters(4, int64(t.Parts[0].Unit)), full)
		if t.Parts[0].Unit < 8 {
			accentMiddle(out)
		}
		return out
	}
	var out []pulse
	at := music.Beats{}
	for _, p := range t.Parts {
		unit := music.Quarters(4, int64(p.Unit))
		for _, n := range p.Beats {
			for k := range n {
				accent := Weak
				switch {
				case len(out) == 0:
					accent = Strong
				case k == 0:
					accent = Middle
				}
				out = append(out, pulse{at, accent})
				at = at.Add(unit)
			}
		}
	}
	return out
}

// mostPulses bounds the beats of one bar, whatever a file says.
const mostPulses = 256

func every(beat, length music.Beats) (out []pulse) {
	for at := (music.Beats{}); at.Less(length) && len(out) < mostPulses; at = at.Add(beat) {
		out = append(out, pulse{at, Weak})
	}
	if len(out) > 0 {
		out[0].accent = Strong
	}
	return out
}

func accentMiddle(p []pulse) {
	if n := len(p); n >= 4 && n%2 == 0 {
		p[n/2].accent = Middle
	}
}

// beats are the clicks along a route, to a place at or after its end.
func (r *route) beats(until, beat music.Beats) []pulse {
	var out []pulse
	phase := music.Beats{} // how far into a full bar the music is
	var last *music.Bar
	for k, b := range r.bars {
		bar := &r.s.Bars[b]
		full := fullLength(bar)
		switch {
		case !bar.Length.Less(full):
			phase = music.Beats{}
		case !phase.IsZero() && !full.Less(phase.Add(bar.Length)): // the other half of a divided bar
		case r.pickup(k):
			phase = full.Sub(bar.Length)
		default:
			phase = music.Beats{}
		}
		end := phase.Add(bar.Length)
		span := full
		if full.Less(bar.Length) { // fuller than its time signature: the beats go on
			span = bar.Length
		}
		for _, p := range cycle(pulses(bar.Time, span, beat), full, end) {
			if !p.at.Less(phase) && p.at.Less(end) {
				out = append(out, pulse{r.at[k].Add(p.at.Sub(phase)), p.accent})
			}
		}
		phase = end
		if !end.Less(full) {
			phase = music.Beats{}
		}
		last = bar
	}
	// After the leader's last bar the others play on, in the same metre.
	full := fullLength(last)
	list := pulses(last.Time, full, beat)
	for start := r.length.Sub(phase); start.Less(until); start = start.Add(full) {
		for _, p := range list {
			at := start.Add(p.at)
			if !at.Less(r.length) && at.Less(until) {
				out = append(out, pulse{at, p.accent})
			}
		}
	}
	return out
}

// cycle repeats the beats of a full bar until a place: for a bar that holds more than it should.
func cycle(p []pulse, full, until music.Beats) []pulse {
	out := p
	for start := full; !full.IsZero() && start.Less(until) && len(out) < mostPulses; start = start.Add(full) {
		for _, q := range p {
			if at := start.Add(q.at); at.Less(until) {
				out = append(out[:len(out):len(out)], pulse{at, q.accent})
			}
		}
	}
	return out
}

// fullLength of a bar by its time signature; of a bar without one its own.
func fullLength(b *music.Bar) music.Beats {
	full := b.Time.Length()
	if full.IsZero() {
		full = b.Length
	}
	if full.IsZero() {
		full = music.Quarters(4, 1)
	}
	return full
}

// pickup reports whether the k-th bar played is a pickup: shorter than its time signature, at the
// beginning of the piece or of what is played, or with a number that is not printed.
func (r *route) pickup(k int) bool {
	b := &r.s.Bars[r.bars[k]]
	return b.Length.Less(fullLength(b)) && (r.bars[k] == 0 || k == 0 && len(r.bars) > 1 || b.Implicit)
}

// countIn are the clicks before the music: whole bars, and before a pickup also the beats of its bar
// that are not played, so that the pickup falls where it belongs. Places are negative.
func (r *route) countIn(bars int, beat music.Beats) []pulse {
	if bars == 0 {
		return nil
	}
	bar := &r.s.Bars[r.bars[0]]
	full := fullLength(bar)
	missing := music.Beats{}
	if r.pickup(0) {
		missing = full.Sub(bar.Length)
	}
	list := pulses(bar.Time, full, beat)
	var out []pulse
	for k := range bars + 1 {
		start := music.Beats{}.Sub(missing).Sub(full.Mul(int64(bars-k), 1))
		for _, p := range list {
			if at := start.Add(p.at); at.Less(music.Beats{}) {
				out = append(out, pulse{at, p.accent})
			}
		}
	}
	return out
}

// entry is how long after the leader the k-th player comes in, k from 0: so many bars of the route,
// a pickup not counted, so that everybody's pickup leads to a first beat.
func (r *route) entry(k, after int) music.Beats {
	want := k * after
	first := 0
	if r.pickup(0) {
		first = 1
	}
	sum := music.Beats{}
	for i := range want {
		b := &r.s.Bars[r.bars[min(first+i, len(r.bars)-1)]]
		sum = sum.Add(fullLength(b))
	}
	return sum
}
