package rehearse

import (
	"encoding/binary"
	"errors"
	"math"
	"os"
	"path/filepath"
	"testing"
)

// patchOf is a patch with sines of the given frequencies, each half a second long.
func patchOf(rate int, mode byte, hz ...float64) []byte {
	data := make([]byte, patchHead+patchLayer)
	copy(data, patchMagic)
	data[patchHead+patchLayerSize] = byte(len(hz))
	for _, f := range hz {
		head := make([]byte, patchNote)
		binary.LittleEndian.PutUint32(head[patchBytes:], uint32(rate)) // two bytes a sample
		binary.LittleEndian.PutUint16(head[patchRate:], uint16(rate))
		binary.LittleEndian.PutUint32(head[patchRoot:], uint32(math.Round(1000*f)))
		head[patchMode] = mode
		data = append(data, head...)
		for i := range rate / 2 {
			data = binary.LittleEndian.AppendUint16(data, uint16(int16(20000*math.Sin(2*math.Pi*f*float64(i)/float64(rate)))))
		}
	}
	return data
}

// A note of a patch comes out at its nearest semitone and at our rate: counted by its zero crossings.
func TestPatchNotesAreInTune(t *testing.T) {
	path := filepath.Join(t.TempDir(), "x.pat")
	if err := os.WriteFile(path, patchOf(32000, patch16bit, 110, 450), 0o644); err != nil {
		t.Fatal(err)
	}
	bank, err := loadPatch(bankSource{name: "x", patch: path})
	if err != nil {
		t.Fatal(err)
	}
	if len(bank.samples) != 2 || bank.samples[0].midi != 45 || bank.samples[1].midi != 69 {
		t.Fatalf("%d notes, want A2 and, from a little above, A4", len(bank.samples))
	}
	for i, want := range []float64{110, 440} {
		pcm, rises := bank.samples[i].pcm, 0
		for k := 1; k < len(pcm); k++ {
			if pcm[k-1] < 0 && pcm[k] >= 0 {
				rises++
			}
		}
		if got := float64(rises) * RateHz / float64(len(pcm)); math.Abs(got-want) > 3 {
			t.Errorf("note %d sounds at %.0f Hz, want %.0f", i, got, want)
		}
	}
}

func TestOtherFilesAreNoPatches(t *testing.T) {
	good := patchOf(32000, patch16bit, 110)
	for name, data := range map[string][]byte{
		"empty": nil, "text": []byte("GF1PATCH100"), "cut off": good[:len(good)-8], "8 bits": patchOf(32000, 0, 110), "unsigned": patchOf(32000, patch16bit|patchUnsigned, 110),
		"no rate": patchOf(0, patch16bit, 110), "no pitch": patchOf(32000, patch16bit, 0),
		"no notes where some are told of": good[:patchHead+patchLayer],
	} {
		path := filepath.Join(t.TempDir(), "x.pat")
		if err := os.WriteFile(path, data, 0o644); err != nil {
			t.Fatal(err)
		}
		if _, err := loadPatch(bankSource{name: "x", patch: path}); !errors.Is(err, errPatch) {
			t.Errorf("%s: %v", name, err)
		}
	}
	if _, err := loadPatch(bankSource{name: "x", patch: filepath.Join(t.TempDir(), "none.pat")}); !errors.Is(err, os.ErrNotExist) {
		t.Errorf("no file: %v", err)
	}
}
