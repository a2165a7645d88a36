package scenario

import (
	"fmt"
	"math"
	"math/rand/v2"

	"antiphon/internal/rehearse"
)

// Played says how a take sounds: who plays what, and how well it goes.
func Played(l Learner, asked Asked, sent Sent, pieces map[string]Piece) (rehearse.Spec, error) {
	if sent.Twist == planted {
		return plantedTake(sent.Key), nil
	}
	p, ok := pieces[asked.Piece]
	if !ok {
		return rehearse.Spec{}, fmt.Errorf("scenario: no piece %s", asked.Piece)
	}
	piece, err := rehearse.FromScore(p.Name, p.Score)
	if err != nil {
		return rehearse.Spec{}, err
	}
	rng := dice(l.Name, len(sent.Key), sent.Key)
	from, to := span(piece, asked)
	s := rehearse.Spec{ID: sent.Key, Seed: rng.Uint64() >> 12, Piece: piece, Sources: []string{voice(l)}, TalkDb: -8}
	slips := l.Slips * (1 - .8*sent.Known)
	ratio := asked.Share * (l.Tempo[0] + (l.Tempo[1]-l.Tempo[0])*sent.Known) / math.Max(asked.Share, l.Tempo[0])
	if sent.Twist == faster {
		ratio = 1.12
	}
	s.Manner = rehearse.Manner{Tempo: ratio * (.97 + .06*rng.Float64()), Drift: l.Wobble * (1.2 - .5*sent.Known), JitterS: .008 + .012*(1-sent.Known), SpreadDb: 1.5 + 2*(1-sent.Known),
		RollS: [2]float64{.004, .025}, Wrong: slips / 2, Missed: slips / 3, Extra: slips / 6, LeadInS: .4 + rng.Float64(), Accents: rng.IntN(2) == 0}
	s.Legs = []rehearse.Leg{{FromTick: from, ToTick: to, Ratio: 1}}
	l.habitual(&s, from, to, sent.Known, rng)
	l.recording(&s, rng)
	switch sent.Twist {
	case otherWork:
		other, ok := pieces["hot-cross-buns"]
		if !ok || asked.Piece == other.Name {
			return rehearse.Spec{}, fmt.Errorf("scenario: nothing else to play instead of %s", asked.Piece)
		}
		played, err := rehearse.FromScore(other.Name, other.Score)
		if err != nil {
			return rehearse.Spec{}, err
		}
		shown := piece
		s.Piece, s.Shown = played, &shown
		s.Legs = []rehearse.Leg{{ToTick: played.EndTick(), Ratio: 1}}
	case tooSoft:
		s.Phone.Peak = .006
	}
	return s, nil
}

// span is the passage in ticks.
func span(p rehearse.Piece, a Asked) (from, to int) {
	to = p.EndTick()
	for _, b := range p.Bars {
		switch fmt.Sprint(b.Number) {
		case a.FromBar:
			from = b.At
		case a.ToBar:
			to = b.At + b.Ticks
		}
	}
	return from, to
}

// habitual plays as this child does.
func (l Learner) habitual(s *rehearse.Spec, from, to int, known float64, rng *rand.Rand) {
	still := 1 - .7*known // of the habit
	switch l.Habit {
	case rushes:
		s.Manner.Trend = .14 * still
	case stops:
		s.Manner.Hesitate = .05 * still
	case uneven:
		s.Manner.JitterS += .022 * still
	case soft:
		s.Manner.SpreadDb += 2
	case restarts:
		bars := s.Piece.Bars
		if still < .45 || len(bars) < 4 {
			return
		}
		at := 2 + rng.IntN(max(1, min(len(bars), 8)-3)) // where it breaks off
		stop, back := bars[at].At+bars[at].Ticks/2, bars[max(0, at-2)].At
		if stop >= to || back < from {
			return
		}
		s.Legs = []rehearse.Leg{{FromTick: from, ToTick: stop, Ratio: 1},
			{FromTick: back, ToTick: to, Jump: "restart", GapS: .8 + 2*rng.Float64(), Ratio: 1}}
	}
}

// recording is the guitar, the room and the machine of this family.
func (l Learner) recording(s *rehearse.Spec, rng *rand.Rand) {
	s.Tuning = rehearse.Tuning{A4Hz: 440, Cents: map[string]float64{}}
	for _, str := range []string{"1", "2", "3", "4", "5", "6"} {
		s.Tuning.Cents[str] = 3*rng.Float64() - 1.5 + l.Flat[str]
	}
	s.Room = rehearse.Room{DecayS: .3 + .2*rng.Float64(), Wet: .12, SizeM: 3}
	s.Noises = rehearse.Noises{HissDb: -54, HumDb: -200, FanDb: -200}
	s.Phone = rehearse.Phone{Name: string(l.Record), LowHz: 90, HighHz: 11000, Compress: .15, Peak: .55, SecondChannelDb: -200}
	s.Codec = rehearse.Codec{Name: "aac96", Ext: "m4a", Args: []string{"-c:a", "aac", "-b:a", "96k"}}
	switch l.Record {
	case oldPhone:
		s.Phone.LowHz, s.Phone.HighHz, s.Noises.HissDb = 140, 7000, -44
		s.Codec = rehearse.Codec{Name: "aac64", Ext: "m4a", Args: []string{"-c:a", "aac", "-b:a", "64k"}}
	case laptop:
		s.Phone.LowHz, s.Noises.FanDb = 120, -46
		s.Codec = rehearse.Codec{Name: "opus32", Ext: "webm", Args: []string{"-c:a", "libopus", "-b:a", "32k"}}
	case tablet:
		s.Room.Wet = .2
	}
}

// voice is the guitar's sound.
func voice(l Learner) string {
	if len(l.Name)%3 == 0 {
		return "own-nylon"
	}
	return "timgm-nylon"
}
