package notation

import (
	"cmp"
	"fmt"
	"slices"
	"strconv"
	"strings"
	"unicode/utf8"

	"golang.org/x/text/encoding/charmap"

	"antiphon/internal/music"
)

// readMIDI makes a score of a Standard MIDI File: a part for each track and channel with notes, bars
// by the time signatures, notes spelled in the key, tied over bar lines. Times are kept to the tick.
func readMIDI(data []byte, lim Limits, p *pardons) (*music.Score, error) {
	f, err := parseMIDI(data, lim, p)
	if err != nil {
		return nil, err
	}
	s := &music.Score{}
	var end int64
	var metas []midiMeta
	notes := 0
	for _, t := range f.tracks {
		metas = append(metas, t.metas...)
		notes += len(t.notes)
		for _, n := range t.notes {
			end = max(end, n.off, n.on+1)
		}
	}
	if notes > lim.Notes {
		return nil, tooLarge("it has more than %d notes", lim.Notes)
	}
	slices.SortStableFunc(metas, func(a, b midiMeta) int { return cmp.Compare(a.at, b.at) })
	if err := f.bars(s, metas, end, lim, p); err != nil {
		return nil, err
	}
	f.tempos(s, metas, end)
	keys := f.keys(s, metas)
	if len(f.tracks) > 1 && len(f.tracks[0].notes) == 0 || f.format == 0 {
		s.Title = f.tracks[0].name
	}
	for i := range f.tracks {
		f.partsOf(s, i, keys, p)
		if len(s.Parts) > maxParts {
			return nil, tooLarge("it has more than %d parts", maxParts)
		}
	}
	if len(s.Parts) == 0 {
		s.Parts = []music.Part{{ID: "P1", Staves: 1}}
	}
	attributesOf(s, keys)
	return s, nil
}

// midiText is the text of a track name: UTF-8 where it is that, else Latin.
func midiText(b []byte) string {
	b = b[:min(len(b), maxText)]
	if !utf8.Valid(b) {
		if t, err := charmap.Windows1252.NewDecoder().Bytes(b); err == nil {
			b = t
		}
	}
	clean := strings.Map(func(r rune) rune {
		if r < 0x20 || r == 0x7F {
			return ' '
		}
		return r
	}, string(b))
	return oneLine(clean)
}

func (f *midiFile) beats(tick int64) music.Beats { return music.Quarters(tick, f.tpq) }

// bars lays bars by the time signatures, 4/4 before the first. A time signature in the middle of a
// bar ends that bar.
func (f *midiFile) bars(s *music.Score, metas []midiMeta, end int64, lim Limits, p *pardons) error {
	type change struct {
		at   int64
		time music.Time
	}
	common := music.Time{Parts: []music.TimePart{{Beats: []int{4}, Unit: 4}}}
	changes := []change{{0, common}}
	for _, m := range metas {
		if m.kind != metaTime || len(m.data) < 2 || m.data[0] == 0 || m.data[1] > 7 {
			continue
		}
		t := music.Time{Parts: []music.TimePart{{Beats: []int{int(m.data[0])}, Unit: 1 << m.data[1]}}}
		if last := &changes[len(changes)-1]; last.at == m.at {
			last.time = t
			continue
		}
		changes = append(changes, change{m.at, t})
	}
	at := music.Beats{}
	until := f.beats(end)
	for i, c := range changes {
		stop := until
		if i+1 < len(changes) && changes[i+1].at < end {
			stop = f.beats(changes[i+1].at)
		}
		for at.Less(stop) || len(s.Bars) == 0 {
			if len(s.Bars) >= lim.Bars {
				return tooLarge("it has more than %d bars", lim.Bars)
			}
			length := c.time.Length()
			if i+1 < len(changes) && stop.Less(at.Add(length)) && stop.Cmp(until) != 0 {
				length = stop.Sub(at)
				if len(s.Bars) > 0 {
					p.add(0, strconv.Itoa(len(s.Bars)+1), "the time signature changes within a bar; the bar was ended there")
				}
			}
			s.Bars = append(s.Bars, music.Bar{Number: strconv.Itoa(len(s.Bars) + 1), Start: at, Length: length, Time: c.time})
			at = at.Add(length)
		}
	}
	return nil
}

func (f *midiFile) tempos(s *music.Score, metas []midiMeta, end int64) {
	for _, m := range metas {
		if m.kind != metaTempo || len(m.data) < 3 || m.at > end {
			continue
		}
		us := int64(m.data[0])<<16 | int64(m.data[1])<<8 | int64(m.data[2])
		if us == 0 {
			continue
		}
		t := music.TempoMark{At: f.beats(m.at), Bpm: 60e6 / float64(us), Unit: music.Quarters(1, 1), Silent: true}
		if t.Bpm < minBpm || t.Bpm > maxBpm {
			continue
		}
		if n := len(s.Tempos); n > 0 && s.Tempos[n-1].At.Cmp(t.At) == 0 {
			s.Tempos[n-1] = t
			continue
		}
		s.Tempos = append(s.Tempos, t)
	}
}

// keyChange is a key signature at the start of a bar.
type keyChange struct {
	bar int
	key music.Key
}

func (f *midiFile) keys(s *music.Score, metas []midiMeta) []keyChange {
	var out []keyChange
	for _, m := range metas {
		if m.kind != metaKey || len(m.data) < 2 {
			continue
		}
		fifths := int(int8(m.data[0]))
		if fifths < -7 || fifths > 7 {
			continue
		}
		k := music.Key{Fifths: fifths, Mode: "major"}
		if m.data[1] == 1 {
			k.Mode = "minor"
		}
		bar := s.BarAt(f.beats(m.at))
		if n := len(out); n > 0 && out[n-1].bar == bar {
			out[n-1].key = k
			continue
		}
		out = append(out, keyChange{bar, k})
	}
	return out
}

// attributesOf writes key and time signatures into every part.
func attributesOf(s *music.Score, keys []keyChange) {
	for i := range s.Parts {
		p := &s.Parts[i]
		next := keys
		for b := range s.Bars {
			a := music.Attributes{Bar: b, At: s.Bars[b].Start}
			for len(next) > 0 && next[0].bar <= b {
				k := next[0].key
				a.Key, next = &k, next[1:]
				p.Attributes = append(p.Attributes, a)
				a.Key = nil
			}
			if t := s.Bars[b].Time; b == 0 || t.Length().Cmp(s.Bars[b-1].Time.Length()) != 0 || t.Parts[0].Unit != s.Bars[b-1].Time.Parts[0].Unit {
				a.Time = &t
				p.Attributes = append(p.Attributes, a)
				a.Time = nil
			}
			if b == 0 {
				a.Clef = clefFor(p)
				p.Attributes = append(p.Attributes, a)
			}
		}
	}
}

// clefFor is the guitar's clef, or a percussion clef.
func clefFor(p *music.Part) *music.Clef {
	for i := range p.Notes {
		if p.Notes[i].Unpitched {
			return &music.Clef{Sign: "percussion"}
		}
	}
	return &music.Clef{Sign: "G", Line: 2, Octave: -1}
}

// partsOf makes a part for each channel of a track that has notes.
func (f *midiFile) partsOf(s *music.Score, track int, keys []keyChange, p *pardons) {
	t := &f.tracks[track]
	byChannel := map[int][]midiNote{}
	for _, n := range t.notes {
		if n.key < 12 && n.channel != drums {
			p.add(0, "", "a note is lower than any instrument plays (below C0); it was left out")
			continue
		}
		byChannel[n.channel] = append(byChannel[n.channel], n)
	}
	channels := make([]int, 0, len(byChannel))
	for c := range byChannel {
		channels = append(channels, c)
	}
	slices.Sort(channels)
	for _, c := range channels {
		part := music.Part{ID: "P" + strconv.Itoa(len(s.Parts)+1), Name: t.name, Program: t.prog[c], Channel: c + 1, Staves: 1}
		if len(channels) > 1 {
			part.Name = strings.TrimSpace(fmt.Sprintf("%s %d", t.name, c+1))
		}
		if f.format == 0 && len(channels) == 1 {
			part.Name = ""
		}
		part.Notes = f.notesOf(s, byChannel[c], keys)
		s.Parts = append(s.Parts, part)
	}
}

// drums is the channel of General MIDI that has no pitches.
const drums = 9
