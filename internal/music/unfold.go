package music

import "slices"

// Stretch is a run of bars, by index into Score.Bars, both ends included.
type Stretch struct{ From, To int }

const (
	maxTimes     = 64 // a passage is played at most so often, whatever a file says
	maxPerformed = 20 // and the piece is at most so many times as long as it is written, or maxFloor bars
	maxFloor     = 2000
)

// Performed is the order in which the bars are played: repeats and endings taken as written, D.C.
// and D.S. followed once each, then on to Fine or Coda. After such a jump repeats are left out and
// the last ending is played, unless the repeat says otherwise (common practice, no source). The
// unfolding stops at twenty times the written length.
func (s *Score) Performed() []Stretch {
	w := walk{bars: s.Bars, endings: endingGroups(s.Bars), jumpedAt: map[int]bool{}, pass: 1}
	var out []Stretch
	for left := max(maxPerformed*len(s.Bars), maxFloor); w.at < len(s.Bars) && !w.over && left > 0; left-- {
		i, played := w.step()
		if !played {
			continue
		}
		if n := len(out); n > 0 && out[n-1].To+1 == i {
			out[n-1].To = i
		} else {
			out = append(out, Stretch{i, i})
		}
	}
	return out
}

// ending is one bracket; group tells those of one repeat.
type ending struct {
	from, to int
	numbers  []int
	last     int // the highest number of its group
	closes   bool
}

// endingGroups finds the bracket over each bar; -1 for none.
func endingGroups(bars []Bar) map[int]*ending {
	var all []*ending
	for i := 0; i < len(bars); i++ {
		if len(bars[i].Ending) == 0 {
			continue
		}
		e := &ending{from: i, to: i, numbers: bars[i].Ending}
		for j := i; j < len(bars); j++ {
			if j > i && len(bars[j].Ending) > 0 { // the next bracket begins: this one was never closed
				break
			}
			e.to = j
			if bars[j].EndingStop != "" || bars[j].RepeatEnd > 0 {
				break
			}
			if j == len(bars)-1 && bars[j].EndingStop == "" { // never closed: one bar
				e.to = i
			}
		}
		all = append(all, e)
		i = e.to
	}
	byBar := map[int]*ending{}
	for i := 0; i < len(all); {
		j, last := i, 0
		for j < len(all) && (j == i || all[j].from == all[j-1].to+1) {
			if j > i && slices.Min(all[j].numbers) <= slices.Min(all[i].numbers) {
				break // numbers begin anew: another repeat
			}
			last = max(last, slices.Max(all[j].numbers))
			j++
		}
		last = max(last, 2) // where only a first ending is bracketed, the second is what follows
		for k := i; k < j; k++ {
			all[k].last, all[k].closes = min(last, maxTimes), k == j-1
			for b := all[k].from; b <= all[k].to; b++ {
				byBar[b] = all[k]
			}
		}
		i = j
	}
	return byBar
}

// walk plays a score bar by bar.
type walk struct {
	bars     []Bar
	endings  map[int]*ending
	at       int
	start    int // where the present repeat goes back to
	pass     int // through the present repeat, from 1
	jumped   bool
	jumpedAt map[int]bool
	over     bool
}

// step plays the bar at w.at, or skips the ending there, and moves on.
func (w *walk) step() (bar int, played bool) {
	i := w.at
	b := &w.bars[i]
	if b.RepeatStart && i != w.start {
		w.start, w.pass = i, 1
	}
	e := w.endings[i]
	if e != nil && e.from == i && !w.plays(e) {
		w.at = e.to + 1
		if e.closes { // no bracket holds this pass: go on after them
			w.start, w.pass = w.at, 1
		}
		return i, false
	}
	w.at = i + 1
	w.leave(i, b, e)
	return i, true
}

func (w *walk) plays(e *ending) bool {
	pass := w.pass
	if w.jumped && !w.afterJump(e) {
		pass = e.last
	}
	return slices.Contains(e.numbers, pass)
}

// afterJump: the repeat that closes this bracket is taken after a jump, too.
func (w *walk) afterJump(e *ending) bool { return w.bars[e.to].AfterJump }

// leave decides where the bar after bar i is.
func (w *walk) leave(i int, b *Bar, e *ending) {
	if w.jumped && b.Fine {
		w.over = true
		return
	}
	if w.jumped && b.ToCoda != "" && !w.jumpedAt[-1-i] {
		if c := w.find(i+1, len(w.bars), b.ToCoda, func(b *Bar) string { return b.Coda }); c >= 0 {
			w.jumpedAt[-1-i] = true
			w.at, w.start, w.pass = c, c, 1
			return
		}
	}
	// A bracket that another follows leads back even where the file forgot the repeat sign.
	implied := e != nil && e.to == i && !e.closes && b.RepeatEnd == 0 && !b.DaCapo && b.DalSegno == ""
	if (b.RepeatEnd > 0 || implied) && (!w.jumped || b.AfterJump) {
		times := min(max(b.RepeatEnd, 2), maxTimes)
		if e != nil {
			times = max(e.last, slices.Max(e.numbers))
		}
		if w.pass < times {
			w.pass++
			w.at = w.start
			return
		}
		w.start, w.pass = i+1, 1
	} else if b.RepeatEnd > 0 || (e != nil && e.closes && e.to == i) {
		w.start, w.pass = i+1, 1
	}
	switch {
	case w.jumpedAt[i]:
	case b.DaCapo:
		w.jump(i, 0)
	case b.DalSegno != "":
		if to := w.find(i, -1, b.DalSegno, func(b *Bar) string { return b.Segno }); to >= 0 {
			w.jump(i, to)
		}
	}
}

func (w *walk) jump(from, to int) {
	w.jumpedAt[from] = true
	w.jumped = true
	w.at, w.start, w.pass = to, to, 1
}

// find looks from one bar towards another (not included) for a sign of this label, and then for one
// of any label; -1 if there is none.
func (w *walk) find(from, to int, label string, sign func(*Bar) string) int {
	step := 1
	if to < from {
		step = -1
	}
	for _, exact := range []bool{true, false} {
		for j := from; j != to && j < len(w.bars); j += step {
			if s := sign(&w.bars[j]); s != "" && (s == label || !exact) {
				return j
			}
		}
	}
	return -1
}
