package hands

import (
	"cmp"
	"fmt"
	"slices"
	"strconv"

	"antiphon/internal/guitar"
	"antiphon/internal/hands/grip"
	"antiphon/internal/music"
)

// job is one player's notes on the way through the solver.
type job struct {
	notes []grip.Note
	of    [][]int // sounding notes behind each: more than one for a unison of two voices
	in    guitar.Instrument
}

// plainBpm is the tempo that the model's unit of time is measured at.
const plainBpm = 100

// graceQ is the time a grace note is given before its main note.
const graceQ = 0.12

// lay makes the solver's notes of one player's sounding notes.
func lay(s *music.Score, sounding []music.Sounding, written [][]music.NoteRef, pick []int, in guitar.Instrument, asks map[string]ask) *job {
	type row struct {
		grip.Note
		of    int
		voice string
		slur  bool
	}
	clock := newClock(s)
	var rows []row
	voices := map[string]int{}
	for at := 0; at < len(pick); {
		end := at
		for end < len(pick) && sounding[pick[end]].Onset == sounding[pick[at]].Onset {
			end++
		}
		graces := 0
		for _, i := range pick[at:end] {
			if sounding[i].Grace {
				graces++
			}
		}
		for _, i := range pick[at:end] {
			n := &sounding[i]
			onQ, perQ := clock.at(n.Onset)
			endQ, _ := clock.at(n.Onset.Add(n.Duration))
			if n.Grace {
				onQ -= graceQ * float64(graces)
				endQ = onQ + graceQ/2
				graces--
			}
			key := n.Part + "/" + n.Voice
			if _, ok := voices[key]; !ok {
				voices[key] = len(voices)
			}
			r := row{grip.Note{AtQ: onQ, EndQ: endQ, Midi: n.Midi, Voice: voices[key], Ask: grip.Free(), SPerQ: perQ}, i, key, n.Slurred}
			if a, ok := asks[n.ID]; ok {
				r.Ask, r.Forbid = a.ask, a.forbid
			}
			rows = append(rows, r)
		}
		at = end
	}
	slices.SortStableFunc(rows, func(a, b row) int {
		if d := a.AtQ - b.AtQ; d > 1e-4 || d < -1e-4 {
			return cmp.Compare(a.AtQ, b.AtQ)
		}
		return a.Midi - b.Midi
	})
	j := &job{in: in}
	last := map[string]int{}
	for _, r := range rows {
		k := len(j.notes) - 1
		if k >= 0 && j.notes[k].Midi == r.Midi && r.AtQ-j.notes[k].AtQ < 1e-4 {
			j.of[k] = append(j.of[k], r.of)
			j.notes[k].EndQ = max(j.notes[k].EndQ, r.EndQ)
			if j.notes[k].Ask == grip.Free() {
				j.notes[k].Ask = r.Ask
			}
			j.notes[k].Forbid = append(j.notes[k].Forbid, r.Forbid...)
		} else {
			k++
			j.notes, j.of = append(j.notes, r.Note), append(j.of, []int{r.of})
			if b, ok := last[r.voice]; ok && r.slur {
				j.notes[k].SlurFrom = b + 1
			}
		}
		last[r.voice] = k
	}
	return j
}

// ask is what the score's marks and the caller's wishes ask of one note.
type ask struct {
	ask    grip.Ask
	forbid []grip.Stop
	marked bool // from the score's own marks
	fixed  bool
}

// asksOf gathers marks and wishes. A wish overrides a mark.
func asksOf(sounding []music.Sounding, o Options) (map[string]ask, error) {
	out := map[string]ask{}
	for _, n := range sounding {
		a := ask{ask: grip.Free()}
		if n.String > 0 {
			a.ask.String, a.marked = int8(min(n.String, 127)), true
		}
		if n.Fret >= 0 {
			a.ask.Fret, a.marked = int8(min(n.Fret, 127)), true
		}
		if f, err := strconv.Atoi(n.Finger); err == nil && f >= 0 && f <= 4 {
			a.ask.Finger, a.marked = int8(f), true
		}
		if a.marked {
			out[n.ID] = a
		}
	}
	known := map[string]bool{}
	for _, n := range sounding {
		known[n.ID] = true
	}
	check := func(w Wish) error {
		if !known[w.Note] {
			return fmt.Errorf("%w: there is no note %q in this score; `antiphon score` lists them", ErrWish, w.Note)
		}
		if w.String < 0 || w.String > grip.MaxStrings || w.Finger < -1 || w.Finger > 4 || w.String == 0 && w.Finger < 0 {
			return fmt.Errorf("%w: note %s on string %d with finger %d; fingers are 0 to 4", ErrWish, w.Note, w.String, w.Finger)
		}
		return nil
	}
	for _, w := range o.Fix {
		if err := check(w); err != nil {
			return nil, err
		}
		a := ask{ask: grip.Free(), fixed: true, forbid: out[w.Note].forbid}
		if w.String > 0 {
			a.ask.String = int8(w.String)
		}
		if w.Finger >= 0 {
			a.ask.Finger = int8(w.Finger)
		}
		out[w.Note] = a
	}
	for _, w := range o.Forbid {
		if err := check(w); err != nil {
			return nil, err
		}
		a, ok := out[w.Note]
		if !ok {
			a.ask = grip.Free()
		}
		a.forbid = append(slices.Clone(a.forbid), grip.Stop{String: int8(w.String), Finger: int8(w.Finger)})
		out[w.Note] = a
	}
	return out, nil
}

// clock turns places of the score into quarters at plainBpm.
type clock struct {
	s     *music.Score
	marks []float64 // plain quarters of each tempo mark
}

func newClock(s *music.Score) *clock {
	c := &clock{s: s}
	for i, t := range s.Tempos {
		if i == 0 {
			c.marks = append(c.marks, t.At.Q()*plainBpm/s.Tempos[0].QuarterBpm())
			continue
		}
		before := s.Tempos[i-1]
		c.marks = append(c.marks, c.marks[i-1]+t.At.Sub(before.At).Q()*plainBpm/before.QuarterBpm())
	}
	return c
}

// at gives plain quarters, and the seconds in one of them where the score states a tempo.
func (c *clock) at(b music.Beats) (q, sPerQ float64) {
	if len(c.marks) == 0 {
		return b.Q(), 0
	}
	i := 0
	for lo, hi := 0, len(c.marks); lo < hi; {
		mid := (lo + hi) / 2
		if b.Less(c.s.Tempos[mid].At) {
			hi = mid
		} else {
			i, lo = mid, mid+1
		}
	}
	t := c.s.Tempos[i]
	return c.marks[i] + b.Sub(t.At).Q()*plainBpm/t.QuarterBpm(), 60.0 / plainBpm
}

// instrumentOf is the guitar asked for, else what the score states of it, else a guitar in standard
// tuning, with the sixth string a tone lower where the notes need just that.
func instrumentOf(s *music.Score, parts []int, lowest int, in guitar.Instrument) (guitar.Instrument, string) {
	if in.Open == nil {
		for _, p := range parts {
			for _, a := range s.Parts[p].Attributes {
				if n := len(a.Tuning); n >= 4 && n <= grip.MaxStrings && in.Open == nil {
					for i := n - 1; i >= 0; i-- {
						in.Open = append(in.Open, a.Tuning[i].Midi())
					}
				}
				if a.Capo > 0 && in.Capo == 0 {
					in.Capo = a.Capo
				}
			}
		}
	}
	if in.Open == nil {
		in.Open = slices.Clone(guitar.Standard().Open)
		if low := in.Pitch(6, 0); lowest < low && lowest >= low-2 {
			in.Open[5] -= 2
			return in, "The score goes below the sixth string: it is taken as tuned down a tone, to D. Say otherwise with the tuning."
		}
	}
	return in, ""
}
