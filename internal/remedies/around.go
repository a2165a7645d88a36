package remedies

import (
	"slices"
	"strconv"

	"antiphon/internal/difficulty"
	"antiphon/internal/findings"
	"antiphon/internal/music"
)

// StringCrossing is a skill that package difficulty does not name: two neighbouring notes of a line lie
// on different strings.
const StringCrossing = "string crossing"

// Around is the context of a finding: what lies in its notes and their bars. notes are those of the
// hearing. asks is what the fingering asks of the hands; nil, or mostly unmarked, means that this is to be
// read from the strings and frets marked at the place, as far as there are any.
func Around(f findings.Finding, notes []music.Sounding, asks *difficulty.Report) Context {
	var c Context
	var own, near []music.Sounding
	bars, parts := map[int]bool{}, map[string]bool{}
	for _, n := range notes {
		if slices.Contains(f.Evidence, n.ID) {
			own = append(own, n)
			bars[n.BarIndex], parts[n.Part] = true, true
		}
	}
	for _, n := range notes {
		if bars[n.BarIndex] && parts[n.Part] && !n.Cue && !n.Grace {
			near = append(near, n)
		}
	}
	low := allLow(near)
	for _, n := range own {
		if n.String > 0 && !slices.Contains(c.Strings, n.String) {
			c.Strings = append(c.Strings, n.String)
		}
		hands := []string{n.Pluck, n.Finger}
		if n.Finger == "" && low && n.Fret >= 0 {
			hands[1] = strconv.Itoa(n.Fret) // in first position a finger stands in each fret; common practice, no source
		}
		if f.Kind == findings.UnevenFinger {
			hands = hands[:1] // which finger of the left hand stood there says nothing
		}
		for _, h := range hands {
			if h != "" && !slices.Contains(c.Fingers, h) {
				c.Fingers = append(c.Fingers, h)
			}
		}
	}
	slices.Sort(c.Strings)
	slices.Sort(c.Fingers)
	c.Texture = textureOf(near)
	c.Skills = marked(near)
	if c.Skills != nil && c.Texture == Scale && len(own) > 0 && len(own) < len(near) {
		c.Skills[StringCrossing] = crosses(near, own)
	}
	if asks != nil && 2*asks.Unmarked < len(notes) && len(near) > 0 {
		c.asked(near, asks)
	}
	return c
}

// asked takes the skills from what the fingering asks of the bars.
func (c *Context) asked(near []music.Sounding, asks *difficulty.Report) {
	if c.Skills == nil {
		c.Skills = map[string]bool{}
	}
	for _, s := range []difficulty.Skill{difficulty.FourthFinger, difficulty.SmallBarre, difficulty.FullBarre, difficulty.HigherPosition, difficulty.Shifting,
		difficulty.Stretching, difficulty.LeftSlurs, difficulty.TwoVoices, difficulty.Sweep} {
		c.Skills[string(s)] = false
	}
	for _, need := range asks.Skills {
		c.Skills[string(need.Skill)] = slices.ContainsFunc(near, func(n music.Sounding) bool { return slices.Contains(need.Bars, n.Bar) })
	}
}

// allLow reports whether every fret is marked and lies in first position.
func allLow(notes []music.Sounding) bool {
	return len(notes) > 0 && !slices.ContainsFunc(notes, func(n music.Sounding) bool { return n.Fret < 0 || n.Fret > handFrets })
}

// handFrets are as many as a hand covers without leaving its place; common practice, no source.
const handFrets = 4

// marked reads from strings and frets what a place needs; nil where there are no notes. Slurs and rolled
// chords are marked in the score itself; the others are told only where every fret is marked.
func marked(notes []music.Sounding) map[string]bool {
	if len(notes) == 0 {
		return nil
	}
	need := map[string]bool{string(difficulty.LeftSlurs): false, string(difficulty.Sweep): false}
	low, high, placed, holds := 99, 0, true, false
	small, full, stretch := false, false, false
	for i, n := range notes {
		need[string(difficulty.LeftSlurs)] = need[string(difficulty.LeftSlurs)] || n.Slurred
		need[string(difficulty.Sweep)] = need[string(difficulty.Sweep)] || n.Rolled
		placed = placed && n.Fret >= 0 && n.String > 0
		if n.Fret > 0 {
			low, high = min(low, n.Fret), max(high, n.Fret)
		}
		for _, m := range notes[i+1:] {
			if n.Fret <= 0 || m.Fret <= 0 {
				continue
			}
			switch together := m.Onset.Cmp(n.Onset) == 0; {
			case together && m.Fret == n.Fret && m.String != n.String:
				small = true
				full = full || max(m.String-n.String, n.String-m.String) >= 4
			case together:
				stretch = stretch || max(m.Fret-n.Fret, n.Fret-m.Fret) >= 3
			case m.Onset.Cmp(n.Onset.Add(n.Duration)) < 0:
				holds = true
			}
		}
	}
	if placed {
		need[string(difficulty.SmallBarre)], need[string(difficulty.FullBarre)] = small, full
		need[string(difficulty.Stretching)] = stretch
		need[string(difficulty.HigherPosition)] = high > handFrets+1
		need[string(difficulty.Shifting)] = high-low >= handFrets
		need[string(difficulty.TwoVoices)] = holds
	}
	return need
}

// crosses reports whether one of a finding's notes lies on another string than the note before or after it.
func crosses(near, own []music.Sounding) bool {
	for i := 1; i < len(near); i++ {
		a, b := near[i-1], near[i]
		mine := slices.ContainsFunc(own, func(o music.Sounding) bool { return o.ID == a.ID || o.ID == b.ID })
		if mine && a.String > 0 && b.String > 0 && a.String != b.String {
			return true
		}
	}
	return false
}
