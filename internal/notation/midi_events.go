package notation

import (
	"bytes"
	"encoding/binary"
	"fmt"
)

// midiFile is a Standard MIDI File taken apart: what a score needs of it.
type midiFile struct {
	format int
	tpq    int64 // ticks of a quarter
	tracks []midiTrack
}

type midiTrack struct {
	name   string
	notes  []midiNote
	metas  []midiMeta // tempo, time and key signatures
	prog   [16]int    // first program of each channel, from 1; 0 none
	length int64      // in ticks
}

type midiNote struct {
	on, off  int64 // ticks
	channel  int   // from 0
	key, vel int
}

type midiMeta struct {
	at   int64
	kind byte
	data []byte
}

const (
	metaTrackName = 0x03
	metaEnd       = 0x2F
	metaTempo     = 0x51
	metaTime      = 0x58
	metaKey       = 0x59
)

// maxTick keeps times far inside 64 bits: 2⁴⁰ ticks are a year at the finest division.
const maxTick = 1 << 40

// isRMID recognises a MIDI file in a RIFF wrapper.
func isRMID(data []byte) bool {
	return len(data) > 20 && string(data[:4]) == "RIFF" && string(data[8:12]) == "RMID"
}

func midiError(say string, args ...any) error {
	return illFormed(0, "", "as a MIDI file it is broken: "+fmt.Sprintf(say, args...), nil)
}

// parseMIDI reads the chunks and events of Standard MIDI Files 1.0, formats 0 and 1.
func parseMIDI(data []byte, lim Limits, p *pardons) (*midiFile, error) {
	if isRMID(data) {
		i := bytes.Index(data[:min(len(data), 4096)], []byte("MThd"))
		if i < 0 {
			return nil, midiError("its wrapper holds no MIDI data")
		}
		data = data[i:]
	}
	if len(data) < 14 {
		return nil, midiError("it ends within its first lines")
	}
	size := binary.BigEndian.Uint32(data[4:8])
	if size < 6 || uint64(size) > uint64(len(data)-8) {
		return nil, midiError("its header says %d bytes, where 6 are due and %d follow", size, len(data)-8)
	}
	f := &midiFile{format: int(binary.BigEndian.Uint16(data[8:10]))}
	declared := int(binary.BigEndian.Uint16(data[10:12]))
	if err := f.division(binary.BigEndian.Uint16(data[12:14]), p); err != nil {
		return nil, err
	}
	switch {
	case f.format == 2:
		return nil, &ReadError{Kind: NotAScore, Err: ErrNotAScore, Say: "this MIDI file holds several pieces (format 2); save the piece as format 0 or 1"}
	case f.format > 2:
		return nil, midiError("its format is %d, where 0 and 1 are known", f.format)
	}
	rest := data[8+size:]
	events := 0
	for len(rest) >= 8 {
		kind, n := string(rest[:4]), uint64(binary.BigEndian.Uint32(rest[4:8]))
		if n > uint64(len(rest)-8) {
			return nil, midiError("track %d says that it has %d bytes, and %d follow", len(f.tracks)+1, n, len(rest)-8)
		}
		body := rest[8 : 8+n]
		rest = rest[8+n:]
		if kind != "MTrk" {
			continue // chunks that are not known are passed over, as the standard asks
		}
		t, err := parseTrack(body, len(f.tracks)+1, lim, &events, p)
		if err != nil {
			return nil, err
		}
		f.tracks = append(f.tracks, *t)
	}
	if len(rest) > 0 {
		p.add(0, "", "a few bytes follow the last track; they were left out")
	}
	if len(f.tracks) == 0 {
		return nil, midiError("it has no track")
	}
	if declared != len(f.tracks) {
		p.add(0, "", fmt.Sprintf("the file says %d tracks and has %d", declared, len(f.tracks)))
	}
	return f, nil
}

func (f *midiFile) division(d uint16, p *pardons) error {
	if d&0x8000 == 0 {
		f.tpq = int64(d)
	} else { // frames a second, ticks a frame: no beats in it, so that 120 a minute is as good as any
		fps := -int64(int8(d >> 8))
		if fps == 29 {
			fps = 30
		}
		f.tpq = fps * int64(d&0xFF) / 2
		p.add(0, "", "the file counts in seconds, not in beats; it was read at 120 quarters a minute")
	}
	if f.tpq <= 0 {
		return midiError("a quarter has no ticks")
	}
	return nil
}

// trackCursor reads the bytes of one track.
type trackCursor struct {
	b     []byte
	at    int
	track int
}

func (c *trackCursor) byte() (byte, error) {
	if c.at >= len(c.b) {
		return 0, midiError("track %d ends in the middle of an event", c.track)
	}
	c.at++
	return c.b[c.at-1], nil
}

// length is a variable-length quantity: seven bits a byte, at most four bytes.
func (c *trackCursor) length() (int64, error) {
	var v int64
	for range 4 {
		b, err := c.byte()
		if err != nil {
			return 0, err
		}
		v = v<<7 | int64(b&0x7F)
		if b&0x80 == 0 {
			return v, nil
		}
	}
	return 0, midiError("a number in track %d is longer than four bytes", c.track)
}

func (c *trackCursor) bytes(n int64) ([]byte, error) {
	if n > int64(len(c.b)-c.at) {
		return nil, midiError("an event of track %d says that it has %d bytes, and %d follow", c.track, n, len(c.b)-c.at)
	}
	c.at += int(n)
	return c.b[c.at-int(n) : c.at], nil
}

// appendLength writes a variable-length quantity; v is at most 0x0FFFFFFF.
func appendLength(dst []byte, v int64) []byte {
	for shift := 21; shift > 0; shift -= 7 {
		if v >= 1<<shift {
			dst = append(dst, byte(v>>shift)|0x80)
		}
	}
	return append(dst, byte(v&0x7F))
}

// parseTrack reads the events of one track.
func parseTrack(body []byte, number int, lim Limits, events *int, p *pardons) (*midiTrack, error) {
	c := &trackCursor{b: body, track: number}
	t := &midiTrack{}
	sounding := map[int][]int{} // channel and key to indices of notes that have no end yet
	var now int64
	var status byte
	ended := false
	for c.at < len(body) && !ended {
		if *events++; *events > lim.Elements {
			return nil, tooLarge("it has more than %d MIDI events", lim.Elements)
		}
		delta, err := c.length()
		if err != nil {
			return nil, err
		}
		if now += delta; now > maxTick {
			return nil, midiError("track %d lasts impossibly long", number)
		}
		b, err := c.byte()
		if err != nil {
			return nil, err
		}
		if b < 0x80 { // running status
			if status < 0x80 {
				return nil, midiError("an event of track %d has no status byte", number)
			}
			c.at--
		} else {
			status = b
		}
		switch {
		case status == 0xFF:
			ended, err = t.meta(c, now)
			status = 0
		case status == 0xF0 || status == 0xF7:
			var n int64
			if n, err = c.length(); err == nil {
				_, err = c.bytes(n)
			}
			status = 0
		case status >= 0xF0:
			return nil, midiError("track %d holds a message that belongs on a cable (%#x), not in a file", number, status)
		default:
			err = t.message(c, status, now, sounding, lim)
		}
		if err != nil {
			return nil, err
		}
	}
	if !ended {
		p.add(0, "", "a track has no end mark")
	}
	t.length = now
	for _, open := range sounding {
		for _, i := range open {
			t.notes[i].off = now
			p.add(0, "", "a note is never released; it was held to the end of its track")
		}
	}
	return t, nil
}

func (t *midiTrack) meta(c *trackCursor, now int64) (ended bool, err error) {
	kind, err := c.byte()
	if err != nil {
		return false, err
	}
	n, err := c.length()
	if err != nil {
		return false, err
	}
	data, err := c.bytes(n)
	if err != nil {
		return false, err
	}
	switch kind {
	case metaEnd:
		return true, nil
	case metaTrackName:
		if t.name == "" {
			t.name = midiText(data)
		}
	case metaTempo, metaTime, metaKey:
		if len(t.metas) >= maxAttributes {
			return false, tooLarge("it changes tempo, time or key more than %d times", maxAttributes)
		}
		t.metas = append(t.metas, midiMeta{now, kind, data})
	}
	return false, nil
}

func (t *midiTrack) message(c *trackCursor, status byte, now int64, sounding map[int][]int, lim Limits) error {
	kind, ch := status&0xF0, int(status&0x0F)
	n := int64(2)
	if kind == 0xC0 || kind == 0xD0 {
		n = 1
	}
	d, err := c.bytes(n)
	if err != nil {
		return err
	}
	for _, b := range d {
		if b >= 0x80 {
			return midiError("an event of track %d has a data byte of %d", c.track, b)
		}
	}
	switch {
	case kind == 0xC0 && t.prog[ch] == 0:
		t.prog[ch] = int(d[0]) + 1
	case kind == 0x90 && d[1] > 0:
		if len(t.notes) >= lim.Notes {
			return tooLarge("it has more than %d notes", lim.Notes)
		}
		k := ch<<7 | int(d[0])
		sounding[k] = append(sounding[k], len(t.notes))
		t.notes = append(t.notes, midiNote{on: now, off: now, channel: ch, key: int(d[0]), vel: int(d[1])})
	case kind == 0x80 || kind == 0x90:
		k := ch<<7 | int(d[0])
		if open := sounding[k]; len(open) > 0 { // the one that began first ends first
			t.notes[open[0]].off = now
			sounding[k] = open[1:]
		}
	}
	return nil
}
