package notation

import (
	"strings"

	"antiphon/internal/music"
)

// maxDirections of a score, and maxAttributes: one with more is a mistake or an attack.
const (
	maxDirections = 200_000
	maxAttributes = 100_000
)

func (m *measure) offset(n *node) music.Beats {
	k := n.kid("offset")
	if k == nil {
		return m.cursor
	}
	num, den, ok := decimal(k.text)
	if !ok {
		m.forgive(k, "an offset is no number")
		return m.cursor
	}
	b, err := m.beats(k, num, den)
	if err != nil {
		m.forgive(k, "an offset is impossibly long; it was left out")
		return m.cursor
	}
	at := m.cursor.Add(b)
	if at.Less(music.Beats{}) {
		m.forgive(k, "an offset leads to before the bar; it was stopped at the bar's start")
		return music.Beats{}
	}
	return at
}

func (m *measure) direction(n *node) {
	at := m.offset(n)
	d := music.Direction{Bar: m.bar, At: at, Placed: placed(n), Voice: clip(n.at("voice"), maxVoiceName)}
	if v, ok := whole(n.at("staff"), 100); ok && v > 0 {
		d.Staff = v
	}
	sound := n.kid("sound")
	tempo := music.TempoMark{At: at}
	for _, t := range n.kids {
		if t.name != "direction-type" {
			continue
		}
		for _, k := range t.kids {
			if k.name == "metronome" {
				m.metronome(k, &tempo)
				continue
			}
			m.directionType(k, d, sound)
		}
	}
	if sound != nil {
		m.sound(sound, at, !tempo.Unit.IsZero())
		if q, ok := tempoOf(sound); ok && !tempo.Unit.IsZero() {
			switch {
			case tempo.Bpm == 0:
				tempo.Bpm = q / tempo.Unit.Q()
			case tempo.QuarterBpm() < 0.98*q || tempo.QuarterBpm() > 1.02*q:
				m.forgive(sound, "a tempo mark says one speed and sounds another; the printed one was taken")
			}
		}
	}
	if !tempo.Unit.IsZero() && (tempo.Bpm > 0 || !tempo.Was.IsZero()) {
		m.addTempo(tempo)
	} else if !tempo.Unit.IsZero() {
		m.forgive(n, "a metronome mark has no number; it was left out")
	}
}

// addDirection keeps a direction unless there are too many.
func (m *measure) addDirection(n *node, d music.Direction) {
	if m.r.directions++; m.r.directions > maxDirections {
		m.forgive(n, "there are more directions than can be kept")
		return
	}
	m.part.Directions = append(m.part.Directions, d)
}

func (m *measure) directionType(k *node, d music.Direction, sound *node) {
	d.Number = min(max(wholeOr(k.get("number"), 16, 0), 0), 16)
	d.Line = oneOf(k.get("line-type"), "solid", "dashed", "dotted", "wavy")
	switch k.name {
	case "words", "rehearsal":
		d.Kind, d.Text = music.DirectionKind(k.name), clip(k.text, maxText)
		if d.Number, d.Line = 0, ""; d.Text == "" {
			return
		}
	case "dynamics":
		d.Number, d.Line = 0, ""
		for _, t := range dynamicsOf(k) {
			d.Kind, d.Text = music.Dynamic, t
			m.addDirection(k, d)
		}
		return
	case "wedge":
		d.Kind, d.Text, d.Niente = music.Wedge, oneOf(k.get("type"), "crescendo", "diminuendo", "stop", "continue"), k.get("niente") == "yes"
	case "dashes":
		d.Kind, d.Text = music.Dashes, oneOf(k.get("type"), "start", "stop", "continue")
	case "bracket":
		d.Kind, d.Text = music.Bracket, oneOf(k.get("type"), "start", "stop", "continue")
		d.End = or(oneOf(k.get("line-end"), "up", "down", "both", "arrow", "none"), "none")
	case "pedal":
		d.Kind, d.Line = music.Pedal, ""
		d.Text = oneOf(k.get("type"), "start", "stop", "sostenuto", "change", "continue", "discontinue", "resume")
	case "octave-shift":
		d.Kind, d.Text, d.Line = music.OctaveShift, oneOf(k.get("type"), "up", "down", "stop", "continue"), ""
		d.Size = wholeOr(k.get("size"), 22, 8)
		if d.Size != 15 && d.Size != 22 {
			d.Size = 8
		}
	case "segno", "coda":
		d.Kind, d.Number, d.Line = music.DirectionKind(k.name), 0, ""
		m.addDirection(k, d)
		m.sign(k.name, d.At, sound)
		return
	case "other-direction":
		d.Kind, d.Text, d.Number, d.Line = music.OtherSign, clip(k.text, maxText), 0, ""
	default: // harp pedals, accordion registers, percussion pictures, images: not this house's music
		return
	}
	if d.Text == "" {
		m.forgive(k, "a <"+k.name+"> does not say of what kind it is; it was left out")
		return
	}
	m.addDirection(k, d)
}

func (m *measure) metronome(k *node, t *music.TempoMark) {
	t.Parens = k.get("parentheses") == "yes"
	var units []music.Beats
	dots := 0
	for _, c := range k.kids {
		switch c.name {
		case "beat-unit":
			b, ok := typeLength(c.text)
			if !ok {
				m.forgive(c, "a metronome mark counts an unknown note; it was taken as a quarter")
				b = music.Quarters(1, 1)
			}
			units, dots = append(units, b), 0
		case "beat-unit-dot":
			if n := len(units); n > 0 && dots < 4 {
				base := units[n-1].Mul(int64(1)<<dots, int64(1)<<(dots+1)-1)
				dots++
				units[n-1] = dotted(base, dots)
			}
		case "per-minute":
			t.Bpm, t.Text = perMinute(c.text)
		}
	}
	if len(units) > 0 {
		t.Unit = units[0]
	}
	if len(units) > 1 {
		t.Was = units[1]
	}
}

// perMinute reads "120", "132.5", and what is printed as well: "c. 108", "100-108" (the middle).
func perMinute(s string) (bpm float64, text string) {
	var found []float64
	for _, f := range strings.FieldsFunc(s, func(r rune) bool { return (r < '0' || r > '9') && r != '.' }) {
		if num, den, ok := decimal(strings.Trim(f, ".")); ok && num > 0 {
			found = append(found, float64(num)/float64(den))
		}
	}
	plain := strings.TrimSpace(s)
	if _, _, ok := decimal(plain); !ok {
		text = clip(plain, maxVoiceName)
	}
	switch len(found) {
	case 0:
		return 0, text
	case 1:
		bpm = found[0]
	default:
		bpm = (found[0] + found[1]) / 2
	}
	if bpm < minBpm || bpm > maxBpm {
		return 0, text
	}
	return bpm, text
}

// Tempos outside these are mistakes. Our choice; no source.
const minBpm, maxBpm = 1, 2000

func tempoOf(sound *node) (quarterBpm float64, ok bool) {
	num, den, ok := decimal(sound.get("tempo"))
	q := float64(num) / float64(den)
	return q, ok && q >= minBpm && q <= maxBpm
}

// sound reads what a place of the score does to the performance. The tempo is left out where a
// printed mark at the same place has it.
func (m *measure) sound(n *node, at music.Beats, printed bool) {
	if n.has("offset") {
		at = m.offset(n)
	}
	if q, ok := tempoOf(n); ok && !printed {
		m.addTempo(music.TempoMark{At: at, Bpm: q, Unit: music.Quarters(1, 1), Silent: true})
	}
	b := &m.r.s.Bars[m.bar]
	if n.get("dacapo") == "yes" {
		b.DaCapo = true
	}
	if v := clip(n.get("dalsegno"), maxVoiceName); v != "" {
		b.DalSegno = v
	}
	if v := clip(n.get("tocoda"), maxVoiceName); v != "" {
		b.ToCoda = v
	}
	if v := n.get("fine"); v != "" {
		b.Fine = true
	}
	for _, kind := range []string{"segno", "coda"} {
		if v := clip(n.get(kind), maxVoiceName); v != "" {
			m.r.signs = append(m.r.signs, sign{m.bar, at, kind, v})
		}
	}
}

// sign is a segno or coda whose bar is settled when the bars' lengths are known.
type sign struct {
	bar   int
	at    music.Beats
	kind  string
	label string // "" where the file gives none
}

// sign notes a printed segno or coda. One that carries the jump itself ("to coda") is no place to go to.
func (m *measure) sign(kind string, at music.Beats, sound *node) {
	if sound != nil && (sound.get(kind) != "" || sound.get("tocoda") != "" || sound.get("dalsegno") != "") {
		return // sound says it
	}
	m.r.signs = append(m.r.signs, sign{m.bar, at, kind, ""})
}

func (m *measure) addTempo(t music.TempoMark) {
	if len(m.r.tempo) < maxDirections {
		m.r.tempo = append(m.r.tempo, barTempo{m.bar, t})
	}
}

// harmony keeps a chord symbol as the text that is read off it.
func (m *measure) harmony(n *node) {
	d := music.Direction{Bar: m.bar, At: m.offset(n), Kind: music.Harmony, Placed: placed(n), Text: chordSymbol(n), Frame: frameOf(n.kid("frame"))}
	if v, ok := whole(n.at("staff"), 100); ok && v > 0 {
		d.Staff = v
	}
	if d.Text != "" {
		m.addDirection(n, d)
	}
}
