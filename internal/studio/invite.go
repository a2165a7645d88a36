package studio

import (
	"context"
	"errors"
	"time"
	"unicode/utf8"
)

// NewFamily is what a teacher writes down of a household.
type NewFamily struct {
	Name     string
	Students []NewStudent
}

type NewStudent struct {
	Name  string
	Media MediaMode // "" means SoundOnly
}

// Asked is the consent that an invitation asks for. The zero value asks for what the studio does by default.
type Asked struct {
	What     string
	KeepDays int // 0 means the studio's
	Who      string
}

// defaultConsent is what an invitation asks for where the teacher writes nothing else, by the language of
// the families' pages.
var defaultConsent = map[string][2]string{
	"en": {"Recordings of practice, what was measured in them, what you tap, write and say about the week at home, and what the teacher says about it. Follow the rules that apply where you live.",
		"The teacher and your own family."},
	"es": {"Las grabaciones de la práctica, lo que se midió en ellas, lo que tocáis en la página, escribís y decís de la semana en casa, y lo que el profesor o la profesora dice de ello. Seguid las normas que valgan donde vivís.",
		"El profesor o la profesora y vuestra propia familia."},
}

// DefaultConsent is what is kept and who sees it, in a language that the pages speak; English in others.
func DefaultConsent(language string) (what, who string) {
	c, ok := defaultConsent[language]
	if !ok {
		c = defaultConsent["en"]
	}
	return c[0], c[1]
}

// InviteFamily writes a family down and returns the secret of the link that invites it. The secret is shown once.
func (d *Desk) InviteFamily(ctx context.Context, v Viewer, n NewFamily, ask Asked) (Family, string, error) {
	if err := v.must("Only the teacher invites families.", Teacher); err != nil {
		return Family{}, "", err
	}
	f := Family{Studio: v.Studio, Name: named(n.Name, longestName), Since: d.now()}
	if f.Name == "" {
		return Family{}, "", invalid("A family needs a name.")
	}
	if len(n.Students) == 0 {
		return Family{}, "", invalid("A family needs at least one student.")
	}
	students := make([]Student, len(n.Students))
	var err error
	if f.ID, err = NewID[FamilyID](d.o.Rand); err != nil {
		return Family{}, "", problemOf(err)
	}
	for i, s := range n.Students {
		if students[i], err = d.newStudent(f, s); err != nil {
			return Family{}, "", problemOf(err)
		}
	}
	var token string
	err = d.store.Within(ctx, func(tx Records) error {
		if err := tx.AddFamily(ctx, f); err != nil {
			return err
		}
		for _, s := range students {
			if err := tx.AddStudent(ctx, s); err != nil {
				return err
			}
		}
		var err error
		token, err = d.invite(ctx, tx, f, ask)
		return err
	})
	if err != nil {
		return Family{}, "", problemOf(err)
	}
	return f, token, nil
}

// InviteDevice makes another link for a family that is there: a second phone, or a new one for a lost one.
func (d *Desk) InviteDevice(ctx context.Context, v Viewer, id FamilyID, ask Asked) (string, error) {
	if err := v.must("Only the teacher invites families.", Teacher); err != nil {
		return "", err
	}
	var token string
	err := d.store.Within(ctx, func(tx Records) error {
		fs, err := tx.Families(ctx, OneFamily(v.Studio, id))
		if err != nil {
			return err
		}
		if len(fs) != 1 {
			return ErrNotFound
		}
		token, err = d.invite(ctx, tx, fs[0], ask)
		return err
	})
	return token, problemOf(err)
}

func (d *Desk) invite(ctx context.Context, tx Records, f Family, ask Asked) (string, error) {
	st, err := tx.Studio(ctx, f.Studio)
	if err != nil {
		return "", err
	}
	id, err := NewID[InvitationID](d.o.Rand)
	if err != nil {
		return "", err
	}
	token, hash, err := newToken(d.o.Rand)
	if err != nil {
		return "", err
	}
	now := d.now()
	inv := Invitation{ID: id, Studio: f.Studio, Family: f.ID, Hash: hash,
		What: ask.What, KeepDays: ask.KeepDays, Who: ask.Who, Made: now, Expires: now.Add(d.o.InviteFor)}
	code, err := spokenIn(ctx, tx, OneFamily(f.Studio, f.ID), "")
	if err != nil {
		return "", err
	}
	what, who := DefaultConsent(code)
	if inv.What == "" {
		inv.What = what
	}
	if inv.Who == "" {
		inv.Who = who
	}
	if inv.KeepDays <= 0 {
		inv.KeepDays = st.KeepDays
	}
	return token, tx.AddInvitation(ctx, inv)
}

// Invite is what the page of an open link shows.
type Invite struct {
	Studio   string
	Teacher  string
	Family   string
	Students []Student
	What     string // the consent that is asked
	KeepDays int
	Who      string
	Expires  time.Time
	Language string // that the family reads
}

// Invitation shows what an open link asks. Reading never redeems: messengers open links by themselves.
func (d *Desk) Invitation(ctx context.Context, token string) (Invite, error) {
	inv, err := d.store.OpenInvitation(ctx, hashToken(token), d.now())
	if errors.Is(err, ErrNotFound) {
		return Invite{}, goneLink(err)
	}
	if err != nil {
		return Invite{}, problemOf(err)
	}
	i := Invite{What: inv.What, KeepDays: inv.KeepDays, Who: inv.Who, Expires: inv.Expires}
	st, err := d.store.Studio(ctx, inv.Studio)
	if err != nil {
		return Invite{}, problemOf(err)
	}
	i.Studio = st.Name
	in := OneFamily(inv.Studio, inv.Family)
	fs, err := d.store.Families(ctx, in)
	if err != nil {
		return Invite{}, problemOf(err)
	}
	for _, f := range fs {
		i.Family = f.Name
	}
	if i.Students, err = d.store.Students(ctx, in); err != nil {
		return Invite{}, problemOf(err)
	}
	if i.Language, err = spokenIn(ctx, d.store, in, ""); err != nil {
		return Invite{}, problemOf(err)
	}
	ps, err := d.store.People(ctx, WholeStudio(inv.Studio))
	if err != nil {
		return Invite{}, problemOf(err)
	}
	for _, p := range ps {
		if p.Role == Teacher {
			i.Teacher = p.Name
		}
	}
	return i, nil
}

// Invitations lists the links of the studio that are open: not used yet, and not over. What is in a link
// nobody can read again.
func (d *Desk) Invitations(ctx context.Context, v Viewer) ([]Invitation, error) {
	if err := v.must("Families are invited by the teacher.", Teacher); err != nil {
		return nil, err
	}
	all, err := d.store.Invitations(ctx, v.scope())
	if err != nil {
		return nil, problemOf(err)
	}
	var open []Invitation
	for _, i := range all {
		if i.Redeemed.IsZero() && i.Expires.After(d.now()) {
			i.Hash = ""
			open = append(open, i)
		}
	}
	return open, nil
}

func goneLink(err error) *Problem {
	return &Problem{Gone, "This link was used already or has expired. Ask your teacher for a new one.", err}
}

// Redemption is what an adult says when a link is opened and its button pressed.
type Redemption struct {
	Name   string // of the adult
	Device string // what to call the device
	Agrees bool   // to what the invitation asks
	// Language that the adult chose; "" none, and then it is the family's.
	Language string
	// Media is what the family chooses to send of a child; a child that is not named keeps what the teacher wrote.
	Media map[StudentID]MediaMode
}

// Redeem binds a device to a family and returns the device's secret. A link works once.
func (d *Desk) Redeem(ctx context.Context, token string, r Redemption) (Viewer, string, error) {
	r.Name, r.Device = named(r.Name, longestName), named(r.Device, longestDeviceName)
	if r.Name == "" {
		return Viewer{}, "", invalid("Please write the name of the adult who practises with the child.")
	}
	if !r.Agrees {
		return Viewer{}, "", invalid("Without your consent nothing is kept, so this link stays closed. It can be opened again until it expires.")
	}
	pid, err := NewID[PersonID](d.o.Rand)
	if err != nil {
		return Viewer{}, "", problemOf(err)
	}
	cid, err := NewID[ConsentID](d.o.Rand)
	if err != nil {
		return Viewer{}, "", problemOf(err)
	}
	now := d.now()
	var v Viewer
	var secret string
	err = d.store.Within(ctx, func(tx Records) error {
		inv, err := tx.RedeemInvitation(ctx, hashToken(token), now)
		if err != nil {
			return err
		}
		p := Person{ID: pid, Studio: inv.Studio, Family: inv.Family, Role: Coach, Name: r.Name}
		if plainCode(r.Language) {
			p.Language, p.LanguageAt = r.Language, now
		}
		if err := tx.AddPerson(ctx, p); err != nil {
			return err
		}
		if err := tx.AddConsent(ctx, Consent{ID: cid, Studio: inv.Studio, Family: inv.Family, Person: pid,
			What: inv.What, KeepDays: inv.KeepDays, Who: inv.Who, Given: now}); err != nil {
			return err
		}
		if err := d.choose(ctx, tx, inv, r.Media); err != nil {
			return err
		}
		v, secret, err = d.bind(ctx, tx, p, r.Device, now)
		return err
	})
	if errors.Is(err, ErrNotFound) {
		return Viewer{}, "", goneLink(err)
	}
	if err != nil {
		return Viewer{}, "", problemOf(err)
	}
	return v, secret, nil
}

// choose keeps what the family sends of each child.
func (d *Desk) choose(ctx context.Context, tx Records, inv Invitation, modes map[StudentID]MediaMode) error {
	if len(modes) == 0 {
		return nil
	}
	ss, err := tx.Students(ctx, OneFamily(inv.Studio, inv.Family))
	if err != nil {
		return err
	}
	for _, s := range ss {
		m, said := modes[s.ID]
		if !said || m == s.Media {
			continue
		}
		s.Media = m
		if err := s.check(); err != nil {
			return err
		}
		if err := tx.PutStudent(ctx, s); err != nil {
			return err
		}
	}
	return nil
}

func (d *Desk) bind(ctx context.Context, tx Records, p Person, name string, now time.Time) (Viewer, string, error) {
	id, err := NewID[DeviceID](d.o.Rand)
	if err != nil {
		return Viewer{}, "", err
	}
	secret, hash, err := newToken(d.o.Rand)
	if err != nil {
		return Viewer{}, "", err
	}
	dev := Device{ID: id, Studio: p.Studio, Family: p.Family, Person: p.ID, Name: name, Hash: hash, Bound: now}
	if err := tx.AddDevice(ctx, dev); err != nil {
		return Viewer{}, "", err
	}
	return Viewer{Studio: p.Studio, Role: p.Role, Person: p.ID, Family: p.Family, Device: id}, secret, nil
}

// Recognise makes a viewer of a device's secret.
func (d *Desk) Recognise(ctx context.Context, secret string) (Viewer, error) {
	dev, p, err := d.store.DeviceByHash(ctx, hashToken(secret))
	if errors.Is(err, ErrNotFound) {
		return Viewer{}, &Problem{NotAllowed, "This device is not known here, or was signed out. Ask for a new link.", err}
	}
	if err != nil {
		return Viewer{}, problemOf(err)
	}
	if today := d.now().Truncate(24 * time.Hour); dev.Seen.Before(today) {
		dev.Seen = today
		if err := d.store.SeeDevice(ctx, dev); err != nil {
			return Viewer{}, problemOf(err)
		}
	}
	return Viewer{Studio: p.Studio, Role: p.Role, Person: p.ID, Family: p.Family, Device: dev.ID}, nil
}

// Devices lists what is bound: to the family, or for the teacher to the studio.
func (d *Desk) Devices(ctx context.Context, v Viewer) ([]Device, error) {
	l, err := d.store.Devices(ctx, v.scope())
	return l, problemOf(err)
}

// Revoke signs a device out for good.
func (d *Desk) Revoke(ctx context.Context, v Viewer, id DeviceID) error {
	return problemOf(d.store.RevokeDevice(ctx, v.scope(), id, d.now()))
}

// longestDeviceName is in letters; it stands in a list.
const longestDeviceName = 60

// NameDevice calls a device what its owner calls it, so that it is found in the list when it is lost.
func (d *Desk) NameDevice(ctx context.Context, v Viewer, id DeviceID, name string) error {
	if name = tidy(name); name == "" || utf8.RuneCountInString(name) > longestDeviceName {
		return invalid("A device needs a name of at most %d letters.", longestDeviceName)
	}
	return problemOf(d.store.NameDevice(ctx, v.scope(), id, name))
}
