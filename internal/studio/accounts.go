package studio

import (
	"context"
	"errors"
)

// NewTeacher is what the set-up page asks.
type NewTeacher struct {
	Studio   string // its name
	Name     string // the teacher's
	Password string // "" where a passkey follows
	Device   string // what to call the device that is bound
	Language string // "" means "en"
}

// Home is the studio of this database, for a page that knows nobody yet; false where there is none.
func (d *Desk) Home(ctx context.Context) (Studio, bool, error) {
	st, err := d.store.FirstStudio(ctx)
	if errors.Is(err, ErrNotFound) {
		return Studio{}, false, nil
	}
	return st, err == nil, problemOf(err)
}

// OpenSetUp draws the secret of the address at which the first teacher is written down. Older ones
// die with it. Once there is a teacher it is a Conflict.
func (d *Desk) OpenSetUp(ctx context.Context) (string, error) {
	secret, hash, err := newToken(d.o.Rand)
	if err != nil {
		return "", problemOf(err)
	}
	err = d.store.Within(ctx, func(tx Records) error {
		if err := nobodyYet(ctx, tx); err != nil {
			return err
		}
		return tx.PutSetUp(ctx, hash, d.now())
	})
	if err != nil {
		return "", problemOf(err)
	}
	return secret, nil
}

func nobodyYet(ctx context.Context, tx Records) error {
	_, err := tx.FirstStudio(ctx)
	if err == nil {
		return &Problem{Kind: Conflict, Say: "This studio has its teacher already. Sign in instead."}
	}
	if errors.Is(err, ErrNotFound) {
		return nil
	}
	return err
}

// SetUp opens the studio, binds the teacher's device and draws the first recovery codes, which are
// shown once. The secret works once.
func (d *Desk) SetUp(ctx context.Context, secret string, n NewTeacher) (Viewer, string, []string, error) {
	st, p, err := d.newStudio(n.Studio, n.Name)
	if err != nil {
		return Viewer{}, "", nil, problemOf(err)
	}
	if n.Language = tidy(n.Language); n.Language != "" {
		st.Language = n.Language
	}
	var hash string
	if n.Password != "" {
		if hash, err = d.hashPassword(ctx, n.Password, st.Name, p.Name); err != nil {
			return Viewer{}, "", nil, problemOf(err)
		}
	}
	var v Viewer
	var device string
	var codes []string
	now := d.now()
	err = d.store.Within(ctx, func(tx Records) error {
		if err := tx.TakeSetUp(ctx, hashToken(secret)); err != nil {
			return err
		}
		if err := nobodyYet(ctx, tx); err != nil {
			return err
		}
		if err := d.found(ctx, tx, st, p); err != nil {
			return err
		}
		if hash != "" {
			if err := tx.PutPassword(ctx, p, hash, now); err != nil {
				return err
			}
		}
		if codes, err = d.drawCodes(ctx, tx, p); err != nil {
			return err
		}
		v, device, err = d.bind(ctx, tx, p, named(n.Device, longestName), now)
		return err
	})
	if errors.Is(err, ErrNotFound) {
		return Viewer{}, "", nil, &Problem{Gone, "This set-up address was used already, or a newer one was printed. Start the program again and open the address that it prints.", err}
	}
	if err != nil {
		return Viewer{}, "", nil, problemOf(err)
	}
	return v, device, codes, nil
}

func (d *Desk) drawCodes(ctx context.Context, tx Records, p Person) ([]string, error) {
	codes, hashes := make([]string, recoveryCodes), make([]string, recoveryCodes)
	for i := range codes {
		c, err := newRecoveryCode(d.o.Rand)
		if err != nil {
			return nil, err
		}
		codes[i], hashes[i] = c, hashRecoveryCode(c)
	}
	return codes, tx.PutRecoveryCodes(ctx, p, hashes, d.now())
}

// theTeacher of this database.
func (d *Desk) theTeacher(ctx context.Context, r Records) (Person, error) {
	st, err := r.FirstStudio(ctx)
	if err != nil {
		return Person{}, err
	}
	ps, err := r.People(ctx, WholeStudio(st.ID))
	if err != nil {
		return Person{}, err
	}
	for _, p := range ps {
		if p.Role == Teacher {
			return p, nil
		}
	}
	return Person{}, ErrNotFound
}

func wrongSignIn(err error) *Problem {
	return &Problem{NotAllowed, "This did not match. Try again, or use a recovery code.", err}
}

// SignIn binds the teacher's device by password. No teacher, no password and a wrong one are
// answered alike and take as long. Whoever serves it limits how often it is asked.
func (d *Desk) SignIn(ctx context.Context, password, device string) (Viewer, string, error) {
	p, err := d.theTeacher(ctx, d.store)
	var hash string
	if err == nil {
		hash, err = d.store.Password(ctx, p)
	}
	if err != nil && !errors.Is(err, ErrNotFound) {
		return Viewer{}, "", problemOf(err)
	}
	right, err := d.rightPassword(ctx, password, hash)
	if err != nil {
		return Viewer{}, "", problemOf(err)
	}
	if !right {
		return Viewer{}, "", wrongSignIn(nil)
	}
	return d.enter(ctx, p, device, nil)
}

// enter binds a device; first may refuse in the same transaction.
func (d *Desk) enter(ctx context.Context, p Person, device string, first func(tx Records) error) (v Viewer, secret string, err error) {
	err = d.store.Within(ctx, func(tx Records) (err error) {
		if first != nil {
			if err := first(tx); err != nil {
				return err
			}
		}
		v, secret, err = d.bind(ctx, tx, p, named(device, longestName), d.now())
		return err
	})
	if err != nil {
		return Viewer{}, "", problemOf(err)
	}
	return v, secret, nil
}

// Recover binds the teacher's device by a recovery code, which then is used up.
func (d *Desk) Recover(ctx context.Context, code, device string) (Viewer, string, error) {
	var v Viewer
	var secret string
	err := d.store.Within(ctx, func(tx Records) error {
		p, err := tx.TakeRecoveryCode(ctx, hashRecoveryCode(code))
		if err != nil {
			return err
		}
		v, secret, err = d.bind(ctx, tx, p, named(device, longestName), d.now())
		return err
	})
	if errors.Is(err, ErrNotFound) {
		return Viewer{}, "", wrongSignIn(err)
	}
	if err != nil {
		return Viewer{}, "", problemOf(err)
	}
	return v, secret, nil
}

const itsTheTeachers = "Only the teacher changes how the teacher signs in."

// ChangePassword sets the teacher's password and signs every other device of the teacher's out.
func (d *Desk) ChangePassword(ctx context.Context, v Viewer, password string) error {
	if err := v.must(itsTheTeachers, Teacher); err != nil {
		return err
	}
	st, err := d.store.Studio(ctx, v.Studio)
	if err != nil {
		return problemOf(err)
	}
	p, err := d.self(ctx, d.store, v)
	if err != nil {
		return problemOf(err)
	}
	hash, err := d.hashPassword(ctx, password, st.Name, p.Name)
	if err != nil {
		return problemOf(err)
	}
	now := d.now()
	return problemOf(d.store.Within(ctx, func(tx Records) error {
		if err := tx.PutPassword(ctx, p, hash, now); err != nil {
			return err
		}
		ds, err := tx.Devices(ctx, v.scope())
		if err != nil {
			return err
		}
		for _, x := range ds {
			if x.Person != p.ID || x.ID == v.Device || !x.Revoked.IsZero() {
				continue
			}
			if err := tx.RevokeDevice(ctx, v.scope(), x.ID, now); err != nil {
				return err
			}
		}
		return nil
	}))
}

// self is the person behind a viewer.
func (d *Desk) self(ctx context.Context, r Records, v Viewer) (Person, error) {
	ps, err := r.People(ctx, v.scope())
	if err != nil {
		return Person{}, err
	}
	for _, p := range ps {
		if p.ID == v.Person {
			return p, nil
		}
	}
	return Person{}, ErrNotFound
}

// NewRecoveryCodes draws ten codes instead of the older ones. They are shown once.
func (d *Desk) NewRecoveryCodes(ctx context.Context, v Viewer) ([]string, error) {
	if err := v.must(itsTheTeachers, Teacher); err != nil {
		return nil, err
	}
	var codes []string
	err := d.store.Within(ctx, func(tx Records) error {
		p, err := d.self(ctx, tx, v)
		if err != nil {
			return err
		}
		codes, err = d.drawCodes(ctx, tx, p)
		return err
	})
	if err != nil {
		return nil, problemOf(err)
	}
	return codes, nil
}

// WaysIn is how the teacher can sign in.
type WaysIn struct {
	Password  bool
	Passkeys  int
	CodesLeft int // recovery codes that were not used
}

func (d *Desk) WaysIn(ctx context.Context, v Viewer) (WaysIn, error) {
	if err := v.must(itsTheTeachers, Teacher); err != nil {
		return WaysIn{}, err
	}
	p, err := d.self(ctx, d.store, v)
	if err != nil {
		return WaysIn{}, problemOf(err)
	}
	var w WaysIn
	hash, err := d.store.Password(ctx, p)
	if err != nil && !errors.Is(err, ErrNotFound) {
		return WaysIn{}, problemOf(err)
	}
	w.Password = hash != ""
	ks, err := d.store.Passkeys(ctx, v.Studio)
	if err != nil {
		return WaysIn{}, problemOf(err)
	}
	w.Passkeys = len(ks)
	w.CodesLeft, err = d.store.RecoveryCodesLeft(ctx, p)
	return w, problemOf(err)
}

// SignOut ends the viewer's own device.
func (d *Desk) SignOut(ctx context.Context, v Viewer) error {
	return d.Revoke(ctx, v, v.Device)
}
