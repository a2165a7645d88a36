package notation

import (
	"strings"

	"antiphon/internal/music"
)

// note reads accidental, pitch, octave and length.
func (v *abcVoice) note(s string, line int) (n music.Note, used int, ok bool) {
	alter, rest, stated := abcAccidental(s)
	if stated && strings.HasPrefix(rest, "/") {
		v.forgive(line, "a quarter tone was rounded to a semitone")
		rest = strings.TrimLeft(rest, "/")
	}
	if rest == "" || strings.IndexByte("ABCDEFGabcdefg", rest[0]) < 0 {
		return n, 0, false
	}
	p := music.Pitch{Step: upper(rest[0]), Octave: 4}
	if rest[0] >= 'a' {
		p.Octave = 5
	}
	i := 1
	for ; i < len(rest) && (rest[i] == '\'' || rest[i] == ','); i++ {
		if rest[i] == '\'' {
			p.Octave++
		} else {
			p.Octave--
		}
	}
	p.Octave += v.clef.shift
	if p.Octave < 0 || p.Octave > 9 {
		v.forgive(line, "a note is beyond all instruments; it was put into the nearest octave that exists")
		p.Octave = min(max(p.Octave, 0), 9)
	}
	at := tiedAt{p.Step, p.Octave}
	tied, isTied := v.ties[at]
	reach := tiedAt{step: p.Step} // all octaves (ABC 2.1, 11.3)
	if v.t.propagate == "octave" {
		reach = at
	}
	switch {
	case stated && v.t.propagate == "not":
	case stated:
		v.alters[reach] = alter
	case isTied:
		alter = tied
	default:
		var inBar bool
		if alter, inBar = v.alters[reach]; !inBar {
			alter = v.key.alters[p.Step-'A']
		}
	}
	if stated {
		n.Accidental.Name = map[int]string{-2: "flat-flat", -1: "flat", 0: "natural", 1: "sharp", 2: "double-sharp"}[alter]
	}
	p.Alter = alter
	n.Pitch = p
	if isTied && tied == alter {
		n.TieStop = true
		delete(v.ties, at)
	}
	length, m := abcLength(rest[i:])
	n.Duration = v.unit.Mul(length[0], length[1])
	return n, len(s) - len(rest) + i + m, true
}

// maxABCNumber bounds the numbers of a length.
const maxABCNumber = 4096

// abcLength reads "2", "/", "/2", "3/2", "//" as a factor.
func abcLength(s string) (f [2]int64, used int) {
	f = [2]int64{1, 1}
	i := 0
	number := func() (n int64, ok bool) {
		for ; i < len(s) && s[i] >= '0' && s[i] <= '9'; i++ {
			n, ok = min(n*10+int64(s[i]-'0'), maxABCNumber), true
		}
		return n, ok
	}
	if n, ok := number(); ok {
		f[0] = max(n, 1)
	}
	for first := true; i < len(s) && s[i] == '/'; first = false {
		i++
		n, ok := number()
		switch {
		case ok:
			f[1] = min(f[1]*max(n, 1), maxABCNumber)
		case first || f[1] < maxABCNumber/2:
			f[1] *= 2
		}
	}
	return f, i
}

// place puts a note or a chord into the bar, with all that stood before it.
func (v *abcVoice) place(notes []music.Note, line int) error {
	first := len(v.notes)
	factor := music.Quarters(1, 1)
	if !v.broken.IsZero() {
		factor, v.broken = v.broken, music.Beats{}
	}
	num, den := factor.Fraction()
	tuplet := v.tuplet
	for i := range notes {
		n := &notes[i]
		n.Duration = n.Duration.Mul(num, den)
		if tuplet.left > 0 {
			n.Duration = n.Duration.Mul(int64(tuplet.q), int64(tuplet.p))
			n.Ratio = music.Ratio{Actual: tuplet.p, Normal: tuplet.q}
		}
		n.Duration = v.exact(n.Duration)
		n.Chord = i > 0
		abcShape(n)
	}
	head := &notes[0]
	if tuplet.left > 0 {
		if tuplet.left == tuplet.size {
			head.Tuplets = append(head.Tuplets, music.TupletMark{Start: true, Number: 1})
		}
		if v.tuplet.left--; v.tuplet.left == 0 {
			head.Tuplets = append(head.Tuplets, music.TupletMark{Number: 1})
		}
	}
	v.next.onto(v, notes)
	for _, n := range notes {
		if n.Chord { // chords last as long as their first note
			n.Start = v.notes[first].Start
			if v.t.notes++; v.t.notes > v.t.lim.Notes {
				return tooLarge("it has more than %d notes", v.t.lim.Notes)
			}
			n.Bar, n.Staff, n.Voice = v.bar(), 1, v.notes[first].Voice
			v.notes = append(v.notes, n)
			continue
		}
		if err := v.add(n, line); err != nil {
			return err
		}
	}
	v.last = [2]int{first, len(v.notes)}
	return nil
}

// abcShape finds the look of a note from its length.
func abcShape(n *music.Note) {
	shown := n.Duration
	if n.Ratio.Actual > 0 {
		shown = shown.Mul(int64(n.Ratio.Actual), int64(n.Ratio.Normal))
	}
	n.Type, n.Dots = "", 0
	if name, dots, ok := noteOf(shown); ok {
		n.Type, n.Dots = name, dots
	}
}

// chord reads "[CEG]2": the outer length multiplies those inside.
func (v *abcVoice) chord(s string, line int) (int, error) {
	end := strings.IndexByte(s, ']')
	if end < 0 {
		v.forgive(line, "a chord is not closed")
		return 1, nil
	}
	var notes []music.Note
	var tied []int
	var stops int
	for i := 1; i < end; {
		if n, used, ok := v.note(s[i:end], line); ok {
			if len(notes) >= 64 {
				return 0, illFormed(line, v.number(), "a chord has more than 64 notes", nil)
			}
			notes = append(notes, n)
			i += used
			continue
		}
		switch s[i] {
		case '-':
			tied = append(tied, len(notes)-1)
		case '(':
			v.next.slurs++
		case ')':
			stops++
		case '"':
			i += v.quoted(s[i:end], line)
			continue
		case '!', '+':
			if close := strings.IndexByte(s[i+1:end], s[i]); close > 0 {
				v.decorate(s[i+1:i+1+close], line)
				i += close + 2
				continue
			}
		default:
			if name, ok := shorthand(s[i]); ok {
				v.decorate(name, line)
			}
		}
		i++
	}
	length, n := abcLength(s[end+1:])
	if len(notes) == 0 {
		return end + 1 + n, nil
	}
	for i := range notes {
		notes[i].Duration = notes[0].Duration
	}
	for i := range notes {
		notes[i].Duration = notes[i].Duration.Mul(length[0], length[1])
	}
	if err := v.place(notes, line); err != nil {
		return 0, err
	}
	for _, k := range tied {
		if k >= 0 {
			v.tie(v.last[0]+k, v.last[0]+k+1)
		}
	}
	for range stops {
		v.endSlur()
	}
	return end + 1 + n, nil
}

// graces reads "{/gef}".
func (v *abcVoice) graces(s string, line int) (int, error) {
	end := strings.IndexByte(s, '}')
	if end < 0 {
		v.forgive(line, "grace notes are not closed")
		return 1, nil
	}
	slash := strings.HasPrefix(s[1:], "/")
	for i := 1; i < end; {
		n, used, ok := v.note(s[i:end], line)
		if !ok {
			i++
			continue
		}
		i += used
		n.Grace, n.Slash, n.Duration = true, slash, music.Beats{}
		n.Type = "eighth"
		if err := v.add(n, line); err != nil {
			return 0, err
		}
	}
	return end + 1, nil
}

// parenthesis is a tuplet if a number follows, else a slur.
func (v *abcVoice) parenthesis(s string, line int) int {
	if len(s) < 2 || s[1] < '2' || s[1] > '9' {
		v.next.slurs++
		return 1
	}
	p := int(s[1] - '0')
	i := 2
	if i < len(s) && s[i] >= '0' && s[i] <= '9' {
		p, i = p*10+int(s[i]-'0'), i+1
	}
	q, r := 0, 0
	for _, f := range []*int{&q, &r} {
		if i >= len(s) || s[i] != ':' || (i+1 < len(s) && s[i+1] == '|') {
			break
		}
		i++
		for ; i < len(s) && s[i] >= '0' && s[i] <= '9'; i++ {
			*f = min(*f*10+int(s[i]-'0'), 99)
		}
	}
	if q == 0 { // the table of ABC 2.1, 4.13: n is 3 in compound time, else 2
		n := 2
		if v.time.Compound() {
			n = 3
		}
		switch p {
		case 3, 6:
			q = 2
		case 2, 4, 8:
			q = 3
		default:
			q = n
		}
	}
	if r == 0 {
		r = p
	}
	v.tuplet = abcTuplet{p, q, r, r}
	return i
}

// brokenRhythm lengthens the last note and shortens the next, or the other way.
func (v *abcVoice) brokenRhythm(s string, line int) int {
	n := 0
	for n < len(s) && s[n] == s[0] {
		n++
	}
	if n > 3 || v.last[1] <= v.last[0] || v.last[1] > len(v.notes) || v.notes[v.last[0]].Bar != v.bar() || v.notes[v.last[0]].WholeBar {
		v.forgive(line, "a broken rhythm has no note before it")
		return n
	}
	short, long := music.Quarters(1, int64(1)<<n), music.Quarters(int64(2)<<n-1, int64(1)<<n)
	if s[0] == '<' {
		short, long = long, short
	}
	num, den := long.Fraction()
	was := v.notes[v.last[0]].Duration
	for i := v.last[0]; i < v.last[1]; i++ {
		v.notes[i].Duration = v.exact(v.notes[i].Duration.Mul(num, den))
		abcShape(&v.notes[i])
	}
	v.cursor = v.cursor.Sub(was).Add(v.notes[v.last[0]].Duration)
	b := &v.bars[v.bar()]
	if v.overlay == 0 {
		b.Length = v.cursor
	}
	v.reach()
	v.broken = short
	return n
}

func (v *abcVoice) rest(s string, line int) (int, error) {
	length, n := abcLength(s[1:])
	if s[0] == 'Z' || s[0] == 'X' {
		full := v.time.Length()
		if full.IsZero() {
			full = music.Quarters(4, 1)
		}
		for k := range max(length[0], 1) {
			if k > 0 {
				if err := v.barline("|", line); err != nil {
					return 0, err
				}
			}
			if err := v.add(music.Note{Rest: true, WholeBar: true, Hidden: s[0] == 'X', Duration: v.exact(full)}, line); err != nil {
				return 0, err
			}
		}
		v.last = [2]int{len(v.notes) - 1, len(v.notes)}
		return 1 + n, nil
	}
	r := music.Note{Rest: true, Hidden: s[0] == 'x', Duration: v.unit.Mul(length[0], length[1])}
	return 1 + n, v.place([]music.Note{r}, line)
}

// tie opens ties on notes; the next note of the same pitch meets them.
func (v *abcVoice) tie(from, to int) {
	for i := from; i < to && i < len(v.notes); i++ {
		if n := &v.notes[i]; n.Pitched() {
			n.TieStart = true
			v.ties[tiedAt{n.Pitch.Step, n.Pitch.Octave}] = n.Pitch.Alter
		}
	}
}

// endSlur closes the last slur that is open, on the last note.
func (v *abcVoice) endSlur() {
	if v.slurs == 0 || v.last[1] <= v.last[0] {
		return
	}
	n := &v.notes[v.last[0]]
	n.Spans = append(n.Spans, music.Span{Kind: "slur", Role: "stop", Number: min(v.slurs, 16)})
	v.slurs--
}
