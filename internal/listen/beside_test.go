package listen

import (
	"bytes"
	"encoding/json"
	"fmt"
	"math"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"testing"

	"antiphon/internal/ear"
	"antiphon/internal/media"
	"antiphon/internal/music"
	"antiphon/internal/notation"
	"antiphon/internal/rehearse"
	"antiphon/internal/report"
	"antiphon/internal/sound"
	"antiphon/internal/studio"
)

// Tunes for two: rounds that are traditional, written down from memory, and an own piece in two parts.
const (
	blindMice = "X:1\nT:Three Blind Mice\nM:6/8\nL:1/8\nQ:3/8=48\nK:G\nB3A3|G6|B3A3|G6|d3c2c|B6|d3c2c|B3-B2d|ggf efg|d2d d2d|ggg fed|g3-g2d|ggf efg|d3 d2c|B3A3|G6|]\n"
	tallis    = "X:1\nT:Canon\nM:4/4\nL:1/4\nQ:1/4=76\nK:G\nz3G|GFGG|AABB|ccBB|AAGd|ccBB|AABB|ccBd|G3z|]\n"
	twoVoices = "X:1\nT:For two\nM:4/4\nL:1/4\nQ:1/4=80\nK:C\nV:1\nc d e f|g2 e2|f e d c|B2 d2|e f g a|g2 e2|d c B A|c4|]\nV:2\nC2 G,2|E, C, E, G,|A,2 F,2|G,4|C2 A,2|G,2 C2|F,2 G,2|C,4|]\n"
)

// duet is a take of a child with a partner.
type duet struct {
	name, abc string
	with      studio.Partner
	child     string // part of the score that the child plays; "" all
	manner    func(*rehearse.Manner)
	partnerDb float64 // of the partner in the recording, against the child
	toBar     int     // after which the child stops; 0 never
	again     int     // bar that it goes back to then; 0 none
}

// recorded plays both, and mixes them as a phone hears them.
func (d duet) recorded(t *testing.T, k *kit, seed uint64) (media.PCM, *music.Score, rehearse.Piece, rehearse.Truth) {
	t.Helper()
	score, _, err := notation.Read(strings.NewReader(d.abc), "tune.abc", notation.Limits{})
	if err != nil {
		t.Fatal(err)
	}
	own, _ := alone(t.Context(), score, d.with)
	piece, err := rehearse.FromScore(fmt.Sprintf("%s-%d", d.name, seed), own)
	if err != nil {
		t.Fatal(err)
	}
	last := piece.Bars[len(piece.Bars)-1]
	spec := rehearse.Spec{ID: fmt.Sprintf("%s-%d", d.name, seed), Seed: seed, Piece: piece, Sources: []string{"own-nylon"},
		Legs:   []rehearse.Leg{{ToTick: last.At + last.Ticks, Ratio: 1}},
		Manner: rehearse.Manner{Tempo: 1, Drift: 0.004, JitterS: 0.018, SpreadDb: 2, LeadInS: 1.1, RollS: [2]float64{0.004, 0.02}}, Tuning: rehearse.Tuning{A4Hz: 441.5},
		Noises: rehearse.Noises{HissDb: -55, HumDb: -200, FanDb: -200}, Phone: rehearse.Phone{LowHz: 80, HighHz: 12000, Peak: 0.5, SecondChannelDb: -200},
		Codec: rehearse.Codec{Ext: "wav", Args: []string{"-c:a", "pcm_s16le"}}}
	if d.toBar > 0 {
		spec.Legs[0].ToTick = piece.Bars[d.toBar].At
		if d.again > 0 {
			spec.Legs = append(spec.Legs, rehearse.Leg{FromTick: piece.Bars[d.again-1].At, ToTick: last.At + last.Ticks, Jump: "restart", GapS: 0.6, Ratio: 1})
		}
	}
	if d.manner != nil {
		d.manner(&spec.Manner)
	}
	dir := filepath.Join(k.dir, spec.ID)
	truth, err := rehearse.Render(spec, k.banks, dir)
	if err != nil {
		t.Fatal(err)
	}
	take := filepath.Join(dir, "takes", truth.Audio)
	opt := sound.Options{Guitar: sound.Strings, Bars: &sound.Loop{}}
	if d.with.Part != "" {
		opt.Solo = []string{d.with.Part}
	}
	partner, err := sound.Render(t.Context(), score, opt)
	if err != nil {
		t.Fatal(err)
	}
	quarterS := 60 / piece.Bpm
	startS := truth.Beats[0][2] - truth.Beats[0][0]*quarterS
	if d.with.Kind == studio.Round {
		after := d.with.AfterBars
		startS += score.Bars[after].Start.Q() * quarterS
	}
	var wav bytes.Buffer
	if err := partner.Write(t.Context(), &wav, sound.WAV); err != nil {
		t.Fatal(err)
	}
	second := filepath.Join(dir, "partner.wav")
	if err := os.WriteFile(second, wav.Bytes(), 0o600); err != nil {
		t.Fatal(err)
	}
	lead := float64(partner.Rungs[0].Start) / sound.RateHz
	mixed := filepath.Join(dir, "mixed.m4a")
	k.ffmpeg("-i", take, "-i", second, "-filter_complex", // a small loudspeaker, and the way through a room
		fmt.Sprintf("[1:a]highpass=f=250,lowpass=f=7000,aecho=0.8:0.5:23|41:0.25|0.15,volume=%fdB,adelay=%d:all=1[b];[0:a][b]amix=inputs=2:duration=longest:normalize=0", d.partnerDb, int(math.Round(1000*(startS-lead)))),
		"-c:a", "aac", "-b:a", "96k", mixed)
	return k.pcm(mixed), score, piece, truth
}

// marks of a hearing against what the child played.
func marksOf(t *testing.T, h *ear.Hearing, score *music.Score, piece rehearse.Piece, truth rehearse.Truth) rehearse.Marks {
	t.Helper()
	var doc bytes.Buffer
	if err := (report.Report{Hearing: h, Score: score}).JSON(&doc); err != nil {
		t.Fatal(err)
	}
	var r rehearse.Report
	if err := json.Unmarshal(doc.Bytes(), &r); err != nil {
		t.Fatal(err)
	}
	return rehearse.Judge(truth, piece, r)
}

func f1(c rehearse.Counts) float64 {
	if c.True+c.Reported == 0 {
		return 1
	}
	return 2 * float64(c.Found) / float64(c.True+c.Reported)
}

// TestBesideAPartner hears children beside the tool's part from a loudspeaker, with and without being told of
// it, and asks that being told is worth it: the child's notes are found, and the partner's are nobody's fault.
func TestBesideAPartner(t *testing.T) {
	k := newKit(t)
	mistakes := func(m *rehearse.Manner) { m.Wrong, m.Missed = 0.05, 0.05 }
	round2 := studio.Partner{Second: studio.Second{Kind: studio.Round, AfterBars: 2, Who: studio.ByTool}, Speaker: true}
	round1 := studio.Partner{Second: studio.Second{Kind: studio.Round, AfterBars: 1, Who: studio.ByTool}, Speaker: true}
	part := studio.Partner{Second: studio.Second{Kind: studio.SecondPart, Part: "2", Who: studio.ByTool}, Speaker: true}
	all := os.Getenv("ANTIPHON_ALL_DUETS") != "" // the figures in docs/measured.md; minutes
	var told, plain rehearse.Marks
	for i, d := range []duet{
		{"mice", blindMice, round2, "", nil, -4, 0, 0}, {"mice-mistakes", blindMice, round2, "", mistakes, -4, 0, 0}, {"mice-loud", blindMice, round2, "", mistakes, 3, 0, 0},
		{"canon", tallis, round1, "", nil, -4, 0, 0}, {"canon-mistakes", tallis, round1, "", mistakes, -4, 0, 0}, {"parts", twoVoices, part, "1", nil, -4, 0, 0}, {"parts-mistakes", twoVoices, part, "1", mistakes, -2, 0, 0},
		{"mice-stops", blindMice, round2, "", nil, -4, 9, 0}, {"mice-again", blindMice, round2, "", nil, -4, 6, 5}, {"parts-stops", twoVoices, part, "1", nil, -4, 5, 0},
	} {
		for seed := uint64(1); seed <= 2; seed++ {
			if !all && (seed > 1 || !slices.Contains([]int{1, 3, 6, 9}, i)) {
				continue
			}
			pcm, score, piece, truth := d.recorded(t, k, seed)
			l, err := ear.Listen(t.Context(), pcm, nil)
			if err != nil {
				t.Fatal(err)
			}
			m := studio.Material{Take: studio.Take{With: d.with}}
			h, _, err := withPartner(t.Context(), l, score, m, nil)
			if err != nil {
				t.Fatal(err)
			}
			own, at := alone(t.Context(), score, d.with)
			without, _, err := against(t.Context(), l, own, "", "", nil)
			if err != nil {
				t.Fatal(err)
			}
			lift(without, score, at)
			if c := lostPlace(h, d.with); (c.Say != "") != (d.again > 0) {
				t.Errorf("%s: %+v after %+v", truth.ID, c, h.Jumps)
			}
			a, b := marksOf(t, h, score, piece, truth), marksOf(t, without, score, piece, truth)
			t.Logf("%-16s told: F1 %.3f, errors found %d of %d, said %d, passes %d; not told: F1 %.3f, errors found %d of %d, said %d", truth.ID,
				f1(a.Notes50), a.Errors().Found, a.Errors().True, a.Errors().Reported, len(h.Passes), f1(b.Notes50), b.Errors().Found, b.Errors().True, b.Errors().Reported)
			told.Add(a)
			plain.Add(b)
			for _, n := range h.Played {
				if n.Note >= len(score.Sounding()) || len(at) > 0 && n.Note >= 0 && h.Score[n.Note].Part != h.Score[at[0]].Part {
					t.Errorf("%s: a note of the partner's is told", truth.ID)
				}
			}
		}
	}
	t.Logf("told: F1 %.4f, false reports %d; not told: F1 %.4f, false reports %d", f1(told.Notes50), told.Errors().Reported-told.Errors().Found, f1(plain.Notes50), plain.Errors().Reported-plain.Errors().Found)
	if got, was := f1(told.Notes50), f1(plain.Notes50); !all && (got < 0.95 || got < was+0.2) {
		t.Errorf("told of the partner F1 is %.3f, not told %.3f", got, was)
	}
	if false1 := told.Errors().Reported - told.Errors().Found; !all && false1 > 2 {
		t.Errorf("%d mistakes are told that nobody made", false1)
	}
}

// TestPairs: what the ear is given for two players.
func TestPairs(t *testing.T) {
	read := func(abc string) *music.Score {
		s, _, err := notation.Read(strings.NewReader(abc), "tune.abc", notation.Limits{})
		if err != nil {
			t.Fatal(err)
		}
		return s
	}
	partner := func(kind string, after int, part string) studio.Partner {
		return studio.Partner{Second: studio.Second{Kind: kind, AfterBars: after, Part: part, Who: studio.ByTool}, Speaker: true}
	}
	for _, c := range []struct {
		name, abc    string
		with         studio.Partner
		child, other int // notes
		bars         int
		laterQ       float64
	}{
		{"round", "X:1\nM:4/4\nL:1/4\nK:G\nGABc|d4|G2 [GB]2|\n", partner(studio.Round, 2, ""), 8, 8, 5, 8},
		{"a round with a pickup", "X:1\nM:4/4\nL:1/4\nK:G\nD|GABc|d4|G3|]\n", partner(studio.Round, 1, ""), 7, 7, 5, 5},
		{"two parts", twoVoices, partner(studio.SecondPart, 0, "2"), 23, 16, 8, 0},
	} {
		s := read(c.abc)
		p, ok := pairOf(t.Context(), s, c.with)
		if !ok {
			t.Errorf("%s: no pair", c.name)
			continue
		}
		child, other := 0, 0
		notes := p.score.Sounding()
		var first, second music.Sounding
		for i, n := range notes {
			if p.child[i] >= 0 {
				if was := s.Sounding()[p.child[i]]; was.Midi != n.Midi || was.Onset.Cmp(n.Onset) != 0 {
					t.Errorf("%s: note %d is %v, was %v", c.name, i, n, was)
				}
				if child++; child == 1 {
					first = n
				}
			} else if other++; other == 1 {
				second = n
			}
		}
		if child != c.child || other != c.other || len(p.score.Bars) != c.bars || c.laterQ > 0 && second.Onset.Sub(first.Onset).Q() != c.laterQ {
			t.Errorf("%s: %d and %d notes in %d bars, %v quarters later", c.name, child, other, len(p.score.Bars), second.Onset.Sub(first.Onset).Q())
		}
	}
	for name, c := range map[string]struct {
		abc  string
		with studio.Partner
	}{
		"a round over repeats": {"X:1\nM:4/4\nL:1/4\nK:G\n|:GABc:|d4|]\n", partner(studio.Round, 1, "")}, "after the end": {"X:1\nM:4/4\nL:1/4\nK:G\nGABc|]\n", partner(studio.Round, 1, "")},
		"a part that is not there": {twoVoices, partner(studio.SecondPart, 0, "oboe")}, "no part is named": {twoVoices, partner(studio.SecondPart, 0, "")}, "nobody": {twoVoices, studio.Partner{}},
	} {
		if _, ok := pairOf(t.Context(), read(c.abc), c.with); ok {
			t.Errorf("%s: a pair", name)
		}
	}
	if own, at := alone(t.Context(), read(twoVoices), partner(studio.SecondPart, 0, "2")); len(own.Sounding()) != 23 || len(at) != 23 {
		t.Errorf("alone there are %d notes, at %v", len(own.Sounding()), at)
	}
	for want, p := range map[bool]studio.Partner{true: partner(studio.Round, 1, ""), false: {Second: studio.Second{Kind: studio.Round, Who: studio.ByTool}}} {
		if inside(p) != want {
			t.Errorf("%+v is in the recording: %v", p, !want)
		}
	}
	if !inside(studio.Partner{Second: studio.Second{Kind: studio.Round, Who: studio.ByParent}}) {
		t.Error("a parent beside the child is not in the recording")
	}
}
