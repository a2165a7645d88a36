package exercise

import (
	"bytes"
	"errors"
	"strings"
	"testing"

	"antiphon/internal/notation"
)

// FuzzPassage: from whatever score, each fault and variant gives a score that can be written, or one
// problem in words.
func FuzzPassage(f *testing.F) {
	f.Add(written1(f, study(f)), uint8(0))
	f.Add([]byte("X:1\nM:6/8\nL:1/8\nK:D\n|: d2f a2f | {g}[fA]3 (3efg e- | e6 :|\n"), uint8(3))
	f.Add([]byte("X:1\nM:3+2/8\nL:1/8\nK:Gm\nz B,2 ^c2 | !f!d5-|d5|\n"), uint8(7))
	f.Fuzz(func(t *testing.T, data []byte, which uint8) {
		s, _, err := notation.Read(bytes.NewReader(data), "f", notation.Limits{Bytes: 64 << 10, Notes: 300, Bars: 40})
		if err != nil || len(s.Bars) == 0 || len(s.Parts) == 0 {
			return
		}
		p := Passage{From: s.Bars[0].Number, To: s.Bars[min(2, len(s.Bars)-1)].Number}
		made := s
		if faults := Faults(); int(which)%(len(faults)+1) < len(faults) {
			fault, err := ReadFault(faults[int(which)%(len(faults)+1)])
			if err != nil {
				t.Fatal(err)
			}
			made, _, err = Practise(s, p, fault, Wishes{Names: "letters"})
			if err != nil {
				known(t, err)
				return
			}
		} else if made, err = Vary(s, p, []string{variantNames()[int(which)%len(variantNames())]}, Wishes{RightHand: "m i"}); err != nil {
			known(t, err)
			return
		}
		var b bytes.Buffer
		if err := notation.WriteMusicXML(&b, made); err != nil {
			t.Fatal(err)
		}
		if _, forgiven, err := notation.Read(&b, "f", notation.Limits{}); err != nil || len(forgiven) > 0 {
			t.Fatalf("what was written is not read again: %v %v", err, forgiven)
		}
	})
}

func known(t *testing.T, err error) {
	t.Helper()
	if p, ok := errors.AsType[*Problem](err); !ok || p.Say == "" || strings.Contains(p.Error(), "\n") {
		t.Fatalf("no problem in words: %v", err)
	}
}
