package rehearse

import (
	"math"
	"math/rand/v2"
	"sort"
	"strconv"
)

// Manner is how somebody plays: steadiness, touch, mistakes.
type Manner struct {
	Tempo         float64    // of the nominal tempo
	Drift         float64    // slow wandering of the tempo, standard deviation of its logarithm
	JitterS       float64    // standard deviation of single onsets
	Trend         float64    // relative change of tempo from beginning to end
	Rubato        float64    // swing of the tempo within phrases
	Hesitate      float64    // chance of a stop of 0.3 to 1.5 s before a beat
	RollS         [2]float64 // spread of chords from first to last string
	Wrong         float64    // chance per note
	Missed        float64
	Extra         float64
	LevelDb       float64 // overall touch
	SpreadDb      float64 // note to note
	WeakInner     float64 // chance that a note is 10 to 20 dB too soft
	Slurs         float64 // chance that a step on one string is slurred
	Accents       bool    // first beats louder
	LeadInS       float64
	CountIn       string // spoken before playing
	Buzz, Muted   float64
	TalkOver      float64 // chance of talk while playing goes on
	MedianVibrato float64 // cents
}

// Pluck is one stroke as the instrument gets it.
type Pluck struct {
	OnsetS, OffsetS float64
	Midi            float64
	Db              float64 // touch relative to a middling stroke
	String, Part    int
	Soft            bool    // slurred: no plucked attack
	GlideFrom       float64 // slid or bent from this pitch; 0 not
	GlideS          float64
	Muted, Buzzing  bool
	VibratoCents    float64
	Ghost           bool // not in the truth: a dead stroke without pitch
	note            int  // index into Performance.notes, -1 none
}

// Performance is a piece as played, before it has a sound.
type Performance struct {
	Plucks []Pluck
	Notes  []TrueNote
	Missed []TrueMiss
	Jumps  []TrueJump
	Beats  [][3]float64
	Speech []Spoken // StartS and Text are set; EndS when spoken
	EndS   float64
	Skip   []int
	Bpm    float64 // median over beats
}

// perform plays the legs in the given manner.
func perform(p Piece, legs []Leg, m Manner, rng *rand.Rand) Performance {
	pl := &player{piece: p, manner: m, rng: rng, drift: m.Drift * rng.NormFloat64() * 0.5}
	if m.CountIn != "" {
		pl.out.Speech = append(pl.out.Speech, Spoken{StartS: 0.4 + 0.4*rng.Float64(), Text: m.CountIn})
	}
	pl.now = m.LeadInS
	total := 0
	for _, l := range legs {
		total += l.ToTick - l.FromTick
	}
	done := 0
	for i, leg := range legs {
		pl.playLeg(i, leg, float64(done)/float64(total), float64(leg.ToTick-leg.FromTick)/float64(total), i+1 == len(legs), legs)
		done += leg.ToTick - leg.FromTick
	}
	pl.settle()
	pl.out.EndS = pl.now
	return pl.out
}

type player struct {
	piece  Piece
	manner Manner
	rng    *rand.Rand
	now    float64
	drift  float64
	pass   int
	out    Performance
	ibi    []float64
}

// clock maps ticks of one leg to seconds.
type clock struct {
	ticks []int
	at    []float64
}

func (c clock) seconds(tick int) float64 {
	i := sort.SearchInts(c.ticks, tick+1) - 1
	i = min(max(i, 0), len(c.ticks)-2)
	f := float64(tick-c.ticks[i]) / float64(c.ticks[i+1]-c.ticks[i])
	return c.at[i] + f*(c.at[i+1]-c.at[i])
}

// clockFor lays the beats of a leg from now on.
func (pl *player) clockFor(leg Leg, begun, share float64, last bool) clock {
	m, p := pl.manner, pl.piece
	c := clock{ticks: []int{leg.FromTick}, at: []float64{pl.now}}
	t := pl.now
	phase := pl.rng.Float64() * 2 * math.Pi
	for tick := leg.FromTick; tick < leg.ToTick; {
		next := min(tick+TicksPerQuarter, leg.ToTick)
		pl.drift = 0.85*pl.drift + 0.53*m.Drift*pl.rng.NormFloat64()
		progress := begun + share*float64(tick-leg.FromTick)/float64(leg.ToTick-leg.FromTick)
		speed := m.Tempo * leg.Ratio * math.Exp(pl.drift) * (1 + m.Trend*(progress-0.5))
		speed *= 1 + m.Rubato*math.Sin(phase+2*math.Pi*quarters(tick)/float64(4*p.Beats))
		if left := leg.ToTick - tick; last && left <= 4*TicksPerQuarter && m.Rubato > 0 {
			speed *= 1 - m.Rubato*(1.2-0.3*quarters(left))
		}
		step := quarters(next-tick) * 60 / p.Bpm / speed
		if next-tick == TicksPerQuarter {
			pl.ibi = append(pl.ibi, step)
		}
		if m.Hesitate > 0 && tick > leg.FromTick+3*TicksPerQuarter && pl.rng.Float64() < m.Hesitate {
			t += pl.hesitate(tick, t, c.at)
			c.at[len(c.at)-1] = t
		}
		t += step
		tick = next
		c.ticks, c.at = append(c.ticks, tick), append(c.at, t)
	}
	return c
}

// hesitate stops before a beat; a long stop is told as a pause.
func (pl *player) hesitate(tick int, at float64, _ []float64) float64 {
	d := 0.25 + 1.3*pl.rng.Float64()*pl.rng.Float64()
	if d > 0.8 {
		bar, q := pl.piece.Bars[pl.piece.barAt(tick)].Number, quarters(tick)
		pl.out.Jumps = append(pl.out.Jumps, TrueJump{"pause", q, bar, q, bar, at, at + d})
	}
	return d
}

func (pl *player) playLeg(index int, leg Leg, begun, share float64, last bool, legs []Leg) {
	if index > 0 {
		stop := pl.now
		pl.now += leg.GapS
		if leg.Say != "" {
			pl.out.Speech = append(pl.out.Speech, Spoken{StartS: stop + 0.35, Text: leg.Say})
		}
		if leg.Jump != "ending" {
			pl.pass++
			prev := legs[index-1]
			p := pl.piece
			pl.out.Jumps = append(pl.out.Jumps, TrueJump{leg.Jump, quarters(prev.ToTick), p.Bars[p.barAt(prev.ToTick-1)].Number,
				quarters(leg.FromTick), p.Bars[p.barAt(leg.FromTick)].Number, stop, pl.now})
		}
		if leg.Jump == "skip" {
			for i, n := range pl.piece.Notes {
				if n.At >= legs[index-1].ToTick && n.At < leg.FromTick {
					pl.out.Skip = append(pl.out.Skip, i)
				}
			}
		}
	}
	c := pl.clockFor(leg, begun, share, last)
	for tick := (leg.FromTick + TicksPerQuarter - 1) / TicksPerQuarter * TicksPerQuarter; tick < leg.ToTick; tick += TicksPerQuarter {
		pl.out.Beats = append(pl.out.Beats, [3]float64{quarters(tick), float64(pl.pass), c.seconds(tick)})
	}
	notes := pl.piece.Notes
	for i := 0; i < len(notes); {
		j := i
		for j < len(notes) && notes[j].At == notes[i].At && notes[j].Part == notes[i].Part {
			j++
		}
		if notes[i].At >= leg.FromTick && notes[i].At < leg.ToTick {
			pl.playChord(i, j, c, leg)
		}
		i = j
	}
	pl.now = c.at[len(c.at)-1]
}

// playChord plays the notes i to j of the piece, which stand at one place.
func (pl *player) playChord(i, j int, c clock, leg Leg) {
	m, rng, notes := pl.manner, pl.rng, pl.piece.Notes
	base := c.seconds(notes[i].At) + clamp(rng.NormFloat64(), 2.5)*m.JitterS
	spread := 0.0
	if j-i > 1 {
		spread = m.RollS[0] + (m.RollS[1]-m.RollS[0])*rng.Float64()
		if notes[i].Rolled {
			spread += 0.03 * float64(j-i)
		}
	}
	up := pl.piece.Kind == "strum" && (notes[i].At/24)%2 == 1 // off the beat the hand comes back
	for k := i; k < j; k++ {
		n := notes[k]
		place := 0.0
		if j-i > 1 {
			place = float64(k-i) / float64(j-i-1)
			if up {
				place = 1 - place
			}
		}
		onset := math.Max(base+spread*place+0.003*clamp(rng.NormFloat64(), 2), 0.05)
		if rng.Float64() < m.Missed && pl.mayMiss(k) {
			pl.out.Missed = append(pl.out.Missed, TrueMiss{k, pl.pass, onset})
			continue
		}
		db := m.LevelDb + m.SpreadDb*clamp(rng.NormFloat64(), 2)
		if m.Accents && pl.piece.Bars[n.Bar].At == n.At {
			db += 4
		}
		if rng.Float64() < m.WeakInner && (j-i > 1 || n.Ticks <= 24) {
			db -= 10 + 9*rng.Float64()
		}
		pk := Pluck{OnsetS: onset, Midi: float64(n.Midi), Db: db, String: n.String, Part: n.Part,
			Muted: rng.Float64() < m.Muted, Buzzing: rng.Float64() < m.Buzz}
		kind, midi := "correct", n.Midi
		if rng.Float64() < m.Wrong {
			if w, s := pl.wrongPitch(k, i, j); w > 0 {
				kind, midi, pk.String = "wrong", w, s
				pk.Midi = float64(w)
			}
		}
		end := c.seconds(min(n.At+n.Ticks, leg.ToTick))
		pk.OffsetS = onset + math.Max(0.05, (end-onset)*(0.86+0.14*rng.Float64()))
		if pl.piece.Rings {
			pk.OffsetS = onset + 2.6
		} else if pk.Midi == float64(openMidi[n.String]) && rng.IntN(3) == 0 {
			pk.OffsetS += 1.5
		}
		if m.Slurs > 0 && rng.Float64() < m.Slurs {
			pk.Soft = pl.canSlur(pk)
		}
		if m.MedianVibrato > 0 && n.Ticks >= 48 && n.Fret > 0 && rng.IntN(2) == 0 {
			pk.VibratoCents = m.MedianVibrato * (0.5 + rng.Float64())
		}
		index := k
		pl.add(pk, TrueNote{Score: &index, Pass: pl.pass, Midi: midi, Kind: kind})
	}
	if rng.Float64() < m.Extra*float64(j-i) {
		pl.extra(i, j, c, leg)
	}
}

// mayMiss keeps a note from being left out where nobody could tell: the first of the take, or where
// its pitch is doubled at the same place.
func (pl *player) mayMiss(k int) bool {
	n := pl.piece.Notes[k]
	for i, o := range pl.piece.Notes {
		if i != k && o.At == n.At && o.Midi == n.Midi {
			return false
		}
	}
	return len(pl.out.Notes) > 2
}

// canSlur reports whether the string last played is this one and only a step away.
func (pl *player) canSlur(pk Pluck) bool {
	for i := len(pl.out.Plucks) - 1; i >= 0 && i >= len(pl.out.Plucks)-3; i-- {
		prev := pl.out.Plucks[i]
		if prev.String == pk.String && prev.Part == pk.Part {
			d := math.Abs(prev.Midi - pk.Midi)
			return d >= 1 && d <= 4 && pk.OnsetS-prev.OnsetS < 0.7
		}
	}
	return false
}

func (pl *player) add(pk Pluck, n TrueNote) {
	pk.note = len(pl.out.Notes)
	n.OnsetS, n.OffsetS, n.String, n.Part = pk.OnsetS, pk.OffsetS, pk.String, pk.Part
	n.Velocity = min(127, max(10, int(math.Round(84+2.2*pk.Db))))
	pl.out.Plucks, pl.out.Notes = append(pl.out.Plucks, pk), append(pl.out.Notes, n)
}

// settle sorts the strokes and lets each end the one before it on its string.
func (pl *player) settle() {
	o := &pl.out
	sort.SliceStable(o.Plucks, func(i, j int) bool { return o.Plucks[i].OnsetS < o.Plucks[j].OnsetS })
	last := map[[2]int]int{}
	for i := range o.Plucks {
		pk := &o.Plucks[i]
		key := [2]int{pk.Part, pk.String}
		if j, ok := last[key]; ok {
			prev := &o.Plucks[j]
			if pk.OnsetS-prev.OnsetS < 0.03 {
				pk.OnsetS = prev.OnsetS + 0.03
				if pk.OffsetS < pk.OnsetS+0.03 {
					pk.OffsetS = pk.OnsetS + 0.03
				}
			}
			prev.OffsetS = math.Min(prev.OffsetS, pk.OnsetS)
		}
		last[key] = i
	}
	for _, pk := range o.Plucks {
		if pk.note >= 0 {
			o.Notes[pk.note].OnsetS, o.Notes[pk.note].OffsetS = pk.OnsetS, pk.OffsetS
		}
	}
	order := make([]int, len(o.Notes))
	for i := range order {
		order[i] = i
	}
	sort.SliceStable(order, func(a, b int) bool { return o.Notes[order[a]].OnsetS < o.Notes[order[b]].OnsetS })
	sorted := make([]TrueNote, len(order))
	where := make([]int, len(order))
	for i, j := range order {
		sorted[i], where[j] = o.Notes[j], i
	}
	o.Notes = sorted
	for i := range o.Plucks {
		if o.Plucks[i].note >= 0 {
			o.Plucks[i].note = where[o.Plucks[i].note]
		}
	}
	o.Bpm = 60 / median(pl.ibi)
}

func clamp(x, limit float64) float64 { return math.Max(-limit, math.Min(limit, x)) }

func median(v []float64) float64 {
	if len(v) == 0 {
		return math.NaN()
	}
	s := append([]float64{}, v...)
	sort.Float64s(s)
	if len(s)%2 == 1 {
		return s[len(s)/2]
	}
	return (s[len(s)/2-1] + s[len(s)/2]) / 2
}

// stringCents draws how far the strings are out of tune; one may be well out.
func stringCents(rng *rand.Rand, spread, bad float64) map[string]float64 {
	c := map[string]float64{}
	for s := 1; s <= 6; s++ {
		c[strconv.Itoa(s)] = math.Round(10*spread*clamp(rng.NormFloat64(), 2)) / 10
	}
	if bad != 0 {
		c[strconv.Itoa(1+rng.IntN(6))] = bad
	}
	return c
}
