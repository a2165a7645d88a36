package tone

import (
	"math"

	"antiphon/internal/dsp"
	"antiphon/internal/music"
)

// Where one place ends and the next begins, as R of the open string; on a full-size guitar (650 mm)
// 75 and 172 mm from the bridge. The hole's edge lies at about 130 mm, its middle at about 170, and
// most play behind the middle: common practice, no source. unsureR is how far a guitar and a recording
// lead the estimate astray as a whole.
const (
	bridgeBelow = 0.115
	neckAbove   = 0.265
	unsureR     = 0.018
)

// When a place is said.
const (
	sure        = 0.8  // confidence
	leastNotes  = 5    // clear ones, of a stretch
	leastGain   = 0.2  // see estimated.gain; below, near the bridge and over the neck are said in contrast only
	contrastR   = 0.07 // by which a stretch differs clearly from the rest of its take
	nearestEdge = 0.05 // R at the edges of what is looked at comes of a model that does not fit
	farthest    = 0.37
)

// bar is one bar as played.
type bar struct {
	pass, index  int
	name         string
	startS, endS float64
	notes        int
}

// conclude says what can be said of the estimate.
func (h *Heard) conclude(notes []reading, bars []bar, e estimated) {
	bright := make([][]float64, len(bars))
	for i, n := range notes {
		h.ByNote = append(h.ByNote, Note{n.played, e.byNote[i], n.bright})
		bright[n.visit] = append(bright[n.visit], n.bright)
	}
	var shades []float64
	at, where := make([]Place, len(bars)), make([]float64, len(bars))
	sureness := make([]float64, len(bars))
	for v := range bars {
		where[v] = e.bars[v].mean()
		if at[v], sureness[v] = e.bars[v].place(); where[v] < nearestEdge || where[v] > farthest {
			at[v], sureness[v] = music.AnyPlace, 0
		}
	}
	noteAt, noteR := make([]Place, len(notes)), make([]float64, len(notes))
	for i, n := range notes {
		noteAt[i], noteR[i] = at[n.visit], where[n.visit]
	}
	doubted := e.doubted(noteAt, noteR)
	contrast := !doubted[music.NearBridge] && !doubted[music.OverHole] && !doubted[music.OverNeck]
	for v, b := range bars {
		r, place, confidence := where[v], at[v], sureness[v]
		if doubted[place] {
			place, confidence = music.AnyPlace, 0
		}
		k := len(h.Stretches)
		if k > 0 {
			if s := &h.Stretches[k-1]; s.Pass == b.pass && s.Place == place && b.index-s.To <= 1 && b.index >= s.To {
				share := float64(b.notes) / float64(s.Notes+b.notes)
				s.To, s.ToBar, s.EndS, s.Notes = b.index, b.name, b.endS, s.Notes+b.notes
				s.R, s.Confidence = s.R+share*(r-s.R), s.Confidence+share*(confidence-s.Confidence)
				shades = append(shades, bright[v]...)
				s.Brightness = dsp.Median(shades)
				continue
			}
		}
		shades = append(shades[:0:0], bright[v]...)
		h.Stretches = append(h.Stretches, Stretch{Pass: b.pass, FromBar: b.name, ToBar: b.name, From: b.index, To: b.index,
			StartS: b.startS, EndS: b.endS, Place: place, Confidence: confidence, R: r, Notes: b.notes, Brightness: dsp.Median(shades)})
	}
	h.refuse(e.gain, contrast)
	h.whole()
}

// refuse takes back what the evidence is too thin for.
func (h *Heard) refuse(gain float64, contrast bool) {
	low, high := math.Inf(1), 0.0
	for i := range h.Stretches {
		s := &h.Stretches[i]
		if s.Notes < leastNotes {
			s.Place, s.Confidence = music.AnyPlace, 0
		}
		if s.Place != music.AnyPlace {
			low, high = min(low, s.R), max(high, s.R)
		}
	}
	if gain >= leastGain || contrast && high-low >= contrastR {
		return
	}
	for i := range h.Stretches {
		s := &h.Stretches[i]
		s.Place, s.Confidence = music.AnyPlace, 0
	}
}

// whole says what holds of the take, and which stretches differ from it.
func (h *Heard) whole() {
	notes, known := map[Place]int{}, 0
	var r []float64
	for _, s := range h.Stretches {
		if s.Place == music.AnyPlace {
			continue
		}
		notes[s.Place] += s.Notes
		known += s.Notes
		for range s.Notes {
			r = append(r, s.R)
		}
	}
	h.R = dsp.Median(r)
	for _, p := range []Place{music.NearBridge, music.OverHole, music.OverNeck} {
		if 3*notes[p] >= 2*known && 2*known >= h.Notes && known > 0 {
			h.Place = p
		}
	}
	for i := range h.Stretches {
		s := &h.Stretches[i]
		if s.Place == music.AnyPlace {
			continue
		}
		if s.Place == h.Place {
			h.Confidence += s.Confidence * float64(s.Notes) / float64(notes[s.Place])
		}
		switch d := s.R - h.R; {
		case d <= -contrastR:
			s.Lean = ToBridge
		case d >= contrastR:
			s.Lean = ToNeck
		}
	}
}

// mean R.
func (p *chances) mean() float64 {
	sum := 0.0
	for i, v := range p {
		sum += v * placeR(i)
	}
	return sum
}

// place is the likeliest of the three; AnyPlace where none is sure.
func (p *chances) place() (Place, float64) {
	var near, far float64
	for i, v := range p {
		near += v * below((bridgeBelow-placeR(i))/unsureR)
		far += v * below((placeR(i)-neckAbove)/unsureR)
	}
	switch over := 1 - near - far; {
	case near >= sure:
		return music.NearBridge, near
	case far >= sure:
		return music.OverNeck, far
	case over >= sure:
		return music.OverHole, over
	}
	return music.AnyPlace, 0
}

// below is the normal distribution.
func below(x float64) float64 { return 0.5 * math.Erfc(-x/math.Sqrt2) }
