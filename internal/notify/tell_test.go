package notify

import (
	"context"
	"encoding/json"
	"errors"
	"net/http"
	"net/http/httptest"
	"net/url"
	"slices"
	"strings"
	"testing"
	"time"

	"antiphon/internal/studio"
)

// fakeDesk holds one notice.
type fakeDesk struct {
	telling studio.Telling
	gone    bool
	told    []studio.Notice
	removed []studio.PushID
}

func (f *fakeDesk) ToTell(context.Context, studio.Viewer, studio.NoticeID) (studio.Telling, error) {
	if f.gone {
		return studio.Telling{}, &studio.Problem{Kind: studio.NotFound}
	}
	return f.telling, nil
}

func (f *fakeDesk) Told(_ context.Context, _ studio.Viewer, n studio.Notice) error {
	f.told = append(f.told, n)
	return nil
}

func (f *fakeDesk) RemovePush(_ context.Context, _ studio.Viewer, id studio.PushID) error {
	f.removed = append(f.removed, id)
	return nil
}

func (f *fakeDesk) Home(context.Context) (studio.Studio, bool, error) {
	return f.telling.Studio, true, nil
}

// service is a push service reached under a public name; codes by path.
func service(t *testing.T, codes map[string]int, seen *[]string) *http.Client {
	t.Helper()
	s := httptest.NewTLSServer(http.HandlerFunc(func(w http.ResponseWriter, r *http.Request) {
		*seen = append(*seen, r.URL.Path)
		w.WriteHeader(codes[r.URL.Path])
	}))
	t.Cleanup(s.Close)
	c := s.Client()
	to, err := url.Parse(s.URL)
	if err != nil {
		t.Fatal(err)
	}
	inner := c.Transport
	c.Transport = carried(func(r *http.Request) (*http.Response, error) {
		r.URL.Host = to.Host
		return inner.RoundTrip(r)
	})
	return c
}

type carried func(*http.Request) (*http.Response, error)

func (c carried) RoundTrip(r *http.Request) (*http.Response, error) { return c(r) }

func pushAt(t *testing.T, id, path string) studio.PushAddress {
	t.Helper()
	var s Subscription
	s.Endpoint, s.Keys.P256dh, s.Keys.Auth = "https://push.example.net"+path, rfcPublic, rfcAuth
	doc, err := json.Marshal(s)
	if err != nil {
		t.Fatal(err)
	}
	return studio.PushAddress{ID: studio.PushID(id), Doc: doc}
}

func TestTell(t *testing.T) {
	now := time.Date(2026, 11, 28, 12, 0, 0, 0, time.UTC)
	family := studio.Person{Role: studio.Coach, Email: "parent@example.com"}
	for _, c := range []struct {
		name    string
		kind    studio.NoticeKind
		person  studio.Person
		push    []string // paths
		codes   map[string]int
		sent    bool
		again   bool
		removed []studio.PushID
		letters int
		says    string
	}{
		{"both ways", studio.OfLesson, family, []string{"/a", "/b"}, map[string]int{"/a": 201, "/b": 201}, true, false, nil, 1, "https://studio.example.org/notices/off/secret"},
		{"the teacher", studio.OfHurt, studio.Person{Role: studio.Teacher, Email: "t@example.com"}, nil, nil, true, false, nil, 1, "https://studio.example.org/desk"},
		{"one browser is gone", studio.OfNudge, studio.Person{Role: studio.Coach}, []string{"/a", "/b"}, map[string]int{"/a": 410, "/b": 201}, true, false, []studio.PushID{"/a"}, 0, ""},
		{"all are gone", studio.OfLetter, studio.Person{Role: studio.Coach}, []string{"/a"}, map[string]int{"/a": 404}, false, false, []studio.PushID{"/a"}, 0, ""},
		{"the address is none of its own", studio.OfLetter, family, []string{"/a"}, map[string]int{"/a": 400}, true, false, []studio.PushID{"/a"}, 1, ""},
		{"made for another key", studio.OfLesson, studio.Person{Role: studio.Coach}, []string{"/a", "/b"}, map[string]int{"/a": 403, "/b": 201}, true, false, []studio.PushID{"/a"}, 0, ""},
		{"too long is our own fault", studio.OfLesson, studio.Person{Role: studio.Coach}, []string{"/a"}, map[string]int{"/a": 413}, false, false, nil, 0, ""},
		{"the service is down", studio.OfLesson, studio.Person{Role: studio.Coach}, []string{"/a"}, map[string]int{"/a": 503}, false, true, nil, 0, ""},
		{"down, but the mail goes", studio.OfLesson, family, []string{"/a"}, map[string]int{"/a": 503}, true, false, nil, 1, ""},
		{"the mailbox is full", studio.OfLesson, studio.Person{Role: studio.Coach, Email: "full@example.com"}, nil, nil, false, true, nil, 0, ""},
		{"no way", studio.OfLesson, studio.Person{Role: studio.Coach}, nil, nil, false, false, nil, 0, ""},
	} {
		p := &post{}
		address, _ := server(t, p, openLine)
		var seen []string
		f := &fakeDesk{telling: studio.Telling{Notice: studio.Notice{ID: "n", Kind: c.kind}, Person: c.person, Off: "secret", Studio: studio.Studio{Name: "Mill"}, Language: "es"}}
		for _, path := range c.push {
			f.telling.Push = append(f.telling.Push, pushAt(t, path, path))
		}
		teller := NewTeller(f, TellOptions{Address: "https://studio.example.org/", Now: func() time.Time { return now },
			Push: NewPusher(keys(t), PushOptions{Client: service(t, c.codes, &seen)}), Mail: mailer(t, MailSettings{Server: address, Plain: true})})
		err := teller.Tell(t.Context(), studio.Viewer{Role: studio.Ear}, "n")
		if (err != nil) != c.again {
			t.Errorf("%s: %v", c.name, err)
		}
		if len(f.told) != 2 || f.told[0].State != studio.TellsNow || !f.told[0].Sent.IsZero() {
			t.Fatalf("%s: told %+v", c.name, f.told)
		}
		end, ended := f.told[1], studio.Waits
		if !c.sent && !c.again {
			ended = studio.GivenUp
		}
		if end.Sent.Equal(now) != c.sent || end.Tries != 1 || !c.sent && end.Why == "" || end.State != ended {
			t.Errorf("%s: told %+v", c.name, end)
		}
		if !slices.Equal(seen, c.push) || len(p.letters) != c.letters {
			t.Errorf("%s: pushed to %v, %d letters", c.name, seen, len(p.letters))
		}
		if !slices.Equal(f.removed, c.removed) {
			t.Errorf("%s: removed %q", c.name, f.removed)
		}
		if len(p.letters) > 0 && !strings.Contains(string(p.letters[0].data), "Content-Language: es") {
			t.Errorf("%s: not in the reader's language: %s", c.name, p.letters[0].data)
		}
		if len(p.letters) > 0 && !strings.Contains(string(p.letters[0].data), c.says) {
			t.Errorf("%s: no %q in %s", c.name, c.says, p.letters[0].data)
		}
	}
}

// TestNonsenseIsForgotten: what a page handed in and no push service ever gave is not kept, and nobody is asked for it.
func TestNonsenseIsForgotten(t *testing.T) {
	var seen []string
	f := &fakeDesk{telling: studio.Telling{Notice: studio.Notice{ID: "n", Kind: studio.OfLesson}, Person: studio.Person{Role: studio.Coach}, Language: "en",
		Push: []studio.PushAddress{{ID: "bad", Doc: json.RawMessage(`{"endpoint":"https://push.example.net/abc","keys":{"p256dh":"x","auth":"y"}}`)}}}}
	teller := NewTeller(f, TellOptions{Address: "https://studio.example.org/", Push: NewPusher(keys(t), PushOptions{Client: service(t, nil, &seen)})})
	if err := teller.Tell(t.Context(), studio.Viewer{Role: studio.Ear}, "n"); err != nil {
		t.Fatal(err)
	}
	if !slices.Equal(f.removed, []studio.PushID{"bad"}) || len(seen) != 0 {
		t.Errorf("removed %q, asked %v", f.removed, seen)
	}
}

func TestTellNothing(t *testing.T) {
	taken := &fakeDesk{gone: true}
	done := &fakeDesk{telling: studio.Telling{Notice: studio.Notice{Kind: studio.OfLesson, Sent: time.Unix(1, 0)}}}
	odd := &fakeDesk{telling: studio.Telling{Notice: studio.Notice{Kind: "party"}}}
	for name, f := range map[string]*fakeDesk{"taken back": taken, "told already": done} {
		if err := NewTeller(f, TellOptions{}).Tell(t.Context(), studio.Viewer{}, "n"); err != nil || len(f.told) > 0 {
			t.Errorf("%s: %v, %v", name, err, f.told)
		}
	}
	if err := NewTeller(odd, TellOptions{}).Tell(t.Context(), studio.Viewer{}, "n"); err == nil {
		t.Error("a notice that nobody knows is told")
	}
	if err := NewTeller(odd, TellOptions{}).Confirm(t.Context(), "a@example.com", "en", "s"); !errors.Is(err, ErrRefused) {
		t.Errorf("without a mail server: %v", err)
	}
}

// TestConfirm: the first mail holds one link and nothing of a studio's children.
func TestConfirm(t *testing.T) {
	p := &post{}
	address, _ := server(t, p, openLine)
	teller := NewTeller(&fakeDesk{telling: studio.Telling{Studio: studio.Studio{Name: "Mill"}}}, TellOptions{Address: "https://studio.example.org", Mail: mailer(t, MailSettings{Server: address, Plain: true})})
	if err := teller.Confirm(t.Context(), "a@example.com", "en", "abc"); err != nil || len(p.letters) != 1 {
		t.Fatalf("%v, %d letters", err, len(p.letters))
	}
	got := string(p.letters[0].data)
	if !strings.Contains(got, "https://studio.example.org/notices/confirm/abc") || strings.Contains(got, "List-Unsubscribe") || strings.Count(got, "https://") != 1 {
		t.Error(got)
	}
}
