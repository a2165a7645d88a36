package storetest

import (
	"archive/zip"
	"bytes"
	"encoding/json"
	"strings"
	"testing"
	"time"

	"antiphon/internal/studio"
)

// language: what a family chose to read is known to the studio, the last choice counts for what is written
// to all of it, and each adult is told in the own one.
func language(t *testing.T, h *House) {
	ctx := t.Context()
	f := h.Found(t, "Lindenhof")
	v, mira := h.Join(t, f, "Abel", "Mira")
	b, jon := h.Join(t, f, "Bartsch", "Jon")
	reads := func(who studio.Viewer, family studio.FamilyID, want string) {
		t.Helper()
		if got, err := h.Desk.FamilyLanguage(ctx, who, family); err != nil || got != want {
			t.Errorf("%s reads %q, %v; want %q", family, got, err, want)
		}
	}
	reads(v, v.Family, "en")
	must(t, h.Desk.ChooseLanguage(ctx, v, "es"))
	reads(v, v.Family, "es")
	reads(f.Teacher, v.Family, "es")
	reads(f.Ear, v.Family, "es")
	reads(f.Teacher, b.Family, "en")
	_, err := h.Desk.FamilyLanguage(ctx, v, b.Family)
	refused(t, "another family's", err, studio.NotFound)
	_, err = h.Desk.FamilyLanguage(ctx, studio.Viewer{Studio: f.Studio.ID}, v.Family)
	refused(t, "a stranger", err, studio.NotFound)
	for _, bad := range []string{"", "no code", "<es>", strings.Repeat("e", 40)} {
		refused(t, bad, h.Desk.ChooseLanguage(ctx, v, bad), studio.Invalid)
	}
	refused(t, "the teacher", h.Desk.ChooseLanguage(ctx, f.Teacher, "es"), studio.NotAllowed)

	// A second adult joins by a link that speaks Spanish already, and then reads English for himself.
	secret, err := h.Desk.InviteDevice(ctx, f.Teacher, v.Family, studio.Asked{})
	must(t, err)
	inv, err := h.Desk.Invitation(ctx, secret)
	must(t, err)
	if what, _ := studio.DefaultConsent("es"); inv.Language != "es" || inv.What != what {
		t.Errorf("a further phone is asked in %q: %q", inv.Language, inv.What)
	}
	h.Now = h.Now.Add(time.Hour)
	second, _, err := h.Desk.Redeem(ctx, secret, studio.Redemption{Name: "Tilo", Agrees: true})
	must(t, err)
	reads(second, v.Family, "es")
	h.Now = h.Now.Add(time.Hour)
	must(t, h.Desk.ChooseLanguage(ctx, second, "en"))
	reads(f.Teacher, v.Family, "en")
	reads(second, v.Family, "en")
	reads(v, v.Family, "es") // she chose it, and keeps it
	h.Now = h.Now.Add(time.Hour)
	must(t, h.Desk.ChooseLanguage(ctx, v, "es"))
	reads(f.Teacher, v.Family, "es")

	// At joining, what was chosen before counts.
	secret, err = h.Desk.InviteDevice(ctx, f.Teacher, b.Family, studio.Asked{})
	must(t, err)
	h.Now = h.Now.Add(time.Hour)
	_, _, err = h.Desk.Redeem(ctx, secret, studio.Redemption{Name: "Ida", Agrees: true, Language: "es"})
	must(t, err)
	reads(f.Teacher, b.Family, "es")
	must(t, h.Desk.ChooseLanguage(ctx, b, "en")) // in the same hour; the order of two choices at once is anybody's
	h.Now = h.Now.Add(time.Hour)
	must(t, h.Desk.ChooseLanguage(ctx, b, "en"))
	reads(f.Teacher, b.Family, "en")

	// What is drafted speaks it.
	n, err := h.Desk.DraftNudge(ctx, f.Teacher, mira)
	must(t, err)
	sent, err := h.Desk.SendNudge(ctx, f.Teacher, mira, n.Text)
	must(t, err)
	if n.Language != "es" || !strings.Contains(n.Text, "¡Hola!") || sent.Language != "es" {
		t.Errorf("a word between lessons: %+v, sent as %q", n, sent.Language)
	}
	if n, err = h.Desk.DraftNudge(ctx, f.Teacher, jon); err != nil || n.Language != "en" || !strings.Contains(n.Text, "Hello!") {
		t.Errorf("to the other family: %+v, %v", n, err)
	}
	l, err := h.Desk.DraftLetter(ctx, f.Teacher, mira, "2025-09-01", "2025-12-24")
	must(t, err)
	other, err := h.Desk.DraftLetter(ctx, f.Teacher, jon, "2025-09-01", "2025-12-24")
	must(t, err)
	if !strings.Contains(l.Parts[0].Text, "septiembre") || !strings.Contains(other.Parts[0].Text, "September") {
		t.Errorf("letters: %q, %q", l.Parts[0].Text, other.Parts[0].Text)
	}

	// Each adult is told in the own language, and the teacher in that of the own pages.
	h.Jobs.All = nil
	for _, x := range []studio.Viewer{v, second, f.Teacher} {
		secret, err := h.Desk.AskEmail(ctx, x, "a@example.org")
		must(t, err)
		_, err = h.Desk.ConfirmEmail(ctx, secret)
		must(t, err)
	}
	_, err = h.Desk.SendNudge(ctx, f.Teacher, mira, "Hola.")
	must(t, err)
	must(t, h.Desk.Tap(ctx, v, []studio.Tap{{ID: "it-hurt-today", Student: mira, Kind: studio.TapHurt, At: h.Now}}))
	told := map[studio.PersonID]string{}
	for _, j := range h.Jobs.All {
		if j.Kind == studio.JobNotify {
			x, err := h.Desk.ToTell(ctx, f.Ear, j.Notice)
			must(t, err)
			told[x.Person.ID] = x.Language
		}
	}
	if len(told) != 3 || told[v.Person] != "es" || told[second.Person] != "en" || told[f.Teacher.Person] != "en" {
		t.Errorf("told in %v", told)
	}

	// It goes with the family, and is gone with it.
	var kept bytes.Buffer
	must(t, h.Desk.ExportFamily(ctx, v, v.Family, &kept))
	z, err := zip.NewReader(bytes.NewReader(kept.Bytes()), int64(kept.Len()))
	must(t, err)
	doc, err := z.Open("family.json")
	must(t, err)
	defer doc.Close()
	var e studio.Export
	must(t, json.NewDecoder(doc).Decode(&e))
	chose := map[studio.PersonID]studio.Person{}
	for _, p := range e.People {
		chose[p.ID] = p
	}
	if len(chose) != 2 || chose[v.Person].Language != "es" || chose[v.Person].LanguageAt.IsZero() || chose[second.Person].Language != "en" {
		t.Errorf("exported: %+v", e.People)
	}
	_, err = h.Desk.EraseFamily(ctx, f.Teacher, v.Family)
	must(t, err)
	reads(f.Teacher, v.Family, "en") // nobody is there, so nobody chose
}
