package notify

import (
	"context"
	"crypto/ecdh"
	"encoding/base64"
	"encoding/json"
	"errors"
	"fmt"
	"io"
	"net"
	"net/http"
	"net/netip"
	"net/url"
	"strconv"
	"strings"
	"syscall"
	"time"

	webpush "github.com/SherClockHolmes/webpush-go"
)

// Subscription is where a browser wants its messages, as its PushSubscription says it in JSON.
type Subscription struct {
	Endpoint string `json:"endpoint"`
	Keys     struct {
		P256dh string `json:"p256dh"`
		Auth   string `json:"auth"`
	} `json:"keys"`
}

const mostSubscription = 4 << 10

// ReadSubscription reads what a browser handed in, and refuses what no browser says: whoever is logged in
// could otherwise make this server call any address.
func ReadSubscription(doc []byte) (Subscription, error) {
	var s Subscription
	if len(doc) > mostSubscription {
		return s, fmt.Errorf("%w: a subscription of %d bytes", ErrRefused, len(doc))
	}
	if err := json.Unmarshal(doc, &s); err != nil {
		return s, fmt.Errorf("%w: no subscription (%w)", ErrRefused, err)
	}
	u, err := url.Parse(s.Endpoint)
	if err != nil || u.Scheme != "https" || u.Host == "" || u.User != nil || u.Port() != "" && u.Port() != "443" {
		return s, fmt.Errorf("%w: %q is no address of a push service", ErrRefused, s.Endpoint)
	}
	if _, err := netip.ParseAddr(strings.Trim(u.Hostname(), "[]")); err == nil || !strings.Contains(u.Hostname(), ".") {
		return s, fmt.Errorf("%w: %q is no push service's name", ErrRefused, u.Host)
	}
	point, err := unbase64(s.Keys.P256dh)
	if err == nil {
		_, err = ecdh.P256().NewPublicKey(point)
	}
	if err != nil {
		return s, fmt.Errorf("%w: the subscription's key is no key (%w)", ErrRefused, err)
	}
	if auth, err := unbase64(s.Keys.Auth); err != nil || len(auth) != 16 { // RFC 8291, 3.2
		return s, fmt.Errorf("%w: the subscription's secret has not 16 bytes", ErrRefused)
	}
	return s, nil
}

func unbase64(s string) ([]byte, error) {
	return base64.RawURLEncoding.DecodeString(strings.NewReplacer("+", "-", "/", "_", "=", "").Replace(s))
}

// PushOptions: the zero value sends as this host may.
type PushOptions struct {
	Contact string       // who runs the sender: an https address or a mail address (RFC 8292, 2.1); "" is the studio's own address
	Client  *http.Client // nil is one that reaches public addresses only, for ten seconds
}

// Pusher sends push messages.
type Pusher struct {
	keys Keys
	o    PushOptions
}

// NewPusher makes a sender that signs with keys.
func NewPusher(keys Keys, o PushOptions) *Pusher {
	if o.Client == nil {
		o.Client = publicClient()
	}
	return &Pusher{keys, o}
}

// message is what the page's worker shows.
type message struct {
	Title    string `json:"title"`
	Body     string `json:"body"`
	URL      string `json:"url"`
	Language string `json:"lang"`
	Tag      string `json:"tag"` // a newer one of the same kind takes the place of an older one
}

// How long a push service keeps a message for a phone that is off.
const keptFor = 7 * 24 * time.Hour

// Push sends a notice to a browser. ErrGone: the browser has ended its subscription (404 and 410, RFC 8030,
// 7.3). ErrRefused: the service wants nothing of it; with ErrUnfit, nothing for this address (400 and 403: it is none of
// its own, or was made for another key; RFC 8292, 4.2). *LaterError: it wants to be asked later.
func (p *Pusher) Push(ctx context.Context, s Subscription, n Notice) error {
	said, w, err := n.in()
	if err != nil {
		return err
	}
	if w.body == "" {
		return fmt.Errorf("%w: a notice %q goes by mail only", ErrRefused, n.Kind)
	}
	doc, err := json.Marshal(message{Title: w.title, Body: w.body, URL: n.Link, Language: said.code, Tag: string(n.Kind)})
	if err != nil {
		return err
	}
	if err := n.check(); err != nil {
		return err
	}
	contact := strings.TrimPrefix(p.o.Contact, "mailto:")
	if u, err := url.Parse(n.Link); err == nil && contact == "" {
		contact = "https://" + u.Host
	}
	urgency := webpush.UrgencyNormal
	if n.Kind == Hurt {
		urgency = webpush.UrgencyHigh
	}
	answer, err := webpush.SendNotificationWithContext(ctx, doc, &webpush.Subscription{Endpoint: s.Endpoint, Keys: webpush.Keys{Auth: s.Keys.Auth, P256dh: s.Keys.P256dh}},
		&webpush.Options{HTTPClient: p.o.Client, Subscriber: contact, TTL: int(keptFor.Seconds()), Urgency: urgency, Topic: string(n.Kind), // a second one takes the place of one that still waits there (RFC 8030, 5.4)
			VAPIDPublicKey: p.keys.Public(), VAPIDPrivateKey: p.keys.secret()})
	if err != nil {
		return fmt.Errorf("sending a push message: %w", err)
	}
	reason, err := io.ReadAll(io.LimitReader(answer.Body, 300))
	err = errors.Join(err, answer.Body.Close())
	code := answer.StatusCode
	switch {
	case code/100 == 2:
		return nil
	case code == http.StatusNotFound || code == http.StatusGone:
		return fmt.Errorf("%w (%s)", ErrGone, answer.Status)
	case code == http.StatusTooManyRequests || code/100 == 5 || code == http.StatusRequestTimeout:
		return &LaterError{retryAfter(answer.Header, time.Now()), fmt.Errorf("the push service says %s", answer.Status)}
	}
	refused := fmt.Errorf("%w: the push service says %s, %q", ErrRefused, answer.Status, oneLine(string(reason)))
	if code == http.StatusBadRequest || code == http.StatusForbidden {
		refused = fmt.Errorf("%w: %w", ErrUnfit, refused)
	}
	return errors.Join(refused, err)
}

// retryAfter is for how many seconds a service wants to be left alone: it says so in seconds or as a date
// (RFC 9110, 10.2.3). 0 where it says nothing that makes sense, a day at most.
func retryAfter(h http.Header, now time.Time) float64 {
	said := h.Get("Retry-After")
	after, err := strconv.ParseFloat(said, 64)
	if at, notDate := http.ParseTime(said); notDate == nil {
		after, err = at.Sub(now).Seconds(), nil
	}
	if err != nil || !(after > 0) {
		return 0
	}
	return min(after, 24*3600)
}

// publicClient reaches no address inside: a subscription's host name may lead anywhere.
func publicClient() *http.Client {
	dial := &net.Dialer{Timeout: 5 * time.Second, Control: func(_, address string, _ syscall.RawConn) error {
		at, err := netip.ParseAddrPort(address)
		if err != nil || !public(at.Addr()) || at.Port() != 443 {
			return fmt.Errorf("%w: %w: %s lies within this network", ErrRefused, ErrUnfit, address)
		}
		return nil
	}}
	return &http.Client{
		Timeout:       10 * time.Second,
		Transport:     &http.Transport{DialContext: dial.DialContext, TLSHandshakeTimeout: 5 * time.Second, MaxResponseHeaderBytes: 16 << 10, ForceAttemptHTTP2: true},
		CheckRedirect: func(*http.Request, []*http.Request) error { return http.ErrUseLastResponse },
	}
}

// special are networks that look public and are not, or lead to a private one: IANA's registries of special-purpose
// addresses (RFC 6890), as of 2024 from memory.
var special = [...]netip.Prefix{
	netip.MustParsePrefix("0.0.0.0/8"), netip.MustParsePrefix("100.64.0.0/10"), netip.MustParsePrefix("192.0.0.0/24"),
	netip.MustParsePrefix("192.0.2.0/24"), netip.MustParsePrefix("192.88.99.0/24"), netip.MustParsePrefix("198.18.0.0/15"),
	netip.MustParsePrefix("198.51.100.0/24"), netip.MustParsePrefix("203.0.113.0/24"), netip.MustParsePrefix("240.0.0.0/4"),
	netip.MustParsePrefix("::/8"),         // with addresses of version 4 in them
	netip.MustParsePrefix("64:ff9b::/96"), // a gateway to version 4, RFC 6052
	netip.MustParsePrefix("64:ff9b:1::/48"),
	netip.MustParsePrefix("100::/64"),
	netip.MustParsePrefix("2001::/23"),     // Teredo and others
	netip.MustParsePrefix("2001:db8::/32"), // examples
	netip.MustParsePrefix("2002::/16"),     // 6to4, which leads to version 4
	netip.MustParsePrefix("fec0::/10"),     // sites, once
}

func public(a netip.Addr) bool {
	a = a.Unmap().WithZone("")
	for _, p := range special {
		if p.Contains(a) {
			return false
		}
	}
	return a.IsGlobalUnicast() && !a.IsPrivate() && !a.IsLoopback() && !a.IsLinkLocalUnicast()
}
