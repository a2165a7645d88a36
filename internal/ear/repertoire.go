package ear

import (
	"cmp"
	"context"
	"math"
	"slices"

	"antiphon/internal/dsp"
	"antiphon/internal/music"
)

// Repertoire is a set of scores prepared for the question which of them a take is of. It is not changed
// by being asked: several goroutines may share one.
type Repertoire struct {
	works []work
}

// work is one score of a repertoire.
type work struct {
	route *route
	kinds []int     // kind of each moment
	has   [128]bool // by MIDI pitch: whether the score has it
}

// NewRepertoire prepares scores. One without pitched notes keeps its place, and no take is ever like it.
func NewRepertoire(scores []*music.Score) *Repertoire {
	r := &Repertoire{works: make([]work, len(scores))}
	for i, s := range scores {
		w := work{route: newRoute(s)}
		for _, m := range w.route.moments {
			w.kinds = append(w.kinds, m.kind)
			for _, p := range m.pitches {
				if p >= 0 && p < len(w.has) {
					w.has[p] = true
				}
			}
		}
		r.works[i] = w
	}
	return r
}

// Likeness is one score that a take may be of.
type Likeness struct {
	Score        int     // index into the scores that the repertoire was made of
	Confidence   float64 // that it is this one, 0 to 1
	SoundsHigher int     // semitones by which the take lies above the score, as with a capo that was not told
	FromBar      string  // where in the score the playing lies
	ToBar        string
	Match        float64 // as in Hearing
	Covers       float64
}

// Resemblance is what a take sounds like.
type Resemblance struct {
	Likely []Likeness // most likely first, at most twelve
	None   float64    // confidence that it is none of the scores. None and the confidences of all scores add up to 1
}

// mostLikely is how many scores are followed note by note, after a glance at all of them.
const mostLikely = 12

// SoundsLike says which scores of a repertoire a take may be of. It need not be the whole piece, nor in
// time, nor in tune.
func (l *Listening) SoundsLike(ctx context.Context, r *Repertoire) (Resemblance, error) {
	defer l.e.hearAt(0)
	clear := glanceStrokes(l.strokes)
	first, err := r.glance(ctx, clear, l.near())
	if err != nil {
		return Resemblance{}, err
	}
	var likely []Likeness
	for _, g := range first {
		k, err := l.compare(ctx, r.works[g.work].route, g)
		if err != nil {
			return Resemblance{}, err
		}
		likely = append(likely, k)
	}
	return l.weighLikenesses(likely), nil
}

// near are the semitones by which a take may lie above its score for its tuning alone.
func (l *Listening) near() []int {
	var near []int
	for _, n := range []int{0, -1, 1} {
		if math.Abs(l.e.cents+float64(100*n)) <= farthestCents {
			near = append(near, n)
		}
	}
	return near
}

// compare follows a score with the take.
func (l *Listening) compare(ctx context.Context, r *route, g glimpsed) (Likeness, error) {
	l.e.hearAt(g.shift)
	f := follows{shift: g.shift, fit: fitKinds(l.strokes, r.kinds, l.e)}
	logSpq, width := math.Log(r.spq), 0.5
	for range 2 { // the second time with the tempo that was found
		if err := f.follow(ctx, r, l.strokes, logSpq, width); err != nil {
			return Likeness{}, err
		}
		if len(f.spqs) == 0 {
			break
		}
		logSpq, width = math.Log(dsp.Percentile(f.spqs, 0.5)), 0.25
	}
	k := Likeness{Score: g.work, SoundsHigher: g.shift, Match: f.gain}
	all, explained := clearStrokes(l.strokes, f.path)
	k.Covers = float64(explained) / float64(max(1, all))
	if len(f.path) > 0 {
		lo, hi := f.path[0].moment, f.path[0].moment
		for _, n := range f.path {
			lo, hi = min(lo, n.moment), max(hi, n.moment)
		}
		k.FromBar, k.ToBar = r.moments[lo].label, r.moments[hi].label
	}
	return k, nil
}

// How much speaks for a likeness: set on 204 simulated takes of a hundred works and of works like them, so that
// right answers and wrong ones part at about even odds, not fitted closer than that.
const (
	likeMatch  = 5.0  // log odds for each unit of Match
	likeCovers = 3.0  // and for covering all clear strokes
	likeNone   = 7.5  // what a score has to outweigh
	alikeShare = 0.06 // of patterns that fit as well at another height, that one more of them is meant which is not here

	heightCapo   = 0.02 // how likely a capo on a fret is, that nobody told of,
	heightOctave = 0.01 // a score written an octave off,
	heightDown   = 0.003
	tuningSpread = 25.0 // cents by which guitars are off A = 440, with a long tail
)

// weighLikenesses turns how well scores fit into confidences, and puts the likeliest first.
func (l *Listening) weighLikenesses(likely []Likeness) Resemblance {
	var sum, best, second float64
	for i := range likely {
		k := &likely[i]
		fits := math.Exp(likeMatch*k.Match + likeCovers*(k.Covers-1))
		second = max(second, min(fits, best))
		best = max(best, fits)
		k.Confidence = fits * l.heightShare(k.SoundsHigher)
		sum += k.Confidence
	}
	none := math.Exp(likeNone) + alikeShare*second
	sum += none
	for i := range likely {
		likely[i].Confidence /= sum
	}
	slices.SortStableFunc(likely, func(a, b Likeness) int { return cmp.Compare(b.Confidence, a.Confidence) })
	return Resemblance{Likely: likely, None: none / sum}
}

// heightShare is how likely a take lies so many semitones above its score, before anything else is known.
func (l *Listening) heightShare(semitones int) float64 {
	off := (l.e.cents + 100*float64(semitones)) / tuningSpread
	share := 1 / (1 + off*off)
	switch {
	case semitones == 0:
		return 1
	case semitones == 12 || semitones == -12:
		return heightOctave
	case semitones > 0:
		return max(share, heightCapo)
	case semitones == -1:
		return share
	}
	return heightDown
}
