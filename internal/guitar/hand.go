package guitar

// AdultSpanMm is the span of a grown-up hand, tip of the thumb to tip of the fourth finger spread
// wide, that the reach of AdultHand stands for. From memory, about the middle of grown-ups.
const AdultSpanMm = 205

// Hand is a left hand. Fingers are 1 (index) to 4 (little finger).
//
// ReachMm[a][b], for a < b, is the greatest straight distance between the tips of fingers a and b on
// the strings: beyond it a grip counts as impossible. EasyMm is what is reached without stretching.
type Hand struct {
	SpanMm  float64 // thumb to fourth finger, spread; 0: not known
	ReachMm [5][5]float64
	EasyMm  [5][5]float64
}

// AdultHand is a grown-up's hand. The easy reach is one finger a fret in first position on 650 mm
// (fret 1 to 4: 97.6 mm) with some room. The greatest reach lets 1 and 4 stand five frets apart in
// first position (1 to 5: 126.6 mm), 1 and 2 three frets (66.9 mm), 1 and 3 four, and fingers that
// depend on each other (2-3, 3-4) three frets from about the second position (58 to 63 mm): extensions
// that printed studies ask for. Common practice, no source; the printed grips of the development set
// were held against it.
func AdultHand() Hand {
	return Hand{
		SpanMm: AdultSpanMm,
		ReachMm: [5][5]float64{
			1: {2: 80, 3: 112, 4: 138},
			2: {3: 66, 4: 104},
			3: {4: 66},
		},
		EasyMm: [5][5]float64{
			1: {2: 45, 3: 75, 4: 104},
			2: {3: 42, 4: 72},
			3: {4: 42},
		},
	}
}

// ChildHand is a hand of the given span, thumb to fourth finger: an adult's reach in proportion.
// That reach grows with the span is our assumption; a teacher who has measured may set ReachMm.
// A span of 0 is an adult's; spans outside 80 to 280 mm are taken as the nearest of these.
func ChildHand(spanMm float64) Hand {
	if spanMm == 0 || spanMm != spanMm {
		spanMm = AdultSpanMm
	}
	spanMm = min(max(spanMm, 80), 280)
	h := AdultHand()
	h.SpanMm = spanMm
	for a := range h.ReachMm {
		for b := range h.ReachMm[a] {
			h.ReachMm[a][b] *= spanMm / AdultSpanMm
			h.EasyMm[a][b] *= spanMm / AdultSpanMm
		}
	}
	return h
}

// IsZero reports whether nothing was said about the hand; it is then an adult's.
func (h Hand) IsZero() bool { return h.ReachMm == [5][5]float64{} }

// OrAdult is h, or an adult's hand where h says nothing.
func (h Hand) OrAdult() Hand {
	if h.IsZero() {
		return AdultHand()
	}
	return h
}

// Reach of two fingers, in any order: the greatest and the easy distance of their tips. Finger
// numbers other than 1 to 4 have none.
func (h Hand) Reach(a, b int) (greatestMm, easyMm float64) {
	if a > b {
		a, b = b, a
	}
	if a < 1 || b > 4 {
		return 0, 0
	}
	return h.ReachMm[a][b], h.EasyMm[a][b]
}
