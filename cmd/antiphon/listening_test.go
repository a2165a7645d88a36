package main

import (
	"context"
	"errors"
	"fmt"
	"net/http/httptest"
	"strings"
	"testing"
)

func TestPlainHTTPStaysOnThisMachine(t *testing.T) {
	for _, c := range []struct {
		f       listenFlags
		refused string // "" where it is fine
	}{
		{listenFlags{Listen: "127.0.0.1:8080"}, ""},
		{listenFlags{Listen: "[::1]:8080"}, ""},
		{listenFlags{Listen: "localhost:8080"}, ""},
		{listenFlags{Listen: ":8080"}, "plain HTTP would show them"},
		{listenFlags{Listen: "0.0.0.0:80"}, "plain HTTP would show them"},
		{listenFlags{Listen: "192.168.1.5:80"}, "plain HTTP would show them"},
		{listenFlags{Listen: "127.0.0.1.evil.example:80"}, "plain HTTP would show them"},
		{listenFlags{Listen: ":8080", BehindProxy: true}, ""},
		{listenFlags{Listen: ":443", Domain: "studio.example.org"}, ""},
		{listenFlags{Listen: ":443", Domain: "https://studio.example.org"}, "is no name of a server"},
		{listenFlags{Listen: ":443", Cert: "a"}, "belong together"},
		{listenFlags{Listen: ":443", Domain: "a.example", BehindProxy: true}, "choose one"},
	} {
		err := c.f.check()
		if (err == nil) != (c.refused == "") || err != nil && !strings.Contains(err.Error(), c.refused) {
			t.Errorf("%+v: %v", c.f, err)
		}
	}
}

// TestWhoAsksBehindAProxy: what the client itself wrote before the proxy's entry counts for nothing.
func TestWhoAsksBehindAProxy(t *testing.T) {
	who := (&listenFlags{BehindProxy: true}).client()
	r := httptest.NewRequest("GET", "/", nil)
	r.Header.Set("X-Forwarded-For", "10.9.9.9, 203.0.113.7")
	if got := who(r).String(); got != "203.0.113.7" {
		t.Errorf("got %s", got)
	}
	r.Header.Set("X-Forwarded-For", "nonsense")
	if got := who(r).String(); got != "192.0.2.1" { // httptest's own
		t.Errorf("got %s", got)
	}
}

// TestWhatWentWrongAtTheEnd: a stop that was asked for is no error, a full disk at that moment is.
func TestWhatWentWrongAtTheEnd(t *testing.T) {
	ctx, stop := context.WithCancel(t.Context())
	full := errors.New("disk full")
	if err := ended(ctx, full); err != full {
		t.Errorf("running: %v", err)
	}
	stop()
	if err := ended(ctx, fmt.Errorf("working: %w", context.Canceled)); err != nil {
		t.Errorf("stopped: %v", err)
	}
	if err := ended(ctx, full); !errors.Is(err, full) {
		t.Errorf("stopped with a full disk: %v", err)
	}
}
