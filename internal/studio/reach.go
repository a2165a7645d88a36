package studio

import (
	"context"
	"errors"
	"net/mail"
	"strings"
	"time"
)

const (
	longestEmail = 254 // RFC 5321, 4.5.3.1.3, less the brackets
	confirmFor   = 7 * 24 * time.Hour
)

// NoteNames is how the notes are called on a family's pages.
type NoteNames string

const (
	Letters NoteNames = "letters" // A B C
	DoReMi  NoteNames = "do-re-mi"
)

// Self is the person behind a viewer.
func (d *Desk) Self(ctx context.Context, v Viewer) (Person, error) {
	p, err := d.self(ctx, d.store, v)
	return p, problemOf(err)
}

// AskEmail keeps an address of the viewer's, and returns the secret of the link that confirms it: it goes to
// that address and nowhere else. Nothing else is sent there before.
func (d *Desk) AskEmail(ctx context.Context, v Viewer, address string) (secret string, err error) {
	if err := v.must("Notices are for the teacher and the families.", Teacher, Coach); err != nil {
		return "", err
	}
	address = tidy(address)
	a, err := mail.ParseAddress(address)
	if err != nil || a.Address != address || len(address) > longestEmail || strings.ContainsAny(address, " <>\"") {
		return "", invalid("This is no e-mail address. Write it like name@example.org.")
	}
	secret, hash, err := newToken(d.o.Rand)
	if err != nil {
		return "", problemOf(err)
	}
	off, _, err := newToken(d.o.Rand)
	if err != nil {
		return "", problemOf(err)
	}
	err = d.store.Within(ctx, func(tx Records) error {
		p, err := d.self(ctx, tx, v)
		if err != nil {
			return err
		}
		p.Email, p.EmailAt = address, time.Time{}
		if err := tx.PutPerson(ctx, p); err != nil {
			return err
		}
		return tx.PutEmailSecrets(ctx, p, hash, off, d.now())
	})
	if err != nil {
		return "", problemOf(err)
	}
	return secret, nil
}

// ConfirmEmail is what the link in the mail does. It works once, and for a week.
func (d *Desk) ConfirmEmail(ctx context.Context, secret string) (Person, error) {
	now := d.now()
	p, err := d.store.TakeEmailSecret(ctx, hashToken(secret), now.Add(-confirmFor), now)
	if errors.Is(err, ErrNotFound) {
		return Person{}, &Problem{Gone, "This link was used already or has expired. Enter the address again.", err}
	}
	return p, problemOf(err)
}

// MailsOff is what the link under every mail does: the address is forgotten. Doing it twice is no error.
func (d *Desk) MailsOff(ctx context.Context, secret string) error {
	err := d.store.ForgetEmail(ctx, secret)
	if errors.Is(err, ErrNotFound) {
		return nil
	}
	return problemOf(err)
}

// DropEmail forgets the viewer's address.
func (d *Desk) DropEmail(ctx context.Context, v Viewer) error {
	return d.changeSelf(ctx, v, func(p *Person) { p.Email, p.EmailAt = "", time.Time{} })
}

// KeepNoteNames keeps how the viewer calls the notes.
func (d *Desk) KeepNoteNames(ctx context.Context, v Viewer, n NoteNames) error {
	if n != Letters && n != DoReMi {
		return invalid("The page sent something that makes no sense. Load it again.")
	}
	return d.changeSelf(ctx, v, func(p *Person) { p.NoteNames = n })
}

func (d *Desk) changeSelf(ctx context.Context, v Viewer, change func(*Person)) error {
	return problemOf(d.store.Within(ctx, func(tx Records) error {
		p, err := d.self(ctx, tx, v)
		if err != nil {
			return err
		}
		change(&p)
		return tx.PutPerson(ctx, p)
	}))
}

// TellHearing says whether a family reads, in its own words, what was heard in a take that it sent.
func (d *Desk) TellHearing(ctx context.Context, v Viewer, id StudentID, tell bool) (Student, error) {
	if err := v.must("What a family is told of a hearing is the teacher's to say.", Teacher); err != nil {
		return Student{}, err
	}
	var s Student
	err := d.store.Within(ctx, func(tx Records) (err error) {
		if s, err = tx.Student(ctx, v.scope(), id); err != nil {
			return err
		}
		s.TellHearing = tell
		return tx.PutStudent(ctx, s)
	})
	if err != nil {
		return Student{}, problemOf(err)
	}
	return s, nil
}
