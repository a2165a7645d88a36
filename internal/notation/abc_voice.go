package notation

import (
	"fmt"
	"strconv"
	"strings"

	"antiphon/internal/music"
)

// abcVoice is one voice of a tune while it is being read. Times count from the start of the bar.
type abcVoice struct {
	t      *tune
	id     string
	name   string
	begun  bool
	key    abcKey
	clef   abcClef
	unit   music.Beats
	time   music.Time
	bars   []abcBar
	notes  []music.Note
	dirs   []music.Direction
	attrs  []music.Attributes
	tempos []barTempo

	cursor   music.Beats
	overlay  int            // 1 after the first & of a bar
	alters   map[tiedAt]int // accidentals of this bar; octave 0 where they reach all
	ties     map[tiedAt]int // open ties with the alteration that they carry on
	last     [2]int         // the notes that were read last: notes[last[0]:last[1]]
	next     ahead          // what is to be put on the next note
	slurs    int            // open
	broken   music.Beats    // factor for the next note; 0 none
	tuplet   abcTuplet
	inEnding bool
}

type tiedAt struct {
	step   byte
	octave int
}

// abcBar is a bar with the length that this voice fills.
type abcBar struct {
	music.Bar
	filled bool
}

// abcTuplet is p notes in the time of q, for the next r notes.
type abcTuplet struct{ p, q, left, size int }

// ahead is what stands before a note.
type ahead struct {
	marks    []music.Mark
	fingers  []music.Fingering
	slurs    int
	arpeggio bool
}

// voice is the voice that is being written; a tune without V: has one.
func (t *tune) voice() *abcVoice {
	if t.now == nil {
		t.now = t.voiceNamed("1")
	}
	return t.now
}

func (t *tune) voiceNamed(id string) *abcVoice {
	if v := t.byID[id]; v != nil {
		return v
	}
	v := &abcVoice{t: t, id: id, clef: t.clef}
	t.voices = append(t.voices, v)
	t.byID[id] = v
	if t.body {
		v.begin()
	}
	return v
}

// begin gives a voice what the header says, once the header is over.
func (v *abcVoice) begin() {
	if v.begun {
		return
	}
	v.begun = true
	v.unit, v.time = v.t.unit, v.t.time
	if !v.clef.stated {
		v.clef = v.t.clef
	}
	v.bars = []abcBar{{}}
	v.alters, v.ties = map[tiedAt]int{}, map[tiedAt]int{}
	v.setKey(v.t.key)
	if len(v.time.Parts) > 0 || v.time.Senza {
		v.setTime(v.time)
	}
	v.setClef(v.clef)
}

func (t *tune) voiceField(l abcLine, value string) error {
	words := abcWords(value)
	if len(words) == 0 {
		return nil
	}
	if len(t.voices) >= maxParts {
		return tooLarge("it has more than %d voices", maxParts)
	}
	v := t.voiceNamed(clip(words[0], maxVoiceName))
	for _, w := range words[1:] {
		name, text, ok := strings.Cut(w, "=")
		switch {
		case ok && (name == "name" || name == "nm"):
			v.name = oneLine(abcText(strings.Trim(text, `"`)))
		default:
			clef := v.clef
			if clef.read(w); clef != v.clef {
				v.clef = clef
				if v.begun {
					v.setClef(clef)
				}
			}
		}
	}
	if t.body {
		t.now = v
	}
	return nil
}

// abcWords splits at spaces outside quotation marks.
func abcWords(s string) []string {
	quoted := false
	return strings.FieldsFunc(s, func(r rune) bool {
		if r == '"' {
			quoted = !quoted
		}
		return !quoted && (r == ' ' || r == '\t')
	})
}

func (v *abcVoice) bar() int { return len(v.bars) - 1 }

func (v *abcVoice) setKey(k abcKey) {
	v.key = k
	v.attribute(music.Attributes{Bar: v.bar(), At: v.cursor, Key: &music.Key{Fifths: k.fifths, Mode: k.mode}})
}

func (v *abcVoice) setTime(t music.Time) {
	v.time = t
	if v.cursor.IsZero() {
		v.bars[v.bar()].Time = t
	}
	v.attribute(music.Attributes{Bar: v.bar(), At: v.cursor, Time: &t})
}

func (v *abcVoice) setClef(c abcClef) {
	v.clef = c
	clef := c.clef
	v.attribute(music.Attributes{Bar: v.bar(), At: v.cursor, Clef: &clef})
	if c.transpose != 0 {
		v.attribute(music.Attributes{Bar: v.bar(), At: v.cursor, Transpose: &music.Transpose{Diatonic: nearestSteps(c.transpose), Chromatic: c.transpose}})
	}
}

func (v *abcVoice) attribute(a music.Attributes) {
	if len(v.attrs) < maxAttributes/10 {
		v.attrs = append(v.attrs, a)
	}
}

func (v *abcVoice) direct(d music.Direction) {
	if len(v.dirs) < maxDirections/10 {
		d.Bar, d.At = v.bar(), v.cursor
		v.dirs = append(v.dirs, d)
	}
}

// number is what the bar is called in messages.
func (v *abcVoice) number() string { return strconv.Itoa(v.bar() + 1) }

func (v *abcVoice) forgive(line int, what string) { v.t.p.add(line, v.number(), what) }

// exact keeps a time on the tune's grid.
func (v *abcVoice) exact(b music.Beats) music.Beats {
	b, rounded := v.t.grid.fit(b)
	if rounded {
		v.forgive(0, "durations are too finely divided; they were rounded")
	}
	return b
}

// add puts a note, or the first note of a chord, into the bar and moves on.
func (v *abcVoice) add(n music.Note, line int) error {
	if v.t.notes++; v.t.notes > v.t.lim.Notes {
		return tooLarge("it has more than %d notes", v.t.lim.Notes)
	}
	n.Bar, n.Start, n.Staff = v.bar(), v.cursor, 1
	n.Voice = strconv.Itoa(1 + v.overlay)
	v.notes = append(v.notes, n)
	if n.Grace {
		return nil
	}
	v.bars[v.bar()].filled = true
	if !n.Chord {
		v.cursor = v.cursor.Add(n.Duration)
		v.reach()
		if v.cursor.Q() > maxDurationQ {
			return illFormed(line, v.number(), fmt.Sprintf("the bar lasts longer than %d quarter notes", maxDurationQ), nil)
		}
	}
	return nil
}

func (v *abcVoice) reach() {
	if b := &v.bars[v.bar()]; b.Length.Less(v.cursor) {
		b.Length = v.cursor
	}
}

// barline closes the bar if there is anything in it, and says how.
func (v *abcVoice) barline(run string, line int) error {
	left := len(run) - len(strings.TrimLeft(run, ":"))
	right := len(run) - len(strings.TrimRight(run, ":"))
	if left == len(run) { // "::"
		left, right = (left+1)/2, (left+1)/2
	}
	style := ""
	switch {
	case strings.Contains(run, "|]") || left > 0:
		style = "light-heavy"
	case strings.Contains(run, "||"):
		style = "light-light"
	}
	if left > 0 {
		style = ""
	}
	if v.bars[v.bar()].filled {
		if len(v.bars) >= v.t.lim.Bars {
			return tooLarge("it has more than %d bars", v.t.lim.Bars)
		}
		v.bars = append(v.bars, abcBar{})
		v.cursor, v.overlay = music.Beats{}, 0
		clear(v.alters)
		v.broken = music.Beats{}
	}
	if now := v.bar(); now > 0 && (left > 0 || style != "" || strings.Contains(run, "[|")) {
		before := &v.bars[now-1].Bar
		if left > 0 {
			before.RepeatEnd = min(left+1, 64)
		}
		if style != "" {
			before.RightStyle = style
		}
		if v.inEnding {
			v.closeEnding(before)
		}
	}
	if right > 0 {
		v.bars[v.bar()].RepeatStart = true
	}
	return nil
}

func (v *abcVoice) closeEnding(b *music.Bar) {
	v.inEnding = false
	b.EndingStop = "discontinue"
	if b.RepeatEnd > 0 || b.RightStyle == "light-heavy" {
		b.EndingStop = "stop"
	}
}

// ending opens a first, second, … ending at the present bar.
func (v *abcVoice) ending(numbers string) {
	now := v.bar()
	if v.inEnding && now > 0 {
		v.closeEnding(&v.bars[now-1].Bar)
	}
	v.bars[now].Ending = endingNumbers(numbers)
	v.inEnding = true
}
