package notify

import (
	"bytes"
	"crypto/tls"
	"crypto/x509"
	"errors"
	"io"
	"mime"
	"mime/quotedprintable"
	"net"
	"net/http/httptest"
	stdmail "net/mail"
	"strings"
	"sync"
	"testing"
	"time"

	"github.com/emersion/go-sasl"
	"github.com/emersion/go-smtp"
)

// post is a mail server for tests.
type post struct {
	mu       sync.Mutex
	password string
	letters  []letter
	secret   bool // the last one came over TLS
}

type letter struct {
	from, to string
	data     []byte
}

func (p *post) NewSession(c *smtp.Conn) (smtp.Session, error) {
	_, secret := c.TLSConnectionState()
	p.mu.Lock()
	p.secret = secret
	p.mu.Unlock()
	return &visit{post: p, signedIn: p.password == ""}, nil
}

type visit struct {
	post     *post
	signedIn bool
	l        letter
}

func (v *visit) AuthMechanisms() []string { return []string{sasl.Plain} }

func (v *visit) Auth(string) (sasl.Server, error) {
	return sasl.NewPlainServer(func(_, user, password string) error {
		if user != "notes@example.org" || password != v.post.password {
			return smtp.ErrAuthFailed
		}
		v.signedIn = true
		return nil
	}), nil
}

func (v *visit) Mail(from string, _ *smtp.MailOptions) error {
	if !v.signedIn {
		return smtp.ErrAuthRequired
	}
	v.l.from = from
	return nil
}

func (v *visit) Rcpt(to string, _ *smtp.RcptOptions) error {
	switch {
	case strings.HasPrefix(to, "moved@"):
		return &smtp.SMTPError{Code: 550, EnhancedCode: smtp.EnhancedCode{5, 1, 1}, Message: "no such mailbox"}
	case strings.HasPrefix(to, "full@"):
		return &smtp.SMTPError{Code: 452, EnhancedCode: smtp.EnhancedCode{4, 2, 2}, Message: "mailbox full"}
	case strings.HasPrefix(to, "closed@"):
		return &smtp.SMTPError{Code: 554, EnhancedCode: smtp.EnhancedCode{5, 7, 1}, Message: "not from you"}
	}
	v.l.to = to
	return nil
}

func (v *visit) Data(r io.Reader) (err error) {
	if v.l.data, err = io.ReadAll(r); err != nil {
		return err
	}
	v.post.mu.Lock()
	defer v.post.mu.Unlock()
	v.post.letters = append(v.post.letters, v.l)
	return nil
}

func (v *visit) Reset() { v.l = letter{} }

func (v *visit) Logout() error { return nil }

// lines is how a test's server is reached.
type lines int

const (
	startTLS lines = iota
	implicitTLS
	openLine
)

// server answers at the returned address until the test ends; its certificate is that of httptest.
func server(t *testing.T, p *post, l lines) (address string, trust *tls.Config) {
	t.Helper()
	borrowed := httptest.NewTLSServer(nil)
	t.Cleanup(borrowed.Close)
	pool := x509.NewCertPool()
	pool.AddCert(borrowed.Certificate())
	own := &tls.Config{Certificates: borrowed.TLS.Certificates}
	s := smtp.NewServer(p)
	s.Domain = "localhost"
	s.AllowInsecureAuth = l == openLine
	s.ErrorLog = quiet{}
	var line net.Listener
	line, err := net.Listen("tcp", "127.0.0.1:0")
	if err != nil {
		t.Fatal(err)
	}
	switch l {
	case startTLS:
		s.TLSConfig = own
	case implicitTLS:
		line = tls.NewListener(line, own)
	}
	ended := make(chan error, 1)
	go func() { ended <- s.Serve(line) }()
	t.Cleanup(func() {
		if err := s.Close(); err != nil {
			t.Error(err)
		}
		if err := <-ended; err != nil && !errors.Is(err, smtp.ErrServerClosed) && !errors.Is(err, net.ErrClosed) {
			t.Error(err)
		}
	})
	return line.Addr().String(), &tls.Config{RootCAs: pool, ServerName: "127.0.0.1", MinVersion: tls.VersionTLS12}
}

type quiet struct{}

func (quiet) Printf(string, ...any) {}

func (quiet) Println(...any) {}

var answer = Notice{Kind: Lesson, Language: "es", Studio: "El Molino\r\nBcc: a@example.com", Link: "https://studio.example.org/week", Off: "https://studio.example.org/off?t=abc"}

func mailer(t *testing.T, s MailSettings) *Mailer {
	t.Helper()
	s.From = "notes@example.org"
	m, err := NewMailer(s)
	if err != nil {
		t.Fatal(err)
	}
	return m
}

// TestMail: over STARTTLS and over TLS from the start, signed in, a mail arrives as it should be.
func TestMail(t *testing.T) {
	for scheme, l := range map[string]lines{"smtp://": startTLS, "smtps://": implicitTLS} {
		p := &post{password: "a secret"}
		address, trust := server(t, p, l)
		m := mailer(t, MailSettings{Server: scheme + address, Password: "a secret", TLS: trust})
		if err := m.Hello(t.Context()); err != nil {
			t.Fatalf("%s: hello: %v", scheme, err)
		}
		now := time.Date(2026, 11, 28, 12, 0, 0, 0, time.UTC)
		if err := m.Mail(t.Context(), "Parent <parent@example.com>", answer, now); err != nil {
			t.Fatalf("%s: %v", scheme, err)
		}
		if len(p.letters) != 1 || !p.secret || p.letters[0].from != "notes@example.org" || p.letters[0].to != "parent@example.com" {
			t.Fatalf("%s: over TLS %v, %+v", scheme, p.secret, p.letters)
		}
		got, err := stdmail.ReadMessage(bytes.NewReader(p.letters[0].data))
		if err != nil {
			t.Fatal(err)
		}
		subject, err := new(mime.WordDecoder).DecodeHeader(got.Header.Get("Subject"))
		if err != nil || subject != "Guitarra: hay una respuesta" {
			t.Errorf("subject %q, %v", subject, err)
		}
		for name, want := range map[string]string{
			"List-Unsubscribe": "<https://studio.example.org/off?t=abc>", "List-Unsubscribe-Post": "List-Unsubscribe=One-Click", // RFC 8058, 3.1
			"Auto-Submitted": "auto-generated", "Bcc": "", "Content-Language": "es", "To": "<parent@example.com>",
		} {
			if v := got.Header.Get(name); v != want {
				t.Errorf("%s is %q, want %q", name, v, want)
			}
		}
		if d, err := got.Header.Date(); err != nil || !d.Equal(now) {
			t.Errorf("date %v, %v", d, err)
		}
		if id := got.Header.Get("Message-ID"); !strings.HasSuffix(id, "@example.org>") {
			t.Errorf("the mail names a machine: %q", id)
		}
		if ct := got.Header.Get("Content-Type"); !strings.HasPrefix(ct, "text/plain") {
			t.Errorf("%q could tell that it was opened", ct)
		}
		body, err := io.ReadAll(quotedprintable.NewReader(got.Body))
		if err != nil {
			t.Fatal(err)
		}
		for _, want := range []string{"Ya está aquí la respuesta", "https://studio.example.org/week", "https://studio.example.org/off?t=abc", "El Molino Bcc: a@example.com"} {
			if !strings.Contains(string(body), want) {
				t.Errorf("no %q in %s", want, body)
			}
		}
	}
}

// TestMailIsNotSent: no line without TLS, no wrong password, no wrong certificate; and a mailbox that is
// gone is told from one that is full.
func TestMailIsNotSent(t *testing.T) {
	now := time.Unix(0, 0)
	open := &post{}
	address, trust := server(t, open, openLine)
	if err := mailer(t, MailSettings{Server: address, TLS: trust}).Mail(t.Context(), "a@example.com", answer, now); err == nil || len(open.letters) > 0 {
		t.Errorf("over an open line: %v, %d letters", err, len(open.letters))
	}
	if err := mailer(t, MailSettings{Server: address, Plain: true}).Mail(t.Context(), "a@example.com", answer, now); err != nil || len(open.letters) != 1 {
		t.Errorf("over an open line on this machine, when allowed: %v, %d letters", err, len(open.letters))
	}
	p := &post{password: "a secret"}
	address, trust = server(t, p, startTLS)
	if err := mailer(t, MailSettings{Server: address, Password: "wrong", TLS: trust}).Hello(t.Context()); err == nil || strings.Contains(err.Error(), "wrong") {
		t.Errorf("a wrong password: %v", err)
	}
	if err := mailer(t, MailSettings{Server: address, Password: "a secret"}).Hello(t.Context()); err == nil {
		t.Error("a certificate that nobody signed is trusted")
	}
	m := mailer(t, MailSettings{Server: address, Password: "a secret", TLS: trust})
	if err := m.Mail(t.Context(), "moved@example.com", answer, now); !errors.Is(err, ErrGone) {
		t.Errorf("no such mailbox: %v", err)
	}
	if _, later := errors.AsType[*LaterError](m.Mail(t.Context(), "full@example.com", answer, now)); !later {
		t.Error("a full mailbox is not tried again")
	}
	if err := m.Mail(t.Context(), "closed@example.com", answer, now); !errors.Is(err, ErrRefused) || errors.Is(err, ErrGone) {
		t.Errorf("not from us: %v", err)
	}
	noOff, noLink := answer, answer
	noOff.Off, noLink.Link = "", "https://a.example/> <b"
	for _, c := range []struct {
		to string
		n  Notice
	}{{"", answer}, {"a@example.com\r\nRCPT TO:<b@example.com>", answer}, {"a@example.com, b@example.com", answer}, {"a@example.com", noOff}, {"a@example.com", noLink}, {"a@example.com", Notice{Kind: "party", Link: answer.Link, Off: answer.Off}}} {
		if err := m.Mail(t.Context(), c.to, c.n, now); !errors.Is(err, ErrRefused) {
			t.Errorf("%q %+v: %v", c.to, c.n, err)
		}
	}
	if len(p.letters) > 0 {
		t.Errorf("%d letters arrived", len(p.letters))
	}
	// A server that takes the call and says nothing.
	line, err := net.Listen("tcp", "127.0.0.1:0")
	if err != nil {
		t.Fatal(err)
	}
	defer line.Close()
	if err := mailer(t, MailSettings{Server: line.Addr().String(), Patience: 200 * time.Millisecond}).Mail(t.Context(), "a@example.com", answer, now); err == nil || errors.Is(err, ErrRefused) {
		t.Errorf("a silent server: %v", err)
	}
}

func TestMailSettings(t *testing.T) {
	for _, c := range []struct {
		s        MailSettings
		host     string
		port     int
		implicit bool
	}{
		{MailSettings{Server: "smtp.example.org"}, "smtp.example.org", 587, false}, // RFC 6409: submission
		{MailSettings{Server: "smtp.example.org:25"}, "smtp.example.org", 25, false},
		{MailSettings{Server: "smtp.example.org:465"}, "smtp.example.org", 465, true}, // RFC 8314, 3.3
		{MailSettings{Server: "smtps://smtp.example.org/"}, "smtp.example.org", 465, true},
		{MailSettings{Server: "smtps://smtp.example.org:2465"}, "smtp.example.org", 2465, true},
		{MailSettings{Server: "smtp://[::1]:2525", Plain: true}, "::1", 2525, false},
	} {
		c.s.From = "Studio <a@example.org>"
		m, err := NewMailer(c.s)
		if err != nil || m.host != c.host || m.port != c.port || m.implicit != c.implicit {
			t.Errorf("%+v: %+v, %v", c.s, m, err)
		}
	}
	for _, s := range []MailSettings{{}, {Server: "smtp.example.org", From: "nobody"}, {Server: "", From: "a@example.org"}, {Server: "http://smtp.example.org", From: "a@example.org"},
		{Server: "smtp.example.org:x", From: "a@example.org"}, {Server: "smtp.example.org", From: "a@example.org\r\nb"}, {Server: "smtp.example.org", From: "a@example.org", Plain: true}} {
		if _, err := NewMailer(s); err == nil {
			t.Errorf("%+v is taken", s)
		}
	}
}
