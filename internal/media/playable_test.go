package media

import (
	"bytes"
	"errors"
	"math"
	"os"
	"path/filepath"
	"testing"
)

// TestPlayableKeepsTime: what the page plays lies on the take it was made from, whose times are
// checked against the WAV elsewhere.
func TestPlayableKeepsTime(t *testing.T) {
	dir := t.TempDir()
	starts := []float64{0.05, 0.7123, 1.5, 2.9456}
	take, _ := decoded(t, wav(t, filepath.Join(dir, "take.wav"), 44100, strokes(44100, 4, starts...)))
	b, err := Playable(t.Context(), take)
	if err != nil {
		t.Fatal(err)
	}
	moov, mdat := bytes.Index(b, []byte("moov")), bytes.Index(b, []byte("mdat"))
	if string(b[4:8]) != "ftyp" || moov < 0 || moov > mdat {
		t.Errorf("no MP4 with its table in front: %q, moov at %d, mdat at %d", b[4:8], moov, mdat)
	}
	page := write(t, filepath.Join(dir, "page.m4a"), string(b))
	back, info := decoded(t, page)
	if info.Codec != "aac" || math.Abs(back.Seconds()-4) > 0.001 {
		t.Errorf("%s of %.4f s", info.Codec, back.Seconds())
	}
	for _, s := range starts {
		if lag, like := lagS(back.Samples, take.Samples, s); !(math.Abs(lag) < 0.0005) || like < 0.5 {
			t.Errorf("the note at %.3f s is %.2f ms off (likeness %.2f)", s, lag*1000, like)
		}
	}
	again, err := Playable(t.Context(), take)
	if err != nil || !bytes.Equal(again, b) {
		t.Errorf("the same take gives another file: %v", err)
	}
}

func TestPlayableLeavesNothing(t *testing.T) {
	tmp := t.TempDir()
	t.Setenv("TMPDIR", tmp)
	if _, err := Playable(t.Context(), PCM{Samples: make([]float32, 22050), RateHz: 22050}); err != nil {
		t.Fatal(err)
	}
	_, err := Playable(t.Context(), PCM{})
	if me, ok := errors.AsType[*Error](err); !ok || me.Kind != NoSound {
		t.Error(err)
	}
	if left, err := os.ReadDir(tmp); err != nil || len(left) > 0 {
		t.Errorf("left behind: %v, %v", left, err)
	}
}
