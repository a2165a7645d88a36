package rehearse

import (
	"fmt"
	"math"
	"math/rand/v2"
)

// Recipe says which kinds of takes to draw, and from which instruments.
type Recipe struct {
	Name     string
	Seed     uint64
	Takes    int
	Nylon    []string
	Steel    []string
	Invented bool    // pieces that nobody tuned on
	Plain    float64 // share of takes that are plainly played and recorded, the rest are trying; 0 means half
	Faults   float64 // so many times as many wrong, missed and extra notes as usual; 0 means 1. To learn from: true faults are rare
}

// TuneSet is the set to develop on, ReportSet the set to be judged on: other sounds, other seeds and other
// pieces.
func TuneSet(takes int) Recipe {
	return Recipe{Name: "dev", Seed: 1001, Takes: takes, Nylon: []string{"timgm-nylon", "tj-nylon", "own-nylon"}, Steel: []string{"timgm-steel", "own-steel"}}
}

// LearnSet is what the ear's nets learn from: the sounds of TuneSet, and one more maker's recorded notes. invented
// gives pieces of the report's sorts, drawn anew, in place of the few that are spelled out.
func LearnSet(takes int, invented bool) Recipe {
	r := TuneSet(takes)
	r.Nylon = append(r.Nylon, "freepats-nylon")
	r.Steel = append(r.Steel, "freepats-steel", "freepats-jazz")
	r.Invented = invented
	return r
}

// ReportSet is the set for figures: none of its sounds but the string model was used in TuneSet.
func ReportSet(takes int) Recipe {
	return Recipe{Name: "held", Seed: 9107, Takes: takes, Nylon: []string{"fluid-nylon", "own-nylon"}, Steel: []string{"fluid-steel", "tj-steel", "fluid-jazz", "own-steel"}, Invented: true}
}

// kinds are the takes of a set, in turn.
var kinds = [TurnOfKinds]string{
	"mono-clean", "mono-errors", "arp-clean", "chord-errors", "mono-restart", "real-solo", "rounds", "two-errors", "strum-clean", "real-strum",
	"mono-noise", "arp-errors", "chord-clean", "two-repeats", "real-scale", "rounds", "arp-stumble", "guitars-errors", "mono-middle", "real-solo",
	"two-clean", "strum-errors", "tremolo", "mono-clean", "chord-restart", "real-strum", "mono-fast", "arp-noise", "two-stumble", "other",
}

// TurnOfKinds is after how many takes a set begins its kinds anew.
const TurnOfKinds = 30

// Draw makes the specs of a set. The same recipe gives the same takes.
func Draw(r Recipe) ([]Spec, error) {
	pieces, err := written()
	if err != nil {
		return nil, err
	}
	pieces = append(pieces, built()...)
	var specs []Spec
	for i := 0; i < r.Takes; i++ {
		d := &drawer{recipe: r, pieces: pieces, rng: rand.New(rand.NewPCG(r.Seed, uint64(i))), n: i}
		specs = append(specs, d.draw(kinds[i%len(kinds)]))
	}
	return specs, nil
}

type drawer struct {
	recipe Recipe
	pieces []Piece
	rng    *rand.Rand
	n      int
}

func pickOf[T any](rng *rand.Rand, of ...T) T { return of[rng.IntN(len(of))] }

// piece finds a written piece by name, or invents one of the same kind.
func (d *drawer) piece(kind string, names ...string) Piece {
	name := fmt.Sprintf("%s%02d", d.recipe.Name, d.n)
	if d.recipe.Invented {
		switch kind {
		case "monophonic", "two-voice", "exercise":
			return invented(name, d.rng, kind)
		case "arpeggio", "strum":
			return inventedChords(name, d.rng, kind)
		case "chordal":
			return inventedBlocks(name, d.rng)
		case "tremolo":
			return inventedTremolo(name, d.rng)
		case "two-guitars":
			return inventedPair(name, d.rng)
		}
	}
	want := pickOf(d.rng, names...)
	for _, p := range d.pieces {
		if p.Name == want {
			return p
		}
	}
	panic("rehearse: no piece " + want)
}

func (d *drawer) draw(kind string) Spec {
	rng := d.rng
	s := Spec{ID: fmt.Sprintf("%s%02d-%s", d.recipe.Name[:1], d.n, kind), Seed: d.recipe.Seed<<20 + uint64(d.n), Params: map[string]any{}, TalkDb: -2 - 10*rng.Float64()}
	s.Manner = Manner{Tempo: 0.85 + 0.3*rng.Float64(), Drift: 0.015 + 0.03*rng.Float64(), JitterS: 0.006 + 0.014*rng.Float64(), RollS: [2]float64{0.004, 0.03},
		SpreadDb: 1.5 + rng.Float64()*1.5, LeadInS: 0.35 + 1.1*rng.Float64(), Accents: rng.IntN(2) == 0}
	if rng.IntN(4) == 0 { // a child, or a tired evening
		s.Manner.Drift, s.Manner.JitterS, s.Manner.SpreadDb = 0.06, 0.028, 4
	}
	if rng.IntN(3) == 0 {
		s.Manner.Buzz, s.Manner.Muted, s.Manner.WeakInner = 0.04, 0.015, 0.04
	}
	if rng.IntN(3) == 0 {
		s.Manner.Slurs, s.Manner.MedianVibrato = 0.12, 12
	}
	if rng.IntN(5) == 0 {
		s.Manner.Rubato = 0.03 + 0.05*rng.Float64()
	}
	errors := func() { s.Manner.Wrong, s.Manner.Missed, s.Manner.Extra = 0.035, 0.03, 0.03 }
	plain := rng.Float64() < d.recipe.plain()
	s.conditions(d)
	if plain {
		s.plain(rng)
		errors = func() { s.Manner.Wrong, s.Manner.Missed, s.Manner.Extra = 0.05, 0.04, 0.03 }
	}
	tag := "clean"
	switch kind {
	case "mono-clean", "mono-errors", "mono-restart", "mono-noise", "mono-middle", "mono-fast":
		s.Piece = d.piece("monophonic", "lane", "ascent", "chroma", "jig", "tied", "heights")
		if kind == "mono-fast" && !d.recipe.Invented {
			s.Piece = d.piece("", "mill")
		}
	case "two-errors", "two-repeats", "two-clean", "two-stumble":
		s.Piece = d.piece("two-voice", "duo", "minuet")
	case "arp-clean", "arp-errors", "arp-noise", "arp-stumble":
		s.Piece = d.piece("arpeggio", "brook", "wheel", "pinch")
	case "chord-clean", "chord-errors", "chord-restart":
		s.Piece = d.piece("chordal", "rollings", "blocks")
	case "strum-clean", "strum-errors":
		s.Piece = d.piece("strum", "campfire", "bootstep")
		s.Manner.RollS = [2]float64{0.006, 0.03}
		if !plain {
			s.Manner.WeakInner = 0.15
		}
	case "tremolo":
		s.Piece = d.piece("tremolo", "tremor")
		errors()
		tag = "errors"
	case "guitars-errors":
		s.Piece = d.piece("two-guitars", "round8", "duet")
		s.Sources = append(s.Sources, pickOf(rng, d.recipe.Nylon...))
	case "rounds":
		s.Piece = d.piece("exercise", "slowdrill", "onebar", "fourbars")
	case "other":
		return d.other(s)
	default:
		return d.real(s, kind)
	}
	if d.recipe.Invented && (kind == "two-repeats" || s.Piece.Kind == "monophonic" && rng.IntN(4) == 0) {
		s.Piece = repeated(s.Piece, rng)
	}
	s.Legs = straight(s.Piece, rng.IntN(3) > 0)
	switch kind {
	case "mono-errors", "two-errors", "arp-errors", "chord-errors", "strum-errors", "guitars-errors":
		errors()
		tag = "errors"
	case "mono-restart", "chord-restart":
		s.Legs = withStumbles(s.Piece, s.Legs, 1+rng.IntN(2), 0, rng)
		tag = "restart"
		s.says(rng)
	case "arp-stumble", "two-stumble":
		s.Legs = withStumbles(s.Piece, s.Legs, 1, 1, rng)
		errors()
		s.Manner.Hesitate = 0.02
		tag = "restart"
	case "mono-noise", "arp-noise":
		s.noisy(d)
		s.Manner.Wrong, s.Manner.Missed, s.Manner.Extra = 0.02, 0.02, 0.02
		tag = "noise"
	case "two-repeats":
		s.Legs = straight(s.Piece, true)
		s.Manner.Rubato = 0.05
	case "rounds":
		s.Legs = rounds(s.Piece, max(3, (8+rng.IntN(8))*4/max(4, 4*len(s.Piece.Bars))), 0.55+0.25*rng.Float64(), rng)
		tag = "rounds"
		if rng.IntN(2) == 0 {
			s.Manner.Wrong, s.Manner.Missed = 0.015, 0.01
			tag = "errors"
		}
	case "mono-middle":
		at := 1 + rng.IntN(max(1, len(s.Piece.Bars)/2))
		s.Legs = []Leg{{FromTick: s.Piece.Bars[at].At, ToTick: s.Piece.EndTick(), Ratio: 1}}
		s.Manner.Hesitate = 0.03
	case "mono-fast":
		s.Manner.Slurs = 0.2
	}
	if s.Piece.Kind == "arpeggio" && !plain {
		s.Manner.WeakInner = math.Max(s.Manner.WeakInner, 0.06)
	}
	if rng.IntN(5) == 0 {
		s.Manner.CountIn = pickOf(rng, "one, two, three, four", "ready, one, two, three", "okay, here we go")
		s.Manner.LeadInS = 3.2 + rng.Float64()
	}
	if rng.IntN(6) == 0 {
		s.Manner.Trend = 0.3 * (rng.Float64() - 0.4)
	}
	s.Manner.multiply(d.recipe.Faults)
	s.Tags = []string{s.Piece.Kind, tag}
	if s.Manner.CountIn != "" || tag == "restart" {
		s.Tags = append(s.Tags, "speech")
	}
	if plain {
		s.Tags = append(s.Tags, "plain")
	}
	return s
}

func (m *Manner) multiply(faults float64) {
	if faults > 0 {
		m.Wrong, m.Missed, m.Extra = m.Wrong*faults, m.Missed*faults, m.Extra*faults
	}
}

func (r Recipe) plain() float64 {
	if r.Plain == 0 {
		return 0.5
	}
	return r.Plain
}

// plain makes an ordinary take of an ordinary evening: even touch, and a phone that hears well enough.
func (s *Spec) plain(rng *rand.Rand) {
	m := &s.Manner
	m.SpreadDb, m.WeakInner, m.Buzz, m.Muted, m.Slurs, m.MedianVibrato = 1.5+rng.Float64(), 0, 0, 0, 0, 0
	m.Drift, m.JitterS = 0.01+0.05*rng.Float64(), 0.006+0.018*rng.Float64()
	if s.Phone.Name == "bad" && rng.IntN(3) > 0 {
		s.Phone.Name, s.Phone.LowHz, s.Phone.HighHz, s.Phone.Compress = "mid", 90, 9000, 0.3
	}
	if s.Codec.Name == "opus12" || s.Codec.Name == "voice16k" {
		s.Codec = codecNamed(pickOf(rng, "aac64", "opus32"))
	}
}

// says has the player mutter at restarts.
func (s *Spec) says(rng *rand.Rand) {
	for i := range s.Legs {
		if s.Legs[i].Jump == "restart" && rng.IntN(3) > 0 {
			s.Legs[i].Say = pickOf(rng, "sorry, again", "oops", "wait, from the beginning of the line", "no, once more")
			s.Legs[i].GapS += 1.9
		}
	}
}

// conditions draws instrument, tuning, room, phone and codec.
func (s *Spec) conditions(d *drawer) {
	rng := d.rng
	s.Sources = []string{pickOf(rng, d.recipe.Nylon...)}
	if rng.IntN(4) == 0 {
		s.Sources = []string{pickOf(rng, d.recipe.Steel...)}
	}
	s.Tuning.A4Hz = pickOf(rng, 440.0, 440, 440, 440+clamp(4*rng.NormFloat64(), 8), 415, 432, 466, 425+35*rng.Float64())
	bad := 0.0
	if rng.IntN(6) == 0 {
		bad = pickOf(rng, -1.0, 1) * (15 + 20*rng.Float64())
	}
	s.Tuning.Cents = stringCents(rng, 3, bad)
	s.Room = Room{DecayS: 0.2 + 0.7*rng.Float64()*rng.Float64(), Wet: 0.1 + 0.35*rng.Float64(), SizeM: 2 + 4*rng.Float64()}
	s.Noises = noNoise()
	s.Noises.HissDb = -65 + 20*rng.Float64()
	s.Noises.Squeaks = rng.IntN(4)
	switch rng.IntN(4) {
	case 0:
		s.Phone = Phone{Name: "good", LowHz: 40, HighHz: 16000, Peak: 0.4 + 0.5*rng.Float64()}
	case 1, 2:
		s.Phone = Phone{Name: "mid", LowHz: 90, HighHz: 9000, Peak: 0.2 + 0.7*rng.Float64(), Compress: 0.3}
	default:
		s.Phone = Phone{Name: "bad", LowHz: 170, HighHz: 6000, Peak: 0.1 + 0.85*rng.Float64(), Compress: 0.6}
		s.Noises.HissDb += 8
	}
	if rng.IntN(10) == 0 {
		s.Phone.Name, s.Phone.Peak = "clip", 1.4+2.2*rng.Float64()
	}
	if rng.IntN(5) == 0 {
		s.Phone.Stereo, s.Phone.LateChannelMs, s.Phone.SecondChannelDb = true, 4*rng.Float64(), pickOf(rng, 0.0, -6, -200)
	}
	s.Codec = pickOf(rng, codecs...)
}

// noisy adds what homes add.
func (s *Spec) noisy(d *drawer) {
	rng := d.rng
	n := &s.Noises
	n.HissDb = -42 + 14*rng.Float64()
	if rng.IntN(2) == 0 {
		n.HumDb, n.HumHz = -30+14*rng.Float64(), pickOf(rng, 50.0, 60)
	}
	if rng.IntN(2) == 0 {
		n.FanDb = -30 + 14*rng.Float64()
	}
	n.Knocks, n.Clinks, n.Squeaks, n.Rustle = rng.IntN(8), rng.IntN(10), 2+rng.IntN(6), rng.IntN(2) == 0
	if rng.IntN(3) == 0 {
		n.ClickBpm, n.ClickDb, n.ClickFromS = s.Piece.Bpm*s.Manner.Tempo, -6+10*rng.Float64(), 0.2
	}
	if rng.IntN(3) == 0 {
		s.TalkOver, s.TalkDb = []string{"dinner is nearly ready, are you coming", "that sounds nice"}, -14
	}
}

// other is a take that is not of the score: silence, talk, or another piece.
func (d *drawer) other(s Spec) Spec {
	rng := d.rng
	shown := d.piece("monophonic", "lane", "ascent", "heights")
	s.Shown, s.Piece = &shown, shown
	what := []string{"silence", "speech", "another"}[(d.n/len(kinds))%3]
	switch what {
	case "silence":
		s.SilentS = 12 + 8*rng.Float64()
		s.Phone.Peak = 0.02
		s.Noises.Knocks = 2
	case "speech":
		s.SilentS = 15
		s.TalkOver = []string{"hello, this week we could not practise so much, because my grandmother was visiting us", "we will send the recording tomorrow after school", "see you next week, and thank you"}
		s.TalkDb = 0
	default:
		other := invented("elsewhere", rng, "two-voice")
		s.Piece, s.Legs = other, straight(other, true)
	}
	s.Tags = []string{"other", what}
	return s
}

// real is playing that was not made from a score.
func (d *drawer) real(s Spec, kind string) Spec {
	rng := d.rng
	name := fmt.Sprintf("%s%02d", d.recipe.Name, d.n)
	edits := pickOf(rng, 0, 0.06, 0.09) * max(1, d.recipe.Faults)
	bars := 7 + rng.IntN(4)
	var im *improviser
	s.Sources = []string{pickOf(rng, d.recipe.Steel...)}
	if rng.IntN(2) == 0 {
		s.Sources = []string{"own-steel"}
	}
	what := ""
	switch kind {
	case "real-solo":
		im = newImproviser(rng, 80+60*rng.Float64(), 4*bars)
		im.solo(bars)
		what = "solo"
	case "real-strum":
		im = newImproviser(rng, 85+45*rng.Float64(), 4*bars)
		im.strums(bars)
		what = "chords"
	default:
		im = newImproviser(rng, 76+44*rng.Float64(), 4*bars)
		im.scale(bars)
		what = "scale"
		s.Sources = []string{pickOf(rng, append(d.recipe.Nylon, "own-nylon")...)}
	}
	p, perf := im.writeDown(Piece{Name: name, Title: "As played " + name, Kind: "real"}, edits)
	s.Piece, s.Performance = p, &perf
	s.Tuning.A4Hz = 440 + 2*clamp(rng.NormFloat64(), 2)
	s.Tags = []string{"real", "like", what, "clean"}
	if edits > 0 {
		s.Tags[3] = "errors"
	}
	return s
}
