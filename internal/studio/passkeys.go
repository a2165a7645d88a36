package studio

import (
	"context"
	"encoding/json"
	"time"
)

// Passkey is a way in that needs no password. What the credential holds is the ceremony's business.
type Passkey struct {
	ID         PasskeyID
	Studio     StudioID
	Person     PersonID
	Name       string
	Credential json.RawMessage `json:"-"`
	Added      time.Time
	Used       time.Time // zero before the first time
}

func (d *Desk) Passkeys(ctx context.Context, v Viewer) ([]Passkey, error) {
	if err := v.must(itsTheTeachers, Teacher); err != nil {
		return nil, err
	}
	ks, err := d.store.Passkeys(ctx, v.Studio)
	return ks, problemOf(err)
}

// TeacherPasskeys is what a sign-in ceremony needs before anybody is known. NotFound where there is no teacher.
func (d *Desk) TeacherPasskeys(ctx context.Context) (Person, []Passkey, error) {
	p, err := d.theTeacher(ctx, d.store)
	if err != nil {
		return Person{}, nil, problemOf(err)
	}
	ks, err := d.store.Passkeys(ctx, p.Studio)
	if err != nil {
		return Person{}, nil, problemOf(err)
	}
	return p, ks, nil
}

func (d *Desk) AddPasskey(ctx context.Context, v Viewer, name string, cred json.RawMessage) (Passkey, error) {
	if err := v.must(itsTheTeachers, Teacher); err != nil {
		return Passkey{}, err
	}
	if !json.Valid(cred) {
		return Passkey{}, invalid("The passkey did not arrive whole. Try again.")
	}
	k := Passkey{Studio: v.Studio, Person: v.Person, Name: named(name, longestName), Credential: cred, Added: d.now()}
	if k.Name == "" {
		k.Name = "Passkey"
	}
	var err error
	if k.ID, err = NewID[PasskeyID](d.o.Rand); err != nil {
		return Passkey{}, problemOf(err)
	}
	if err := d.store.AddPasskey(ctx, k); err != nil {
		return Passkey{}, problemOf(err)
	}
	return k, nil
}

func (d *Desk) ForgetPasskey(ctx context.Context, v Viewer, id PasskeyID) error {
	if err := v.must(itsTheTeachers, Teacher); err != nil {
		return err
	}
	return problemOf(d.store.RemovePasskey(ctx, v.Studio, id))
}

// EnterByPasskey binds the teacher's device after a ceremony that succeeded with passkey id. Renewed
// is the credential as the ceremony left it.
func (d *Desk) EnterByPasskey(ctx context.Context, id PasskeyID, renewed json.RawMessage, device string) (Viewer, string, error) {
	p, ks, err := d.TeacherPasskeys(ctx)
	if err != nil {
		return Viewer{}, "", err
	}
	if !json.Valid(renewed) {
		return Viewer{}, "", invalid("The passkey did not arrive whole. Try again.")
	}
	for _, k := range ks {
		if k.ID == id && k.Person == p.ID {
			k.Credential, k.Used = renewed, d.now()
			return d.enter(ctx, p, device, func(tx Records) error { return tx.PutPasskey(ctx, k) })
		}
	}
	return Viewer{}, "", wrongSignIn(nil)
}
