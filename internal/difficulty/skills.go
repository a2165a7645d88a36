package difficulty

import (
	"fmt"
	"slices"

	"antiphon/internal/music"
)

// Skill is something the hands must be able to do.
type Skill string

const (
	FourthFinger   Skill = "fourth finger"
	SmallBarre     Skill = "small barre" // over two to four strings
	FullBarre      Skill = "full barre"  // over five or six
	HigherPosition Skill = "higher positions"
	Shifting       Skill = "shifting"
	Stretching     Skill = "stretching"
	LeftSlurs      Skill = "left-hand slurs"
	TwoVoices      Skill = "holding a voice" // a finger stays down while others move
	Chords         Skill = "chords"          // three or more notes at once
	ThumbWith      Skill = "thumb and finger together"
	RingFinger     Skill = "ring finger" // a
	RestStroke     Skill = "rest stroke"
	FastNotes      Skill = "quick notes"
	Tremolo        Skill = "tremolo"
	Harmonics      Skill = "harmonics"
	Sweep          Skill = "rolled chords"
)

// Bounds from where a skill counts as needed. Our choice.
const (
	highFret   = 5    // first position ends below, with its extension
	quickNotes = 4.0  // a second
	stretchBy  = 0.25 // of the way from easy to utmost
)

// Need is a skill with where it is needed.
type Need struct {
	Skill Skill
	First string   // bar
	Bars  []string // numbers
	Times int
}

type use struct {
	bars  []int
	times int
}

type needs struct {
	at   map[Skill]int
	uses []use
	name []Skill
}

func (n *needs) add(s Skill, bar int) {
	k, ok := n.at[s]
	if !ok {
		k = len(n.uses)
		n.at[s], n.uses, n.name = k, append(n.uses, use{}), append(n.name, s)
	}
	u := &n.uses[k]
	u.times++
	if len(u.bars) == 0 || u.bars[len(u.bars)-1] != bar {
		u.bars = append(u.bars, bar)
	}
}

// of collects the skills of one player.
func (n *needs) of(l *layout, bars []Bar) {
	var held []*note
	for k := range l.moments {
		mo := &l.moments[k]
		held = slices.DeleteFunc(held, func(h *note) bool { return h.endS <= mo.atS+1e-9 })
		stops, thumb, others := 0, false, false
		for _, x := range mo.notes {
			if x.stopped() {
				stops++
			}
			if x.finger == 4 && x.stopped() {
				n.add(FourthFinger, mo.bar)
			}
			if x.placed && x.place.Fret > highFret || x.stopped() && x.place.Fret-x.finger >= 2 {
				n.add(HigherPosition, mo.bar)
			}
			if x.Slurred {
				n.add(LeftSlurs, mo.bar)
			}
			if x.Pluck == "a" {
				n.add(RingFinger, mo.bar)
			}
			if x.stroke == music.RestStroke {
				n.add(RestStroke, mo.bar)
			}
			if x.Tremolo > 0 {
				n.add(Tremolo, mo.bar)
			}
			if x.odd {
				n.add(Harmonics, mo.bar)
			}
			thumb, others = thumb || x.Pluck == "p", others || x.Pluck != "" && x.Pluck != "p"
		}
		if thumb && others {
			n.add(ThumbWith, mo.bar)
		}
		if len(mo.notes) >= 3 {
			n.add(Chords, mo.bar)
			if mo.notes[0].Rolled {
				n.add(Sweep, mo.bar)
			}
		}
		if stops > 0 && len(held) > 0 {
			n.add(TwoVoices, mo.bar)
		}
		for _, x := range mo.notes {
			if x.stopped() {
				held = append(held, x)
			}
		}
	}
	for i := range bars {
		b := &bars[i]
		if b.BarreOver >= 5 {
			n.add(FullBarre, i)
		} else if b.BarreOver > 0 {
			n.add(SmallBarre, i)
		}
		for range b.Shifts {
			n.add(Shifting, i)
		}
		if b.ReachMm > 0 && b.strain() >= stretchBy {
			n.add(Stretching, i)
		}
		if b.NotesPerS >= quickNotes {
			n.add(FastNotes, i)
		}
	}
}

// String names the skill and where it is needed.
func (n Need) String() string {
	if len(n.Bars) == 1 {
		return string(n.Skill) + " (bar " + n.First + ")"
	}
	return fmt.Sprintf("%s (in %d bars, first in bar %s)", n.Skill, len(n.Bars), n.First)
}

// list gives the needs in the order in which the piece first asks them.
func (n *needs) list(s *music.Score) []Need {
	order := make([]int, len(n.uses))
	for k := range order {
		order[k] = k
		slices.Sort(n.uses[k].bars)
		n.uses[k].bars = slices.Compact(n.uses[k].bars)
	}
	slices.SortStableFunc(order, func(a, b int) int { return n.uses[a].bars[0] - n.uses[b].bars[0] })
	var out []Need
	for _, k := range order {
		u := n.uses[k]
		need := Need{Skill: n.name[k], First: s.Bars[u.bars[0]].Number, Times: u.times}
		for _, b := range u.bars {
			need.Bars = append(need.Bars, s.Bars[b].Number)
		}
		out = append(out, need)
	}
	return out
}
