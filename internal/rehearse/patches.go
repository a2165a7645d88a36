package rehearse

import (
	"encoding/binary"
	"errors"
	"fmt"
	"math"
	"os"
)

// A patch in the format of the Gravis Ultrasound: a head, one instrument with one layer, and recorded notes,
// each with a head of its own. Little-endian; the sizes are those of the format, version 1.10.
const (
	patchMagic     = "GF1PATCH110\x00"
	patchHead      = 129 + 63 // of the file and of the instrument
	patchLayer     = 47
	patchLayerSize = 6  // where the number of notes stands in the layer
	patchNote      = 96 // head of a note; in it:
	patchBytes     = 8
	patchRate      = 20
	patchRoot      = 30 // thousandths of a hertz
	patchMode      = 55
	patch16bit     = 1
	patchUnsigned  = 2
)

var errPatch = errors.New("not a patch of recorded 16-bit notes")

// loadPatch reads the notes of a patch, each tuned to its nearest semitone. Loops are left alone: the notes
// are as long as they were recorded.
func loadPatch(s bankSource) (*Bank, error) {
	data, err := os.ReadFile(s.patch)
	if err != nil {
		return nil, fmt.Errorf("%w: apt-get install freepats", err)
	}
	if len(data) < patchHead+patchLayer || string(data[:len(patchMagic)]) != patchMagic {
		return nil, fmt.Errorf("%s: %w", s.patch, errPatch)
	}
	bank := &Bank{Name: s.name}
	notes, rest := int(data[patchHead+patchLayerSize]), data[patchHead+patchLayer:]
	for range notes {
		if len(rest) < patchNote {
			return nil, fmt.Errorf("%s ends within its notes: %w", s.patch, errPatch)
		}
		head := rest[:patchNote]
		size := int(binary.LittleEndian.Uint32(head[patchBytes:]))
		if mode := head[patchMode]; mode&patch16bit == 0 || mode&patchUnsigned != 0 || size > len(rest)-patchNote ||
			binary.LittleEndian.Uint16(head[patchRate:]) == 0 || binary.LittleEndian.Uint32(head[patchRoot:]) == 0 {
			return nil, fmt.Errorf("%s: %w", s.patch, errPatch)
		}
		raw := int16s(rest[patchNote : patchNote+size])
		rest = rest[patchNote+size:]
		midi := 69 + 12*math.Log2(float64(binary.LittleEndian.Uint32(head[patchRoot:]))/1000/440)
		step := float64(binary.LittleEndian.Uint16(head[patchRate:])) / RateHz * math.Exp2((math.Round(midi)-midi)/12)
		pcm := make([]int16, int(float64(len(raw))/step))
		for i := range pcm {
			pcm[i] = int16(clamp(cubic(raw, float64(i)*step), 32767))
		}
		bank.samples = append(bank.samples, sample{pcm, firstRise(pcm), int(math.Round(midi)), 84})
	}
	return bank, nil
}
