package notify

import (
	"context"
	"crypto/tls"
	"errors"
	"fmt"
	"net"
	stdmail "net/mail"
	"slices"
	"strconv"
	"strings"
	"time"

	mail "github.com/wneessen/go-mail"
	"github.com/wneessen/go-mail/smtp"
)

// MailSettings say through which server mails go.
type MailSettings struct {
	Server   string // host:port, or smtps://host, smtp://host:587; port 465 is TLS from the start, any other STARTTLS
	From     string // "The Mill Studio <notes@example.org>"
	User     string // "" is the address of From, where there is a password
	Password string // "" does not sign in
	Plain    bool   // allows a line without TLS; only for a server on this machine
	Name     string // what this machine calls itself; "" is localhost's own name

	Patience time.Duration // with one mail; 0 means 30 s
	TLS      *tls.Config   // for tests; nil trusts what the system trusts
}

// Mailer sends mails.
type Mailer struct {
	s        MailSettings
	host     string
	port     int
	implicit bool
	from     *stdmail.Address
}

// NewMailer checks the settings; it connects to nothing yet.
func NewMailer(s MailSettings) (*Mailer, error) {
	m := &Mailer{s: s, port: 587}
	from, err := stdmail.ParseAddress(s.From)
	if err != nil || strings.ContainsAny(s.From, "\r\n") {
		return nil, fmt.Errorf("%q is no address to send from: write it like notes@example.org or The Studio <notes@example.org>", s.From)
	}
	m.from = from
	server := s.Server
	if rest, ok := strings.CutPrefix(server, "smtps://"); ok {
		server, m.port, m.implicit = rest, 465, true
	} else if rest, ok := strings.CutPrefix(server, "smtp://"); ok {
		server = rest
	}
	server = strings.TrimSuffix(server, "/")
	m.host = server
	if host, port, err := net.SplitHostPort(server); err == nil {
		n, err := strconv.Atoi(port)
		if err != nil || n < 1 || n > 65535 {
			return nil, fmt.Errorf("%q is no mail server: %q is no port", s.Server, port)
		}
		m.host, m.port = host, n
		m.implicit = m.implicit || n == 465
	}
	if m.host == "" || strings.ContainsAny(m.host, "/@ \r\n") {
		return nil, fmt.Errorf("%q is no mail server: write it like smtp.example.org:587, or smtps://smtp.example.org", s.Server)
	}
	if s.Plain && !local(m.host) {
		return nil, fmt.Errorf("a line without TLS to %s would show families' addresses on the way: only a mail server on this machine may be reached like that", m.host)
	}
	if m.s.Patience == 0 {
		m.s.Patience = 30 * time.Second
	}
	return m, nil
}

func local(host string) bool {
	if host == "localhost" {
		return true
	}
	ip := net.ParseIP(host)
	return ip != nil && ip.IsLoopback()
}

// client is one connection's worth.
func (m *Mailer) client() (*mail.Client, error) {
	o := []mail.Option{mail.WithPort(m.port), mail.WithTimeout(m.s.Patience), mail.WithDialContextFunc(m.dial)}
	switch {
	case m.implicit:
		o = append(o, mail.WithSSL(), mail.WithTLSConfig(m.tls()))
	case m.s.Plain:
		o = append(o, mail.WithTLSPolicy(mail.NoTLS))
	default:
		o = append(o, mail.WithTLSPolicy(mail.TLSMandatory), mail.WithTLSConfig(m.tls()))
	}
	if m.s.Name != "" {
		o = append(o, mail.WithHELO(m.s.Name))
	}
	if m.s.Password != "" {
		user := m.s.User
		if user == "" {
			user = m.from.Address
		}
		o = append(o, mail.WithSMTPAuthCustom(&signIn{user: user, password: m.s.Password, host: m.host}))
	}
	return mail.NewClient(m.host, o...)
}

func (m *Mailer) tls() *tls.Config {
	if m.s.TLS != nil {
		return m.s.TLS
	}
	return &tls.Config{ServerName: m.host, MinVersion: tls.VersionTLS12}
}

// dial makes a line that ends with ctx whatever the server does: the mail library waits for a greeting for
// ever (go-mail v0.7.2).
func (m *Mailer) dial(ctx context.Context, network, address string) (net.Conn, error) {
	until, ok := ctx.Deadline()
	if !ok {
		until = time.Now().Add(m.s.Patience)
	}
	c, err := (&net.Dialer{}).DialContext(ctx, network, address)
	if err != nil {
		return nil, err
	}
	l := &limitedLine{c, until}
	if err := l.SetDeadline(until); err != nil {
		return nil, errors.Join(err, c.Close())
	}
	if !m.implicit {
		return l, nil
	}
	return tls.Client(l, m.tls()), nil
}

// signIn takes PLAIN where the server offers it, else LOGIN; neither goes over an open line. The library's
// own choice does not know that a line of ours has TLS from the start.
type signIn struct {
	user, password, host string
	smtp.Auth
}

// Start is called once the line stands.
func (a *signIn) Start(server *smtp.ServerInfo) (string, []byte, error) {
	if !server.TLS && !local(a.host) {
		return "", nil, errors.New("the password is not sent over an open line")
	}
	a.Auth = smtp.LoginAuth(a.user, a.password, a.host, true)
	if slices.Contains(server.Auth, "PLAIN") {
		a.Auth = smtp.PlainAuth("", a.user, a.password, a.host, true)
	}
	return a.Auth.Start(server)
}

// limitedLine gives nobody more time than until.
type limitedLine struct {
	net.Conn
	until time.Time
}

func (l *limitedLine) SetDeadline(t time.Time) error {
	if t.IsZero() || t.After(l.until) {
		t = l.until
	}
	return l.Conn.SetDeadline(t)
}

// Hello connects, signs in and says goodbye: what checkup asks.
func (m *Mailer) Hello(ctx context.Context) error {
	ctx, cancel := context.WithTimeout(ctx, m.s.Patience)
	defer cancel()
	c, err := m.client()
	if err != nil {
		return err
	}
	if err := c.DialWithContext(ctx); err != nil {
		return m.explain(err)
	}
	return c.Close()
}

// Mail sends a notice to an address. ErrGone: the server says that there is no such mailbox. ErrRefused: it
// will never take this mail. *LaterError: it wants to be asked later.
func (m *Mailer) Mail(ctx context.Context, to string, n Notice, now time.Time) error {
	ctx, cancel := context.WithTimeout(ctx, m.s.Patience)
	defer cancel()
	msg, err := m.compose(to, n, now)
	if err != nil {
		return err
	}
	c, err := m.client()
	if err != nil {
		return err
	}
	if err := c.DialAndSendWithContext(ctx, msg); err != nil {
		return m.explain(err)
	}
	return nil
}

// compose writes the mail: plain text, so that nothing in it can tell that it was opened.
func (m *Mailer) compose(to string, n Notice, now time.Time) (*mail.Msg, error) {
	said, w, err := n.in()
	if err != nil {
		return nil, err
	}
	if err := n.check(); err != nil {
		return nil, err
	}
	address, err := stdmail.ParseAddress(to)
	if err != nil || len(to) > 254 || strings.ContainsAny(to, "\r\n") {
		return nil, fmt.Errorf("%w: %q is no mail address", ErrRefused, to)
	}
	if n.Off == "" && n.Kind != Confirm && n.Kind != Test {
		return nil, fmt.Errorf("%w: a mail without a way to stop them is not sent", ErrRefused)
	}
	msg := mail.NewMsg(mail.WithNoDefaultUserAgent())
	from := *m.from
	if from.Name == "" {
		from.Name = oneLine(n.Studio)
	}
	msg.FromMailAddress(&from)
	msg.ToMailAddress(&stdmail.Address{Address: address.Address})
	msg.Subject(w.title)
	msg.SetDateWithValue(now)
	_, domain, _ := strings.Cut(from.Address, "@")
	id := n.ID
	if id == "" {
		id = strings.ToLower(randomID())
	}
	msg.SetMessageIDWithValue(id + "@" + domain) // not the machine's own name
	msg.SetGenHeader("Content-Language", said.code)
	msg.SetGenHeader("Auto-Submitted", "auto-generated") // RFC 3834: no holiday answers, please
	body := w.mail + "\n\n" + n.Link + "\n"
	if n.Kind == Test {
		body = w.mail + "\n"
	}
	if n.Off != "" {
		msg.SetGenHeaderPreformatted("List-Unsubscribe", "<"+n.Off+">") // RFC 2369, and RFC 8058 for the one click
		msg.SetGenHeaderPreformatted("List-Unsubscribe-Post", "List-Unsubscribe=One-Click")
		body += "\n-- \n" + fmt.Sprintf(said.why, oneLine(n.Studio)) + "\n" + said.off + "\n" + n.Off + "\n"
	}
	msg.SetBodyString(mail.TypeTextPlain, body)
	return msg, nil
}

// mailRest is how long a mail server that says "not now" is left alone. RFC 5321, 4.5.4.1, wants at least half
// an hour in the long run and two tries in the first hour.
const mailRest = 20 * time.Minute

// explain sorts what the server said.
func (m *Mailer) explain(err error) error {
	se, ok := errors.AsType[*mail.SendError](err)
	switch {
	case !ok:
		return fmt.Errorf("the mail server %s:%d: %w", m.host, m.port, err)
	case se.IsTemp():
		return &LaterError{AfterS: mailRest.Seconds(), Err: fmt.Errorf("the mail server %s:%d: %w", m.host, m.port, err)}
	case se.Reason == mail.ErrSMTPRcptTo && (se.ErrorCode() == 550 || se.ErrorCode() == 551 || se.ErrorCode() == 553):
		return fmt.Errorf("%w (%w)", ErrGone, err)
	case se.ErrorCode()/100 == 5:
		return fmt.Errorf("%w: the mail server %s:%d: %w", ErrRefused, m.host, m.port, err)
	}
	return fmt.Errorf("the mail server %s:%d: %w", m.host, m.port, err)
}
