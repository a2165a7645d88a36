package rehearse

import (
	"encoding/json"
	"fmt"
	"math"
	"math/rand/v2"
	"os"
	"path/filepath"
)

// Spec is everything a take is made of.
type Spec struct {
	ID          string
	Seed        uint64
	Piece       Piece        // what is played and what the score shows
	Shown       *Piece       // the score, where the take is of something else
	Performance *Performance // where the playing came first; else Legs and Manner are played
	Legs        []Leg
	Manner      Manner
	Sources     []string // a bank, "own-nylon" or "own-steel"; one for each part, the last for the rest
	Tuning      Tuning
	Room        Room
	Noises      Noises
	Phone       Phone
	Codec       Codec
	Tags        []string
	TalkDb      float64
	TalkOver    []string // said at random times while playing
	SilentS     float64  // nothing is played for so long
	Params      map[string]any
}

// Render makes the take, its score and its truth under dir, in the layout of the shared takes.
func Render(s Spec, banks *Banks, dir string) (Truth, error) {
	rng := rand.New(rand.NewPCG(s.Seed, 0x5eed))
	shown := s.ShownPiece()
	if err := writeScore(shown, dir); err != nil {
		return Truth{}, fmt.Errorf("take %s: %w", s.ID, err)
	}
	perf := Performance{EndS: s.SilentS}
	switch {
	case s.Performance != nil:
		perf = *s.Performance
	case s.SilentS == 0:
		perf = perform(s.Piece, s.Legs, s.Manner, rng)
	}
	seconds := perf.EndS + 0.8 + 1.7*rng.Float64()
	x := make([]float32, int(seconds*RateHz))
	for i, source := range s.Sources {
		voice, err := banks.voice(source, rng)
		if err != nil {
			return Truth{}, fmt.Errorf("take %s: %w", s.ID, err)
		}
		var mine []Pluck
		for _, pk := range perf.Plucks {
			if pk.Part == i+1 || (i == len(s.Sources)-1 && pk.Part > i) || (i == 0 && pk.Part < 1) {
				mine = append(mine, pk)
			}
		}
		mix(x, voice.Play(mine, s.Tuning, seconds, rng))
	}
	loud := loudness(x)
	if loud == 0 {
		loud = 0.05
	}
	speech, err := talk(x, &perf, s, loud, rng)
	if err != nil {
		return Truth{}, fmt.Errorf("take %s: %w", s.ID, err)
	}
	if s.Room.Wet > 0 {
		x = s.Room.play(x, rng)
	}
	s.Noises.add(x, loud, rng)
	channels := 1
	if s.Phone.Stereo {
		channels = 2
	}
	audio := s.ID + "." + s.Codec.Ext
	lagS, err := s.Codec.encode(s.Phone.record(x), channels, filepath.Join(dir, "takes", audio))
	if err != nil {
		return Truth{}, fmt.Errorf("take %s: %w", s.ID, err)
	}
	t := Truth{ID: s.ID, Audio: audio, Piece: shown.Name, DurationS: round4(seconds), Sources: s.Sources, A4Hz: s.Tuning.A4Hz,
		Score:       ScoreFiles{"../scores/" + shown.Name + ".musicxml", "../scores/" + shown.Name + ".notes.json"},
		StringCents: s.Tuning.Cents, Codec: s.Codec.Name, CodecLagS: lagS, Phone: s.Phone.Name, Reverb: []float64{s.Room.DecayS, s.Room.Wet},
		Tags: s.Tags, NominalBpm: s.Piece.Bpm, MedianBpm: perf.Bpm, Params: s.Params, Speech: speech, Notes: perf.Notes, Missed: perf.Missed,
		Skipped: perf.Skip, Jumps: perf.Jumps, Beats: perf.Beats}
	if s.Shown != nil || s.SilentS > 0 {
		t.OtherThan = true
		t.Notes, t.Missed, t.Jumps, t.Skipped, t.Beats, t.MedianBpm = nil, nil, nil, nil, nil, 0
	}
	if math.IsNaN(t.MedianBpm) {
		t.MedianBpm = 0
	}
	t.shift(lagS)
	return t, writeJSON(filepath.Join(dir, "takes", s.ID+".truth.json"), t)
}

// shift moves every time by what the codec adds, rounds, and leaves no list nil.
func (t *Truth) shift(byS float64) {
	for i := range t.Notes {
		t.Notes[i].OnsetS, t.Notes[i].OffsetS = round4(t.Notes[i].OnsetS+byS), round4(t.Notes[i].OffsetS+byS)
	}
	for i := range t.Missed {
		t.Missed[i].ExpectedS = round4(t.Missed[i].ExpectedS + byS)
	}
	for i := range t.Jumps {
		t.Jumps[i].StopS, t.Jumps[i].ResumeS = round4(t.Jumps[i].StopS+byS), round4(t.Jumps[i].ResumeS+byS)
	}
	for i := range t.Beats {
		t.Beats[i][2] = round4(t.Beats[i][2] + byS)
	}
	for i := range t.Speech {
		t.Speech[i].StartS, t.Speech[i].EndS = round4(t.Speech[i].StartS+byS), round4(t.Speech[i].EndS+byS)
	}
	t.MedianBpm = round4(t.MedianBpm)
	t.Notes, t.Missed = append([]TrueNote{}, t.Notes...), append([]TrueMiss{}, t.Missed...)
	t.Jumps, t.Skipped = append([]TrueJump{}, t.Jumps...), append([]int{}, t.Skipped...)
	t.Beats, t.Speech = append([][3]float64{}, t.Beats...), append([]Spoken{}, t.Speech...)
}

func round4(x float64) float64 { return math.Round(1e4*x) / 1e4 }

func mix(into, x []float32) {
	for i := range min(len(into), len(x)) {
		into[i] += x[i]
	}
}

// voice makes the instrument of that name.
func (b *Banks) voice(source string, rng *rand.Rand) (Voice, error) {
	switch source {
	case "own-nylon":
		return stringedVoice{noise: 0.25, stretch: 5}, nil
	case "own-steel":
		return stringedVoice{steel: true, noise: 0.4, stretch: 12}, nil
	}
	bank, err := b.Get(source)
	if err != nil {
		return nil, err
	}
	return sampledVoice{bank: bank, clean: 0.5 * rng.Float64()}, nil
}

// talk mixes what is said into x.
func talk(x []float32, perf *Performance, s Spec, loud float64, rng *rand.Rand) ([]Spoken, error) {
	voices := []string{"en", "en-us", "en+f3", "en-us+f2", "en+m4", "en-us+f5"}
	voice := voices[rng.IntN(len(voices))]
	speech := append([]Spoken{}, perf.Speech...)
	for _, text := range s.TalkOver {
		speech = append(speech, Spoken{StartS: rng.Float64() * float64(len(x)) / RateHz * 0.85, Text: text})
	}
	for i := range speech {
		said, err := speak(speech[i].Text, voice, 130+rng.IntN(50))
		if err != nil {
			return nil, err
		}
		gain := float32(loud * db(s.TalkDb) / math.Max(1e-6, loudness(said)))
		from := int(speech[i].StartS * RateHz)
		for k, v := range said {
			if from+k < len(x) {
				x[from+k] += gain * v
			}
		}
		speech[i].EndS = math.Min(speech[i].StartS+float64(len(said))/RateHz, float64(len(x))/RateHz)
	}
	return speech, nil
}

func writeScore(p Piece, dir string) error {
	for _, d := range []string{"scores", "takes"} {
		if err := os.MkdirAll(filepath.Join(dir, d), 0o755); err != nil {
			return err
		}
	}
	if err := os.WriteFile(filepath.Join(dir, "scores", p.Name+".musicxml"), []byte(p.MusicXML()), 0o644); err != nil {
		return err
	}
	return writeJSON(filepath.Join(dir, "scores", p.Name+".notes.json"), p.notesFile())
}

func writeJSON(path string, v any) error {
	data, err := json.Marshal(v)
	if err != nil {
		return err
	}
	return os.WriteFile(path, data, 0o644)
}

// ShownPiece is the score that the ear is given.
func (s Spec) ShownPiece() Piece {
	if s.Shown != nil {
		return *s.Shown
	}
	return s.Piece
}
