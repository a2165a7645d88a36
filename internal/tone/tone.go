// Package tone says where the right hand plucked: near the bridge, over the hole or over the neck. It
// reads that from the decoded sound of a take and the notes that the ear heard in it.
//
// A string that is plucked at the share R of its length, counted from the bridge, lacks the partials
// that have a node there: the k-th partial is |sin(πkR)| as strong as it would be (Traube & Smith 2000;
// Traube & Depalle 2003 fit that comb). One note says little, since body, room, phone and force colour
// it too. So the colour that all notes of a take share is estimated together with the place of each bar,
// and what is left decides.
//
// It reports, in JSON as `tone`:
//
//	brightness  centroid of a note's partials over its fundamental, the median of the clear notes
//	r           distance from the bridge over the length of the open string, of the take as a whole; 0 not known
//	place       "near-the-bridge", "over-the-hole", "over-the-neck", of the take; "" not known
//	confidence  in that place, 0 to 1
//	notes, of   notes that stood clear, of the plucked notes that were heard as written; 256 are looked at
//	stretches   bars in a row at one place, in order of time, each with pass, from_bar, to_bar, start_s,
//	            end_s, place ("" not known), confidence, r, brightness, notes, and against_take:
//	            "nearer-the-bridge" or "nearer-the-neck" where it clearly differs from the take's own place
//	by_note     for each clear note: its index in `played`, brightness, and the r that it alone would
//	            give, which is rough
//
// It refuses to guess. A note counts where it is plucked, sounds alone for a moment and keeps partials of
// its own; chords, noise and phones that cut the partials leave few of those, and then a place is not
// known. It does not tell nail from flesh, nor good tone from bad, and it knows no student.
package tone

import (
	"math"

	"antiphon/internal/dsp"
	"antiphon/internal/ear"
	"antiphon/internal/guitar"
	"antiphon/internal/media"
	"antiphon/internal/music"
)

// Place is where the right hand plucks; music.AnyPlace where the recording does not tell.
type Place = music.Place

// Lean is how a stretch lies to the rest of its take.
type Lean string

// The leanings.
const (
	Same     Lean = ""
	ToBridge Lean = "nearer-the-bridge"
	ToNeck   Lean = "nearer-the-neck"
)

// Heard is what was heard of a take's tone. The zero value is a take of which nothing is known.
type Heard struct {
	Place      Place // of most of the take
	Confidence float64
	R          float64   // median over the bars whose place is known; 0 none is
	Brightness float64   // median of the clear notes; 0 there are none
	Notes, Of  int       // clear notes, of the plucked ones heard as written; of a long take only 256 are looked at
	Stretches  []Stretch // in order of time
	ByNote     []Note    // in order of time
}

// Stretch is bars in a row, of one pass, plucked at one place.
type Stretch struct {
	Pass           int // ear.Pass.N
	FromBar, ToBar string
	From, To       int     // of the same bars, indices into music.Score.Bars
	StartS, EndS   float64 // onsets of its first and its last clear note
	Place          Place
	Confidence     float64
	R, Brightness  float64
	Notes          int // clear ones
	Lean           Lean
}

// Note is what one clear note gives alone.
type Note struct {
	Played        int // index into ear.Hearing.Played
	R, Brightness float64
}

// Options of Measure.
type Options struct {
	Capo int // as in ear.Options
}

// Limits on what is taken into account.
const (
	mostNotes   = 256  // of a longer take so many, evenly spread: the time of Measure does not grow beyond them
	fewestNotes = 8    // of a take; below, nothing is said
	leastClear  = 0.35 // of the notes looked at: where fewer stand clear, as in chords and noise, the few are not trusted
)

// Measure hears the tone of a take. h is the ear's hearing of pcm. The error is that of sound at another
// rate than the ear's.
func Measure(pcm media.PCM, h *ear.Hearing, opt Options) (Heard, error) {
	if pcm.RateHz != ear.RateHz {
		return Heard{}, ear.ErrRate
	}
	r, err := newReader(pcm)
	if err != nil {
		return Heard{}, err
	}
	var out Heard
	plucked := candidates(h)
	out.Of = len(plucked)
	all := make([]sounding, len(h.Played))
	for i, p := range h.Played {
		hz := h.A4Hz * math.Exp2((float64(p.Midi+opt.Capo-69)+p.Cents/100)/12)
		all[i] = sounding{p.OnsetS, p.OffsetS, hz}
	}
	var notes []reading
	var bars []bar
	var bright []float64
	looked := spread(plucked, mostNotes)
	for _, i := range looked {
		n, ok := r.read(all, i)
		if !ok {
			continue
		}
		p, w := h.Played[i], h.Score[h.Played[i].Note]
		n.played, n.midi, n.ratio = i, p.Midi, max(1, all[i].hz/(h.A4Hz*math.Exp2(float64(openString(w)-69)/12)))
		if k := len(bars); k == 0 || bars[k-1].index != w.BarIndex || bars[k-1].pass != p.Pass {
			bars = append(bars, bar{pass: p.Pass, index: w.BarIndex, name: w.Bar, startS: p.OnsetS})
		}
		n.visit = len(bars) - 1
		b := &bars[n.visit]
		b.endS, b.notes = p.OnsetS, b.notes+1
		notes, bright = append(notes, n), append(bright, n.bright)
	}
	out.Notes, out.Brightness = len(notes), dsp.Median(bright)
	if len(notes) < fewestNotes || float64(len(notes)) < leastClear*float64(len(looked)) {
		return out, nil
	}
	out.conclude(notes, bars, estimate(notes, len(bars)))
	return out, nil
}

// candidates are the notes played as written that a finger of the right hand struck: one hand's, that of
// the part that played most.
func candidates(h *ear.Hearing) []int {
	of := map[string][]int{}
	most := ""
	for i, p := range h.Played {
		if p.Note < 0 || p.Verdict != ear.Right {
			continue
		}
		if w := h.Score[p.Note]; !w.Slurred && !w.Grace && !w.Cue {
			of[w.Part] = append(of[w.Part], i)
			if len(of[w.Part]) > len(of[most]) {
				most = w.Part
			}
		}
	}
	return of[most]
}

// spread keeps at most so many of a list, evenly.
func spread(list []int, most int) []int {
	if len(list) <= most {
		return list
	}
	out := make([]int, most)
	for i := range out {
		out[i] = list[i*len(list)/most]
	}
	return out
}

// openString is the pitch of the open string that a note is played on: the written one, or the one on
// which it lies lowest.
func openString(n music.Sounding) int {
	open := guitar.Standard().Open
	if n.String >= 1 && n.String <= len(open) {
		if n.Fret >= 0 && n.Fret <= 24 {
			return n.Midi - n.Fret // as tuned
		}
		return open[n.String-1]
	}
	for _, o := range open {
		if n.Midi >= o {
			return o
		}
	}
	return n.Midi
}
