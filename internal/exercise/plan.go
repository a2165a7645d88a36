package exercise

import (
	"fmt"
	"strings"

	"antiphon/internal/guitar"
	"antiphon/internal/music"
)

// sheet draws the pattern, sets it to the rhythm and marks everything the recipe asks for.
func (r Recipe) sheet() (*sheet, error) {
	in := guitar.Standard()
	if r.ScaleMm > 0 {
		in.ScaleMm = r.ScaleMm
	}
	who, err := readPlayer(r.Without, r.SpanMm)
	if err != nil {
		return nil, err
	}
	time, err := readTime(r.Time)
	if err != nil {
		return nil, err
	}
	steps, err := readRhythm(r.Rhythm)
	if err != nil {
		return nil, err
	}
	strokes, err := readStroke(r.Stroke)
	if err != nil {
		return nil, err
	}
	pattern, none, err := readRight(r.RightHand)
	if err != nil {
		return nil, err
	}
	if none && strokes != nil {
		return nil, bad("stroke", "a stroke needs a finger that makes it; take right-hand: none away")
	}
	loud, err := readDynamics(r.Dynamics)
	if err != nil {
		return nil, err
	}
	d, err := r.draw(in, counter{time, steps})
	if err != nil {
		return nil, err
	}
	if !d.chords {
		if d.events, err = repeatEach(d.events, r.Each, steps); err != nil {
			return nil, err
		}
	}
	s := &sheet{guitar: in, player: who, time: time, key: music.Key{Fifths: d.key.fifths, Mode: d.key.mode.written}, goal: r.Goal, rings: d.chords}
	if err := s.count(d.events, steps); err != nil {
		return nil, err
	}
	s.player.skills.FirstPosition = d.firstPosition
	if err := s.fingerFree(); err != nil { // before the rounds and variants, which are to be fingered alike
		return nil, err
	}
	once := s.clone()
	for k := 1; k < r.Rounds && s.bars <= maxBars; k++ {
		s.add(once)
	}
	if s, err = vary(s, r.Variants); err != nil {
		return nil, err
	}
	if loud.plan == "echo" {
		if err := s.echo(loud.every); err != nil {
			return nil, err
		}
	}
	if err := s.holdable(d.grips); err != nil {
		return nil, err
	}
	if !d.chords && !none {
		if err := s.pluckAll(pattern); err != nil {
			return nil, err
		}
	}
	if r.Bass == "held" {
		if err := s.holdBass(); err != nil {
			return nil, err
		}
	}
	if err := s.accents(r.Accents); err != nil {
		return nil, err
	}
	if strokes != nil {
		if err := s.strokes(strokes); err != nil {
			return nil, err
		}
	}
	s.dynamics(loud)
	if err := s.places(r.Tone); err != nil {
		return nil, err
	}
	s.tempo(r.Tempo)
	if r.Repeat > 1 {
		s.repeats = append(s.repeats, again{0, s.bars - 1, r.Repeat})
	}
	if r.Names != "" {
		if err := s.sayAloud(r.Names); err != nil {
			return nil, err
		}
	}
	s.title, s.trains = or(r.Title, r.ownTitle(d)), or(r.Trains, r.ownTrains(d))
	return s, nil
}

// tempo puts a metronome mark at the start.
func (s *sheet) tempo(bpm float64) {
	if bpm > 0 {
		s.tempos = append(s.tempos, music.TempoMark{Bpm: bpm, Unit: s.beat()})
	}
}

func (r Recipe) ownTitle(d drawn) string {
	t := strings.ReplaceAll(strings.ToLower(r.Pattern), "-", " ")
	switch {
	case d.chords:
		t = strings.Join(r.Chords, " ")
	case t == "scale":
		t = d.key.printed() + " scale"
	case t == "degrees":
		t = strings.Trim(fmt.Sprint(r.Degrees), "[]") + " in " + d.key.printed()
	case d.named:
		t = capital(t) + " in " + d.key.printed()
	default:
		t = capital(t)
	}
	if d.position > 1 {
		t += ", position " + roman(d.position)
	}
	return t
}

func capital(t string) string { return strings.ToUpper(t[:1]) + t[1:] }

// ownTrains says what the hands do, for a recipe that does not.
func (r Recipe) ownTrains(d drawn) string {
	var parts []string
	switch {
	case d.chords:
		parts = append(parts, "changes between "+list(unique(r.Chords), "and"))
	case d.position == 0:
		parts = append(parts, "a line with shifts of the left hand")
	default:
		parts = append(parts, "the left hand in position "+roman(d.position))
	}
	if r.RightHand != "" && r.RightHand != "none" {
		parts = append(parts, r.RightHand+" in the right hand")
	}
	switch {
	case strings.Contains(r.Stroke, "rest") && !strings.Contains(r.Stroke, "free"):
		parts = append(parts, "rest stroke")
	case r.Stroke != "":
		parts = append(parts, "stroke: "+r.Stroke)
	}
	if r.Dynamics != "" {
		parts = append(parts, "loud and soft")
	}
	t := list(parts, "and")
	return capital(t) + "."
}

func unique(words []string) []string {
	var out []string
	seen := map[string]bool{}
	for _, w := range words {
		if !seen[w] {
			seen[w], out = true, append(out, w)
		}
	}
	return out
}
