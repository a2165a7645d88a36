package notify

import (
	"context"
	"errors"
	"net/http"
	"net/mail"
	"strings"
	"testing"
	"time"

	"antiphon/internal/studio"
)

// dyingDesk keeps a notice as a store does, and is killed before the end of a telling is written down.
type dyingDesk struct {
	fakeDesk
	dies bool
}

var errKilled = errors.New("killed")

func (f *dyingDesk) Told(ctx context.Context, v studio.Viewer, n studio.Notice) error {
	if f.dies && n.State == studio.Waits {
		return errKilled
	}
	f.telling.Notice = n
	return f.fakeDesk.Told(ctx, v, n)
}

// TestKilledWhileTelling: a program that is killed between sending and writing down tells once more, with the
// same mail, and not a third time.
func TestKilledWhileTelling(t *testing.T) {
	p := &post{}
	address, _ := server(t, p, openLine)
	f := &dyingDesk{dies: true}
	f.telling = studio.Telling{Notice: studio.Notice{ID: "0123456789abcdefghjkmnpqrs", Kind: studio.OfLesson},
		Person: studio.Person{Role: studio.Coach, Email: "parent@example.com"}, Off: "secret", Studio: studio.Studio{Name: "Mill"}, Language: "en"}
	teller := NewTeller(f, TellOptions{Address: "https://studio.example.org", Mail: mailer(t, MailSettings{Server: address, Plain: true})})
	for n, want := range []int{1, 2, 2, 2} {
		err := teller.Tell(t.Context(), studio.Viewer{Role: studio.Ear}, "n")
		if len(p.letters) != want || errors.Is(err, errKilled) != (n < 2) {
			t.Fatalf("after telling %d times: %d letters, %v", n+1, len(p.letters), err)
		}
	}
	if n := f.telling.Notice; n.State != studio.GivenUp || n.Why == "" || !n.Sent.IsZero() {
		t.Errorf("the end: %+v", n)
	}
	var ids []string
	for _, l := range p.letters {
		m, err := mail.ReadMessage(strings.NewReader(string(l.data)))
		if err != nil {
			t.Fatal(err)
		}
		ids = append(ids, m.Header.Get("Message-ID"))
	}
	if ids[0] != "<0123456789abcdefghjkmnpqrs@example.org>" || ids[1] != ids[0] {
		t.Errorf("the mails are called %q", ids)
	}

	// Killed once, it goes on as if nothing had been.
	f.telling.Notice.State, f.dies = studio.TellsNow, false
	if err := teller.Tell(t.Context(), studio.Viewer{Role: studio.Ear}, "n"); err != nil || len(p.letters) != 3 {
		t.Fatalf("%v, %d letters", err, len(p.letters))
	}
	if n := f.telling.Notice; n.State != studio.Waits || n.Sent.IsZero() || n.Tries != 1 {
		t.Errorf("told: %+v", n)
	}
}

// TestTimeIsOver: what has gone out is written down though the time for the try be over meanwhile.
func TestTimeIsOver(t *testing.T) {
	ctx, end := context.WithCancel(t.Context())
	var seen []string
	client := service(t, map[string]int{"/a": 201}, &seen)
	inner := client.Transport
	client.Transport = carried(func(r *http.Request) (*http.Response, error) {
		defer end()
		return inner.RoundTrip(r.WithContext(context.WithoutCancel(r.Context())))
	})
	f := &heedingDesk{}
	f.telling = studio.Telling{Notice: studio.Notice{Kind: studio.OfLesson}, Person: studio.Person{Role: studio.Coach}, Push: []studio.PushAddress{pushAt(t, "a", "/a")}}
	teller := NewTeller(f, TellOptions{Address: "https://studio.example.org", Push: NewPusher(keys(t), PushOptions{Client: client})})
	if err := teller.Tell(ctx, studio.Viewer{Role: studio.Ear}, "n"); err != nil || ctx.Err() == nil || len(f.told) != 2 || f.told[1].Sent.IsZero() {
		t.Errorf("%v, told %+v", err, f.told)
	}
}

// heedingDesk writes nothing for somebody who has gone.
type heedingDesk struct{ fakeDesk }

func (f *heedingDesk) Told(ctx context.Context, v studio.Viewer, n studio.Notice) error {
	if err := ctx.Err(); err != nil {
		return err
	}
	return f.fakeDesk.Told(ctx, v, n)
}

// TestLongestRest: where several refuse for now, whoever wants the longest rest gets it.
func TestLongestRest(t *testing.T) {
	for _, c := range []struct {
		all  []error
		want time.Duration
	}{
		{nil, -1},
		{[]error{errors.New("away")}, -1},
		{[]error{errors.New("away"), &LaterError{AfterS: 120, Err: errors.New("busy")}, &LaterError{AfterS: 1200, Err: errors.New("full")}, &LaterError{Err: errors.New("no")}}, 20 * time.Minute},
	} {
		l, ok := errors.AsType[interface {
			error
			Wait() time.Duration
		}](together(c.all))
		if ok != (c.want >= 0) || ok && l.Wait() != c.want {
			t.Errorf("%v: %v, %v", c.all, l, ok)
		}
	}
}
