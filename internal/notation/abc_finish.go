package notation

import (
	"fmt"
	"slices"
	"strconv"

	"antiphon/internal/music"
)

// finish puts the voices together: voices that share a staff become one part, others a part each.
func (t *tune) finish() (*music.Score, error) {
	t.voice() // a tune without notes is a score with one empty bar
	bars := 0
	for _, v := range t.voices {
		if n := len(v.bars); n > 1 && !v.bars[n-1].filled { // the bar after the last bar line
			v.dropLast()
		}
		bars = max(bars, len(v.bars))
	}
	t.s.Bars = make([]music.Bar, bars)
	for _, v := range t.voices {
		if len(v.bars) != bars {
			t.p.add(0, "", fmt.Sprintf("voice %q has %d bars where the tune has %d; the rest is silent", printable(v.id), len(v.bars), bars))
		}
		for i := range v.bars {
			join(&t.s.Bars[i], &v.bars[i].Bar)
		}
	}
	t.layBars()
	for _, group := range t.groups() {
		t.addPart(group)
	}
	t.finishTempos()
	signs := &xmlScore{s: t.s}
	for _, v := range t.voices {
		for _, d := range v.dirs {
			if d.Kind == music.CodaSign {
				signs.signs = append(signs.signs, sign{d.Bar, music.Beats{}, "coda", ""})
			}
		}
	}
	signs.settleSigns()
	return t.s, nil
}

// dropLast takes away an empty last bar; what was said in it goes to the end of the bar before.
func (v *abcVoice) dropLast() {
	last := v.bar()
	end := v.bars[last-1].Length
	for i := range v.dirs {
		if v.dirs[i].Bar == last {
			v.dirs[i].Bar, v.dirs[i].At = last-1, end
		}
	}
	v.attrs = slices.DeleteFunc(v.attrs, func(a music.Attributes) bool { return a.Bar == last })
	v.tempos = slices.DeleteFunc(v.tempos, func(m barTempo) bool { return m.bar == last })
	for i := len(v.notes) - 1; i >= 0 && v.notes[i].Bar == last; i-- { // grace notes that lead nowhere
		v.notes[i].Bar, v.notes[i].Start = last-1, end
	}
	b, before := &v.bars[last].Bar, &v.bars[last-1].Bar
	before.DaCapo = before.DaCapo || b.DaCapo
	before.Fine = before.Fine || b.Fine
	before.DalSegno, before.ToCoda = or(before.DalSegno, b.DalSegno), or(before.ToCoda, b.ToCoda)
	v.bars = v.bars[:last]
}

// join takes over what one voice says of a bar.
func join(b, v *music.Bar) {
	if b.Length.Less(v.Length) {
		b.Length = v.Length
	}
	if len(b.Time.Parts) == 0 {
		b.Time = v.Time
	}
	b.RepeatStart = b.RepeatStart || v.RepeatStart
	b.RepeatEnd = max(b.RepeatEnd, v.RepeatEnd)
	if b.Ending == nil {
		b.Ending = v.Ending
	}
	b.EndingStop, b.RightStyle = or(b.EndingStop, v.EndingStop), or(b.RightStyle, v.RightStyle)
	b.Segno, b.Coda = or(b.Segno, v.Segno), or(b.Coda, v.Coda)
	b.ToCoda, b.DalSegno = or(b.ToCoda, v.ToCoda), or(b.DalSegno, v.DalSegno)
	b.DaCapo, b.Fine = b.DaCapo || v.DaCapo, b.Fine || v.Fine
}

// layBars numbers the bars and gives them their places. A short first bar is a pickup, "0"; a bar that
// fills up a short one before it is not counted ("X1").
func (t *tune) layBars() {
	var at music.Beats
	var time music.Time
	number, extra := 1, 1
	for i := range t.s.Bars {
		b := &t.s.Bars[i]
		if len(b.Time.Parts) > 0 || b.Time.Senza {
			time = b.Time
		}
		b.Time = time
		full := time.Length()
		if b.Length.IsZero() {
			b.Length, _ = t.grid.fit(full)
		}
		if b.Length.IsZero() {
			b.Length = music.Quarters(4, 1)
		}
		b.Start = at
		at = b.End()
		fills := false
		if i > 0 && !full.IsZero() {
			fills = !t.s.Bars[i-1].Implicit && b.Length.Less(full) && b.Length.Add(t.s.Bars[i-1].Length).Cmp(full) == 0
		}
		switch {
		case i == 0 && b.Length.Less(full) && len(t.s.Bars) > 1:
			b.Number, b.Implicit = "0", true
		case fills:
			b.Number, b.Implicit = "X"+strconv.Itoa(extra), true
			extra++
		default:
			b.Number = strconv.Itoa(number)
			number++
		}
	}
}

// groups are the voices of each part, in the order of their first voices.
func (t *tune) groups() [][]*abcVoice {
	taken := map[*abcVoice]bool{}
	var out [][]*abcVoice
	for _, v := range t.voices {
		if taken[v] {
			continue
		}
		group := []*abcVoice{v}
		for _, ids := range t.shared {
			if !slices.Contains(ids, v.id) {
				continue
			}
			for _, id := range ids {
				if o := t.byID[id]; o != nil && o != v && !taken[o] {
					group = append(group, o)
				}
			}
		}
		for _, o := range group {
			taken[o] = true
		}
		out = append(out, group)
	}
	return out
}

func (t *tune) addPart(group []*abcVoice) {
	p := music.Part{ID: "P" + strconv.Itoa(len(t.s.Parts)+1), Name: group[0].name, Staves: 1}
	for k, v := range group {
		for _, n := range v.notes {
			if k > 0 {
				o, _ := strconv.Atoi(n.Voice)
				n.Voice = strconv.Itoa(o + 10*k) // overlays of one voice stay beside it
				if len(group) <= 4 && o == 1 {
					n.Voice = strconv.Itoa(k + 1)
				}
			} else if n.Voice != "1" {
				o, _ := strconv.Atoi(n.Voice)
				n.Voice = strconv.Itoa(o + 3)
			}
			n.Start = n.Start.Add(t.s.Bars[n.Bar].Start)
			p.Notes = append(p.Notes, n)
		}
		for _, d := range v.dirs {
			d.At = d.At.Add(t.s.Bars[d.Bar].Start)
			p.Directions = append(p.Directions, d)
		}
		if k == 0 {
			for _, a := range v.attrs {
				a.At = a.At.Add(t.s.Bars[a.Bar].Start)
				p.Attributes = append(p.Attributes, a)
			}
		}
	}
	slices.SortStableFunc(p.Notes, func(a, b music.Note) int { return a.Bar - b.Bar })
	slices.SortStableFunc(p.Directions, func(a, b music.Direction) int { return a.At.Cmp(b.At) })
	t.s.Parts = append(t.s.Parts, p)
}

func (t *tune) finishTempos() {
	r := &xmlScore{s: t.s}
	for _, v := range t.voices {
		r.tempo = append(r.tempo, v.tempos...)
	}
	r.finishTempos()
}
