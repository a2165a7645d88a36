package studio

import (
	"context"
	"slices"
	"strings"
	"time"
)

// Phrase is a sentence of the teacher's own. A blank in it is written "…".
type Phrase struct {
	ID     string
	Studio StudioID
	Text   string
	Used   time.Time // last; zero never
	To     StudentID // to whom it was said last; "" nobody, or nobody who is still here
	Times  int
}

const (
	mostPhrases   = 500
	longestPhrase = 1000
	itsTheWords   = "The phrases are the teacher's."
)

// Phrases lists them, those said last first, and then the newest.
func (d *Desk) Phrases(ctx context.Context, v Viewer) ([]Phrase, error) {
	if err := v.must(itsTheWords, Teacher); err != nil {
		return nil, err
	}
	l, err := d.store.Phrases(ctx, v.Studio)
	return l, problemOf(err)
}

// KeepPhrase keeps a new one, or other words of one that is there.
func (d *Desk) KeepPhrase(ctx context.Context, v Viewer, p Phrase) (Phrase, error) {
	if err := v.must(itsTheWords, Teacher); err != nil {
		return Phrase{}, err
	}
	text := strings.TrimSpace(strings.ReplaceAll(plain(p.Text), "...", "…"))
	switch {
	case text == "":
		return Phrase{}, invalid("A phrase needs words.")
	case len(text) > longestPhrase:
		return Phrase{}, invalid("A phrase may have %d letters.", longestPhrase)
	}
	err := d.store.Within(ctx, func(tx Records) error {
		all, err := tx.Phrases(ctx, v.Studio)
		if err != nil {
			return err
		}
		if p.ID == "" {
			if i := slices.IndexFunc(all, func(x Phrase) bool { return x.Text == text }); i >= 0 {
				p = all[i] // said twice it is one
				return nil
			}
			if len(all) >= mostPhrases {
				return invalid("There are %d phrases already. Remove one that you do not use.", mostPhrases)
			}
			p = Phrase{Studio: v.Studio, Text: text}
			if p.ID, err = NewID[string](d.o.Rand); err != nil {
				return err
			}
			return tx.PutPhrase(ctx, p)
		}
		i := slices.IndexFunc(all, func(x Phrase) bool { return x.ID == p.ID })
		if i < 0 {
			return ErrNotFound
		}
		p = all[i]
		p.Text = text
		return tx.PutPhrase(ctx, p)
	})
	if err != nil {
		return Phrase{}, problemOf(err)
	}
	return p, nil
}

// UsePhrase writes down that a phrase was said to a student.
func (d *Desk) UsePhrase(ctx context.Context, v Viewer, id string, to StudentID) (Phrase, error) {
	if err := v.must(itsTheWords, Teacher); err != nil {
		return Phrase{}, err
	}
	var p Phrase
	err := d.store.Within(ctx, func(tx Records) error {
		if _, err := tx.Student(ctx, v.scope(), to); err != nil {
			return err
		}
		all, err := tx.Phrases(ctx, v.Studio)
		if err != nil {
			return err
		}
		i := slices.IndexFunc(all, func(x Phrase) bool { return x.ID == id })
		if i < 0 {
			return ErrNotFound
		}
		p = all[i]
		p.Used, p.To, p.Times = d.now(), to, p.Times+1
		return tx.PutPhrase(ctx, p)
	})
	if err != nil {
		return Phrase{}, problemOf(err)
	}
	return p, nil
}

// RemovePhrase forgets one.
func (d *Desk) RemovePhrase(ctx context.Context, v Viewer, id string) error {
	if err := v.must(itsTheWords, Teacher); err != nil {
		return err
	}
	return problemOf(d.store.RemovePhrase(ctx, v.Studio, id))
}
