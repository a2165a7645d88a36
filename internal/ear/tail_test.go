package ear

import (
	"context"
	"testing"

	"antiphon/internal/media"
	"antiphon/internal/music"
)

// The line with its last note held for two seconds.
func heldAtTheEnd() *music.Score {
	s := scale(line...)
	s.Parts[0].Notes[len(line)-1].Duration = music.Quarters(3, 1)
	return s
}

func mistakes(h *Hearing) (wrong, extra []Played) {
	for _, p := range h.Played {
		switch p.Verdict {
		case Wrong:
			wrong = append(wrong, p)
		case Extra:
			extra = append(extra, p)
		}
	}
	return wrong, extra
}

// An open string brushed while the last note is held is an extra note.
func TestAnExtraNoteAfterTheLast(t *testing.T) {
	pcm := take(440, line)
	at := 1 + 0.75*float64(len(line)-1) + 0.9
	pcm.Samples = append(pcm.Samples, make([]float32, 2*RateHz)...)
	plucked(pcm.Samples, music.Hz(55, 440), at)
	h, err := Hear(context.Background(), pcm, heldAtTheEnd(), Options{})
	if err != nil {
		t.Fatal(err)
	}
	wrong, extra := mistakes(h)
	if len(wrong) != 0 || len(h.Missed) != 0 || len(extra) != 1 || extra[0].Midi != 55 || extra[0].OnsetS < at-0.03 || extra[0].OnsetS > at+0.03 {
		t.Errorf("wrong %+v, extra %+v, missed %+v; want one extra G at %.2f s", wrong, extra, h.Missed, at)
	}
}

// A stretch that ends on a wrong note ends there, not a note before; a last note that does not come was missed,
// unless the recording ends first.
func TestTheLastNoteIsWeighedToo(t *testing.T) {
	last := len(line) - 1
	played := append(append([]int{}, line[:last]...), 63)
	h, err := Hear(context.Background(), take(440, played), scale(line...), Options{})
	if err != nil {
		t.Fatal(err)
	}
	if wrong, extra := mistakes(h); len(wrong) != 1 || wrong[0].Note != last || wrong[0].Midi != 63 || len(extra) != 0 || len(h.Missed) != 0 {
		t.Errorf("wrong %+v, extra %+v, missed %+v; want the last note wrong", wrong, extra, h.Missed)
	}
	broken := append(append([]int{}, line[:9]...), 61)
	pcm := take(440, append(broken, line...)) // breaks off on a wrong note and begins again
	if h, err = Hear(context.Background(), pcm, scale(line...), Options{}); err != nil {
		t.Fatal(err)
	}
	if wrong, extra := mistakes(h); len(wrong) != 1 || wrong[0].Note != 9 || wrong[0].Midi != 61 || len(extra) != 0 || len(h.Missed) != 0 || len(h.Jumps) != 1 {
		t.Errorf("wrong %+v, extra %+v, missed %+v, jumps %+v; want note 9 wrong and one restart", wrong, extra, h.Missed, h.Jumps)
	}
	short := take(440, line[:last])
	short.Samples = append(short.Samples, make([]float32, RateHz)...)
	if h, err = Hear(context.Background(), short, scale(line...), Options{}); err != nil {
		t.Fatal(err)
	}
	if len(h.Missed) != 1 || h.Missed[0].Note != last {
		t.Errorf("missed %+v, want the last note", h.Missed)
	}
	cut := media.PCM{Samples: short.Samples[:int((1+0.75*float64(last)+0.1)*RateHz)], RateHz: RateHz}
	if h, err = Hear(context.Background(), cut, scale(line...), Options{}); err != nil {
		t.Fatal(err)
	}
	if len(h.Missed) != 0 {
		t.Errorf("cut off before the last note: missed %+v, want none", h.Missed)
	}
}
