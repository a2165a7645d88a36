package studio

import (
	"context"
	"encoding/json"
	"strings"
	"time"
)

const (
	mostParts       = 40
	mostFacts       = 400
	longestChart    = 100_000 // bytes
	itsTheLetters   = "Letters are the teacher's."
	longestLetterYr = 2 // years that a letter may be about
)

// stretch is the days of a letter, as moments where the studio is: the end is the midnight after the last.
func (d *Desk) stretch(from, to string) (begin, end time.Time, err error) {
	begin, err1 := time.ParseInLocation(time.DateOnly, from, d.o.Zone)
	last, err2 := time.ParseInLocation(time.DateOnly, to, d.o.Zone)
	if err1 != nil || err2 != nil || last.Before(begin) || begin.AddDate(longestLetterYr, 0, 0).Before(last) {
		return begin, last, invalid("A letter is about the days from %q to %q: write them like 2026-11-25, the first one first, and at most two years.", tidy(from), tidy(to))
	}
	return begin, last.AddDate(0, 0, 1), nil
}

func (d *Desk) checkedLetter(l Letter) (Letter, error) {
	if _, _, err := d.stretch(l.From, l.To); err != nil {
		return l, err
	}
	if len(l.Parts) > mostParts {
		return l, invalid("A letter may have %d parts.", mostParts)
	}
	parts := make([]LetterPart, len(l.Parts))
	for i, p := range l.Parts {
		p.Heading, p.Text = named(p.Heading, longestTitle), strings.TrimSpace(plain(p.Text))
		switch {
		case len(p.Text) > longestWords || len(p.Facts) > mostFacts:
			return l, invalid("A part of a letter may have %d letters.", longestWords)
		case p.Chart != nil && (len(p.Chart) > longestChart || !json.Valid(p.Chart)):
			return l, invalid("A chart of the letter did not arrive whole. Draft the letter again.")
		}
		facts := make([]Fact, len(p.Facts))
		for j, f := range p.Facts {
			f.Say, f.Day = named(f.Say, longestLine), tidy(f.Day)
			facts[j] = f
		}
		if p.Facts = facts; len(facts) == 0 {
			p.Facts = nil
		}
		parts[i] = p
	}
	l.Parts = parts
	return l, nil
}

// SaveLetter keeps a letter as it is being written, as SaveDraft keeps a lesson.
func (d *Desk) SaveLetter(ctx context.Context, v Viewer, l Letter) (Letter, error) {
	if err := v.must(itsTheLetters, Teacher); err != nil {
		return Letter{}, err
	}
	l, err := d.checkedLetter(l)
	if err != nil {
		return Letter{}, err
	}
	if l.ID == "" {
		if l.ID, err = NewID[LetterID](d.o.Rand); err != nil {
			return Letter{}, problemOf(err)
		}
	}
	l.Studio, l.Saved, l.Sent = v.Studio, d.now(), time.Time{}
	err = d.store.Within(ctx, func(tx Records) error {
		s, err := tx.Student(ctx, v.scope(), l.Student)
		if err != nil {
			return err
		}
		l.Family = s.Family
		return tx.PutLetter(ctx, l)
	})
	if err != nil {
		return Letter{}, problemOf(err)
	}
	l.Version++
	return l, nil
}

// SendLetter makes a letter the family's, and has the family told. It is not changed any more.
func (d *Desk) SendLetter(ctx context.Context, v Viewer, id LetterID, version int) error {
	if err := v.must(itsTheLetters, Teacher); err != nil {
		return err
	}
	return problemOf(d.store.Within(ctx, func(tx Records) error {
		l, err := tx.Letter(ctx, v.scope(), id)
		if err != nil {
			return err
		}
		if len(l.Parts) == 0 {
			return invalid("This letter is empty. Write something in it, then send it.")
		}
		now := d.now()
		if err := tx.SendLetter(ctx, v.scope(), id, version, now); err != nil {
			return err
		}
		return d.notify(ctx, tx, l.Studio, ofFamily(l.Family), OfLetter, string(l.ID), now)
	}))
}

// DropLetter forgets a letter that was not sent.
func (d *Desk) DropLetter(ctx context.Context, v Viewer, id LetterID) error {
	if err := v.must(itsTheLetters, Teacher); err != nil {
		return err
	}
	return problemOf(d.store.RemoveLetter(ctx, v.scope(), id))
}

// Letter is one letter; a draft is the teacher's only.
func (d *Desk) Letter(ctx context.Context, v Viewer, id LetterID) (Letter, error) {
	l, err := d.store.Letter(ctx, v.scope(), id)
	if err == nil && l.Sent.IsZero() && v.Role != Teacher {
		err = ErrNotFound
	}
	if err != nil {
		return Letter{}, problemOf(err)
	}
	return l, nil
}

// Letters of a student, the newest first; for a family those that were sent.
func (d *Desk) Letters(ctx context.Context, v Viewer, s StudentID) ([]Letter, error) {
	who, err := d.store.Student(ctx, v.scope(), s)
	if err != nil {
		return nil, problemOf(err)
	}
	all, err := d.store.Letters(ctx, OneFamily(who.Studio, who.Family), s)
	if err != nil {
		return nil, problemOf(err)
	}
	var seen []Letter
	for _, l := range all {
		if v.Role == Teacher || !l.Sent.IsZero() {
			seen = append(seen, l)
		}
	}
	return seen, nil
}
