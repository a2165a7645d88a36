package studio

import (
	"context"
	"strings"
)

// plainCode says whether a text could be the code of a language, as in the lang attribute: "en", "es-MX".
// Which languages there are words for is not the studio's to know.
func plainCode(s string) bool {
	return s != "" && len(s) <= 35 && !strings.ContainsAny(s, " <>\"&\r\n\t") // RFC 5646, 4.4.1: 35 letters are enough for every registered tag
}

// spoken is the language that a family reads: what its adult reader chose, else what another adult of it
// chose last, else the studio's. Reader is "" where nobody in particular reads.
func spoken(st Studio, family []Person, reader PersonID) string {
	var last Person
	for _, p := range family {
		if p.Role != Coach || p.Language == "" {
			continue
		}
		if p.ID == reader {
			return p.Language
		}
		if last.Language == "" || p.LanguageAt.After(last.LanguageAt) {
			last = p
		}
	}
	if last.Language != "" {
		return last.Language
	}
	return st.Language
}

// spokenIn asks r for what spoken needs. A family that is not there speaks the studio's language.
func spokenIn(ctx context.Context, r Records, in Scope, reader PersonID) (string, error) {
	st, err := r.Studio(ctx, in.Studio())
	if err != nil {
		return "", err
	}
	if in.Whole() {
		return st.Language, nil
	}
	ps, err := r.People(ctx, in)
	return spoken(st, ps, reader), err
}

// FamilyLanguage is the code of the language in which a family reads what the studio writes to it: that of
// the coach who chose last, else the studio's. A coach who chose one reads that one. Of no family, "", it is the
// studio's.
func (d *Desk) FamilyLanguage(ctx context.Context, v Viewer, id FamilyID) (string, error) {
	if v.Role == Coach && v.Family != id || v.scope() == (Scope{}) {
		return "", problemOf(ErrNotFound)
	}
	in := OneFamily(v.Studio, id)
	if id == "" { // a lesson that was not saved yet
		in = WholeStudio(v.Studio)
	}
	code, err := spokenIn(ctx, d.store, in, v.Person)
	return code, problemOf(err)
}

// ChooseLanguage keeps the language that a coach wants to read.
func (d *Desk) ChooseLanguage(ctx context.Context, v Viewer, code string) error {
	if err := v.must("The teacher’s pages are in English; a family chooses its own language.", Coach); err != nil {
		return err
	}
	if code = tidy(code); !plainCode(code) {
		return invalid("The page sent something that makes no sense. Load it again.")
	}
	now := d.now()
	return d.changeSelf(ctx, v, func(p *Person) { p.Language, p.LanguageAt = code, now })
}
