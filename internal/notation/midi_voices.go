package notation

import (
	"cmp"
	"slices"
	"strconv"

	"antiphon/internal/music"
)

// maxVoices of a part that is read from MIDI; what does not fit joins the last.
const maxVoices = 8

// notesOf writes the notes of one channel as voices: notes that begin and end together are chords,
// of notes that overlap otherwise the higher one keeps the lower voice number, and notes are cut at
// bar lines and tied. Voice 1 is filled with rests.
func (f *midiFile) notesOf(s *music.Score, in []midiNote, keys []keyChange) []music.Note {
	slices.SortStableFunc(in, func(a, b midiNote) int {
		return cmp.Or(cmp.Compare(a.on, b.on), cmp.Compare(b.key, a.key), cmp.Compare(a.off, b.off))
	})
	type voice struct{ on, off int64 } // of the chord that it holds
	var voices []voice
	var out []music.Note
	for _, n := range in {
		v, chord := -1, false
		for i := range voices {
			if voices[i].on == n.on && voices[i].off == n.off && n.off > n.on {
				v, chord = i, true
				break
			}
			if v < 0 && voices[i].off <= n.on && (voices[i].on < n.on || n.off == n.on) {
				v = i
			}
		}
		if v < 0 {
			if v = len(voices); v < maxVoices {
				voices = append(voices, voice{})
			} else {
				v = maxVoices - 1
			}
		}
		voices[v] = voice{n.on, max(n.off, voices[v].off)}
		if chord {
			voices[v].off = n.off
		}
		out = append(out, f.written(s, n, strconv.Itoa(v+1), keys)...)
	}
	slices.SortStableFunc(out, func(a, b music.Note) int {
		return cmp.Or(a.Bar-b.Bar, cmp.Compare(a.Voice, b.Voice), a.Start.Cmp(b.Start), graceFirst(a, b), a.Duration.Cmp(b.Duration))
	})
	for i := 1; i < len(out); i++ {
		a, b := &out[i-1], &out[i]
		b.Chord = a.Bar == b.Bar && a.Voice == b.Voice && a.Start.Cmp(b.Start) == 0 && a.Duration.Cmp(b.Duration) == 0 && a.Grace == b.Grace && !a.Grace
	}
	return withRests(s, out)
}

func graceFirst(a, b music.Note) int {
	switch {
	case a.Grace == b.Grace:
		return 0
	case a.Grace:
		return -1
	}
	return 1
}

// written cuts a note at the bar lines.
func (f *midiFile) written(s *music.Score, n midiNote, voice string, keys []keyChange) []music.Note {
	start, end := f.beats(n.on), f.beats(n.off)
	bar := s.BarAt(start)
	note := music.Note{Bar: bar, Start: start, Voice: voice, Staff: 1, Velocity: n.vel}
	if n.channel == drums {
		note.Unpitched = true
	}
	note.Pitch = music.SpellMidi(n.key, fifthsAt(keys, bar))
	if note.Unpitched {
		note.Pitch = music.Pitch{}
	}
	if n.off <= n.on {
		note.Grace = true
		return []music.Note{note}
	}
	var out []music.Note
	for start.Less(end) {
		d := note
		d.Bar, d.Start, d.TieStop = bar, start, len(out) > 0 && !note.Unpitched
		stop := end
		if line := s.Bars[bar].End(); line.Less(end) && bar+1 < len(s.Bars) {
			stop, d.TieStart = line, !note.Unpitched
		}
		d.Duration = stop.Sub(start)
		look(&d)
		out = append(out, d)
		start = stop
		bar++
	}
	return out
}

// look finds the shape of a note, or of a triplet, that has its length; else it stays without.
func look(d *music.Note) {
	if name, dots, ok := noteOf(d.Duration); ok {
		d.Type, d.Dots = name, dots
		return
	}
	if name, dots, ok := noteOf(d.Duration.Mul(3, 2)); ok && dots == 0 {
		d.Type, d.Ratio = name, music.Ratio{Actual: 3, Normal: 2}
	}
}

func fifthsAt(keys []keyChange, bar int) int {
	i, _ := slices.BinarySearchFunc(keys, bar+1, func(k keyChange, bar int) int { return k.bar - bar })
	if i == 0 {
		return 0
	}
	return keys[i-1].key.Fifths
}

// withRests fills the gaps of voice 1, bar by bar. The notes come sorted by bar and voice.
func withRests(s *music.Score, notes []music.Note) []music.Note {
	out := make([]music.Note, 0, len(notes)+len(s.Bars))
	i := 0
	for b := range s.Bars {
		at := s.Bars[b].Start
		fill := func(until music.Beats) {
			if !at.Less(until) {
				return
			}
			r := music.Note{Bar: b, Start: at, Duration: until.Sub(at), Voice: "1", Staff: 1, Rest: true}
			r.WholeBar = r.Duration.Cmp(s.Bars[b].Length) == 0
			if look(&r); r.WholeBar {
				r.Type, r.Dots, r.Ratio = "", 0, music.Ratio{}
			}
			out = append(out, r)
		}
		for ; i < len(notes) && notes[i].Bar == b && notes[i].Voice == "1"; i++ {
			fill(notes[i].Start)
			out = append(out, notes[i])
			if end := notes[i].End(); at.Less(end) {
				at = end
			}
		}
		fill(s.Bars[b].End())
		for ; i < len(notes) && notes[i].Bar == b; i++ {
			out = append(out, notes[i])
		}
	}
	return out
}
