package main

import (
	"cmp"
	"context"
	"fmt"
	"io"
	"log/slog"
	"os"
	"strings"

	"antiphon/internal/notify"
	"antiphon/internal/studio"
	"antiphon/internal/web/week"
)

// mailFlags say how mails leave the house. Without a server none do, and browsers are told all the same.
type mailFlags struct {
	MailServer       string `help:"Mail server that notices go out through: smtp.example.org:587, or smtps://smtp.example.org." placeholder:"SERVER"`
	MailFrom         string `help:"Address that they come from: notes@example.org, or 'The Studio <notes@example.org>'." placeholder:"ADDRESS"`
	MailUser         string `help:"Name to sign in with at the mail server; without it the address of --mail-from." placeholder:"NAME"`
	MailPasswordFile string `help:"File with the password for the mail server; without it the password is in ANTIPHON_MAIL_PASSWORD." placeholder:"FILE"`
	MailOpenLine     bool   `help:"Allow a line without encryption to a mail server on this machine."`
}

const (
	mailPassword   = "ANTIPHON_MAIL_PASSWORD"
	longestSecret  = 4 << 10
	pushAndMailOff = "nobody is told of anything new"
)

// mailer is nil where no server is named.
func (f *mailFlags) mailer() (*notify.Mailer, error) {
	if f.MailServer == "" {
		if f.MailFrom != "" || f.MailUser != "" || f.MailPasswordFile != "" {
			return nil, usage("--mail-from and what belongs to it need --mail-server: name the server, or leave them out")
		}
		return nil, nil
	}
	if f.MailFrom == "" {
		return nil, usage("--mail-server needs --mail-from: say which address the mails come from")
	}
	s := notify.MailSettings{Server: f.MailServer, From: f.MailFrom, User: f.MailUser, Password: os.Getenv(mailPassword), Plain: f.MailOpenLine}
	if f.MailPasswordFile != "" {
		secret, err := readSecret(f.MailPasswordFile)
		if err != nil {
			return nil, err
		}
		s.Password = secret
	}
	m, err := notify.NewMailer(s)
	if err != nil {
		return nil, usage("%v", err)
	}
	return m, nil
}

// readSecret is the first line of a file.
func readSecret(path string) (string, error) {
	f, err := os.Open(path)
	if err != nil {
		return "", fmt.Errorf("the password in %s cannot be read (%w): check the name and its permissions", path, cause(err))
	}
	defer f.Close()
	b, err := io.ReadAll(io.LimitReader(f, longestSecret))
	if err != nil {
		return "", fmt.Errorf("the password in %s cannot be read (%w): check the name and its permissions", path, cause(err))
	}
	line, _, _ := strings.Cut(string(b), "\n")
	if line = strings.TrimRight(line, "\r"); line == "" {
		return "", fmt.Errorf("%s is empty: write the password into its first line", path)
	}
	return line, nil
}

// notices are the ways in which people are told.
type notices struct {
	teller  *notify.Teller
	pushKey string // "" no browser can be told
	mails   bool
}

// open makes them. address is how browsers reach the studio, "" where that is not known: then no link could
// be written, and nobody is told.
func (f *mailFlags) open(desk *studio.Desk, data, address string, log *slog.Logger) (notices, error) {
	mailer, err := f.mailer()
	if err != nil {
		return notices{}, err
	}
	if address == "" {
		log.Warn(pushAndMailOff, slog.String("why", "it is not known how browsers reach the studio"), slog.String("do", "add --address"))
		return notices{teller: notify.NewTeller(desk, notify.TellOptions{Log: log})}, nil
	}
	keys, err := notify.OpenKeys(data)
	if err != nil {
		return notices{}, err
	}
	push := notify.NewPusher(keys, notify.PushOptions{Contact: f.contact()})
	return notices{notify.NewTeller(desk, notify.TellOptions{Address: address, Push: push, Mail: mailer, Log: log}), keys.Public(), mailer != nil}, nil
}

// onPages is what the families' pages need to offer them.
func (n notices) onPages() week.Notices {
	p := week.Notices{PushKey: n.pushKey}
	if n.mails {
		p.Confirm = n.teller.Confirm
	}
	return p
}

// contact is whom a push service may write to; "" the studio's own address.
func (f *mailFlags) contact() string {
	_, address, ok := strings.Cut(f.MailFrom, "<")
	if !ok {
		address = f.MailFrom
	}
	return strings.TrimSuffix(address, ">")
}

// known is how browsers reach the studio, where that can be said without being asked by one; at is where we
// listen.
func (f *listenFlags) known(at string) string {
	if f.public() == "" && (f.BehindProxy || f.Cert != "") {
		return ""
	}
	return cmp.Or(f.public(), at)
}

// mail: the server takes our call and our password.
func (c *checkupCmd) mail(ctx context.Context) check {
	k := check{What: "mail", State: good, Say: "no mail server is named; browsers can be told all the same"}
	m, err := c.mailer()
	if err == nil && m == nil {
		return k
	}
	if err == nil {
		err = m.Hello(ctx)
	}
	if err != nil {
		return check{What: k.What, State: lacking, Say: err.Error(), Advice: "Check --mail-server, --mail-from, --mail-user and the password. Until then no mail goes out; nothing else is held up."}
	}
	return check{What: k.What, State: good, Say: c.MailServer + " answers and takes the password"}
}
