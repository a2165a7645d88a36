package listen

import (
	"fmt"
	"math"
	"slices"
	"strings"
	"testing"

	"antiphon/internal/ear"
	"antiphon/internal/findings"
	"antiphon/internal/media"
	"antiphon/internal/music"
	"antiphon/internal/notation"
	"antiphon/internal/rehearse"
	"antiphon/internal/studio"
)

func (k *kit) score(p rehearse.Piece) *music.Score {
	k.t.Helper()
	s, _, err := notation.Read(strings.NewReader(p.MusicXML()), p.Name, notation.Limits{})
	if err != nil {
		k.t.Fatal(err)
	}
	return s
}

// look is the triage of one take of a piece, without a desk.
func (k *kit) look(path string, p rehearse.Piece) (scene, []studio.Concern) {
	k.t.Helper()
	pcm, info, err := media.Decode(k.t.Context(), path, media.Options{})
	if err != nil {
		k.t.Fatal(err)
	}
	s := scene{pcm: pcm, info: info, levels: measureLevels(pcm), title: p.Title}
	l, err := ear.Listen(k.t.Context(), pcm, nil)
	if err != nil {
		k.t.Fatal(err)
	}
	score := k.score(p)
	if s.hearing, _, err = against(k.t.Context(), l, score, "", "", nil); err != nil {
		k.t.Fatal(err)
	}
	s.to = len(s.hearing.Score) - 1
	if !s.heardIt() {
		if s.sound, err = findings.Listen(pcm); err != nil {
			k.t.Fatal(err)
		}
	}
	s.findings = findings.Of(s.hearing, score, findings.Options{Sound: s.sound})
	return s, s.concerns()
}

// usual plays like a child: neither metronome nor accident.
func usual() rehearse.Manner {
	return rehearse.Manner{Tempo: 0.95, Drift: 0.02, JitterS: 0.012, SpreadDb: 2, Accents: true, LeadInS: 0.9, RollS: [2]float64{0.004, 0.02}}
}

func TestTriage(t *testing.T) {
	k := newKit(t)
	lane := k.named("lane")
	plainTake := k.take(lane, "own-nylon", 3, usual)
	for _, c := range []struct {
		name string
		path func() string
		want []string // kinds
		say  string   // in the first sentence
	}{
		{"nothing wrong", func() string { return plainTake }, nil, ""},
		{"arpeggio that rings", func() string { return k.take(k.named("wheel"), "own-nylon", 4, usual) }, nil, ""},
		{"far away", func() string { return k.made(plainTake, "quiet.wav", "-af", "volume=-38dB") }, []string{Quiet}, "very quiet"},
		{"overdriven", func() string { return k.made(plainTake, "loud.wav", "-af", "volume=14dB") }, []string{Clipped}, "overdriven"},
		{"stopped too early", func() string {
			return k.made(plainTake, "early.wav", "-t", fmt.Sprint(k.pcm(plainTake).Seconds()*0.52))
		}, []string{CutOff}, "ends in the middle of playing"},
		{"started too late", func() string {
			return k.made(plainTake, "late.wav", "-ss", fmt.Sprint(k.pcm(plainTake).Seconds()*0.55))
		}, []string{CutOff}, "begins in the middle of playing"},
		{"half the piece, on purpose", func() string {
			return k.take(lane, "own-nylon", 5, usual, func(s *rehearse.Spec) { s.Legs[0].ToTick = lane.Bars[4].At })
		}, nil, ""},
		{"a hissing phone", func() string {
			return k.take(lane, "own-nylon", 6, usual, func(s *rehearse.Spec) { s.Noises.HissDb = 12 })
		}, []string{Noisy}, "much noise"},
		{"a flat string", func() string {
			return k.take(k.named("ascent"), "own-nylon", 7, usual, func(s *rehearse.Spec) { s.Tuning.Cents = map[string]float64{"4": -24} })
		}, []string{OutOfTune}, "fourth string"},
		{"another piece", func() string { return k.take(k.named("mill"), "own-nylon", 8, usual) }, []string{NotThis}, "does not sound like"},
		{"silence", func() string {
			return k.made("", "silence.wav", "-f", "lavfi", "-i", "anullsrc=r=44100:cl=mono", "-t", "6")
		}, []string{NoPlaying}, "hardly any sound"},
		{"noise alone", func() string {
			return k.made("", "noise.wav", "-f", "lavfi", "-i", "anoisesrc=a=0.1:r=44100:d=6")
		}, []string{NoPlaying}, "only noise"},
		{"a second of it", func() string { return k.made(plainTake, "second.wav", "-ss", "0.5", "-t", "1.7") }, nil, ""},
	} {
		t.Run(c.name, func(t *testing.T) {
			k := *k
			k.t = t
			p := lane
			switch {
			case strings.HasPrefix(c.name, "arpeggio"):
				p = k.named("wheel")
			case c.name == "a flat string":
				p = k.named("ascent")
			}
			s, got := k.look(c.path(), p)
			var kinds []string
			for _, g := range got {
				kinds = append(kinds, g.Kind)
				if !strings.HasSuffix(g.Say, ".") || strings.ContainsAny(g.Say, "\n%") {
					t.Errorf("no sentence: %q", g.Say)
				}
			}
			if c.name == "a second of it" {
				if !slices.Contains(kinds, Short) {
					t.Errorf("got %+v, want it called short", got)
				}
				return
			}
			if !slices.Equal(kinds, c.want) || len(got) > 0 && !strings.Contains(got[0].Say, c.say) {
				t.Errorf("got %+v, want %q (%q); levels %+v, SNR %.1f, covers %.2f", got, c.want, c.say, s.levels, s.hearing.SNRDb, s.hearing.Covers)
			}
		})
	}
}

// named is one of the kit's pieces.
func (k *kit) named(name string) rehearse.Piece {
	k.t.Helper()
	for _, s := range k.specs {
		if s.Piece.Name == name {
			return s.Piece
		}
	}
	k.t.Fatalf("no piece %s", name)
	return rehearse.Piece{}
}

// made is what ffmpeg makes of a file, or of nothing.
func (k *kit) made(from, name string, args ...string) string {
	k.t.Helper()
	to := k.dir + "/" + name
	if from != "" {
		args = append([]string{"-i", from}, args...)
	}
	k.ffmpeg(append(args, to)...)
	return to
}

func TestSummary(t *testing.T) {
	score := music.Sounding{}
	bar := func(n string, i int) music.Sounding { s := score; s.Bar, s.BarIndex = n, i; return s }
	h := &ear.Hearing{Score: []music.Sounding{bar("1", 0), bar("2", 1), bar("3", 2), bar("10", 9)},
		Played: []ear.Played{{Note: 1, Verdict: ear.Right}, {Note: 3, Verdict: ear.Wrong}, {Note: -1, Verdict: ear.Extra}, {Note: 2, Verdict: ear.Right}},
		Missed: []ear.Missed{{Note: 2}}, Jumps: []ear.Jump{{Kind: ear.Restart}, {Kind: ear.Skip}},
		Tempo: ear.Tempo{MedianBpm: 60, BeatUnitQ: 1.5, SteadinessPct: 4}}
	got := summary(h)
	want := studio.Summary{Bpm: 90, SteadinessPct: 4, RightShare: 0.5, Notes: 4, Wrong: 1, Missed: 1, Extra: 1, Restarts: 1, FromBar: "2", ToBar: "10"}
	if math.Abs(got.RightShare-want.RightShare) > 1e-9 || got != want {
		t.Errorf("got %+v, want %+v", got, want)
	}
}
