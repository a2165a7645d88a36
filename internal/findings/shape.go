package findings

import (
	"fmt"
	"math"
	"slices"

	"antiphon/internal/ear"
)

// movedInWords says that the notes are those of the score, only higher or lower.
func movedInWords(semitones int) string {
	switch {
	case semitones == 12 || semitones == -12:
		return "These are the notes of this score an octave away: check which octave the score is written in."
	case semitones > 0 && semitones <= 7:
		return fmt.Sprintf("These are the notes of this score, %d semitones higher: was there a capo at fret %d? Say so, and it is heard again.", semitones, semitones)
	case semitones > 0:
		return fmt.Sprintf("These are the notes of this score, %d semitones higher: check the tuning and the score.", semitones)
	}
	return fmt.Sprintf("These are the notes of this score, %d semitones lower: check the tuning and the score.", -semitones)
}

// notThisScore says why there is nothing to compare.
func (s *scene) notThisScore() Finding {
	f := Finding{Kind: NotThisScore, ToS: s.h.DurationS, Size: s.h.Match, Unit: "share", Confidence: 0.9}
	switch s.opt.Sound {
	case Silent:
		f.Aspect = "silent"
		f.Text = "There is no playing in this recording: it is silent or far too quiet. Record again, nearer to the guitar."
	case Noise:
		f.Aspect = "noise"
		f.Text = "There is only noise in this recording: check the microphone and record again."
	case Talk:
		f.Aspect = "talk"
		f.Text = "There is talk in this recording and no playing of this score."
	default:
		if n := s.h.SoundsHigher; n != 0 {
			f.Aspect, f.Text = "moved", movedInWords(n)
			break
		}
		f.Text = "What is played here is not this score: check that the right take and the right score were chosen."
		f.Confidence = 0.8
	}
	return f
}

// restarts are places where the player stopped and went back, grouped by the bar of the stop.
func (s *scene) restarts() []Finding {
	return s.jumps(ear.Restart, func(j []ear.Jump) (Finding, bool) {
		back := map[string]bool{}
		for _, x := range j {
			back[x.ToBar] = true
		}
		to := ""
		switch {
		case len(back) == 1 && j[0].ToBar == j[0].FromBar:
			to = "to the beginning of it"
		case len(back) == 1:
			to = "to " + s.barWord(j[0].ToBar)
		}
		text := fmt.Sprintf("Stopped in %s and went back %s", s.barWord(j[0].FromBar), to)
		if to == "" {
			text = fmt.Sprintf("Stopped in %s and went back", s.barWord(j[0].FromBar))
		}
		if len(j) > 1 {
			text += ", " + timesInWords(len(j))
		}
		f := Finding{Kind: Restart, Size: float64(len(j)), Unit: "times", Text: text + "."}
		if len(j) > 1 {
			f.Aspect = "same-place"
		}
		return f, true
	})
}

// skips are places where something was left out.
func (s *scene) skips() []Finding {
	return s.jumps(ear.Skip, func(j []ear.Jump) (Finding, bool) {
		a, b := s.barIndex(j[0].FromBar), s.barIndex(j[0].ToBar)
		f := Finding{Kind: Skip, Size: float64(max(1, b-a)), Unit: "bars"}
		switch {
		case a >= 0 && b-a >= 2:
			f.Text = fmt.Sprintf("Went from %s on to %s; what is between was left out", s.barWord(j[0].FromBar), s.barWord(j[0].ToBar))
		default:
			f.Text = fmt.Sprintf("Jumped ahead from %s to %s", s.barWord(j[0].FromBar), s.barWord(j[0].ToBar))
		}
		if len(j) > 1 {
			f.Text += ", " + timesInWords(len(j))
		}
		f.Text += "."
		return f, true
	})
}

// jumps groups the jumps of one kind by the bar in which they begin.
func (s *scene) jumps(kind ear.JumpKind, say func([]ear.Jump) (Finding, bool)) []Finding {
	groups := map[string][]ear.Jump{}
	var order []string
	for _, j := range s.h.Jumps {
		if j.Kind != kind || j.Confidence < Sure {
			continue
		}
		k := j.FromBar
		if kind == ear.Skip {
			k += "\x00" + j.ToBar
		}
		if groups[k] == nil {
			order = append(order, k)
		}
		groups[k] = append(groups[k], j)
	}
	var out []Finding
	for _, k := range order {
		g := groups[k]
		f, ok := say(g)
		if !ok {
			continue
		}
		f.FromS, f.ToS = g[0].StopS, g[0].ResumeS
		f.FromBar, f.ToBar = g[0].FromBar, g[0].ToBar
		if kind == ear.Restart {
			f.FromBar, f.ToBar = g[0].ToBar, g[0].FromBar
		}
		doubt := 1.0
		for _, j := range g {
			f.AtS = append(f.AtS, j.StopS)
			doubt *= 1 - min(0.95, j.Confidence)
			f.Evidence = append(f.Evidence, s.idsNear(j)...)
		}
		f.Confidence = 1 - doubt
		slices.Sort(f.Evidence)
		f.Evidence = slices.Compact(f.Evidence)
		out = append(out, f)
	}
	return out
}

// idsNear are the last note before a jump and the first one after it.
func (s *scene) idsNear(j ear.Jump) []string {
	before, after := -1, -1
	for _, n := range s.h.Played {
		if n.Note < 0 {
			continue
		}
		if n.OnsetS <= j.StopS+0.01 {
			before = n.Note
		}
		if n.OnsetS >= j.ResumeS-0.05 && after < 0 {
			after = n.Note
		}
	}
	var out []string
	for _, n := range []int{before, after} {
		if n >= 0 {
			out = append(out, s.h.Score[n].ID)
		}
	}
	return out
}

func (s *scene) barWord(number string) string {
	if number == "0" {
		return "the pickup"
	}
	return "bar " + number
}

func (s *scene) barIndex(number string) int {
	for i := range s.score.Bars {
		if s.barName(i) == number {
			return i
		}
	}
	return -1
}

// roundCount is how many rounds of a short exercise were played; 0 where the score itself has
// repeats or was played once.
func (s *scene) roundCount() int {
	for _, b := range s.score.Bars {
		if b.RepeatEnd > 0 || b.DaCapo || b.DalSegno != "" {
			return 0
		}
	}
	n := 0
	for _, j := range s.h.Jumps {
		if j.Kind == ear.Repeat {
			n++
		}
	}
	if n == 0 {
		return 0
	}
	return n + 1
}

// betweenPaces tells two tempos as one where they read alike.
func betweenPaces(slow, fast float64) string {
	if math.Round(slow) == math.Round(fast) {
		return fmt.Sprintf(", at about %.0f a minute", slow)
	}
	return fmt.Sprintf(", from %.0f to %.0f a minute", slow, fast)
}

// Rounds that differ by less than this share go at one tempo.
const sameTempo = 0.02

// rounds tells the rounds of an exercise, each with its tempo.
func (s *scene) rounds() []Finding {
	n := s.roundCount()
	if n < 2 {
		return nil
	}
	slow, fast, steady := -1, -1, -1
	var words []string
	f := Finding{Kind: Rounds, Size: float64(n), Unit: "rounds", Confidence: 0.9}
	for i, p := range s.h.Passes {
		f.AtS = append(f.AtS, p.StartS)
		if p.Bpm <= 0 {
			continue
		}
		words = append(words, fmt.Sprintf("%.0f", p.Bpm))
		if slow < 0 || p.Bpm < s.h.Passes[slow].Bpm {
			slow = i
		}
		if fast < 0 || p.Bpm > s.h.Passes[fast].Bpm {
			fast = i
		}
		if p.SteadinessPct > 0 && (steady < 0 || p.SteadinessPct < s.h.Passes[steady].SteadinessPct) {
			steady = i
		}
	}
	first, last := s.h.Passes[0], s.h.Passes[len(s.h.Passes)-1]
	f.FromS, f.ToS, f.FromBar, f.ToBar = first.StartS, last.EndS, first.FromBar, first.ToBar
	f.Text = fmt.Sprintf("Played round %s", timesInWords(n))
	switch {
	case len(words) == 0:
	case s.h.Passes[fast].Bpm < s.h.Passes[slow].Bpm*(1+sameTempo):
		f.Text += fmt.Sprintf(", at about %.0f a minute each time", s.h.Passes[0].Bpm)
	case len(words) <= 8:
		f.Text += ", at " + list(words) + " a minute"
	default:
		f.Text += betweenPaces(s.h.Passes[slow].Bpm, s.h.Passes[fast].Bpm)
	}
	if steady >= 0 && n > 2 {
		p := s.h.Passes[steady]
		f.Text += fmt.Sprintf("; the %s round is the steadiest (within %.0f %%)", ordinal(p.N), math.Ceil(p.SteadinessPct))
	}
	f.Text += "."
	return []Finding{f}
}
