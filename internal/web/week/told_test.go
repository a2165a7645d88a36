package week_test

import (
	"context"
	"net/http"
	"net/url"
	"strings"
	"testing"
	"time"

	"antiphon/internal/studio"
	"antiphon/internal/web/sheet"
	"antiphon/internal/web/webtest"
	"antiphon/internal/web/week"
)

// posted is a studio that can send mails and push messages; the mails that confirm are kept.
func posted(t *testing.T) (s *webtest.Site, mails *[]string) {
	t.Helper()
	st := webtest.Open(t)
	mails = &[]string{}
	s = st.Serve(t, func(mux *http.ServeMux) {
		err := week.Routes(mux, st.Frame, sheet.New(nil, st.Frame), week.Options{Notices: week.Notices{PushKey: "BPublicKey", Confirm: func(_ context.Context, to, language, secret string) error {
			*mails = append(*mails, to, language, secret)
			return nil
		}}})
		if err != nil {
			t.Fatal(err)
		}
	})
	return s, mails
}

// TestNoticesAreAskedFor: nobody is told anything who did not ask; an address is told nothing before its owner opened the
// link and pressed the button; and one touch ends it.
func TestNoticesAreAskedFor(t *testing.T) {
	s, mails := posted(t)
	device := s.Okafor.Device
	_, body := s.Get(t, device, "/week")
	has(t, "the week", body, "Tell us when the answer is here", `data-key="BPublicKey"`, `type="email"`)

	if status, body, _ := s.Post(t, device, "/week/email", url.Values{"email": {"no address"}}); status != http.StatusUnprocessableEntity || !strings.Contains(body, "no e-mail address") {
		t.Errorf("what is no address: %d", status)
	}
	if status, _, to := s.Post(t, device, "/week/email", url.Values{"email": {"ngozi@example.org"}}); status != http.StatusSeeOther || to != "/week?mailed#notices" {
		t.Fatalf("%d to %s", status, to)
	}
	if len(*mails) != 3 || (*mails)[0] != "ngozi@example.org" || (*mails)[1] != "en" {
		t.Fatal(*mails)
	}
	me := func() studio.Person {
		p, err := s.Desk.Self(t.Context(), s.Okafor.Coach)
		if err != nil {
			t.Fatal(err)
		}
		return p
	}
	link := "/notices/confirm/" + (*mails)[2]
	_, body = s.Get(t, "", link) // a program that looks into mails opens links too
	has(t, "the link", body, "Mails from this studio", "Shall mails from this studio come to this address?")
	hasNot(t, "the link", body, "Ada", "Okafor", "the answer") // the teacher opens such a link too
	if !me().EmailAt.IsZero() {
		t.Error("opening the link was enough")
	}
	_, body, _ = s.Post(t, "", link, nil)
	has(t, "the button", body, "From now on you are told here.")
	if me().EmailAt.IsZero() {
		t.Error("the button did nothing")
	}
	if status, _, _ := s.Post(t, "", link, nil); status != http.StatusGone {
		t.Errorf("the link works twice: %d", status)
	}
	if _, body := s.Get(t, device, "/week"); !strings.Contains(body, "Mails go to ngozi@example.org.") {
		t.Error("the page does not say where mails go")
	}
	s.Post(t, device, "/week/email", url.Values{"off": {"yes"}})
	if p := me(); p.Email != "" {
		t.Errorf("%s is told on", p.Email)
	}
	for _, path := range []string{"/notices/nonsense/x", "/notices/confirm/made-up"} {
		if status, _, _ := s.Post(t, "", path, nil); status != http.StatusNotFound && status != http.StatusGone {
			t.Errorf("%s: %d", path, status)
		}
	}
}

// TestThisPhoneIsTold: a browser hands in where it wants to be told, and takes it back.
func TestThisPhoneIsTold(t *testing.T) {
	s, _ := posted(t)
	post := func(device, body string) int {
		r, err := http.NewRequestWithContext(t.Context(), http.MethodPost, s.URL+"/week/notices", strings.NewReader(body))
		if err != nil {
			t.Fatal(err)
		}
		r.Header.Set("Accept", "application/json")
		r.Header.Set("Sec-Fetch-Site", "same-origin")
		a, err := s.Client(t, device).Do(r)
		if err != nil {
			t.Fatal(err)
		}
		a.Body.Close()
		return a.StatusCode
	}
	const own = `{"endpoint":"https://push.example.net/abc","keys":{"p256dh":"x","auth":"y"}}`
	if got := post("", own); got != http.StatusForbidden {
		t.Errorf("a stranger: %d", got)
	}
	if got := post(s.Okafor.Device, `{"endpoint":"http://here"}`); got != http.StatusUnprocessableEntity {
		t.Errorf("no address: %d", got)
	}
	if got := post(s.Okafor.Device, own); got != http.StatusOK {
		t.Fatal(got)
	}
	_, body := s.Get(t, s.Okafor.Device, "/week")
	has(t, "the week", body, "This phone is told.")
	s.Post(t, s.Okafor.Device, "/week/notices/off", nil)
	if all, err := s.Desk.PushOf(t.Context(), s.Okafor.Coach, s.Okafor.Coach.Person); err != nil || len(all) != 0 {
		t.Errorf("%d are left, %v", len(all), err)
	}
}

// TestNamesOfTheNotes: letters, or do-re-mi, as the family calls them.
func TestNamesOfTheNotes(t *testing.T) {
	s, nils, _ := whole(t)
	everything(t, s, nils)
	at := "/week?child=" + string(nils.ID)
	_, body := s.Get(t, s.Lindqvist.Device, at)
	has(t, "the week", body, "names=letters")
	if status, _, _ := s.Post(t, s.Lindqvist.Device, "/week/names", url.Values{"names": {"numbers"}}); status != http.StatusUnprocessableEntity {
		t.Errorf("names that there are not: %d", status)
	}
	s.Post(t, s.Lindqvist.Device, "/week/names", url.Values{"names": {"do-re-mi"}})
	_, body = s.Get(t, s.Lindqvist.Device, at)
	has(t, "the week", body, "names=do-re-mi", `value="do-re-mi" checked`)
	hasNot(t, "the week", body, "names=letters")
}

// TestAWordBetweenLessons: what the teacher sends stands at the top of that child's week, and of nobody else's.
func TestAWordBetweenLessons(t *testing.T) {
	k := open(t)
	if _, err := k.Desk.SendNudge(t.Context(), k.Teacher, k.nils.ID, "Five minutes are a good <beginning>."); err != nil {
		t.Fatal(err)
	}
	k.Wait(time.Minute)
	_, body := k.Get(t, k.Lindqvist.Device, "/week?child="+string(k.nils.ID))
	has(t, "the week", body, "A word from your teacher", "Five minutes are a good &lt;beginning&gt;.")
	for name, at := range map[string]string{"the other child": k.Lindqvist.Device + " /week?child=" + string(k.runa.ID), "another family": k.Okafor.Device + " /week"} {
		device, path, _ := strings.Cut(at, " ")
		_, body := k.Get(t, device, path)
		hasNot(t, name, body, "A word from your teacher")
	}
}

// TestLettersAboutATerm: a letter that was sent is found from that child's week, a draft is not, nor another family's.
func TestLettersAboutATerm(t *testing.T) {
	k := open(t)
	l, err := k.Desk.SaveLetter(t.Context(), k.Teacher, studio.Letter{Student: k.nils.ID, From: "2026-08-03", To: "2026-10-30",
		Parts: []studio.LetterPart{{Heading: "The term", Text: "A good one."}}})
	if err != nil {
		t.Fatal(err)
	}
	week := "/week?child=" + string(k.nils.ID)
	_, body := k.Get(t, k.Lindqvist.Device, week)
	hasNot(t, "a draft", body, "/letters/")
	if err := k.Desk.SendLetter(t.Context(), k.Teacher, l.ID, l.Version); err != nil {
		t.Fatal(err)
	}
	_, body = k.Get(t, k.Lindqvist.Device, week)
	has(t, "the week", body, "Letters from your teacher", `href="/letters/`+string(l.ID)+`"`, "3 August – 30 October")
	for _, other := range []string{k.Lindqvist.Device + " /week?child=" + string(k.runa.ID), k.Okafor.Device + " /week"} {
		device, path, _ := strings.Cut(other, " ")
		_, body := k.Get(t, device, path)
		hasNot(t, path, body, "/letters/")
	}
}
