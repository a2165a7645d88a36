package main

import (
	"context"
	"crypto/tls"
	"errors"
	"fmt"
	"net"
	"net/http"
	"net/netip"
	"os"
	"path/filepath"
	"strings"
	"time"

	"golang.org/x/crypto/acme/autocert"
)

// listenFlags say how browsers reach the program. Phones give microphone and camera to secure pages
// only, so plain HTTP is for this machine.
type listenFlags struct {
	Listen      string `help:"Address to answer at." default:"127.0.0.1:8080" placeholder:"ADDR"`
	Domain      string `help:"Name of this server: a certificate for it is fetched and renewed, and ports 443 and 80 are answered." placeholder:"NAME"`
	Cert        string `help:"File with the certificate, for HTTPS with your own." placeholder:"FILE"`
	Key         string `help:"File with the certificate's key." placeholder:"FILE"`
	Address     string `help:"How browsers reach the studio, where that is neither --domain nor what they ask for themselves." placeholder:"URL"`
	BehindProxy bool   `help:"A proxy before this program speaks HTTPS, and says in X-Forwarded-For who asks."`
}

// check refuses what would hand children's recordings over an open line.
func (f *listenFlags) check() error {
	ways := 0
	for _, on := range []bool{f.Domain != "", f.Cert != "" || f.Key != "", f.BehindProxy} {
		if on {
			ways++
		}
	}
	switch {
	case ways > 1:
		return usage("--domain, --cert with --key, and --behind-proxy are three ways of one thing: choose one")
	case (f.Cert == "") != (f.Key == ""):
		return usage("--cert and --key belong together: give both")
	case ways == 0 && !loopback(f.Listen):
		return usage("%s can be reached from other machines, and plain HTTP would show them the recordings; phones also refuse it their microphone: add --domain NAME, --cert and --key, or --behind-proxy, or listen on 127.0.0.1", f.Listen)
	case f.Address != "" && !strings.HasPrefix(f.Address, "https://") && !(ways == 0 && strings.HasPrefix(f.Address, "http://")):
		return usage("--address %q is no address of this studio: write it like https://studio.example.org", f.Address)
	case f.Domain != "" && (strings.ContainsAny(f.Domain, "/: ") || !strings.Contains(f.Domain, ".")):
		return usage("--domain %q is no name of a server: write it like studio.example.org", f.Domain)
	}
	return nil
}

// loopback tells whether only this machine reaches an address.
func loopback(listen string) bool {
	host, _, err := net.SplitHostPort(listen)
	if err != nil {
		return false
	}
	if host == "localhost" {
		return true
	}
	a, err := netip.ParseAddr(host)
	return err == nil && a.IsLoopback()
}

// secure tells whether the browser speaks HTTPS.
func (f *listenFlags) secure() bool { return f.Domain != "" || f.Cert != "" || f.BehindProxy }

// public is how browsers reach the studio; "" where they say so themselves.
func (f *listenFlags) public() string {
	switch {
	case f.Address != "":
		return strings.TrimRight(f.Address, "/")
	case f.Domain != "":
		return "https://" + f.Domain
	}
	return ""
}

// client says who asks: behind a proxy the last address that the proxy itself wrote.
func (f *listenFlags) client() func(*http.Request) netip.Addr {
	if !f.BehindProxy {
		return nil
	}
	return func(r *http.Request) netip.Addr {
		all := strings.Split(strings.Join(r.Header.Values("X-Forwarded-For"), ","), ",")
		a, err := netip.ParseAddr(strings.TrimSpace(all[len(all)-1]))
		if err != nil {
			at, _ := netip.ParseAddrPort(r.RemoteAddr) // the zero address is one client like any other
			return at.Addr()
		}
		return a
	}
}

// open makes the line; certs is a folder for fetched certificates. at is the address to print.
func (f *listenFlags) open(ctx context.Context, certs string) (line net.Listener, at string, err error) {
	listen := f.Listen
	if f.Domain != "" && listen == "127.0.0.1:8080" {
		listen = ":443"
	}
	line, err = (&net.ListenConfig{}).Listen(ctx, "tcp", listen)
	if err != nil {
		return nil, "", fmt.Errorf("nothing can listen at %s (%w): stop what is there, or choose another --listen", listen, netCause(err))
	}
	switch {
	case f.Domain != "":
		m := &autocert.Manager{Prompt: autocert.AcceptTOS, HostPolicy: autocert.HostWhitelist(f.Domain), Cache: autocert.DirCache(certs)}
		challenge := &http.Server{Addr: ":80", Handler: m.HTTPHandler(nil), ReadHeaderTimeout: 10 * time.Second}
		go challenge.ListenAndServe() //nolint:errcheck // where port 80 is taken the TLS challenge on 443 still works
		context.AfterFunc(ctx, func() { challenge.Close() })
		return tls.NewListener(line, m.TLSConfig()), "https://" + f.Domain, nil
	case f.Cert != "":
		pair, err := tls.LoadX509KeyPair(f.Cert, f.Key)
		if err != nil {
			line.Close()
			return nil, "", fmt.Errorf("the certificate in %s with the key in %s cannot be used (%w): give the pair that belongs together, as PEM", filepath.Base(f.Cert), filepath.Base(f.Key), err)
		}
		return tls.NewListener(line, &tls.Config{Certificates: []tls.Certificate{pair}, MinVersion: tls.VersionTLS12, NextProtos: []string{"h2", "http/1.1"}}), "https://" + line.Addr().String(), nil
	}
	return line, "http://" + line.Addr().String(), nil
}

func netCause(err error) error {
	if e, ok := errors.AsType[*os.SyscallError](err); ok {
		return e.Err
	}
	return err
}

// answer serves until ctx ends, then lets what is under way finish for a moment.
func answer(ctx context.Context, line net.Listener, h http.Handler) error {
	server := &http.Server{
		Handler:           h,
		ReadHeaderTimeout: 10 * time.Second, // bodies and answers may take long: recordings go both ways
		IdleTimeout:       2 * time.Minute,
		MaxHeaderBytes:    64 << 10,
		BaseContext:       func(net.Listener) context.Context { return ctx }, // a page that waits for news ends with us
	}
	ended := make(chan error, 1)
	go func() { ended <- server.Serve(line) }()
	select {
	case err := <-ended:
		return err
	case <-ctx.Done():
	}
	rest, cancel := context.WithTimeout(context.WithoutCancel(ctx), 10*time.Second)
	defer cancel()
	err := server.Shutdown(rest)
	if errors.Is(err, context.DeadlineExceeded) {
		err = server.Close()
	}
	return err
}
