package exercise

import (
	"slices"
	"strconv"
	"strings"

	"antiphon/internal/guitar"
	"antiphon/internal/music"
)

// Passage is a stretch of bars of one part, as they are numbered in the score.
type Passage struct {
	Part     int    // index into Score.Parts
	From, To string // bar numbers as printed; To "" is From
}

// words name the passage: "bar 5", "bars 5 to 6".
func (p Passage) words() string {
	if to := or(p.To, p.From); to != p.From {
		return "bars " + clip(p.From) + " to " + clip(to)
	}
	return "bar " + clip(p.From)
}

// ReadBars reads "5" or "5-6".
func ReadBars(text string) (Passage, error) {
	from, to, _ := strings.Cut(strings.NewReplacer("–", "-", " ", "", "bars", "", "bar", "").Replace(text), "-")
	if from == "" || len(from) > 16 || len(to) > 16 {
		return Passage{}, bad("", "bars %q cannot be read; write 5 or 5-6", clip(text))
	}
	return Passage{From: from, To: or(to, from)}, nil
}

// most bars of a passage that is practised by itself.
const mostPassageBars = 32

// passageOf cuts a passage out of a score: ties within it joined, a bar that is not full filled up
// with silence. What repeats and jumps there are is left out.
func passageOf(s *music.Score, p Passage) (*sheet, error) {
	if p.Part < 0 || p.Part >= len(s.Parts) {
		return nil, &Problem{Kind: NoSuchBars, Say: "the score has no part " + itoa(p.Part+1) + "; it has " + itoa(len(s.Parts)), Err: ErrNoSuchBars}
	}
	from, to := barNamed(s, p.From), barNamed(s, or(p.To, p.From))
	if from < 0 || to < from {
		return nil, &Problem{Kind: NoSuchBars, Say: "the score has no " + p.words() + "; its bars are numbered " + s.Bars[0].Number + " to " + s.Bars[len(s.Bars)-1].Number, Err: ErrNoSuchBars}
	}
	if to-from >= mostPassageBars {
		return nil, bad("", "%d bars are too many for one exercise; choose at most %d", to-from+1, mostPassageBars)
	}
	part := &s.Parts[p.Part]
	out := &sheet{guitar: guitar.Standard(), fromScore: true, time: s.Bars[from].Time, bars: to - from + 1}
	for _, b := range s.Bars[from : to+1] {
		if len(b.Time.Parts) != 1 || b.Time.Length().Cmp(out.time.Length()) != 0 {
			return nil, bad("", "bar %s has another time signature, or none; choose bars of one time signature", b.Number)
		}
		if b.Time.Length().Less(b.Length) {
			return nil, bad("", "bar %s holds more than its time signature says; choose other bars", b.Number)
		}
	}
	out.standing(part, s.Bars[from].Start)
	if err := out.guitar.Check(); err != nil {
		return nil, bad("", "the score's tuning is none of a guitar (%v); choose another part", err)
	}
	if out.guitar.Strings() != 6 {
		return nil, bad("", "the score is for %d strings, and exercises are made for six; choose another part", out.guitar.Strings())
	}
	place := func(bar int, at music.Beats) music.Beats { // within the passage
		b := s.Bars[bar]
		shift := music.Beats{}
		if bar == from && b.Length.Less(out.barLength()) { // a pickup stands at the end of its bar
			shift = out.barLength().Sub(b.Length)
		}
		return at.Sub(b.Start).Add(out.barStart(bar - from)).Add(shift)
	}
	out.take(part, from, to, place)
	out.borrow(s, p.Part, place)
	for _, d := range part.Directions {
		if d.Bar >= from && d.Bar <= to && (d.Kind == music.Words && !jumps(d.Text) || d.Kind == music.Harmony) {
			d.At = place(d.Bar, d.At)
			out.signs = append(out.signs, d)
		}
	}
	if bpm, marked := s.TempoAt(s.Bars[from].Start); marked {
		unit := out.beat()
		out.tempos = []music.TempoMark{{Bpm: round(bpm / unit.Q()), Unit: unit}}
	}
	if len(out.tones) == 0 {
		return nil, notThere("there are no notes to play in %s; choose other bars", p.words())
	}
	out.sort()
	return out, nil
}

func round(v float64) float64 { return float64(int(v + 0.5)) }

func barNamed(s *music.Score, name string) int {
	return slices.IndexFunc(s.Bars, func(b music.Bar) bool { return b.Number == name })
}

// jumps tells words that lead elsewhere in the piece; they have no sense in a part of it.
func jumps(text string) bool {
	t := strings.ToLower(strings.NewReplacer(".", "", " ", "").Replace(text))
	for _, w := range []string{"dc", "ds", "dacapo", "dalsegno", "fine", "coda", "tocoda"} {
		if strings.HasPrefix(t, w) {
			return true
		}
	}
	return false
}

// standing takes over what is in force where the passage begins.
func (s *sheet) standing(part *music.Part, at music.Beats) {
	var tuning, move *music.Attributes
	for i := range part.Attributes {
		a := &part.Attributes[i]
		if at.Less(a.At) || a.Staff > 1 {
			continue
		}
		if a.Key != nil {
			s.key = *a.Key
		}
		if len(a.Tuning) > 0 || a.Capo > 0 {
			tuning = a
		}
		if a.Transpose != nil {
			move = a
		}
	}
	if tuning != nil {
		if open := tuning.Tuning; len(open) > 0 {
			s.guitar.Open = nil
			for i := len(open) - 1; i >= 0; i-- {
				s.guitar.Open = append(s.guitar.Open, open[i].Midi())
			}
		}
		s.guitar.Capo = tuning.Capo
		s.head = append(s.head, music.Attributes{Lines: tuning.Lines, Tuning: tuning.Tuning, Capo: tuning.Capo})
	}
	if move != nil {
		s.head = append(s.head, music.Attributes{Transpose: move.Transpose})
	}
}

// take copies the notes of the bars, ties joined. A tie from before the passage is struck anew; what
// would sound beyond its end stops there.
func (s *sheet) take(part *music.Part, from, to int, place func(int, music.Beats) music.Beats) {
	type line struct {
		voice string
		midi  int
	}
	open := map[line]int{} // tones whose tie is not yet met
	var grace []music.Note
	end := s.barStart(s.bars)
	for _, n := range part.Notes {
		if n.Bar < from || n.Bar > to || !n.Pitched() || n.Cue || n.Staff > 1 {
			continue
		}
		if n.Grace {
			grace = append(grace, n)
			continue
		}
		n.Start = place(n.Bar, n.Start)
		l := line{n.Voice, n.Pitch.Midi()}
		if i, ok := open[l]; ok && n.TieStop && s.tones[i].End().Cmp(n.Start) == 0 {
			s.tones[i].Duration = s.tones[i].Duration.Add(n.Duration)
			if !n.TieStart {
				delete(open, l)
			}
			continue
		}
		t := tone{Note: n, grace: grace}
		grace = nil
		if n.TieStart {
			open[l] = len(s.tones)
		}
		if end.Less(t.End()) {
			t.Duration = end.Sub(t.Start)
		}
		t.Bar, t.Chord, t.Type, t.Dots, t.Ratio, t.Tuplets = 0, false, "", 0, music.Ratio{}, nil
		t.TieStart, t.TieStop, t.Stem, t.Beams, t.Accidental = false, false, "", nil, music.Accidental{}
		t.Spans = wholeSpans(t.Spans)
		s.tones = append(s.tones, t)
	}
	s.closeSpans()
}

// barsText is "bar 5" or "bars 5 to 6".
func barsText(p Passage) string {
	if p.To == "" || p.To == p.From {
		return "bar " + clip(p.From)
	}
	return "bars " + clip(p.From) + " to " + clip(p.To)
}

func number(text string) int {
	n, _ := strconv.Atoi(text)
	return n
}

// prepared is a passage with fingers where the score has none, and with another right hand if asked.
func prepared(score *music.Score, p Passage, w Wishes) (*sheet, error) {
	s, err := passageOf(score, p)
	if err != nil {
		return nil, err
	}
	if w.ScaleMm > 0 {
		s.guitar.ScaleMm = w.ScaleMm
	}
	if s.player, err = readPlayer(w.Without, w.SpanMm); err != nil {
		return nil, err
	}
	rightHand := w.RightHand
	if err := s.fingerFree(); err != nil {
		return nil, err
	}
	if rightHand != "" && rightHand != "auto" {
		return s.withRight(rightHand)
	}
	return s, s.pluckByRule()
}

// GoalOf is the tempo of a passage in its score, in beats a minute; 0 where none is marked.
func GoalOf(s *music.Score, p Passage) float64 {
	i := barNamed(s, p.From)
	if i < 0 || len(s.Bars[i].Time.Parts) == 0 {
		return 0
	}
	bpm, marked := s.TempoAt(s.Bars[i].Start)
	if !marked {
		return 0
	}
	return round(bpm / beatOf(s.Bars[i].Time).Q())
}
