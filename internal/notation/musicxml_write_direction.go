package notation

import (
	"strconv"

	"antiphon/internal/music"
)

func (w *barWriter) directions(list []*music.Direction) {
	for _, d := range list {
		w.items = append(w.items, item{at: d.At, rank: 2, write: func() {
			if d.Kind == music.Harmony {
				w.harmony(d)
				return
			}
			w.direction(d)
		}})
	}
}

func (w *barWriter) direction(d *music.Direction) {
	o := w.o
	o.begin("direction", "placement", oneOf(d.Placed, "above", "below"))
	o.begin("direction-type")
	number := positive(min(d.Number, 16))
	switch d.Kind {
	case music.Dynamic:
		o.begin("dynamics")
		w.dynamic(d.Text)
		o.end()
	case music.Wedge:
		o.empty("wedge", "type", or(oneOf(d.Text, "crescendo", "diminuendo", "continue"), "stop"), "number", number, "niente", yes(d.Niente), "line-type", d.Line)
	case music.Dashes:
		o.empty("dashes", "type", or(oneOf(d.Text, "start", "continue"), "stop"), "number", number)
	case music.Bracket:
		o.empty("bracket", "type", or(oneOf(d.Text, "start", "continue"), "stop"), "number", number,
			"line-end", or(oneOf(d.End, "up", "down", "both", "arrow"), "none"), "line-type", d.Line)
	case music.Pedal:
		o.empty("pedal", "type", or(oneOf(d.Text, "start", "sostenuto", "change", "continue", "discontinue", "resume"), "stop"), "number", number)
	case music.OctaveShift:
		o.empty("octave-shift", "type", or(oneOf(d.Text, "up", "down", "continue"), "stop"), "number", number, "size", positive(d.Size))
	case music.SegnoSign, music.CodaSign:
		o.empty(string(d.Kind))
	case music.Rehearsal:
		o.leaf("rehearsal", d.Text)
	case music.OtherSign:
		o.leaf("other-direction", d.Text)
	default:
		o.leaf("words", d.Text)
	}
	o.end()
	w.offset(d.At)
	o.some("voice", d.Voice)
	o.some("staff", positive(d.Staff))
	o.end()
}

// navigation writes what tells a player program where to go, and the printed sign for it where the
// score has none.
func (w *barWriter) navigation(bar int) {
	b := w.bar
	start, end := b.Start, b.End()
	sign := func(at music.Beats, kind music.DirectionKind, text, attr, value string) {
		if value == "" {
			return
		}
		printed := w.printed(bar, kind, text)
		w.items = append(w.items, item{at: at, rank: 1, write: func() {
			if printed {
				w.sound(at, attr, value)
				return
			}
			w.o.begin("direction", "placement", "above")
			w.o.begin("direction-type")
			w.o.some("words", text)
			if text == "" {
				w.o.empty(string(kind))
			}
			w.o.end()
			w.offset(at)
			w.o.empty("sound", attr, value)
			w.o.end()
		}})
	}
	sign(start, music.SegnoSign, "", "segno", b.Segno)
	sign(start, music.CodaSign, "", "coda", b.Coda)
	sign(end, music.Words, "To Coda", "tocoda", b.ToCoda)
	sign(end, music.Words, "Fine", "fine", yes(b.Fine))
	sign(end, music.Words, "D.C."+w.al, "dacapo", yes(b.DaCapo))
	sign(end, music.Words, "D.S."+w.al, "dalsegno", b.DalSegno)
}

// printedSign is a sign or the sense of words that stands in a bar.
type printedSign struct {
	bar  int
	kind music.DirectionKind
	jump jumpKind
}

// printedSigns lists what stands in which bar. A segno or coda at the end of a bar counts for the next.
func printedSigns(s *music.Score) map[printedSign]bool {
	out := map[printedSign]bool{}
	for i := range s.Parts {
		for _, d := range s.Parts[i].Directions {
			switch d.Kind {
			case music.SegnoSign, music.CodaSign:
				out[printedSign{d.Bar, d.Kind, jumpNone}] = true
				out[printedSign{s.BarAt(d.At), d.Kind, jumpNone}] = true
			case music.Words:
				out[printedSign{d.Bar, d.Kind, jumpWords(d.Text)}] = true
			}
		}
	}
	return out
}

// printed reports whether the bar has a sign of this kind in any part, or words that ask the same.
func (w *barWriter) printed(bar int, kind music.DirectionKind, text string) bool {
	if text == "To Coda" && w.signs[printedSign{bar, music.CodaSign, jumpNone}] {
		return true
	}
	return w.signs[printedSign{bar, kind, jumpWords(text)}]
}

// alWhat is what follows "D.C." in this score.
func alWhat(s *music.Score) string {
	al := ""
	for _, b := range s.Bars {
		switch {
		case b.ToCoda != "":
			return " al Coda"
		case b.Fine:
			al = " al Fine"
		}
	}
	return al
}

func (w *barWriter) sound(at music.Beats, attrs ...string) {
	if at.Cmp(w.cursor) == 0 {
		w.o.empty("sound", attrs...)
		return
	}
	w.o.begin("sound", attrs...)
	w.offset(at)
	w.o.end()
}

func (w *barWriter) tempo(t music.TempoMark) {
	at := t.At
	if at.Less(w.bar.Start) {
		at = w.bar.Start
	}
	quarter := strconv.FormatFloat(t.QuarterBpm(), 'f', -1, 64)
	unit, dots, ok := noteOf(t.Unit)
	w.items = append(w.items, item{at: at, rank: 1, write: func() {
		if t.Silent || !ok {
			w.sound(at, "tempo", quarter)
			return
		}
		o := w.o
		o.begin("direction", "placement", "above")
		o.begin("direction-type")
		o.begin("metronome", "parentheses", yes(t.Parens))
		beatUnit := func(name string, dots int) {
			o.leaf("beat-unit", name)
			for range dots {
				o.empty("beat-unit-dot")
			}
		}
		beatUnit(unit, dots)
		if was, wasDots, ok := noteOf(t.Was); ok {
			beatUnit(was, wasDots)
		} else {
			o.leaf("per-minute", or(t.Text, strconv.FormatFloat(t.Bpm, 'f', -1, 64)))
		}
		o.end()
		o.end()
		w.offset(at)
		o.empty("sound", "tempo", quarter)
		o.end()
	}})
}

// noteOf finds the note, with up to three dots, that has a length.
func noteOf(b music.Beats) (name string, dots int, ok bool) {
	if b.IsZero() {
		return "", 0, false
	}
	for _, l := range noteLengths {
		base := music.Quarters(l.n, 256)
		for d := range 4 {
			if dotted(base, d).Cmp(b) == 0 {
				return l.name, d, true
			}
		}
	}
	return "", 0, false
}

var (
	accidentals = set("sharp", "natural", "flat", "double-sharp", "sharp-sharp", "flat-flat", "natural-sharp", "natural-flat",
		"quarter-flat", "quarter-sharp", "three-quarters-flat", "three-quarters-sharp", "sharp-down", "sharp-up", "natural-down",
		"natural-up", "flat-down", "flat-up", "double-sharp-down", "double-sharp-up", "flat-flat-down", "flat-flat-up", "arrow-down",
		"arrow-up", "triple-sharp", "triple-flat", "slash-quarter-sharp", "slash-sharp", "slash-flat", "double-slash-flat",
		"sharp-1", "sharp-2", "sharp-3", "sharp-5", "flat-1", "flat-2", "flat-3", "flat-4", "sori", "koron", "other")
	noteheads = set("slash", "triangle", "diamond", "square", "cross", "x", "circle-x", "inverted triangle", "arrow down", "arrow up",
		"circled", "slashed", "back slashed", "normal", "cluster", "circle dot", "left triangle", "rectangle", "none",
		"do", "re", "mi", "fa", "fa up", "so", "la", "ti", "other")
)
