package listen

import (
	"context"
	"os"
	"os/exec"
	"path/filepath"
	"testing"

	"antiphon/internal/media"
	"antiphon/internal/rehearse"
)

// kit makes takes for the tests: invented pieces on a modelled guitar, or on recorded notes.
type kit struct {
	t     testing.TB
	dir   string
	banks *rehearse.Banks
	specs []rehearse.Spec
	n     int
}

func newKit(t testing.TB) *kit {
	t.Helper()
	specs, err := rehearse.Draw(rehearse.Recipe{Name: "kit", Seed: 11, Takes: 60, Nylon: []string{"own-nylon"}, Steel: []string{"own-steel"}})
	if err != nil {
		t.Fatal(err)
	}
	seen := map[string]bool{}
	k := &kit{t: t, dir: t.TempDir()}
	for _, s := range specs {
		if !seen[s.Piece.Name] {
			seen[s.Piece.Name] = true
			k.specs = append(k.specs, s)
		}
	}
	k.banks = &rehearse.Banks{Cache: filepath.Join(os.TempDir(), "antiphon-test-notes")}
	return k
}

func (k *kit) piece(n int) rehearse.Piece { return k.specs[n%len(k.specs)].Piece }

// steadyHand plays like somebody with a metronome: two takes differ as little as two takes can.
func steadyHand() rehearse.Manner {
	return rehearse.Manner{Tempo: 1, Drift: 0.003, JitterS: 0.006, SpreadDb: 1, LeadInS: 0.8, RollS: [2]float64{0.004, 0.02}}
}

// take plays a piece from beginning to end into a WAV file.
func (k *kit) take(p rehearse.Piece, source string, seed uint64, hand func() rehearse.Manner, change ...func(*rehearse.Spec)) string {
	k.t.Helper()
	k.n++
	last := p.Bars[len(p.Bars)-1]
	s := rehearse.Spec{ID: filepath.Base(k.dir) + "-" + string(rune('a'+k.n%26)) + p.Name, Seed: seed, Piece: p, Sources: []string{source},
		Legs: []rehearse.Leg{{ToTick: last.At + last.Ticks, Ratio: 1}}, Manner: hand(), Tuning: rehearse.Tuning{A4Hz: 440},
		Noises: rehearse.Noises{HissDb: -55, HumDb: -200, FanDb: -200}, Phone: rehearse.Phone{LowHz: 80, HighHz: 12000, Peak: 0.6, SecondChannelDb: -200},
		Codec: rehearse.Codec{Ext: "wav", Args: []string{"-c:a", "pcm_s16le"}}}
	for _, c := range change {
		c(&s)
	}
	dir := filepath.Join(k.dir, s.ID+"-"+source+"-"+string(rune('0'+seed)))
	truth, err := rehearse.Render(s, k.banks, dir)
	if err != nil {
		k.t.Fatal(err)
	}
	return filepath.Join(dir, "takes", truth.Audio)
}

var encodings = map[string][]string{
	"aac":  {".m4a", "-af", "volume=-7dB", "-c:a", "aac", "-b:a", "64k"},
	"mp3":  {".mp3", "-ss", "0.137", "-c:a", "libmp3lame", "-b:a", "96k"},
	"opus": {".webm", "-af", "adelay=1234", "-c:a", "libopus", "-b:a", "24k"},
}

// encoded is the same sound in another file.
func (k *kit) encoded(path, as string) string {
	k.t.Helper()
	e := encodings[as]
	out := path + e[0]
	k.ffmpeg(append(append([]string{"-i", path}, e[1:]...), out)...)
	return out
}

func (k *kit) ffmpeg(args ...string) {
	k.t.Helper()
	if out, err := exec.Command("ffmpeg", append([]string{"-nostdin", "-v", "error", "-y"}, args...)...).CombinedOutput(); err != nil {
		k.t.Fatalf("ffmpeg %q: %v\n%s", args, err, out)
	}
}

func (k *kit) pcm(path string) media.PCM {
	k.t.Helper()
	pcm, _, err := media.Decode(context.Background(), path, media.Options{})
	if err != nil {
		k.t.Fatal(err)
	}
	return pcm
}

func (k *kit) print(path string) []byte {
	k.t.Helper()
	b, err := Print(k.pcm(path))
	if err != nil {
		k.t.Fatal(err)
	}
	return b
}
