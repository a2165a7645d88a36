package studio

import (
	"cmp"
	"context"
	"errors"
	"slices"
	"strconv"
	"time"
)

// SoFar shows how every student's week fills in, in the order in which they came to the studio.
func (d *Desk) SoFar(ctx context.Context, v Viewer) ([]SoFar, error) {
	if err := v.must(itsTheDesk, Teacher); err != nil {
		return nil, err
	}
	l, err := d.soFar(ctx, v, "")
	return l, problemOf(err)
}

// SoFarOf shows it of one student: for the teacher, and for the family itself.
func (d *Desk) SoFarOf(ctx context.Context, v Viewer, id StudentID) (SoFar, error) {
	if _, err := d.store.Student(ctx, v.scope(), id); err != nil {
		return SoFar{}, problemOf(err)
	}
	l, err := d.soFar(ctx, v, id)
	if err == nil && len(l) != 1 {
		err = ErrNotFound
	}
	if err != nil {
		return SoFar{}, problemOf(err)
	}
	return l[0], nil
}

// soFar of one student, "" for all, with five questions however many there are, and one for each way that was chosen
// of two with fingers of their own.
func (d *Desk) soFar(ctx context.Context, v Viewer, only StudentID) ([]SoFar, error) {
	in := v.scope()
	var (
		students []Student
		families []Family
		lessons  []Lesson
		week     []Tap
		open     []Tap
	)
	for _, ask := range []func() error{
		func() (err error) {
			if only == "" {
				students, err = d.store.Students(ctx, in)
				return err
			}
			s, err := d.store.Student(ctx, in, only)
			students, in = []Student{s}, OneFamily(s.Studio, s.Family)
			return err
		},
		func() (err error) { families, err = d.store.Families(ctx, in); return },
		func() (err error) { lessons, err = d.store.LastLessons(ctx, in, only); return },
		func() (err error) { week, err = d.store.TapsOfWeek(ctx, in, only); return },
		func() (err error) { open, err = d.store.OpenTaps(ctx, in, only); return },
	} {
		if err := ask(); err != nil {
			return nil, err
		}
	}
	all, at := make([]SoFar, len(students)), map[StudentID]*SoFar{}
	home := map[FamilyID]Family{}
	for _, f := range families {
		home[f.ID] = f
	}
	for i, s := range students {
		all[i] = SoFar{Student: s, Family: home[s.Family]}
		at[s.ID] = &all[i]
	}
	for _, l := range lessons {
		if s := at[l.Student]; s != nil {
			s.Lesson, s.Day, s.Sent, s.Opened = l.ID, l.Date, l.Sent, l.Opened
			s.Items = make([]ItemSoFar, len(l.Assignments))
			for i, a := range l.Assignments {
				s.Items[i].Assignment = a
			}
		}
	}
	for _, t := range open {
		if s := at[t.Student]; s != nil && (s.Sent.IsZero() || t.At.Before(s.Sent)) {
			s.speak(t)
		}
	}
	taps := map[StudentID][]Tap{}
	for _, t := range week {
		taps[t.Student] = append(taps[t.Student], t)
	}
	for i := range all {
		all[i].fill(taps[all[i].Student.ID], d.o.Zone)
		for n := range all[i].Items {
			if err := d.choice(ctx, in, &all[i].Items[n]); err != nil {
				return nil, err
			}
		}
	}
	return all, nil
}

// choice says which fingers were chosen at home and are not the student's own yet.
func (d *Desk) choice(ctx context.Context, in Scope, i *ItemSoFar) error {
	if i.Way == 0 || i.Ways[i.Way-1].Own == "" || i.Ways[i.Way-1].Own == AsEverybody {
		return nil
	}
	f, err := d.store.Fingering(ctx, in, i.Ways[i.Way-1].Own)
	if err == nil && f.Fits && !f.Holds() {
		i.Choice = f.ID
	}
	if errors.Is(err, ErrNotFound) {
		return nil
	}
	return err
}

// speak puts what the family wrote or said into its list.
func (s *SoFar) speak(t Tap) {
	switch t.Kind {
	case TapQuestion, TapVoice:
		s.Questions = append(s.Questions, t)
	case TapHurt:
		s.Hurts = append(s.Hurts, t)
	}
}

// fill counts the taps since the lesson, the oldest first. A done that was taken back on the same day was none.
func (s *SoFar) fill(taps []Tap, zone *time.Location) {
	item := map[AssignmentID]*ItemSoFar{}
	for i := range s.Items {
		item[s.Items[i].Assignment.ID] = &s.Items[i]
	}
	type doneOn struct {
		of  AssignmentID
		day string
	}
	done := map[doneOn]int{}
	days := map[string]bool{}
	for _, t := range taps {
		s.speak(t)
		day := t.At.In(zone).Format(time.DateOnly)
		switch t.Kind {
		case TapDone:
			done[doneOn{t.Assignment, day}]++
		case TapUndone:
			if k := (doneOn{t.Assignment, day}); done[k] > 0 {
				done[k]--
			}
		case TapTry, TapRung, TapHeard, TapAnswer, TapChose:
			days[day] = true
		}
		if i := item[t.Assignment]; i != nil {
			i.count(t)
		}
	}
	for k, n := range done {
		if n == 0 {
			continue
		}
		days[k.day] = true
		if i := item[k.of]; i != nil {
			i.Done += n
		}
	}
	for day := range days {
		s.Days = append(s.Days, day)
	}
	slices.Sort(s.Days)
}

// count is what one tap says of its assignment; done is counted elsewhere.
func (i *ItemSoFar) count(t Tap) {
	switch t.Kind {
	case TapTry:
		i.Tries++
		if t.Clean {
			i.Clean++
			i.TopBpm = max(i.TopBpm, t.Bpm)
		}
	case TapRung:
		i.TopBpm = max(i.TopBpm, t.Bpm)
	case TapHeard:
		i.Heard = true
	case TapAnswer:
		i.Answer, i.Right = t.Text, i.Right || t.Right
	case TapChose:
		i.Chose, i.Way = t.Text, 0
		for n, w := range i.Ways {
			if t.Text == strconv.Itoa(n+1) || t.Text == w.Say && w.Say != "" { // a phone says the number of the way
				i.Way, i.Chose = n+1, cmp.Or(w.Say, w.Fingering, [2]string{"the first way", "the second way"}[n])
				break
			}
		}
	case TapHurt:
		i.Stopped = i.Stopped || t.Answered.IsZero()
	}
}
