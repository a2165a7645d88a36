// Package findings turns a hearing into the few things worth saying about a take, each with its
// place, its size, how sure it is and the notes that show it.
//
// It describes; it gives no marks, compares no children and guesses no causes. What was heard with
// too little confidence is left out. What went well is evidence too, and is found by the same means.
package findings

import (
	"cmp"
	"math"
	"slices"

	"antiphon/internal/ear"
	"antiphon/internal/music"
)

// Kind says what sort of thing was found.
type Kind string

// The kinds.
const (
	NotThisScore   Kind = "not-this-score"     // the take is of something else; size is the match, 0 to 1
	Wrong          Kind = "wrong-note"         // another pitch than written; size is how often
	Missed         Kind = "missed-note"        // not heard; size is the number of notes
	Extra          Kind = "extra-note"         // belongs to no written note; size is how often
	Passage        Kind = "passage"            // a bar with many of these; size is the number of notes
	Rushing        Kind = "rushing"            // faster than the rest; size in %
	Dragging       Kind = "dragging"           // slower than the rest; size in %
	Unsteady       Kind = "unsteady"           // spread of the beat; size in %
	Hesitation     Kind = "hesitation"         // a stop without going back; size in seconds
	Restart        Kind = "restart"            // stopped and went back; size is how often
	Skip           Kind = "skip"               // bars left out; size is the number of bars
	Tempo          Kind = "tempo"              // against the mark or the goal; size in %, negative is slower
	UnevenPattern  Kind = "uneven-pattern"     // equal notes played long and short; size is the ratio
	UnevenFinger   Kind = "uneven-finger"      // one plucking finger early, late, loud or soft; size in ms or dB
	DynamicsFlat   Kind = "dynamics-not-heard" // soft and loud are written and sound alike; size in dB
	DynamicsHeard  Kind = "dynamics-heard"     // soft and loud can be told apart; size in dB
	StringTuning   Kind = "string-tuning"      // one string out of tune with the others; size in cents
	ReferencePitch Kind = "reference-pitch"    // the whole guitar away from A = 440; size in cents
	Clipped        Kind = "clipped"            // the recording is overdriven; size is the share of samples in %
	TooQuiet       Kind = "too-quiet"          // the playing hardly stands out from the noise; size in dB
	Rounds         Kind = "rounds"             // an exercise played round and round; size is the number of rounds
	MayBuzz        Kind = "may-buzz"           // notes that may buzz; size is the number of notes
	Steady         Kind = "steady"             // a stretch in steady time, nothing wrong; size in %
	Clean          Kind = "clean"              // a whole pass without a wrong, missing or added note; size in bars
)

// Well reports whether the kind is something that went well.
func (k Kind) Well() bool { return k == Steady || k == Clean || k == DynamicsHeard }

// Finding is one thing worth saying.
type Finding struct {
	Kind           Kind
	Aspect         string  // a finer sort of the kind, of Kind.Aspects; "" none
	FromS, ToS     float64 // where to listen first
	FromBar, ToBar string  // as printed; "" for the whole take
	Size           float64
	Unit           string // of Size: "notes", "%", "s", "dB", "cents", "ms", "bars", "times", "rounds", "ratio", "share"
	Confidence     float64
	Text           string    // one sentence
	Evidence       []string  // ids of the score's notes that show it
	AtS            []float64 // every moment where it happened; the first is FromS

	strength float64
}

// Options are what is known besides the hearing. The zero value asks nothing beyond the score.
type Options struct {
	GoalBpm float64 // tempo asked for, in the beat that the score counts; 0 means the score's own mark
	Sound   Sound   // what the recording holds, from Listen; it says why a take is not of its score
}

// Sure is the confidence below which a verdict is not worth a word. The ear sets its own floors so
// that a reported error is right in 92 of 100 cases; this one only cuts what it calls a guess.
const Sure = 0.5

// Of finds what is worth saying about h, the strongest first and what went well last. score is the
// one that h was made with.
func Of(h *ear.Hearing, score *music.Score, opt Options) []Finding {
	s := newScene(h, score, opt)
	var all []Finding
	if len(h.Passes) == 0 {
		all = append(all, s.notThisScore())
		all = append(all, s.recording()...)
		return settle(all)
	}
	for _, find := range []func() []Finding{
		s.wrongNotes, s.hesitations, s.restarts, s.skips, s.rounds, s.pace, s.againstMark, s.unevenPattern,
		s.unevenFingers, s.dynamics, s.tuning, s.recording, s.buzz, s.wentWell,
	} {
		all = append(all, find()...)
	}
	return settle(all)
}

// weight is how much a kind matters beside the others at equal size. Our choice, no source: notes and
// stops come before tempo, tempo before sound; a recording that cannot be trusted comes first.
func weight(k Kind) float64 {
	switch k {
	case NotThisScore:
		return 10
	case Clipped, TooQuiet:
		return 1.2
	case Passage:
		return 1.4
	case Wrong, Restart:
		return 1
	case Missed, Hesitation, Skip, Rounds:
		return 0.95
	case Rushing, Dragging, UnevenPattern, StringTuning:
		return 0.85
	case Extra, Unsteady, UnevenFinger:
		return 0.7
	case DynamicsFlat, Tempo, DynamicsHeard, Clean:
		return 0.6
	}
	return 0.5
}

// settle ranks findings and puts their numbers in order.
func settle(all []Finding) []Finding {
	for i := range all {
		f := &all[i]
		f.Confidence = min(1, max(0, finite(f.Confidence)))
		f.Size, f.FromS, f.ToS = finite(f.Size), finite(f.FromS), finite(f.ToS)
		if f.Evidence == nil {
			f.Evidence = []string{}
		}
		if f.AtS == nil {
			f.AtS = []float64{f.FromS}
		}
		f.strength = weight(f.Kind) * f.Confidence * (1 + 0.5*math.Log2(float64(len(f.AtS))))
	}
	slices.SortStableFunc(all, func(a, b Finding) int {
		if a.Kind.Well() != b.Kind.Well() {
			if b.Kind.Well() {
				return -1
			}
			return 1
		}
		if c := cmp.Compare(b.strength, a.strength); c != 0 {
			return c
		}
		return cmp.Compare(a.FromS, b.FromS)
	})
	return all
}

func finite(v float64) float64 {
	if math.IsNaN(v) || math.IsInf(v, 0) {
		return 0
	}
	return v
}
