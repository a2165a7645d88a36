package arrive

import (
	"bytes"
	"encoding/base64"
	"fmt"
	"io"
	"net"
	"net/http"
	"net/url"
	"strconv"
	"strings"
	"sync"
	"testing"
	"time"

	"antiphon/internal/studio"
	"antiphon/internal/web/webtest"
)

// site is a studio with its arrivals behind HTTP.
type site struct {
	*webtest.Site
	arrivals *Arrivals
	dir      string
}

func open(t testing.TB, o Options) *site {
	t.Helper()
	s := webtest.Open(t)
	o.Dir = t.TempDir()
	a, err := New(s.Frame, o)
	if err != nil {
		t.Fatal(err)
	}
	return &site{s.Serve(t, a.Routes), a, o.Dir}
}

// phone speaks tus 1.0.0 as its specification writes it (https://tus.io/protocols/resumable-upload).
type phone struct {
	t      testing.TB
	client *http.Client
	at     string // the site, or a bad network before it
	site   string
}

func (s *site) phone(t testing.TB, device string) *phone {
	return &phone{t, s.Client(t, device), s.URL, s.URL}
}

func said(pairs ...string) string {
	var l []string
	for i := 0; i+1 < len(pairs); i += 2 {
		l = append(l, pairs[i]+" "+base64.StdEncoding.EncodeToString([]byte(pairs[i+1])))
	}
	return strings.Join(l, ",")
}

func (p *phone) ask(method, path string, body io.Reader, headers ...string) (*http.Response, string, error) {
	p.t.Helper()
	r, err := http.NewRequestWithContext(p.t.Context(), method, p.at+path, body)
	if err != nil {
		p.t.Fatal(err)
	}
	r.Header.Set("Tus-Resumable", "1.0.0")
	r.Header.Set("Accept", "application/json")
	r.Header.Set("Sec-Fetch-Site", "same-origin")
	for i := 0; i+1 < len(headers); i += 2 {
		r.Header.Set(headers[i], headers[i+1])
	}
	a, err := p.client.Do(r)
	if err != nil {
		return nil, "", err
	}
	defer a.Body.Close()
	b, err := io.ReadAll(a.Body)
	return a, string(b), err
}

// begin makes an upload and gives its address.
func (p *phone) begin(bytes int64, meta string) (at string, status int, text string) {
	p.t.Helper()
	a, text, err := p.ask(http.MethodPost, "/uploads/", nil, "Upload-Length", fmt.Sprint(bytes), "Upload-Metadata", meta)
	if err != nil {
		p.t.Fatal(err)
	}
	at = a.Header.Get("Location")
	if u, err := url.Parse(at); err != nil || u.Host != "" || a.StatusCode == http.StatusCreated && !strings.HasPrefix(at, "/uploads/") {
		p.t.Errorf("the upload is at %q", at)
	}
	return at, a.StatusCode, text
}

// offset asks how much is here; -1 where the upload is not.
func (p *phone) offset(at string) (int64, *http.Response) {
	p.t.Helper()
	for range 100 {
		a, _, err := p.ask(http.MethodHead, at, nil)
		if err != nil {
			continue // the network is bad
		}
		if a.StatusCode != http.StatusOK {
			return -1, a
		}
		n, err := strconv.ParseInt(a.Header.Get("Upload-Offset"), 10, 64)
		if err != nil {
			p.t.Fatal(err)
		}
		return n, a
	}
	p.t.Fatal("the server cannot be reached")
	return 0, nil
}

func (p *phone) patch(at string, from int64, b []byte) (*http.Response, string, error) {
	p.t.Helper()
	return p.ask(http.MethodPatch, at, bytes.NewReader(b), "Upload-Offset", fmt.Sprint(from), "Content-Type", "application/offset+octet-stream")
}

// sends sends all of b and goes on wherever the network broke. It gives the last answer.
func (p *phone) sends(at string, b []byte) *http.Response {
	p.t.Helper()
	for range 100 {
		n, a := p.offset(at)
		if n == int64(len(b)) || n < 0 {
			return a
		}
		if a, text, err := p.patch(at, n, b[n:]); err == nil {
			if a.StatusCode == http.StatusNoContent && a.Header.Get("Upload-Offset") == fmt.Sprint(len(b)) {
				return a
			}
			if a.StatusCode != http.StatusNoContent {
				p.t.Fatalf("%d %s", a.StatusCode, text)
			}
		}
	}
	p.t.Fatal("it never arrives")
	return nil
}

// badNetwork stands before a server and cuts every connection after so many bytes from the phone, cuts times.
type badNetwork struct {
	to    string
	after int64
	mu    sync.Mutex
	cuts  int
	cut   int
	away  int64 // bytes after which nobody gets through any more; 0 never
	got   int64
	open  []net.Conn
}

func (n *badNetwork) serve(t testing.TB) string {
	t.Helper()
	ln, err := net.Listen("tcp", "127.0.0.1:0")
	if err != nil {
		t.Fatal(err)
	}
	var wg sync.WaitGroup
	t.Cleanup(func() {
		ln.Close()
		n.mu.Lock()
		for _, c := range n.open {
			c.Close()
		}
		n.mu.Unlock()
		wg.Wait()
	})
	wg.Go(func() {
		for {
			c, err := ln.Accept()
			if err != nil {
				return
			}
			n.mu.Lock()
			n.open = append(n.open, c)
			n.mu.Unlock()
			wg.Go(func() { n.carry(c) })
		}
	})
	return "http://" + ln.Addr().String()
}

func (n *badNetwork) carry(phone net.Conn) {
	defer phone.Close()
	if n.gone(0) {
		return
	}
	server, err := net.DialTimeout("tcp", n.to, 5*time.Second)
	if err != nil {
		return
	}
	defer server.Close()
	back := make(chan struct{})
	go func() {
		defer close(back)
		io.Copy(phone, server)
		phone.Close()
	}()
	got, _ := io.CopyN(server, phone, n.after)
	if n.gone(got) {
		server.Close()
		<-back
		return
	}
	if got == n.after {
		n.mu.Lock()
		cut := n.cut < n.cuts
		if cut {
			n.cut++
		}
		n.mu.Unlock()
		if !cut {
			io.Copy(server, phone)
		}
	}
	server.Close()
	<-back
}

// gone counts bytes and says whether the network is away.
func (n *badNetwork) gone(more int64) bool {
	n.mu.Lock()
	defer n.mu.Unlock()
	n.got += more
	return n.away > 0 && n.got >= n.away
}

func (s *site) take(t testing.TB, id string) studio.Take {
	t.Helper()
	v, err := s.Desk.ReviewTake(t.Context(), s.Teacher, studio.TakeID(id))
	if err != nil {
		t.Fatal(err)
	}
	return v.Take
}
