package listen

import (
	"os"
	"path/filepath"
	"strings"
	"testing"
	"time"

	"antiphon/internal/studio"
)

// inbox is a watched folder with a clock of its own.
func (r *room) inbox() (*Inbox, *time.Time) {
	r.t.Helper()
	now := time.Date(2026, 11, 22, 17, 0, 0, 0, time.UTC)
	in := &Inbox{Desk: r.desk, Dir: filepath.Join(r.folder, "inbox"), Now: func() time.Time { return now }}
	if err := in.ready(); err != nil {
		r.t.Fatal(err)
	}
	return in, &now
}

func (r *room) put(in *Inbox, name string, b []byte) string {
	r.t.Helper()
	p := filepath.Join(in.Dir, name)
	if err := os.WriteFile(p, b, 0o600); err != nil {
		r.t.Fatal(err)
	}
	return p
}

func (r *room) unsorted() []studio.Unsorted {
	r.t.Helper()
	l, err := r.desk.Unsorted(r.t.Context(), r.teacher)
	if err != nil {
		r.t.Fatal(err)
	}
	return l
}

func there(t *testing.T, path string) bool {
	t.Helper()
	_, err := os.Lstat(path)
	return err == nil
}

func TestInbox(t *testing.T) {
	r := openRoom(t, studio.FullVideo)
	in, now := r.inbox()
	look := func(wait time.Duration) {
		t.Helper()
		*now = now.Add(wait)
		if err := in.look(t.Context()); err != nil {
			t.Fatal(err)
		}
	}
	sound, err := os.ReadFile(r.encoded(r.take(r.named("onebar"), "own-nylon", 1, usual), "aac"))
	if err != nil {
		t.Fatal(err)
	}
	r.put(in, "Ada onebar.m4a", sound)
	r.put(in, "still coming.m4a.part", sound)
	r.put(in, ".hidden.m4a", sound)
	r.put(in, "holiday.txt", []byte("only words"))
	r.put(in, "..name.mp4", []byte("dots"))
	if err := os.Symlink("/etc/passwd", filepath.Join(in.Dir, "link.m4a")); err != nil {
		t.Fatal(err)
	}
	growing := r.put(in, "growing.m4a", sound[:1000])
	look(0)
	look(4 * time.Second)
	if n := len(r.unsorted()); n != 0 {
		t.Errorf("%d files were taken before they could be known to be complete", n)
	}
	r.put(in, "growing.m4a", append(sound[:len(sound):len(sound)], 0))
	look(3 * time.Second)
	l := r.unsorted()
	if len(l) != 1 || l[0].FileName != "Ada onebar.m4a" || l[0].Type != "audio/mp4" || l[0].Bytes != int64(len(sound)) {
		t.Fatalf("taken: %+v", l)
	}
	if there(t, filepath.Join(in.Dir, "Ada onebar.m4a")) || !there(t, filepath.Join(in.Dir, "taken", "Ada onebar.m4a")) {
		t.Error("what was taken is not filed away")
	}
	why, err := os.ReadFile(filepath.Join(in.Dir, "refused", "holiday.txt.txt"))
	if err != nil || !strings.Contains(string(why), "no recording") || !there(t, filepath.Join(in.Dir, "refused", "holiday.txt")) {
		t.Errorf("refused because %q, %v", why, err)
	}
	for _, name := range []string{"still coming.m4a.part", ".hidden.m4a", "link.m4a", "growing.m4a", "..name.mp4"} {
		if !there(t, filepath.Join(in.Dir, name)) {
			t.Errorf("%s was touched", name)
		}
	}
	f, err := os.OpenFile(growing, os.O_WRONLY|os.O_APPEND, 0)
	if err != nil {
		t.Fatal(err)
	}
	look(10 * time.Second)
	if n := len(r.unsorted()); n != 1 {
		t.Error("a file was taken that is open for writing")
	}
	if err := f.Close(); err != nil {
		t.Fatal(err)
	}
	look(10 * time.Second)
	if n := len(r.unsorted()); n != 2 {
		t.Errorf("%d files are there", n)
	}
}

// TestInboxAfterAKill: the studio has a file, and the program was killed before it was filed away.
func TestInboxAfterAKill(t *testing.T) {
	r := openRoom(t, studio.FullVideo)
	in, _ := r.inbox()
	sound, err := os.ReadFile(r.encoded(r.take(r.named("onebar"), "own-nylon", 1, usual), "aac"))
	if err != nil {
		t.Fatal(err)
	}
	path := r.put(in, "a.m4a", sound)
	f, err := os.Open(path)
	if err != nil {
		t.Fatal(err)
	}
	if why, err := in.drop(t.Context(), r.teacher.Studio, "a.m4a", path, f); why != "" || err != nil {
		t.Fatal(why, err)
	}
	f.Close()
	again, now := r.inbox()
	r.put(again, "taken/a.m4a", []byte("another file of that name, of last week"))
	for range 2 {
		*now = now.Add(time.Minute)
		if err := again.look(t.Context()); err != nil {
			t.Fatal(err)
		}
	}
	if l := r.unsorted(); len(l) != 1 || l[0].Bytes != int64(len(sound)) {
		t.Errorf("taken: %+v", l)
	}
	if b, err := os.ReadFile(filepath.Join(in.Dir, "taken", "a (2).m4a")); err != nil || len(b) != len(sound) || there(t, path) {
		t.Errorf("filed away: %d bytes, %v", len(b), err)
	}
}
