package engrave

import (
	"math"
	"slices"
)

// Where fingers stand, in staff spaces. Our choice; no source.
const (
	fingerGap   = 0.20 * space // to the head
	fingerReach = 4.2 * space  // farthest from its head
	rightReach  = 1.6 * space  // the same on the right, where it must not seem to be the next note's
)

// fingers places the left hand's numbers beside the heads, and gives back those for which there is no
// room there. Those of a chord stand all on its left or, where that is too narrow, all on its right.
func (p *placer) fingers() (loose []spot) {
	order := slices.DeleteFunc(slices.Clone(p.spots), func(s spot) bool { return s.finger == "" })
	slices.SortStableFunc(order, func(a, b spot) int {
		if c := a.onset.Cmp(b.onset); c != 0 {
			return c
		}
		return b.midi - a.midi
	})
	order = slices.CompactFunc(order, func(a, b spot) bool { // two voices in unison: one finger stops both
		return a.onset.Cmp(b.onset) == 0 && a.midi == b.midi && a.finger == b.finger && a.grace == b.grace
	})
	for i := 0; i < len(order); {
		j := i + 1
		for j < len(order) && order[j].onset.Cmp(order[i].onset) == 0 && order[j].grace == order[i].grace {
			j++
		}
		chord := order[i:j]
		i = j
		done, rest := p.besideAll(chord, true)
		if len(rest) > 0 && len(chord) > 1 && !slices.ContainsFunc(chord, func(s spot) bool { return s.side != "" }) {
			p.field.cut(len(p.field.list) - len(done))
			right, left := p.besideAll(chord, false)
			if len(left) == 0 {
				done, rest = right, nil
			} else {
				p.field.cut(len(p.field.list) - len(right))
				done, rest = p.besideAll(chord, true)
			}
		}
		for _, k := range done {
			p.sys.marks[p.staff] = append(p.sys.marks[p.staff], k.node())
		}
		loose = append(loose, rest...)
	}
	return loose
}

// besideAll tries to place the fingers of one chord on one side of it.
func (p *placer) besideAll(chord []spot, left bool) (done []*ink, rest []spot) {
	for _, s := range chord {
		size := fingerSize
		if s.grace {
			size *= 0.75
		}
		k := p.sh.fonts.textInk("lh", s.note, s.finger, bold, size, 0, 0)
		reach := fingerReach
		if !left {
			reach = rightReach
		} else if s.side != "" && len(s.finger) == 1 {
			reach = 0.8 * space // the file wants it above or below: beside the head only where it is close
		}
		if !p.beside(k, s, left, reach) {
			rest = append(rest, s)
			continue
		}
		p.field.add(obstacle{box: k.box, kind: k.kind, note: k.note})
		done = append(done, k)
	}
	return done, rest
}

// beside looks to one side of the head, past what belongs to the same moment, a little higher or lower.
func (p *placer) beside(k *ink, s spot, left bool, reach float64) bool {
	best, cost := box{}, math.Inf(1)
	for _, dy := range []float64{0, 0.18, -0.18, 0.34, -0.34, 0.5, -0.5} {
		x := s.at.head.x0 - fingerGap - k.box.x1
		if !left {
			x = s.at.head.x1 + fingerGap - k.box.x0
		}
		b := k.box.moved(x, s.at.head.midY()+dy*space-k.box.midY())
		for {
			away := s.at.head.x0 - b.x1
			if !left {
				away = b.x0 - s.at.head.x1
			}
			if away > reach {
				break
			}
			o, hit := p.field.hit(b.grown(0.14*space, 0.04*space))
			if !hit {
				if c := away/space + 1.5*math.Abs(dy); c < cost {
					best, cost = b, c
				}
				break
			}
			if !p.sameMoment(o, s, left) {
				break
			}
			if left {
				b = b.moved(o.x0-0.15*space-b.x1, 0)
			} else {
				b = b.moved(o.x1+0.15*space-b.x0, 0)
			}
		}
	}
	if math.IsInf(cost, 1) {
		return false
	}
	k.to(best)
	return true
}

// sameMoment: one may look beyond o, since it belongs to the same chord.
func (p *placer) sameMoment(o obstacle, s spot, left bool) bool {
	if o.kind == "arpeggio" || o.kind == "dot" && !left {
		return true
	}
	if o.kind == "ledger" { // its own, not that of the note before, beyond which it would seem to be that one's
		return o.x0 <= s.at.head.midX() && s.at.head.midX() <= o.x1
	}
	if o.note == "" || o.kind == "dot" {
		return false
	}
	at, ok := p.times[o.note]
	return ok && at.Cmp(s.onset) == 0
}
