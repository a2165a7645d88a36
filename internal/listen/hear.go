package listen

import (
	"bytes"
	"cmp"
	"context"
	"errors"
	"os"
	"slices"
	"time"

	"antiphon/internal/amend"
	"antiphon/internal/ear"
	"antiphon/internal/findings"
	"antiphon/internal/media"
	"antiphon/internal/music"
	"antiphon/internal/report"
	"antiphon/internal/studio"
	"antiphon/internal/tone"
)

// hear hears a take, and then asks for what pages play and draw, which the teacher does not wait for.
// That is asked for also where somebody else has heard the take already: whoever did may have been killed
// before asking.
func (h *Hands) hear(ctx context.Context, v studio.Viewer, id studio.TakeID) error {
	if err := h.hearTake(ctx, v, id); err != nil {
		return err
	}
	return unlessOver(h.desk.AskForRenditions(ctx, v, id))
}

// hearTake makes a take clean, hears it, and says on the desk what came of it.
func (h *Hands) hearTake(ctx context.Context, v studio.Viewer, id studio.TakeID) error {
	m, err := h.desk.BeginHearing(ctx, v, id)
	if err != nil {
		return unlessOver(err)
	}
	dir, done, err := h.workplace()
	if err != nil {
		return err
	}
	defer done()
	path, err := h.clean(ctx, v, m, dir)
	if say := blame(err); say != "" {
		return unlessOver(h.desk.SetAside(ctx, v, id, say, studio.Heard{Turn: m.Turn}))
	}
	if err != nil {
		return unlessOver(err)
	}
	start := h.o.Now()
	pcm, info, err := media.Decode(ctx, path, h.o.Media)
	if say := blame(err); say != "" {
		return unlessOver(h.desk.SetAside(ctx, v, id, say, studio.Heard{Turn: m.Turn}))
	}
	if err != nil {
		return err
	}
	heard, why, err := h.listen(ctx, v, m, pcm, info, h.o.Now().Sub(start))
	if err != nil {
		return err
	}
	heard.Turn, heard.DurationS = m.Turn, pcm.Seconds()
	if why != "" {
		err = h.desk.SetAside(ctx, v, id, why, heard)
	} else {
		_, err = h.desk.KeepHearing(ctx, v, id, heard)
	}
	return unlessOver(err)
}

// clean gives the place of a copy of the take without what it told of place and device, and keeps that
// copy instead of what was sent.
func (h *Hands) clean(ctx context.Context, v studio.Viewer, m studio.Material, dir string) (string, error) {
	f, err := h.desk.Bytes(ctx, v, m.Original)
	if err != nil {
		return "", err
	}
	sent, err := fetch(ctx, f, dir)
	if err != nil || m.Original.Clean {
		return sent, err
	}
	// What was announced as sound is sound: a picture hidden in it is not kept.
	soundOnly := m.Student.Media == studio.SoundOnly
	c, err := media.Strip(ctx, sent, dir, soundOnly, h.o.Media)
	if err != nil {
		return "", err
	}
	r, err := os.Open(c.Path)
	if err != nil {
		return "", err
	}
	_, err = h.desk.ReplaceOriginal(ctx, v, m.Take.ID, c.Type, r)
	return c.Path, errors.Join(err, r.Close(), os.Remove(sent))
}

// listen measures a take. why is not "" where the teacher has to look before anything else.
func (h *Hands) listen(ctx context.Context, v studio.Viewer, m studio.Material, pcm media.PCM, info media.Info, decoding time.Duration) (heard studio.Heard, why string, err error) {
	start := h.o.Now()
	s := scene{pcm: pcm, info: info, levels: measureLevels(pcm)}
	if heard.Print, err = Print(pcm); err != nil {
		return heard, "", err
	}
	if s.older, err = h.sentBefore(ctx, v, m.Take, heard.Print); err != nil {
		return heard, "", err
	}
	if s.older != nil {
		heard.SameAs = s.older.ID
	}
	l, err := ear.Listen(ctx, pcm, nil)
	if err != nil {
		return heard, "", err
	}
	var score *music.Score
	if m.Work != nil {
		s.title, s.work, score = m.Work.Title, m.Work.ID, readScore(*m.Work)
	}
	capo, corrections, lost := 0, []amend.Correction(nil), studio.Concern{}
	if score != nil {
		corrections = known(m.Corrections)
		if s.hearing, capo, err = withPartner(ctx, l, score, m, amend.Hints(score, corrections)); err != nil {
			return heard, "", err
		}
		lost = lostPlace(s.hearing, m.Take.With)
		s.from, s.to = askedNotes(s.hearing, score, m.FromBar, m.ToBar)
	}
	if !s.heardIt() { // only then does it matter what else it may be
		if s.sound, err = findings.Listen(pcm); err != nil {
			return heard, "", err
		}
		if s.sound == findings.Tones {
			if s.likely, err = h.soundsLike(ctx, v.Studio, l, m.Candidates); err != nil {
				return heard, "", err
			}
		}
	}
	for _, k := range s.likely {
		heard.SoundsLike = append(heard.SoundsLike, studio.Likeness{Work: k.work.ID, Confidence: k.confidence})
	}
	if s.hearing != nil {
		opt := findings.Options{GoalBpm: goalBpm(m.Goals, s.hearing), Sound: s.sound}
		s.findings = findings.Of(s.hearing, score, opt)
		touch := tone.Heard{}
		if !inside(m.Take.With) { // another part's strings would be taken for the student's
			if touch, err = tone.Measure(pcm, s.hearing, tone.Options{Capo: capo}); err != nil {
				return heard, "", err
			}
		}
		r := report.Report{Hearing: s.hearing, Score: score, Findings: s.findings, Tone: touch, Meta: report.Meta{TakeFile: m.Take.FileName, ScoreFile: s.title, Notes: info.Notes,
			DecodeS: decoding.Seconds(), AnalysisS: h.o.Now().Sub(start).Seconds()}}
		var doc bytes.Buffer
		if err := r.JSON(&doc); err != nil {
			return heard, "", err
		}
		heard.Doc = doc.Bytes() // as it was measured; lists show what the teacher made of it
		heard.Summary = summary(amend.Apply(s.hearing, score, corrections, opt).Hearing)
	}
	heard.Concerns = s.concerns()
	for _, c := range []studio.Concern{higher(capo), lost} {
		if c.Say != "" {
			heard.Concerns = append(heard.Concerns, c)
		}
	}
	if !s.heardIt() {
		why = heard.Concerns[0].Say
	}
	return heard, why, nil
}

// Against a passage a take is heard first, since rounds of a few bars are rounds only there. Where it
// leaves much of the playing unexplained, and the whole score explains more, more was played than asked.
const (
	passageCovers = 0.7
	wholeGains    = 0.1
)

// known are the corrections that can be used. Those of another program's kinds are the page's to tell.
func known(kept []studio.Correction) []amend.Correction {
	var all []amend.Correction
	for _, k := range kept {
		if c, err := amend.Parse(k.Kind, k.What); err == nil {
			all = append(all, c)
		}
	}
	return all
}

// heed hears a take with hints. One that has no place, as after the score or the recording has changed, is
// left out; the page of the take says so.
func heed(ctx context.Context, l *ear.Listening, score *music.Score, opt ear.Options) (*ear.Hearing, error) {
	h, err := l.Hear(ctx, score, opt)
	if !errors.Is(err, ear.ErrHint) {
		return h, err
	}
	var fit []ear.Hint
	for _, one := range opt.Hints {
		if _, err := l.Hear(ctx, score, ear.Options{Capo: opt.Capo, Hints: []ear.Hint{one}}); err == nil {
			fit = append(fit, one)
		} else if !errors.Is(err, ear.ErrHint) {
			return nil, err
		}
	}
	return l.Hear(ctx, score, ear.Options{Capo: opt.Capo, Hints: fit})
}

// against hears a take against what was asked of a score; the hearing counts the notes of the whole
// score. A hint at a bar that was not asked is heard against the whole. capo is by how many semitones the
// take lies above what is written, where the ear had to find out.
func against(ctx context.Context, l *ear.Listening, score *music.Score, fromBar, toBar string, hints []ear.Hint) (h *ear.Hearing, capo int, err error) {
	cut, at := score, []int(nil)
	if fromBar != "" {
		cut, at = passage(score, fromBar, toBar)
	}
	if at != nil && leadsOut(hints, score, at) {
		cut, at = score, nil
	}
	if h, err = heed(ctx, l, cut, ear.Options{Hints: hints}); err != nil {
		return nil, 0, err
	}
	moved := h.SoundsHigher
	lift(h, score, at)
	if at != nil && (len(h.Passes) == 0 || h.Covers < passageCovers) {
		whole, err := heed(ctx, l, score, ear.Options{Hints: hints})
		if err != nil {
			return nil, 0, err
		}
		moved = cmp.Or(whole.SoundsHigher, moved)
		if len(whole.Passes) > 0 && (len(h.Passes) == 0 || whole.Covers > h.Covers+wholeGains) {
			return whole, 0, nil
		}
	}
	if len(h.Passes) > 0 || moved == 0 {
		return h, 0, nil
	}
	higher, err := heed(ctx, l, cut, ear.Options{Capo: moved, Hints: hints})
	if err != nil {
		return nil, 0, err
	}
	lift(higher, score, at)
	if at != nil && (len(higher.Passes) == 0 || higher.Covers < passageCovers) {
		if higher, err = heed(ctx, l, score, ear.Options{Capo: moved, Hints: hints}); err != nil {
			return nil, 0, err
		}
	}
	if len(higher.Passes) > 0 {
		return higher, moved, nil
	}
	return h, 0, nil
}

// leadsOut says whether a hint names a bar outside of the notes asked.
func leadsOut(hints []ear.Hint, score *music.Score, at []int) bool {
	notes := score.Sounding()
	first, last := notes[at[0]].BarIndex, notes[at[len(at)-1]].BarIndex
	return slices.ContainsFunc(hints, func(h ear.Hint) bool { return h.Bar >= 0 && (h.Bar < first || h.Bar > last) })
}

// askedNotes are the first and the last note of what was asked, by their place in the hearing's score.
func askedNotes(h *ear.Hearing, score *music.Score, fromBar, toBar string) (from, to int) {
	to = len(h.Score) - 1
	if fromBar == "" {
		return 0, to
	}
	_, at := passage(score, fromBar, toBar)
	if at == nil {
		return 0, to
	}
	return at[0], at[len(at)-1]
}

// goalBpm is the tempo asked for, in the beat that the score counts.
func goalBpm(g studio.Goals, h *ear.Hearing) float64 {
	if h.Tempo.BeatUnitQ <= 0 {
		return g.TempoBpm
	}
	return g.TempoBpm / h.Tempo.BeatUnitQ
}

// summary is the least that lists show.
func summary(h *ear.Hearing) studio.Summary {
	s := studio.Summary{SteadinessPct: h.Tempo.SteadinessPct, Missed: len(h.Missed), Bpm: h.Tempo.MedianBpm}
	if h.Tempo.BeatUnitQ > 0 {
		s.Bpm *= h.Tempo.BeatUnitQ
	}
	right, low, high := 0, -1, -1
	for _, n := range h.Played {
		switch n.Verdict {
		case ear.Right:
			right++
		case ear.Wrong:
			s.Wrong++
		case ear.Extra:
			s.Extra++
		}
		if n.Note < 0 {
			continue
		}
		bar := h.Score[n.Note]
		if low < 0 || bar.BarIndex < low {
			low, s.FromBar = bar.BarIndex, bar.Bar
		}
		if bar.BarIndex > high {
			high, s.ToBar = bar.BarIndex, bar.Bar
		}
	}
	s.Notes = right + s.Wrong + s.Missed
	if s.Notes > 0 {
		s.RightShare = float64(right) / float64(s.Notes)
	}
	for _, j := range h.Jumps {
		if j.Kind == ear.Restart {
			s.Restarts++
		}
	}
	return s
}

// sentBefore finds an earlier take of the student's that is the same sound; nil where there is none.
func (h *Hands) sentBefore(ctx context.Context, v studio.Viewer, t studio.Take, print []byte) (*studio.Take, error) {
	if print == nil || t.Model() {
		return nil, nil
	}
	earlier, err := h.desk.Prints(ctx, v, t.Student, t.Arrived.AddDate(0, -3, 0))
	if err != nil {
		return nil, err
	}
	for _, p := range earlier {
		if p.Take != t.ID && p.Arrived.Before(t.Arrived) && SameSound(print, p.Bytes) {
			return &studio.Take{ID: p.Take, Arrived: p.Arrived}, nil
		}
	}
	return nil, nil
}
