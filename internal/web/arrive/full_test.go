package arrive

import (
	"context"
	"net/http"
	"path"
	"strings"
	"testing"

	"antiphon/internal/studio"
)

// TestFullDisk: a recording that finds no room is refused before its first byte; one that is on its way
// stays as far as it is, and goes on when there is room again.
func TestFullDisk(t *testing.T) {
	s := open(t, Options{})
	free := int64(1 << 30)
	s.arrivals.uploads.desk = studio.NewDesk(s.Store, s.Blobs, s.Jobs, studio.DeskOptions{Now: s.Now, Free: func(context.Context) (int64, error) { return free, nil }})
	p, teacher := s.phone(t, s.Okafor.Device), s.phone(t, s.TeacherDevice)
	b := noise(3e5, 2)
	at, status, text := p.begin(int64(len(b)), said("child", s.ada(), "filename", "a.m4a"))
	if status != http.StatusCreated {
		t.Fatal(status, text)
	}
	if a, text, err := p.patch(at, 0, b[:1e5]); err != nil || a.StatusCode != http.StatusNoContent {
		t.Fatal(a, text, err)
	}

	free = 200 << 20
	full := func(what string, status int, text string) {
		t.Helper()
		if status != http.StatusInsufficientStorage || !strings.Contains(text, "disk is full") {
			t.Errorf("%s: %d %s", what, status, text)
		}
	}
	_, status, text = p.begin(100, said("child", s.ada(), "filename", "b.m4a"))
	full("another take", status, text)
	_, status, text = teacher.begin(100, said("kind", "drop", "filename", "b.m4a"))
	full("a drop", status, text)
	a, text, err := p.patch(at, 1e5, b[1e5:])
	if err != nil {
		t.Fatal(err)
	}
	full("the rest", a.StatusCode, text)
	if n, _ := p.offset(at); n != 1e5 {
		t.Errorf("%d bytes are here", n)
	}

	free = 1 << 30
	if id := p.sends(at, b).Header.Get("Antiphon-Take"); id != path.Base(at) {
		t.Errorf("the take is %q", id)
	}
	if m, _ := s.original(t, path.Base(at)); m.SentSHA256 != sum(b) {
		t.Errorf("kept is %+v", m)
	}
}
