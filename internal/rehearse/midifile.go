package rehearse

import (
	"encoding/binary"
	"math"
	"sort"
)

// midiEvent is one channel message at a time in seconds.
type midiEvent struct {
	atS       float64
	status    byte
	key, data int
}

// midiFile writes one track of events on channel 1 at 960 ticks a second, for FluidSynth.
func midiFile(program int, events []midiEvent) []byte {
	sort.SliceStable(events, func(i, j int) bool { return events[i].atS < events[j].atS })
	track := []byte{0, 0xff, 0x51, 3, 0x07, 0xa1, 0x20, 0, 0xc0, byte(program)}
	last := 0
	for _, e := range events {
		tick := int(math.Round(e.atS * 960))
		track = append(track, variableLength(tick-last)...)
		track = append(track, e.status, byte(e.key), byte(e.data))
		last = tick
	}
	track = append(track, 0, 0xff, 0x2f, 0)
	out := []byte("MThd\x00\x00\x00\x06\x00\x00\x00\x01\x01\xe0MTrk") // 480 ticks a quarter at 120
	out = binary.BigEndian.AppendUint32(out, uint32(len(track)))
	return append(out, track...)
}

func variableLength(n int) []byte {
	out := []byte{byte(n & 0x7f)}
	for n >>= 7; n > 0; n >>= 7 {
		out = append([]byte{byte(n&0x7f) | 0x80}, out...)
	}
	return out
}
