package door_test

import (
	"net/http"
	"net/url"
	"strings"
	"testing"

	"antiphon/internal/studio"
)

// TestFamilyLanguage: what a parent chooses on a phone is known to the studio, and a new phone of the family
// begins in it, without a choice of its own.
func TestFamilyLanguage(t *testing.T) {
	s := open(t)
	spanish := url.Values{"language": {"es"}, "to": {"/devices"}}
	reads := func(h studio.Viewer, want string) {
		t.Helper()
		if got, err := s.Desk.FamilyLanguage(t.Context(), s.Teacher, h.Family); err != nil || got != want {
			t.Errorf("the family reads %q, %v; want %q", got, err, want)
		}
	}
	for who, device := range map[string]string{"a stranger": "", "the teacher": s.TeacherDevice} {
		if a := s.do(t, http.MethodPost, device, "/language", spanish); a.StatusCode != http.StatusSeeOther {
			t.Errorf("%s: %d", who, a.StatusCode)
		}
	}
	reads(s.Okafor.Coach, "en")
	if a := s.do(t, http.MethodPost, s.Okafor.Device, "/language", spanish); a.StatusCode != http.StatusSeeOther || a.Header.Get("Location") != "/devices" {
		t.Fatalf("choosing: %d to %q", a.StatusCode, a.Header.Get("Location"))
	}
	reads(s.Okafor.Coach, "es")
	reads(s.Lindqvist.Coach, "en")
	if _, body := s.Get(t, s.Okafor.Device, "/devices"); !strings.Contains(body, `<html lang="es">`) {
		t.Error("a browser that lost its cookie does not speak what was chosen")
	}
	if a := s.do(t, http.MethodPost, s.Okafor.Device, "/language", url.Values{"language": {"xx"}}); a.StatusCode != http.StatusSeeOther {
		t.Errorf("a language that there is not: %d", a.StatusCode)
	}
	reads(s.Okafor.Coach, "en")
	s.do(t, http.MethodPost, s.Okafor.Device, "/language", spanish)

	token, err := s.Desk.InviteDevice(t.Context(), s.Teacher, s.Okafor.Coach.Family, studio.Asked{})
	if err != nil {
		t.Fatal(err)
	}
	what, _ := studio.DefaultConsent("es")
	if _, body := s.Get(t, "", "/join/"+token); !strings.Contains(body, `<html lang="es">`) || !strings.Contains(body, what) {
		t.Errorf("the link for a second phone: %s", body)
	}
	a := s.do(t, http.MethodPost, "", "/join/"+token, url.Values{"name": {"Chidi Okafor"}, "device": {"Móvil"}, "agrees": {"yes"}})
	c := a.Cookies()
	if a.StatusCode != http.StatusSeeOther || len(c) != 1 {
		t.Fatalf("joining: %d, %v", a.StatusCode, c)
	}
	if _, body := s.Get(t, c[0].Value, "/devices"); !strings.Contains(body, `<html lang="es">`) {
		t.Error("the new phone does not begin in the family's language")
	}
	if _, body := s.Get(t, s.Lindqvist.Device, "/devices"); !strings.Contains(body, `<html lang="en">`) {
		t.Error("another family's pages changed")
	}
	if _, body := s.Get(t, c[0].Value, "/nowhere"); !strings.Contains(body, `<html lang="es">`) {
		t.Error("a refusal speaks another language")
	}
}

// TestLanguageAtJoining: what was chosen on the page of the link is kept with who joins.
func TestLanguageAtJoining(t *testing.T) {
	s := open(t)
	f, token := s.invite(t, studio.NewFamily{Name: "Brandt", Students: []studio.NewStudent{{Name: "Ida"}}})
	r, err := http.NewRequestWithContext(t.Context(), http.MethodPost, s.URL+"/join/"+token, strings.NewReader(url.Values{"name": {"Rosa Brandt"}, "agrees": {"yes"}}.Encode()))
	if err != nil {
		t.Fatal(err)
	}
	r.Header.Set("Content-Type", "application/x-www-form-urlencoded")
	r.Header.Set("Sec-Fetch-Site", "same-origin")
	r.AddCookie(&http.Cookie{Name: "language", Value: "es"})
	a, err := s.Client(t, "").Do(r)
	if err != nil {
		t.Fatal(err)
	}
	a.Body.Close()
	if got, err := s.Desk.FamilyLanguage(t.Context(), s.Teacher, f.ID); err != nil || got != "es" || a.StatusCode != http.StatusSeeOther {
		t.Errorf("%d, the family reads %q, %v", a.StatusCode, got, err)
	}
}
