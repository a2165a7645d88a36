package sound

import (
	"math"
	"slices"
	"sort"
	"strings"

	"antiphon/internal/music"
)

// touch is how one note of Score.Sounding is played, the same each time it comes.
type touch struct {
	db       float64     // against mezzo forte
	length   float64     // share of its written length that it sounds
	rings    bool        // on, until its string is needed
	ringTo   music.Beats // in an arpeggio: how far from its onset it rings; 0 as written
	slurred  bool        // sounds without a stroke of the right hand
	harmonic bool
	rest     bool    // rest stroke
	bridgeMm float64 // where it is plucked; 0 not said
	fermata  bool
	roll     int // place in a rolled chord: 0 sounds on the beat
	rolled   int // notes of that chord
	grace    int // how many grace notes lie between it and its main note, itself counted; 0 none
	str      int // string; 0 no free one
	fret     int
	tremolo  music.Beats // length of one stroke; 0 none
}

// Steps of dynamics and accents, in dB. Four dB between neighbouring marks and the size of accents
// are our choice; no source.
const (
	dynamicStepDb = 4
	accentDb      = 3
	marcatoDb     = 5
	sforzatoDb    = 5
	slurredDb     = -3
	graceDb       = -2
)

// markDb is the level of a dynamic mark that holds, against mezzo forte.
func markDb(mark string) float64 {
	steps := map[string]float64{"mp": -1, "mf": 0, "p": -2, "f": 1, "pp": -3, "ff": 2, "ppp": -4, "fff": 3, "pppp": -5, "ffff": 3, "fp": -2, "pf": 1}
	return dynamicStepDb * steps[mark]
}

// touches reads the marks of every sounding note.
func touches(s *music.Score, sounds []music.Sounding, opt Options) []touch {
	written := s.Written()
	out := make([]touch, len(sounds))
	levels, places := make([]levelling, len(s.Parts)), make([]places, len(s.Parts))
	index := map[string]int{}
	for i := range s.Parts {
		index[s.Parts[i].ID] = i
		levels[i], places[i] = newLevelling(&s.Parts[i]), newPlaces(&s.Parts[i])
	}
	for i, n := range sounds {
		part := index[n.Part]
		first := &s.Parts[part].Notes[written[i][0].Note]
		last := &s.Parts[part].Notes[written[i][len(written[i])-1].Note]
		t := &out[i]
		t.db, t.length = levels[part].at(n), 1
		if v := first.Velocity; v > 0 && n.Dynamic == "" { // a MIDI file says how hard; 80 is mezzo forte there
			t.db = min(max(40*math.Log10(float64(v)/softVel), -5*dynamicStepDb), 3*dynamicStepDb)
		}
		t.bridgeMm = places[part].at(n.Onset)
		t.rest = opt.RestAll
		switch first.Stroke() {
		case music.RestStroke:
			t.rest = true
		case music.FreeStroke:
			t.rest = false
		}
		t.harmonic = first.Harmonic.Present
		t.rings = t.harmonic || first.LetRing || last.LetRing
		t.slurred = n.Slurred
		for _, m := range first.Marks {
			t.mark(m)
		}
		for _, m := range last.Marks {
			t.fermata = t.fermata || m.Kind == "fermata"
		}
		if levels[part].struck[n.Onset] || slices.ContainsFunc(first.Dynamics, strikes) {
			t.db += sforzatoDb
		}
		if n.Grace {
			t.db += graceDb
		}
		if k := n.Tremolo; k > 0 && (first.Tremolo.Kind == "single" || first.Tremolo.Kind == "unmeasured") {
			t.tremolo = music.Quarters(1, 1<<min(k, 6))
		}
	}
	ligados(s, sounds, written, out)
	chords(s, sounds, written, index, out)
	graces(sounds, out)
	assign(s, sounds, out)
	arpeggios(s, sounds, out)
	for i := range out {
		if out[i].slurred {
			out[i].db += slurredDb
		}
	}
	return out
}

func (t *touch) mark(m music.Mark) {
	switch m.Kind {
	case "accent":
		t.db += accentDb
	case "strong-accent":
		t.db += marcatoDb
	case "stress":
		t.db += accentDb / 2.0
	case "soft-accent":
		t.db += accentDb / 2.0
	case "staccato":
		t.length = 0.5
	case "staccatissimo", "spiccato":
		t.length = 0.3
	case "detached-legato":
		t.length = 0.75
	case "fermata":
		t.fermata = true
	case "harmonic":
		t.harmonic, t.rings = true, true
	}
}

// levelling gives the level in force at a place of one part: its marks, and between them its hairpins.
type levelling struct {
	marks  []levelMark
	wedges []wedge
	struck map[music.Beats]bool // places of marks for one moment: sfz, fp
}

type levelMark struct {
	at music.Beats
	db float64
}

type wedge struct {
	from, to music.Beats
	by       float64 // dB over its length
}

func newLevelling(p *music.Part) levelling {
	l := levelling{struck: map[music.Beats]bool{}}
	for i := range p.Notes { // marks that hang on a note
		for _, d := range p.Notes[i].Dynamics {
			if holds(d) {
				l.marks = append(l.marks, levelMark{p.Notes[i].Start, markDb(d)})
			}
		}
	}
	dirs := slices.Clone(p.Directions)
	slices.SortStableFunc(dirs, func(a, b music.Direction) int { return a.At.Cmp(b.At) })
	open := map[int]music.Direction{}
	for _, d := range dirs {
		if d.Kind == music.Dynamic && strikes(d.Text) {
			l.struck[d.At] = true
		}
		switch {
		case d.Kind == music.Dynamic && holds(d.Text):
			l.marks = append(l.marks, levelMark{d.At, markDb(d.Text)})
		case d.Kind == music.Wedge && (d.Text == "crescendo" || d.Text == "diminuendo"):
			open[d.Number] = d
		case d.Kind == music.Wedge && d.Text == "stop":
			from, ok := open[d.Number]
			if ok && from.At.Less(d.At) {
				by := float64(dynamicStepDb)
				if from.Text == "diminuendo" {
					by = -by
				}
				l.wedges = append(l.wedges, wedge{from.At, d.At, by})
			}
			delete(open, d.Number)
		}
	}
	slices.SortStableFunc(l.wedges, func(a, b wedge) int { return a.from.Cmp(b.from) })
	slices.SortStableFunc(l.marks, func(a, b levelMark) int { return a.at.Cmp(b.at) })
	for i := range l.wedges { // a mark that follows at once says where the hairpin leads
		w := &l.wedges[i]
		start := l.base(w.from)
		for _, m := range l.marks {
			if !m.at.Less(w.to) && m.at.Sub(w.to).Q() <= 1 && m.at != w.from && (m.db-start)*w.by > 0 {
				w.by = m.db - start
				break
			}
		}
	}
	return l
}

// holds reports whether a dynamic mark stays in force: p, mf, ff, but not sfz.
func holds(mark string) bool {
	return mark != "" && strings.Trim(mark, "pmf") == ""
}

// strikes reports whether a mark is an accent of one moment: sf, sfz, rfz, fz, fp.
func strikes(mark string) bool { return strings.ContainsAny(mark, "srz") || mark == "fp" }

// before is how many marks stand at or before a place.
func (l levelling) before(at music.Beats) int {
	return sort.Search(len(l.marks), func(i int) bool { return at.Less(l.marks[i].at) })
}

func (l levelling) base(at music.Beats) float64 {
	if n := l.before(at); n > 0 {
		return l.marks[n-1].db
	}
	return 0
}

// at is the level of a note. What a hairpin has reached stays until the next mark.
func (l levelling) at(n music.Sounding) float64 {
	level, since := l.base(n.Onset), music.Beats{}
	if k := l.before(n.Onset); k > 0 {
		since = l.marks[k-1].at
	}
	from := sort.Search(len(l.wedges), func(i int) bool { return !l.wedges[i].from.Less(since) })
	for _, w := range l.wedges[from:] {
		if n.Onset.Less(w.from) {
			break
		}
		if n.Onset.Less(w.to) {
			level += w.by * n.Onset.Sub(w.from).Q() / w.to.Sub(w.from).Q()
		} else {
			level += w.by
		}
	}
	return min(max(level, -5*dynamicStepDb), 3*dynamicStepDb)
}

// places gives where the right hand plucks, from the words over the staff.
type places []struct {
	at       music.Beats
	bridgeMm float64
}

// Distances from the bridge that the words stand for, on a full-size guitar. Common practice, no source.
const (
	overHoleMm   = 130
	nearBridgeMm = 55
	nearNeckMm   = 210
)

func newPlaces(p *music.Part) places {
	var out places
	for _, l := range p.Places() {
		out = append(out, struct {
			at       music.Beats
			bridgeMm float64
		}{l.At, bridgeMmOf(l.Place)})
	}
	return out
}

// bridgeMmOf is how far from the bridge a place lies; 0: where the options say.
func bridgeMmOf(p music.Place) float64 {
	switch p {
	case music.NearBridge:
		return nearBridgeMm
	case music.OverNeck:
		return nearNeckMm
	case music.OverHole:
		return overHoleMm
	}
	return 0
}

func (p places) at(at music.Beats) float64 {
	mm := 0.0
	for _, l := range p {
		if at.Less(l.at) {
			break
		}
		mm = l.bridgeMm
	}
	return mm
}
