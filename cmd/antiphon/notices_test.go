package main

import (
	"errors"
	"log/slog"
	"net"
	"os"
	"path/filepath"
	"strings"
	"testing"
)

func TestMailFlags(t *testing.T) {
	dir := t.TempDir()
	secret, empty := filepath.Join(dir, "secret"), filepath.Join(dir, "empty")
	for name, text := range map[string]string{secret: "a b c \r\nsecond\n", empty: "\n"} {
		if err := os.WriteFile(name, []byte(text), 0o600); err != nil {
			t.Fatal(err)
		}
	}
	if got, err := readSecret(secret); err != nil || got != "a b c " {
		t.Errorf("%q, %v", got, err)
	}
	for _, c := range []struct {
		f     mailFlags
		wrong bool // usage
		says  string
	}{
		{mailFlags{MailFrom: "a@example.org"}, true, "need --mail-server"},
		{mailFlags{MailServer: "smtp.example.org"}, true, "needs --mail-from"},
		{mailFlags{MailServer: "smtp.example.org", MailFrom: "nobody"}, true, "no address"},
		{mailFlags{MailServer: "http://x", MailFrom: "a@example.org"}, true, "no mail server"},
		{mailFlags{MailServer: "smtp.example.org", MailFrom: "a@example.org", MailOpenLine: true}, true, "without TLS"},
		{mailFlags{MailServer: "smtp.example.org", MailFrom: "a@example.org", MailPasswordFile: empty}, false, "is empty"},
		{mailFlags{MailServer: "smtp.example.org", MailFrom: "a@example.org", MailPasswordFile: filepath.Join(dir, "none")}, false, "cannot be read"},
	} {
		m, err := c.f.mailer()
		var u usageError
		if err == nil || m != nil || !strings.Contains(err.Error(), c.says) || errors.As(err, &u) != c.wrong {
			t.Errorf("%+v: %v", c.f, err)
		}
	}
	if m, err := (&mailFlags{}).mailer(); m != nil || err != nil {
		t.Errorf("without a server: %v, %v", m, err)
	}
	good := mailFlags{MailServer: "smtp.example.org:587", MailFrom: "The Studio <a@example.org>", MailPasswordFile: secret}
	if m, err := good.mailer(); m == nil || err != nil || good.contact() != "a@example.org" {
		t.Errorf("%v, %v, contact %q", m, err, good.contact())
	}
}

// TestNoticesNeedAnAddress: without one no key is made, and the log says what to do; with one the key stays.
func TestNoticesNeedAnAddress(t *testing.T) {
	dir := t.TempDir()
	var said strings.Builder
	log := slog.New(slog.NewTextHandler(&said, nil))
	n, err := (&mailFlags{}).open(nil, dir, "", log)
	if err != nil || n.teller == nil || n.pushKey != "" || !strings.Contains(said.String(), "--address") {
		t.Errorf("%+v, %v, %q", n, err, said.String())
	}
	a, err := (&mailFlags{}).open(nil, dir, "https://studio.example.org", log)
	if err != nil || len(a.pushKey) != 87 || a.mails { // 65 bytes in base64url: an uncompressed P-256 point, RFC 8292
		t.Errorf("%+v, %v", a, err)
	}
	mails := mailFlags{MailServer: "smtp.example.org", MailFrom: "a@example.org"}
	if m, err := mails.open(nil, dir, "https://studio.example.org", log); err != nil || m.onPages().Confirm == nil || a.onPages().Confirm != nil || m.onPages().PushKey != a.pushKey {
		t.Errorf("%+v, %v", m, err)
	}
	if b, err := (&mailFlags{}).open(nil, dir, "https://studio.example.org", log); err != nil || b.pushKey != a.pushKey {
		t.Errorf("the key changed: %v", err)
	}
	for _, c := range []struct {
		f    listenFlags
		want string
	}{
		{listenFlags{Listen: "127.0.0.1:8080"}, "http://127.0.0.1:8080"}, {listenFlags{Domain: "studio.example.org"}, "https://studio.example.org"},
		{listenFlags{BehindProxy: true}, ""}, {listenFlags{Cert: "c", Key: "k"}, ""}, {listenFlags{BehindProxy: true, Address: "https://a.example/"}, "https://a.example"},
	} {
		if got := c.f.known("http://127.0.0.1:8080"); got != c.want {
			t.Errorf("%+v: %q, want %q", c.f, got, c.want)
		}
	}
}

// TestCheckupCallsTheMailServer and says what it heard.
func TestCheckupCallsTheMailServer(t *testing.T) {
	line, err := net.Listen("tcp", "127.0.0.1:0")
	if err != nil {
		t.Fatal(err)
	}
	address := line.Addr().String()
	if err := line.Close(); err != nil {
		t.Fatal(err)
	}
	c := checkupCmd{mailFlags: mailFlags{MailServer: address, MailFrom: "a@example.org", MailOpenLine: true}}
	if k := c.mail(t.Context()); k.State != lacking || !strings.Contains(k.Say, address) || k.Advice == "" {
		t.Errorf("a server that is away: %+v", k)
	}
	c = checkupCmd{}
	if k := c.mail(t.Context()); k.State != good {
		t.Errorf("none is named: %+v", k)
	}
}
