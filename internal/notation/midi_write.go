package notation

import (
	"cmp"
	"encoding/binary"
	"fmt"
	"io"
	"math"
	"slices"
)

// MIDINote is one note of a performance, in seconds.
type MIDINote struct {
	OnsetS, OffsetS float64
	Midi            int // 0 to 127
	Velocity        int // 1 to 127; 0 means 80
	Channel         int // 1 to 16; 0 means 1
	Track           int // from 0
}

// midiEvent is one message of a track that is being written.
type midiEvent struct {
	at   int64
	rank int // ends before signatures before programs before beginnings
	data []byte
}

const (
	rankOff = iota
	rankMeta
	rankProgram
	rankOn
)

// Performances are written at 120 quarters a minute with 1000 ticks in each: half a millisecond a tick.
const (
	secondsTPQ    = 1000
	ticksASecond  = 2 * secondsTPQ
	maxSecondsOut = 24 * 3600
)

// guitarProgram is General MIDI's acoustic guitar with nylon strings, counted from 0.
const guitarProgram = 24

// WriteMIDINotes writes a performance as a Standard MIDI File, format 1, with a track for each Track
// of the notes. Notes that do not sound (no length, pitch or place that MIDI has) are an error.
func WriteMIDINotes(w io.Writer, notes []MIDINote, title string) error {
	tracks := map[int][]midiEvent{}
	order := []int{}
	for i, n := range notes {
		vel, ch := n.Velocity, n.Channel
		if vel == 0 {
			vel = 80
		}
		if ch == 0 {
			ch = 1
		}
		ok := n.OnsetS >= 0 && n.OffsetS >= n.OnsetS && n.OffsetS < maxSecondsOut && n.Midi >= 0 && n.Midi < 128 && vel >= 1 && vel < 128 && ch >= 1 && ch <= 16
		if !ok {
			return fmt.Errorf("%w: note %d cannot be said in MIDI: %+v", ErrUnwritable, i, n)
		}
		if _, known := tracks[n.Track]; !known {
			order = append(order, n.Track)
			if ch-1 != drums {
				tracks[n.Track] = append(tracks[n.Track], midiEvent{0, rankProgram, []byte{0xC0 | byte(ch-1), guitarProgram}})
			}
		}
		on := int64(math.Round(n.OnsetS * ticksASecond))
		off := max(int64(math.Round(n.OffsetS*ticksASecond)), on+1)
		tracks[n.Track] = append(tracks[n.Track], noteEvents(on, off, ch-1, n.Midi, vel)...)
	}
	slices.Sort(order)
	head := []midiEvent{textEvent(0, metaTrackName, title), tempoEvent(0, 120)}
	out := [][]midiEvent{head}
	for _, t := range order {
		out = append(out, tracks[t])
	}
	return writeMIDIFile(w, secondsTPQ, out)
}

func noteEvents(on, off int64, channel, key, vel int) []midiEvent {
	return []midiEvent{
		{on, rankOn, []byte{0x90 | byte(channel), byte(key), byte(vel)}},
		{off, rankOff, []byte{0x80 | byte(channel), byte(key), 64}},
	}
}

func metaEvent(at int64, kind byte, data []byte) midiEvent {
	b := appendLength([]byte{0xFF, kind}, int64(len(data)))
	return midiEvent{at, rankMeta, append(b, data...)}
}

func textEvent(at int64, kind byte, text string) midiEvent {
	return metaEvent(at, kind, []byte(clip(text, 1000)))
}

func tempoEvent(at int64, quarterBpm float64) midiEvent {
	us := min(max(int64(math.Round(60e6/quarterBpm)), 1), 1<<24-1)
	return metaEvent(at, metaTempo, []byte{byte(us >> 16), byte(us >> 8), byte(us)})
}

// writeMIDIFile writes a file of format 1.
func writeMIDIFile(w io.Writer, tpq int64, tracks [][]midiEvent) error {
	if len(tracks) > 0xFFFF {
		return fmt.Errorf("%w: it has more tracks than MIDI can hold", ErrUnwritable)
	}
	b := []byte("MThd\x00\x00\x00\x06\x00\x01")
	b = binary.BigEndian.AppendUint16(b, uint16(len(tracks)))
	b = binary.BigEndian.AppendUint16(b, uint16(tpq))
	for _, events := range tracks {
		slices.SortStableFunc(events, func(a, b midiEvent) int { return cmp.Or(cmp.Compare(a.at, b.at), a.rank-b.rank) })
		var body []byte
		var now int64
		for _, e := range events {
			if e.at-now > 0x0FFFFFFF {
				return fmt.Errorf("%w: it is longer than MIDI can hold", ErrUnwritable)
			}
			body = append(appendLength(body, e.at-now), e.data...)
			now = e.at
		}
		body = append(body, 0, 0xFF, metaEnd, 0)
		b = append(b, "MTrk"...)
		b = binary.BigEndian.AppendUint32(b, uint32(len(body)))
		b = append(b, body...)
	}
	if _, err := w.Write(b); err != nil {
		return fmt.Errorf("write MIDI: %w", err)
	}
	return nil
}
