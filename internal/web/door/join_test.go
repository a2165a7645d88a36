package door_test

import (
	"net/http"
	"net/url"
	"strings"
	"testing"
	"time"

	"antiphon/internal/studio"
)

func (s site) invite(t *testing.T, n studio.NewFamily) (studio.Family, string) {
	t.Helper()
	f, token, err := s.Desk.InviteFamily(t.Context(), s.Teacher, n, studio.Asked{What: "Recordings <i>only</i>"})
	if err != nil {
		t.Fatal(err)
	}
	return f, token
}

func TestInvitation(t *testing.T) {
	s := open(t)
	f, token := s.invite(t, studio.NewFamily{Name: "Brandt", Students: []studio.NewStudent{{Name: "Ida"}, {Name: `Tom "<b>`, Media: studio.FullVideo}}})
	path := "/join/" + token
	for range 3 { // messengers and mail programs open links by themselves
		for _, method := range []string{http.MethodGet, http.MethodHead} {
			a := s.do(t, method, "", path, nil)
			if a.StatusCode != 200 || len(a.Cookies()) > 0 {
				t.Errorf("%s: %d, cookies %v", method, a.StatusCode, a.Cookies())
			}
		}
	}
	_, body := s.Get(t, "", path)
	for _, want := range []string{"Studio Under the Lime Tree", "Ida and Tom &#34;&lt;b&gt;", "Recordings &lt;i&gt;only&lt;/i&gt;", "400 days", "Only sound.", "Sound and hands.",
		"not the same everywhere", "until 11 November"} {
		if !strings.Contains(body, want) {
			t.Errorf("the page does not say %q: %s", want, body)
		}
	}
	if strings.Contains(body, "Brandt") || strings.Contains(body, "<b>\"") {
		t.Error("the page names the family, or is not escaped")
	}
	ps, err := s.Store.Students(t.Context(), studio.OneFamily(f.Studio, f.ID))
	if err != nil {
		t.Fatal(err)
	}
	form := url.Values{"name": {"Jo Brandt"}, "device": {"Kitchen"}}
	if status, body, _ := s.Post(t, "", path, form); status != 422 || !strings.Contains(body, "Nothing is kept without your yes") || !strings.Contains(body, `value="Jo Brandt"`) {
		t.Errorf("without a yes: %d %s", status, body)
	}
	form.Set("agrees", "yes")
	form.Set("name", " ")
	if status, body, _ := s.Post(t, "", path, form); status != 422 || !strings.Contains(body, "Please write your name") {
		t.Errorf("without a name: %d %s", status, body)
	}
	form.Set("name", "Jo Brandt")
	for _, p := range ps {
		form.Set("media-"+string(p.ID), "hands")
	}
	form.Set("media-"+string(s.Okafor.Students[0].ID), "sound") // a child of another family
	if status, _, _ := s.Post(t, s.TeacherDevice, path, form); status != 403 {
		t.Errorf("the teacher redeems a family's link: %d", status)
	}
	device, to := s.enter(t, path, form)
	if !strings.HasPrefix(to, "/week") {
		t.Errorf("leads to %q", to)
	}
	v, err := s.Desk.Recognise(t.Context(), device)
	if err != nil || v.Role != studio.Coach || v.Family != f.ID {
		t.Errorf("the phone belongs to %+v, %v", v, err)
	}
	if ps, err = s.Store.Students(t.Context(), studio.OneFamily(f.Studio, f.ID)); err != nil || ps[0].Media != studio.HandsOnly || ps[1].Media != studio.HandsOnly {
		t.Errorf("the choice is not kept: %+v, %v", ps, err)
	}
	if ada, err := s.Store.Student(t.Context(), studio.OneFamily(f.Studio, s.Okafor.Family.ID), s.Okafor.Students[0].ID); err != nil || ada.Media != studio.FullVideo {
		t.Errorf("a link of one family changed a child of another: %+v, %v", ada, err)
	}
	if status, body, _ := s.Post(t, "", path, form); status != 410 || !strings.Contains(body, "ask for a new link") {
		t.Errorf("the link works twice: %d %s", status, body)
	}
	if status, body := s.Get(t, "", path); status != 410 || !strings.Contains(body, "This link is over") || strings.Contains(body, "Ida") {
		t.Errorf("a used link: %d %s", status, body)
	}
}

func TestInvitationExpires(t *testing.T) {
	s := open(t)
	_, token := s.invite(t, studio.NewFamily{Name: "Brandt", Students: []studio.NewStudent{{Name: "Ida"}}})
	s.Wait(7*24*time.Hour + time.Second)
	if status, body := s.Get(t, "", "/join/"+token); status != 410 || strings.Contains(body, "Ida") {
		t.Errorf("an expired link: %d %s", status, body)
	}
	if status, _, _ := s.Post(t, "", "/join/"+token, url.Values{"name": {"Jo"}, "agrees": {"yes"}}); status != 410 {
		t.Errorf("an expired link is redeemed: %d", status)
	}
	if status, _ := s.Get(t, "", "/join/no-such-link"); status != 410 {
		t.Errorf("a link that never was: %d", status)
	}
}

func TestDevices(t *testing.T) {
	s := open(t)
	token, err := s.Desk.InviteDevice(t.Context(), s.Teacher, s.Okafor.Family.ID, studio.Asked{})
	if err != nil {
		t.Fatal(err)
	}
	second, _ := s.enter(t, "/join/"+token, url.Values{"name": {"Obi <Okafor>"}, "device": {"Lost & found"}, "agrees": {"yes"}})
	v, err := s.Desk.Recognise(t.Context(), second)
	if err != nil {
		t.Fatal(err)
	}
	_, body := s.Get(t, s.Okafor.Device, "/devices")
	for _, want := range []string{"Lost &amp; found", "Obi &lt;Okafor&gt;", "Ngozi Okafor", "(this one)"} {
		if !strings.Contains(body, want) {
			t.Errorf("the list does not say %q: %s", want, body)
		}
	}
	if strings.Contains(body, "Lindqvist") || strings.Contains(body, "Marit") {
		t.Error("the list shows somebody else's device")
	}
	name := "/devices/" + string(v.Device) + "/name"
	if status, _, _ := s.Post(t, s.Lindqvist.Device, name, url.Values{"name": {"ours now"}}); status != 404 {
		t.Errorf("a family names another's phone: %d", status)
	}
	if status, _, _ := s.Post(t, s.Okafor.Device, name, url.Values{"name": {" \n"}}); status != 422 {
		t.Errorf("an empty name: %d", status)
	}
	if status, _, to := s.Post(t, s.Okafor.Device, name, url.Values{"name": {" Grandmother’s \"tablet\" "}}); status != 303 || to != "/devices" {
		t.Errorf("naming a phone: %d, leads to %q", status, to)
	}
	if _, body := s.Get(t, s.Okafor.Device, "/devices"); !strings.Contains(body, "Grandmother’s &#34;tablet&#34;") || strings.Contains(body, "ours now") {
		t.Errorf("the new name is not on the list: %s", body)
	}
	out := "/devices/" + string(v.Device) + "/sign-out"
	if status, _, _ := s.Post(t, s.Lindqvist.Device, out, nil); status != 404 {
		t.Errorf("a family signs another's phone out: %d", status)
	}
	if status, _ := s.Get(t, second, "/devices"); status != 200 {
		t.Errorf("the phone is out: %d", status)
	}
	if status, _, to := s.Post(t, s.Okafor.Device, out, nil); status != 303 || to != "/devices" {
		t.Errorf("signing a lost phone out: %d, leads to %q", status, to)
	}
	if status, _ := s.Get(t, second, "/devices"); status != 403 {
		t.Errorf("a lost phone is still in: %d", status)
	}
	if _, body := s.Get(t, s.Okafor.Device, "/devices"); strings.Contains(body, "Grandmother") {
		t.Error("a phone that is out stands on the list")
	}
	a := s.do(t, http.MethodPost, s.Okafor.Device, "/devices/"+string(s.Okafor.Coach.Device)+"/sign-out", nil)
	if c := a.Cookies(); a.StatusCode != 200 || len(c) != 1 || c[0].MaxAge >= 0 || !strings.Contains(text(t, a), "This phone is signed out") {
		t.Errorf("signing this phone out: %d, cookies %v", a.StatusCode, c)
	}
	if status, _ := s.Get(t, s.Okafor.Device, "/devices"); status != 403 {
		t.Errorf("this phone is still in: %d", status)
	}
	for who, device := range map[string]string{"the teacher": s.TeacherDevice, "a stranger": ""} {
		if status, _ := s.Get(t, device, "/devices"); status != 403 {
			t.Errorf("%s at a family's phones: %d", who, status)
		}
	}
}

func TestLanguage(t *testing.T) {
	s := open(t)
	a := s.do(t, http.MethodPost, "", "/language", url.Values{"language": {"es"}, "to": {"//elsewhere.example"}})
	c := a.Cookies()
	if a.StatusCode != 303 || a.Header.Get("Location") != "/week" || len(c) != 1 || c[0].Value != "es" || !c[0].HttpOnly {
		t.Errorf("%d to %q, cookies %v", a.StatusCode, a.Header.Get("Location"), c)
	}
	if c := s.do(t, http.MethodPost, "", "/language", url.Values{"language": {"xx; Path=/"}}).Cookies(); len(c) != 1 || c[0].Value != "en" {
		t.Errorf("a language that there is not: %v", c)
	}
	if _, err := s.Desk.ChangeStudio(t.Context(), s.Teacher, studio.Settings{Name: "Bajo el tilo", KeepDays: 100, ReplyDays: 3, Language: "es"}); err != nil {
		t.Fatal(err)
	}
	_, token := s.invite(t, studio.NewFamily{Name: "Brandt", Students: []studio.NewStudent{{Name: "Ida"}, {Name: "Alma"}}})
	if _, body := s.Get(t, "", "/join/"+token); !strings.Contains(body, `<html lang="es">`) || !strings.Contains(body, "da clase a Alma e Ida") {
		t.Errorf("a studio that speaks Spanish: %s", body)
	}
}
