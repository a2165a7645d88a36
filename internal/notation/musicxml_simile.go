package notation

import "antiphon/internal/music"

// maxSimile is how many bars one sign of repetition may repeat.
const maxSimile = 16

// simile reads a <measure-repeat>: from here on bars repeat the one, two or four before them, until
// it stops.
func (m *measure) simile(k *node) {
	r := k.kid("measure-repeat")
	if r == nil {
		return // slashes, rests over several bars and beat repeats look otherwise but are written out
	}
	if r.get("type") == "stop" {
		m.st.simile = 0
		return
	}
	if m.st.similes == nil {
		m.st.similes = map[int]int{}
	}
	m.st.simile = min(max(wholeOr(r.text, maxSimile, 1), 1), maxSimile)
}

// writeOutSimiles gives bars that stand under a sign of repetition the notes that it means, where the
// file leaves them out. Times still count from the start of the bar.
func (r *xmlScore) writeOutSimiles(p *music.Part, similes map[int]int) error {
	if len(similes) == 0 {
		return nil
	}
	bars := make([][]music.Note, len(r.s.Bars))
	for _, n := range p.Notes {
		bars[n.Bar] = append(bars[n.Bar], n)
	}
	var out []music.Note
	for b := range bars {
		if back := similes[b]; back > 0 && b >= back && !pitched(bars[b]) && pitched(bars[b-back]) {
			r.p.add(0, r.s.Bars[b].Number, "a bar that only repeats an earlier one was written out")
			bars[b] = nil
			for _, n := range bars[b-back] {
				n.Bar, n.TieStart, n.TieStop, n.Lyrics = b, false, false, nil
				bars[b] = append(bars[b], n)
				if r.s.Bars[b].Length.Less(n.End()) { // a shorter bar cannot repeat a longer one
					bars[b] = nil
					break
				}
			}
		}
		out = append(out, bars[b]...)
		if len(out) > r.lim.Notes {
			return tooLarge("it has more than %d notes", r.lim.Notes)
		}
	}
	p.Notes = out
	return nil
}

func pitched(notes []music.Note) bool {
	for i := range notes {
		if notes[i].Pitched() {
			return true
		}
	}
	return false
}
