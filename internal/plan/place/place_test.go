package place

import (
	"math"
	"math/rand/v2"
	"strings"
	"testing"

	"antiphon/internal/plan/memory"
)

// TestKnownLevels: students of known level try three works; four in five lie inside the range, and more takes make it
// narrower.
func TestKnownLevels(t *testing.T) {
	rng := rand.New(rand.NewPCG(4, 4))
	in, n := 0, 600
	var one, three float64
	for range n {
		level := Middle - 50 + 300*rng.NormFloat64()
		var takes []Take
		for _, load := range []float64{0.5, 1, 2} {
			r := memory.BrokeDown
			switch p := memory.Expected(level, LevelOf(load)); {
			case rng.Float64() < p*p:
				r = memory.AtTempo
			case rng.Float64() < p:
				r = memory.Steady
			case rng.Float64() < p:
				r = memory.Stopped
			}
			takes = append(takes, Take{load, r})
		}
		p := Find(takes, Answers{Years: -1})
		if p.Low <= level && level <= p.High {
			in++
		}
		three += p.Spread / float64(n)
		one += Find(takes[:1], Answers{Years: -1}).Spread / float64(n)
	}
	if share := float64(in) / float64(n); share < 0.7 || share > 0.93 {
		t.Errorf("four in five ranges hold %.2f", share)
	}
	if three >= one {
		t.Errorf("three takes leave %.0f open, one %.0f", three, one)
	}
}

func TestProposals(t *testing.T) {
	works := []Work{{"a", "Three Blind Mice", 0.4}, {"b", "Ode to Joy", 1}, {"c", "Tallis's Canon", 2}, {"d", "A long study", 8}}
	p := Find([]Take{{1, memory.Steady}, {2, memory.Stopped}}, Answers{Years: 2, ReadsMusic: true})
	got := p.Proposals(works)
	if len(got) != 3 || got[0].ID != "a" || got[0].Chance <= got[1].Chance || got[1].Chance < got[2].Chance {
		t.Errorf("%+v", got)
	}
	strong := Find([]Take{{2, memory.AtTempo}, {4, memory.AtTempo}}, Answers{Years: 6})
	if strong.Level <= p.Level || strong.Chance(2) <= p.Chance(2) {
		t.Errorf("who plays harder works at tempo stands at %.0f, the other at %.0f", strong.Level, p.Level)
	}
	if new := Find(nil, Answers{}); len(new.Words) < 2 || new.High-new.Low < 500 {
		t.Errorf("of somebody unknown: %+v", new)
	}
	if got := p.Proposals(works[:1]); len(got) != 1 {
		t.Errorf("of one work: %+v", got)
	}
}

// TestLoadsMove: a work that fewer manage than its load says becomes harder, and the other easier.
func TestLoadsMove(t *testing.T) {
	var heard []Met
	for i := range 40 {
		s := string(rune('a' + i%20))
		heard = append(heard, Met{s, "hard", i%5 == 0}, Met{s, "easy", i%5 != 0})
	}
	got := Rated(map[string]float64{"hard": 1, "easy": 1, "untouched": 3}, heard)
	if got["hard"] < 1.2 || got["easy"] > 0.85 || math.Abs(got["untouched"]-3) > 1e-9 {
		t.Errorf("%v", got)
	}
}

// TestWordsAndChancesAgree: where nothing in the library is easy, the first of the proposals is not called likely.
func TestWordsAndChancesAgree(t *testing.T) {
	for _, c := range []struct {
		chance float64
		want   string
	}{{0.9, "very likely"}, {0.75, "with some work"}, {0.5, "reach for"}, {0.1, "reach for"}} {
		if got := likely(c.chance); !strings.Contains(got, c.want) {
			t.Errorf("%g: %s", c.chance, got)
		}
	}
	for _, f := range (Place{}).Proposals([]Work{{ID: "hard", Load: 8}, {ID: "harder", Load: 9}}) {
		if !strings.HasPrefix(f.Why, likely(f.Chance)) {
			t.Errorf("chance %g: %s", f.Chance, f.Why)
		}
	}
}
