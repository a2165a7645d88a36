package media

import (
	"encoding/binary"
	"errors"
	"math"
)

// mixer takes little-endian float32 frames of one or two channels and keeps their mean. It holds
// the sound once: it starts with room for what the header claims and adds pieces where that was
// too little.
type mixer struct {
	channels int
	pieces   [][]float32
	frames   int
	limit    int
	rest     []byte // of a frame that was cut by the pipe
	sides    sides
	opt      Options
	totalS   float64
	told     int
}

var errTooLong = errors.New("longer than the limit")

const pieceFrames = 1 << 20

func newMixer(info Info, opt Options) *mixer {
	room := pieceFrames
	if info.ClaimedS > 0 {
		room = int((min(info.ClaimedS, opt.MaxDuration.Seconds()) + 0.2) * float64(opt.RateHz))
	}
	return &mixer{
		channels: min(info.Channels, 2),
		pieces:   [][]float32{make([]float32, 0, room)},
		limit:    int((opt.MaxDuration.Seconds() + 1) * float64(opt.RateHz)),
		opt:      opt, totalS: info.ClaimedS,
	}
}

func (m *mixer) seconds() float64 { return float64(m.frames) / float64(m.opt.RateHz) }

// Write is called from one goroutine.
func (m *mixer) Write(p []byte) (int, error) {
	n, size := len(p), 4*m.channels
	if len(m.rest) > 0 {
		need := size - len(m.rest)
		if len(p) < need {
			m.rest = append(m.rest, p...)
			return n, nil
		}
		m.add(append(m.rest, p[:need]...))
		p = p[need:]
	}
	whole := len(p) / size * size
	m.add(p[:whole])
	m.rest = append(m.rest[:0], p[whole:]...)
	if m.frames > m.limit {
		return 0, errTooLong
	}
	if m.opt.Progress != nil && m.frames-m.told > 10*m.opt.RateHz {
		m.told = m.frames
		m.opt.Progress(m.seconds(), m.totalS)
	}
	return n, nil
}

// add takes whole frames.
func (m *mixer) add(p []byte) {
	for size := 4 * m.channels; len(p) > 0; {
		last := &m.pieces[len(m.pieces)-1]
		room := cap(*last) - len(*last)
		if room == 0 {
			m.pieces = append(m.pieces, make([]float32, 0, pieceFrames))
			continue
		}
		n := min(room, len(p)/size)
		to := (*last)[len(*last) : len(*last)+n]
		if m.channels == 1 {
			for i := range to {
				to[i] = sample(p[4*i:])
			}
		} else {
			for i := range to {
				l, r := sample(p[8*i:]), sample(p[8*i+4:])
				to[i] = (l + r) / 2
				m.sides.add(l, r)
			}
		}
		*last = (*last)[:len(*last)+n]
		m.frames += n
		p = p[n*size:]
	}
}

// sample reads one sample; a damaged float file may hold infinities and worse.
func sample(p []byte) float32 {
	v := math.Float32frombits(binary.LittleEndian.Uint32(p))
	if v >= -8 && v <= 8 {
		return v
	}
	return 0
}

// take gives the samples away.
func (m *mixer) take() []float32 {
	if len(m.pieces) == 1 {
		return m.pieces[0]
	}
	all := make([]float32, 0, m.frames)
	for i, p := range m.pieces {
		all = append(all, p...)
		m.pieces[i] = nil
	}
	return all
}

// clipCounter counts 16-bit samples at full scale.
type clipCounter struct {
	clipped, all int
	odd          []byte
}

// fullScale is −0.1 dB: a lossy codec blurs flattened peaks by a little. Chosen, not measured.
const fullScale = 32393 // 32767 × 10^(−0.1/20)

// Write is called from one goroutine.
func (c *clipCounter) Write(p []byte) (int, error) {
	n := len(p)
	if len(c.odd) > 0 {
		c.count(append(c.odd, p[0]))
		p, c.odd = p[1:], c.odd[:0]
	}
	if len(p)%2 == 1 {
		c.odd = append(c.odd, p[len(p)-1])
		p = p[:len(p)-1]
	}
	c.count(p)
	return n, nil
}

func (c *clipCounter) count(p []byte) {
	for i := 0; i+1 < len(p); i += 2 {
		if v := int16(binary.LittleEndian.Uint16(p[i:])); v >= fullScale || v <= -fullScale {
			c.clipped++
		}
	}
	c.all += len(p) / 2
}

func (c *clipCounter) share() float64 {
	if c.all == 0 {
		return 0
	}
	return float64(c.clipped) / float64(c.all)
}
