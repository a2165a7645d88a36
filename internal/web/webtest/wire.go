package webtest

import (
	"io"
	"net"
	"strings"
	"sync"
	"testing"
	"time"
)

// Wire is the network between a phone and the studio. It carries what the phone sends slowly, and breaks off
// after some of it, for as long as nobody mends it.
type Wire struct {
	to   string
	mu   sync.Mutex
	left int64 // bytes that it still carries from the phone; negative: all
	slow bool  // 150 kB a second
	sent int64
	open map[net.Conn]bool
}

// Lay opens the wire to a site and gives its address on the phone's side.
func Lay(t testing.TB, to string) (*Wire, string) {
	t.Helper()
	ln, err := net.Listen("tcp", "127.0.0.1:0")
	if err != nil {
		t.Fatal(err)
	}
	w := &Wire{to: strings.TrimPrefix(to, "http://"), left: -1, open: map[net.Conn]bool{}}
	var all sync.WaitGroup
	t.Cleanup(func() {
		ln.Close()
		w.BreaksAfter(0)
		all.Wait()
	})
	all.Go(func() {
		for {
			c, err := ln.Accept()
			if err != nil {
				return
			}
			all.Go(func() { w.carry(c) })
		}
	})
	return w, "http://" + ln.Addr().String()
}

// BreaksAfter lets so many more bytes through; 0 cuts at once. -1 mends the wire.
func (w *Wire) BreaksAfter(bytes int64) {
	w.mu.Lock()
	defer w.mu.Unlock()
	w.left = bytes
	if bytes == 0 {
		for c := range w.open {
			c.Close()
		}
	}
}

func (w *Wire) IsSlow(now bool) {
	w.mu.Lock()
	defer w.mu.Unlock()
	w.slow, w.sent = now, 0
}

// Carried is what went through since the wire became slow.
func (w *Wire) Carried() int64 {
	w.mu.Lock()
	defer w.mu.Unlock()
	return w.sent
}

// may says whether n more bytes go through, and after which time.
func (w *Wire) may(n int) (bool, time.Duration) {
	w.mu.Lock()
	defer w.mu.Unlock()
	if w.left >= 0 {
		if w.left -= int64(n); w.left <= 0 {
			w.left = 0
			return false, 0
		}
	}
	w.sent += int64(n)
	if w.slow {
		return true, time.Duration(n) * time.Second / 150_000
	}
	return true, 0
}

func (w *Wire) carry(phone net.Conn) {
	defer phone.Close()
	if ok, _ := w.may(0); !ok {
		return
	}
	studio, err := net.DialTimeout("tcp", w.to, time.Second)
	if err != nil {
		return // the studio is not up: the phone is hung up on
	}
	defer studio.Close()
	w.mu.Lock()
	w.open[phone] = true
	w.mu.Unlock()
	back := make(chan struct{})
	go func() {
		defer close(back)
		_, _ = io.Copy(phone, studio)
		phone.Close()
	}()
	piece := make([]byte, 8<<10)
	for {
		n, err := phone.Read(piece)
		ok, after := w.may(n)
		if !ok || err != nil {
			break
		}
		time.Sleep(after) // the wire is slow: that is what it is for
		if _, err := studio.Write(piece[:n]); err != nil {
			break
		}
	}
	studio.Close()
	phone.Close()
	<-back
	w.mu.Lock()
	delete(w.open, phone)
	w.mu.Unlock()
}

// WaitFor waits until something is so, at most a minute.
func WaitFor(t testing.TB, what string, so func() bool) {
	t.Helper()
	for range 1200 {
		if so() {
			return
		}
		time.Sleep(50 * time.Millisecond)
	}
	t.Fatal("never: ", what)
}
