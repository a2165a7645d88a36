package studio

import (
	"context"
	"encoding/json"
	"errors"
	"fmt"
	"math"
	"slices"
	"strings"
	"time"
)

// Reason says why a line of a proposed lesson stands there, or why one is gone.
type Reason struct {
	Line  int // index in the lesson's assignments; -1 for one that is gone
	Move  Move
	Say   string   // one or two sentences, for the teacher
	Takes []TakeID // that it is drawn from
}

// Move is what happens with a line of the last lesson.
type Move string

const (
	MoveKeep    Move = "keep"
	MoveAdvance Move = "advance"
	MoveBack    Move = "back" // brought back from an earlier lesson, or a step back
	MoveGone    Move = "gone"
)

// What a take must show before a proposal goes on: as good as asked, but for what the ear may miss (our
// choice, no source). A proposal goes up by about one notch of a metronome.
const (
	rightEnough  = .95 // of the notes asked
	fastEnough   = .97 // of the tempo asked
	notch        = 1.06
	sureEnough   = .5 // confidence of a finding that is told
	lessonsBack  = 4  // how far back a question or a piece that waits is looked for
	longestLoopS = 20
)

// ProposeLesson is a lesson that goes on from the last one, and kept nowhere: its lines go up, stay or come
// back, each with a reason in words, from this week's takes, what was heard in them, remarks and taps.
// Questions that were not answered right, and what is held back, return.
func (d *Desk) ProposeLesson(ctx context.Context, v Viewer, id StudentID) (Lesson, []Reason, error) {
	if err := v.must(itsTheLessons, Teacher); err != nil {
		return Lesson{}, nil, err
	}
	s, err := d.store.Student(ctx, v.scope(), id)
	if err != nil {
		return Lesson{}, nil, problemOf(err)
	}
	p := proposal{in: OneFamily(s.Studio, s.Family), week: map[AssignmentID]heardTake{}}
	p.lesson = Lesson{Studio: s.Studio, Family: s.Family, Student: s.ID, Date: d.now().In(d.o.Zone).Format(time.DateOnly)}
	if p.sofar, err = d.SoFarOf(ctx, v, id); err != nil {
		return Lesson{}, nil, err
	}
	if p.sofar.Lesson == "" {
		return p.lesson, nil, nil
	}
	for _, ask := range []func() error{
		func() error { return d.thisWeek(ctx, &p) },
		func() (err error) {
			p.before, err = d.store.Lessons(ctx, p.in, LessonQuery{Student: id, Limit: lessonsBack + 1})
			return err
		},
		func() error { return d.alreadyAnswered(ctx, &p) },
	} {
		if err := ask(); err != nil {
			return Lesson{}, nil, problemOf(err)
		}
	}
	for _, i := range p.sofar.Items {
		p.goOn(i)
	}
	p.bringBack()
	if err := d.nameWeak(ctx, v, &p); err != nil {
		return Lesson{}, nil, problemOf(err)
	}
	return p.lesson, p.reasons, nil
}

// proposal is one as it is put together.
type proposal struct {
	in      Scope
	lesson  Lesson
	reasons []Reason
	sofar   SoFar
	week    map[AssignmentID]heardTake // the newest of each line
	before  []Lesson                   // the newest first; the last lesson among them
	right   map[AssignmentID]bool      // questions that were answered right
}

// thisWeek reads the newest take of each line since the lesson.
func (d *Desk) thisWeek(ctx context.Context, p *proposal) error {
	ts, err := d.store.Takes(ctx, p.in, TakeQuery{Student: p.lesson.Student, Since: p.sofar.Sent})
	if err != nil {
		return err
	}
	for _, t := range ts {
		if _, newer := p.week[t.Assignment]; newer || t.Assignment == "" || t.Summary == nil || t.State != Ready {
			continue
		}
		h := heardTake{Take: t}
		hearing, err := d.newest(ctx, p.in, t.ID)
		if err != nil {
			return err
		}
		if hearing != nil {
			if err := json.Unmarshal(hearing.JSON, &h.doc); err != nil {
				return fmt.Errorf("reading the hearing of take %s: %w", t.ID, err)
			}
		}
		rs, err := d.store.Remarks(ctx, p.in, t.ID)
		if err != nil {
			return err
		}
		for _, r := range rs {
			if r.Text != "" {
				h.remark = r.Text
			}
		}
		_, err = mediaOf(ctx, d.store, p.in, t.ID, Original)
		if h.here = err == nil; err != nil && !errors.Is(err, ErrNotFound) {
			return err
		}
		p.week[t.Assignment] = h
	}
	return nil
}

// alreadyAnswered looks which questions of the last lessons were answered right.
func (d *Desk) alreadyAnswered(ctx context.Context, p *proposal) error {
	since := p.sofar.Sent
	for _, l := range p.before {
		if l.Sent.Before(since) {
			since = l.Sent
		}
	}
	taps, err := d.store.Taps(ctx, p.in, TapQuery{Student: p.lesson.Student, Since: since})
	p.right = map[AssignmentID]bool{}
	for _, t := range taps {
		if t.Kind == TapAnswer && t.Right {
			p.right[t.Assignment] = true
		}
	}
	return err
}

func (p *proposal) line(a Assignment, move Move, say string, takes ...TakeID) {
	a.ID, a.Recording = "", ""
	p.reasons = append(p.reasons, Reason{Line: len(p.lesson.Assignments), Move: move, Say: say, Takes: takes})
	p.lesson.Assignments = append(p.lesson.Assignments, a)
}

func (p *proposal) gone(say string) {
	p.reasons = append(p.reasons, Reason{Line: -1, Move: MoveGone, Say: say})
}

// goOn decides about one line of the last lesson.
func (p *proposal) goOn(i ItemSoFar) {
	a := i.Assignment
	open := a.Question != nil && !i.Right
	if a.Question != nil && i.Right {
		a.Question = nil
	}
	switch {
	case i.Stopped:
		p.slower(a)
	case a.Ask == AskRest:
		p.gone("The rest is over.")
	case a.Ask == AskHeld:
		p.line(a, MoveKeep, "It is held back still. To open it, make it another kind of task.")
	case a.Ask == AskListen && i.Heard && !open:
		if i.Assignment.Question == nil {
			p.gone("The recording was listened to.")
			return
		}
		p.gone("The recording was listened to, and the question was answered right.")
	case a.Ask == AskListen && open && i.Answer != "":
		p.line(a, MoveKeep, fmt.Sprintf("The question comes back: the answer was “%s”.", i.Answer))
	case a.Ask == AskListen && open:
		p.line(a, MoveKeep, "The question waits for an answer.")
	case a.Ask == AskListen:
		p.line(a, MoveKeep, "Nobody tapped that it was listened to.")
	case a.Ask == AskChoose && i.Chose != "":
		a.Ask, a.Ways, a.Goals.Fingering = AskPlay, [2]Way{}, i.Chose
		p.line(a, MoveAdvance, fmt.Sprintf("Of the two ways they chose “%s”.", i.Chose))
	case a.Ask == AskKeep:
		p.line(a, MoveKeep, "A technique that is kept alive stays. "+i.tapped())
	default:
		p.played(i, a)
	}
}

// slower is a line that hurt.
func (p *proposal) slower(a Assignment) {
	if a.Goals.FromBpm > 0 {
		a.Goals.TempoBpm, a.Goals.FromBpm = a.Goals.FromBpm, 0
	}
	a.Ladder = Ladder{}
	p.line(a, MoveBack, "Something hurt with this. Nothing goes up before that is talked about; think of leaving it out.")
}

// played decides by the newest take, and without one by nothing but says what was tapped.
func (p *proposal) played(i ItemSoFar, a Assignment) {
	t, sent := p.week[i.Assignment.ID]
	if !sent {
		p.line(a, MoveKeep, i.tapped()+" No recording came, so it stays as it was.")
		return
	}
	if t.here {
		a.Last, a.Best = t.last(), t.best()
	}
	if t.remark != "" {
		a.Watch, _, _ = strings.Cut(t.remark, "\n")
	}
	say := t.inWords(a.Goals)
	if s := t.Summary; a.Goals.TempoBpm > 0 && s.Bpm >= fastEnough*a.Goals.TempoBpm && s.RightShare >= rightEnough && s.Restarts == 0 {
		was := a.Goals.TempoBpm
		a.Goals.FromBpm, a.Goals.TempoBpm = was, math.Round(was*notch)
		if a.Ladder.Clean > 0 {
			step := a.Ladder.StepBpm
			a.Ladder.FromBpm, a.Ladder.ToBpm = a.Ladder.ToBpm, min(fastestGoal, a.Ladder.ToBpm+2*step)
			a.Goals.TempoBpm = a.Ladder.ToBpm
		}
		a.Goals.TempoBpm = min(fastestGoal, a.Goals.TempoBpm)
		p.line(a, MoveAdvance, fmt.Sprintf("%s It goes up to %.0f; change that where the piece itself is slower.", say, a.Goals.TempoBpm), t.ID)
		return
	}
	p.line(a, MoveKeep, say, t.ID)
}

// bringBack looks in the lessons before the last for what was forgotten: questions, and what is held back.
func (p *proposal) bringBack() {
	// What is held back is opened where its work is asked in any other way.
	piece := func(a Assignment) string {
		if a.Work == "" {
			return fold(a.Do)
		}
		return string(a.Work)
	}
	asked, held := map[string]bool{}, map[string]bool{}
	know := func(l Lesson) {
		for _, a := range l.Assignments {
			if a.Question != nil {
				asked[fold(a.Question.Say)] = true
			}
			held[piece(a)] = true
		}
	}
	for _, l := range p.before {
		if l.ID == p.sofar.Lesson {
			know(l)
		}
	}
	slices.SortStableFunc(p.before, func(a, b Lesson) int { return b.Sent.Compare(a.Sent) })
	for _, l := range p.before {
		if l.ID == p.sofar.Lesson {
			continue
		}
		for _, a := range l.Assignments {
			if q := a.Question; q != nil && !asked[fold(q.Say)] && !p.right[a.ID] {
				p.line(a, MoveBack, fmt.Sprintf("The question of %s was not answered right yet.", l.Date))
			} else if a.Ask == AskHeld && !held[piece(a)] {
				p.line(a, MoveBack, fmt.Sprintf("It has been held back since %s, and was not opened.", l.Date))
			}
		}
		know(l)
	}
}
