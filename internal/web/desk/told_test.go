package desk_test

import (
	"context"
	"errors"
	"net/http"
	"net/url"
	"strings"
	"testing"
	"time"

	"antiphon/internal/studio"
	"antiphon/internal/web/desk"
	"antiphon/internal/web/webtest"
)

// telling is a studio that can send mails and push messages; what confirms an address is kept.
func telling(t testing.TB, failing *bool) (s *webtest.Site, mails *[]string) {
	t.Helper()
	st := webtest.Open(t)
	mails = &[]string{}
	s = st.Serve(t, func(mux *http.ServeMux) {
		err := desk.Routes(mux, st.Frame, desk.Options{Notices: desk.Notices{PushKey: "BPublicKey", Confirm: func(_ context.Context, to, language, secret string) error {
			if *failing {
				return errors.New("the mail server does not answer")
			}
			*mails = append(*mails, to, language, secret)
			return nil
		}}})
		if err != nil {
			t.Fatal(err)
		}
	})
	return s, mails
}

func subscribed(t testing.TB, s *webtest.Site, device, doc string) int {
	t.Helper()
	r, err := http.NewRequestWithContext(t.Context(), http.MethodPost, s.URL+"/studio/told", strings.NewReader(doc))
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

// TestTheTeacherIsToldOnlyWhenAsked: without asking no job tells anybody; a browser that asked is told at once that
// something hurt, and of a question a quarter of an hour later; then no more.
func TestTheTeacherIsToldOnlyWhenAsked(t *testing.T) {
	var failing bool
	s, _ := telling(t, &failing)
	webtest.Has(t, s.Page(t, "/studio"), `href="/studio/told"`, "You are told nothing")
	webtest.Has(t, s.Page(t, "/studio/told"), `data-key="BPublicKey"`, "Tell me in this browser", `type="email"`, "At once", "Never")
	webtest.HasNot(t, s.Page(t, "/studio/told"), "This browser tells you")

	ask := func(by webtest.Household, child int, kind studio.TapKind) []studio.Job {
		one := studio.Tap{ID: "told-test-" + string(by.Students[child].ID)[:20] + string(kind), Student: by.Students[child].ID, Kind: kind, At: s.Now(), Text: "Which finger?"}
		if err := s.Desk.Tap(t.Context(), by.Coach, []studio.Tap{one}); err != nil {
			t.Fatal(err)
		}
		var of []studio.Job
		for _, j := range s.Jobs.Take() {
			if j.Kind == studio.JobNotify {
				of = append(of, j)
			}
		}
		return of
	}
	if js := ask(s.Okafor, 0, studio.TapHurt); len(js) != 0 {
		t.Fatalf("nobody asked, and %d are told", len(js))
	}

	const here = `{"endpoint":"https://push.example.net/abc","keys":{"p256dh":"x","auth":"y"}}`
	for device, want := range map[string]int{"": http.StatusForbidden, s.Okafor.Device: http.StatusForbidden} {
		if got := subscribed(t, s, device, here); got != want {
			t.Errorf("a stranger or a family: %d, want %d", got, want)
		}
	}
	if got := subscribed(t, s, s.TeacherDevice, `{"endpoint":"http://here"}`); got != http.StatusUnprocessableEntity {
		t.Errorf("no address: %d", got)
	}
	if got := subscribed(t, s, s.TeacherDevice, here); got != http.StatusOK {
		t.Fatal(got)
	}
	webtest.Has(t, s.Page(t, "/studio/told"), "This browser tells you", "No more here")
	webtest.Has(t, s.Page(t, "/studio"), "In 1 browser")

	js := ask(s.Lindqvist, 0, studio.TapHurt)
	if len(js) != 1 || js[0].At.After(s.Now()) {
		t.Fatalf("of what hurt: %+v", js)
	}
	told, err := s.Desk.ToTell(t.Context(), s.Ear(), js[0].Notice)
	if err != nil || told.Person.Role != studio.Teacher || told.Notice.Kind != studio.OfHurt || len(told.Push) != 1 {
		t.Errorf("%+v, %v", told, err)
	}
	if js := ask(s.Okafor, 0, studio.TapQuestion); len(js) != 1 || js[0].At.Sub(s.Now()) != 15*time.Minute {
		t.Errorf("the page says a quarter of an hour; a question: %+v", js)
	}

	if status, _, to := s.Post(t, s.TeacherDevice, "/studio/told/off", nil); status != http.StatusSeeOther || to != "/studio/told?done=off" {
		t.Errorf("off: %d to %s", status, to)
	}
	if js := ask(s.Lindqvist, 1, studio.TapHurt); len(js) != 0 {
		t.Errorf("told on after no more was wanted: %+v", js)
	}
}

// TestTheTeachersMail: nothing goes to an address before its owner confirmed it; one that is none is refused beside the
// field; a mail server that does not answer is said; and one touch ends it.
func TestTheTeachersMail(t *testing.T) {
	var failing bool
	s, mails := telling(t, &failing)
	status, text, _ := s.Post(t, s.TeacherDevice, "/studio/email", url.Values{"email": {"not an address"}})
	if status != http.StatusUnprocessableEntity {
		t.Errorf("no address: %d", status)
	}
	webtest.Has(t, text, "name@example.org", `value="not an address"`)

	failing = true
	status, text, _ = s.Post(t, s.TeacherDevice, "/studio/email", url.Values{"email": {"marit@example.org"}})
	if status != http.StatusBadGateway {
		t.Errorf("a silent mail server: %d", status)
	}
	webtest.Has(t, text, "could not be sent just now", "Take the address out")
	failing = false
	if status, _, to := s.Post(t, s.TeacherDevice, "/studio/email", url.Values{"email": {"marit@example.org"}}); status != http.StatusSeeOther || to != "/studio/told?done=mailed" {
		t.Fatalf("%d to %s", status, to)
	}
	if len(*mails) != 3 || (*mails)[0] != "marit@example.org" || (*mails)[1] != "en" {
		t.Fatal(*mails)
	}
	webtest.Has(t, s.Page(t, "/studio/told"), "Nothing else goes there before you open the link")
	if _, err := s.Desk.ConfirmEmail(t.Context(), (*mails)[2]); err != nil {
		t.Fatal(err)
	}
	webtest.Has(t, s.Page(t, "/studio/told"), "Mails go to marit@example.org.")
	webtest.Has(t, s.Page(t, "/studio"), "By e-mail: what hurt at once")
	s.Post(t, s.TeacherDevice, "/studio/email", url.Values{"off": {"yes"}})
	webtest.HasNot(t, s.Page(t, "/studio/told"), "marit@example.org")
}

// TestNoWayToTell: where no address of the studio and no mail server is known the page offers nothing, and says why.
func TestNoWayToTell(t *testing.T) {
	s := open(t)
	text := s.Page(t, "/studio/told")
	webtest.Has(t, text, "has no way yet to tell you", "docs/running.md")
	webtest.HasNot(t, text, "data-subscribe", `type="email"`)
	if status, _, _ := s.Post(t, s.TeacherDevice, "/studio/email", url.Values{"email": {"marit@example.org"}}); status != http.StatusNotFound {
		t.Errorf("an address that nothing can go to: %d", status)
	}
}
