package arrive

import (
	"context"
	"crypto/sha256"
	"encoding/hex"
	"errors"
	"fmt"
	"io"
	"math/rand/v2"
	"net/http"
	"os"
	"path"
	"path/filepath"
	"strings"
	"testing"
	"time"

	"antiphon/internal/studio"
)

func noise(bytes int, seed uint64) []byte {
	b := make([]byte, bytes)
	r := rand.NewChaCha8([32]byte{byte(seed)})
	r.Read(b)
	return b
}

func sum(b []byte) string {
	s := sha256.Sum256(b)
	return hex.EncodeToString(s[:])
}

func (s *site) ada() string { return string(s.Okafor.Students[0].ID) }

func (s *site) files(t testing.TB) (names []string) {
	t.Helper()
	l, err := os.ReadDir(s.dir)
	if err != nil {
		t.Fatal(err)
	}
	for _, f := range l {
		names = append(names, f.Name())
	}
	return names
}

// original reads what the studio keeps of a take as it was sent.
func (s *site) original(t testing.TB, id string) (studio.Media, []byte) {
	t.Helper()
	ear := studio.Viewer{Studio: s.Teacher.Studio, Role: studio.Ear}
	ms, err := s.Desk.Files(t.Context(), ear, studio.TakeID(id))
	if err != nil || len(ms) != 1 {
		t.Fatal(ms, err)
	}
	f, err := s.Desk.Bytes(t.Context(), ear, ms[0])
	if err != nil {
		t.Fatal(err)
	}
	b, err := io.ReadAll(f)
	if err = errors.Join(err, f.Close()); err != nil {
		t.Fatal(err)
	}
	return ms[0], b
}

// TestCutFiveTimes: 100 MB over a connection that is cut five times arrive byte by byte.
func TestCutFiveTimes(t *testing.T) {
	s := open(t, Options{})
	video := noise(100e6, 1)
	bad := &badNetwork{to: strings.TrimPrefix(s.URL, "http://"), after: 17e6, cuts: 5}
	p := s.phone(t, s.Okafor.Device)
	p.at = bad.serve(t)
	at, status, text := p.begin(int64(len(video)), said("child", s.ada(), "filename", "Sunday.mov", "filetype", "video/quicktime", "note", "The end goes well now.", "hurt", "yes"))
	if status != http.StatusCreated {
		t.Fatal(status, text)
	}
	if got := s.take(t, path.Base(at)); got.State != studio.Arriving || got.Bytes != 100e6 {
		t.Errorf("announced: %+v", got)
	}
	a := p.sends(at, video)
	if bad.cut != 5 {
		t.Errorf("the connection was cut %d times", bad.cut)
	}
	id := a.Header.Get("Antiphon-Take")
	if id != path.Base(at) {
		t.Errorf("the take is %q", id)
	}
	if got := s.take(t, id); got.State != studio.Waiting || got.FileName != "Sunday.mov" || got.Note != "The end goes well now." || !got.Hurt || got.Student != s.Okafor.Students[0].ID {
		t.Errorf("arrived: %+v", got)
	}
	m, b := s.original(t, id)
	if m.Type != "video/quicktime" || m.SentSHA256 != sum(video) || sum(b) != sum(video) {
		t.Errorf("kept is %+v, sent was %s, the file is %s", m, sum(video), sum(b))
	}
	if l := s.files(t); len(l) != 1 || l[0] != id+".done" {
		t.Errorf("left behind: %q", l)
	}
}

// TestLostAnswer: the last byte arrived, and the answer to it never did.
func TestLostAnswer(t *testing.T) {
	s := open(t, Options{})
	p := s.phone(t, s.Okafor.Device)
	b := noise(3e5, 2)
	at, _, _ := p.begin(int64(len(b)), said("child", s.ada(), "filename", "a.m4a"))
	p.sends(at, b)
	for range 2 {
		if n, a := p.offset(at); n != int64(len(b)) || a.Header.Get("Antiphon-Take") != path.Base(at) {
			t.Errorf("%d bytes are here, the take is %q", n, a.Header.Get("Antiphon-Take"))
		}
	}
	if a, text, err := p.patch(at, int64(len(b)), nil); err != nil || a.StatusCode != http.StatusNoContent {
		t.Errorf("once more: %d %s, %v", a.StatusCode, text, err)
	}
	if a, _, err := p.ask(http.MethodDelete, at, nil); err != nil || a.StatusCode != http.StatusGone {
		t.Errorf("given up after it arrived: %d, %v", a.StatusCode, err)
	}
	// The same recording sent once more is known.
	again, _, _ := p.begin(int64(len(b)), said("child", s.ada(), "filename", "b.m4a"))
	if a := p.sends(again, b); a.Header.Get("Antiphon-Before") != "yes" || a.Header.Get("Antiphon-Take") != path.Base(at) {
		t.Errorf("sent before: %q", a.Header)
	}
}

// TestKilledWhenWhole: all bytes are here, and the program was killed before the studio had them.
func TestKilledWhenWhole(t *testing.T) {
	for _, way := range []string{"asked", "tended"} {
		s := open(t, Options{})
		p := s.phone(t, s.Okafor.Device)
		b := noise(3e5, 3)
		at, _, _ := p.begin(int64(len(b)), said("child", s.ada(), "filename", "a.m4a"))
		id := path.Base(at)
		if err := os.WriteFile(filepath.Join(s.dir, id), b, 0o600); err != nil {
			t.Fatal(err)
		}
		if way == "asked" {
			if n, a := p.offset(at); n != int64(len(b)) || a.Header.Get("Antiphon-Take") != id {
				t.Errorf("%d bytes", n)
			}
		} else if err := s.arrivals.uploads.tend(t.Context()); err != nil {
			t.Error(err)
		}
		if got := s.take(t, id); got.State != studio.Waiting {
			t.Errorf("%s: %+v", way, got)
		}
		// And killed after the studio had them, before that was noted.
		if err := errors.Join(os.Remove(filepath.Join(s.dir, id+".done")), os.WriteFile(filepath.Join(s.dir, id), b, 0o600)); err != nil {
			t.Fatal(err)
		}
		info := fmt.Sprintf(`{"ID":%q,"Size":%d,"MetaData":{"kind":"take","studio":%q,"family":%q,"role":"coach","type":"audio/mp4"}}`, id, len(b), s.Teacher.Studio, s.Okafor.Family.ID)
		if err := os.WriteFile(filepath.Join(s.dir, id+".info"), []byte(info), 0o600); err != nil {
			t.Fatal(err)
		}
		if n, a := p.offset(at); n != int64(len(b)) || a.Header.Get("Antiphon-Take") != id {
			t.Errorf("%s: noted %d bytes, %q", way, n, a.Header)
		}
		if _, kept := s.original(t, id); sum(kept) != sum(b) {
			t.Errorf("%s: kept are other bytes", way)
		}
	}
}

func TestNotYours(t *testing.T) {
	s := open(t, Options{})
	p := s.phone(t, s.Okafor.Device)
	b := noise(1e5, 4)
	at, _, _ := p.begin(int64(len(b)), said("child", s.ada(), "filename", "a.m4a"))
	if a, text, err := p.patch(at, 0, b[:1000]); err != nil || a.StatusCode != http.StatusNoContent {
		t.Fatal(text, err)
	}
	for who, device := range map[string]string{"another family": s.Lindqvist.Device, "the teacher": s.TeacherDevice} {
		q := s.phone(t, device)
		for _, method := range []string{http.MethodHead, http.MethodPatch, http.MethodDelete} {
			a, _, err := q.ask(method, at, strings.NewReader("x"), "Upload-Offset", "1000", "Content-Type", "application/offset+octet-stream")
			if err != nil || a.StatusCode != http.StatusNotFound {
				t.Errorf("%s, %s: %d, %v", who, method, a.StatusCode, err)
			}
		}
		a, _, err := q.ask(http.MethodPost, at, strings.NewReader("x"), "X-HTTP-Method-Override", "PATCH", "Upload-Offset", "1000", "Content-Type", "application/offset+octet-stream")
		if err != nil || a.StatusCode != http.StatusMethodNotAllowed && a.StatusCode != http.StatusNotFound {
			t.Errorf("%s, by another method's name: %d, %v", who, a.StatusCode, err)
		}
	}
	stranger := s.phone(t, "")
	if a, _, err := stranger.ask(http.MethodPatch, at, strings.NewReader("x"), "Upload-Offset", "1000", "Content-Type", "application/offset+octet-stream"); err != nil || a.StatusCode != http.StatusForbidden {
		t.Errorf("a stranger: %d, %v", a.StatusCode, err)
	}
	for name, child := range map[string]string{"another family's child": string(s.Lindqvist.Students[0].ID), "nobody": "0000000000000000000000000z"} {
		if _, status, text := p.begin(5, said("child", child, "filename", "a.m4a")); status != http.StatusNotFound {
			t.Errorf("%s: %d %s", name, status, text)
		}
	}
	if n, _ := p.offset(at); n != 1000 {
		t.Errorf("%d bytes are here", n)
	}
	if a, _, err := p.ask(http.MethodDelete, at, nil); err != nil || a.StatusCode != http.StatusNoContent {
		t.Errorf("given up: %v", err)
	}
	if l := s.files(t); len(l) != 0 {
		t.Errorf("left behind: %q", l)
	}
	if _, err := s.Desk.ReviewTake(t.Context(), s.Teacher, studio.TakeID(path.Base(at))); err == nil {
		t.Error("what was given up is still announced")
	}
}

func TestRefusedAtOnce(t *testing.T) {
	s := open(t, Options{})
	p := s.phone(t, s.Okafor.Device)
	nils := s.phone(t, s.Lindqvist.Device)
	child := func(name string) string {
		for _, st := range s.Lindqvist.Students {
			if st.Name == name {
				return string(st.ID)
			}
		}
		t.Fatal("no", name)
		return ""
	}
	for _, c := range []struct {
		name   string
		p      *phone
		bytes  int64
		meta   string
		status int
		say    string
	}{
		{"10 GB", p, 10e9, said("child", s.ada(), "filename", "a.mp4"), 413, "larger than the studio takes"},
		{"nothing", p, 0, said("child", s.ada(), "filename", "a.mp4"), 422, "empty"},
		{"a page", p, 500, said("child", s.ada(), "filename", "a.html", "filetype", "text/html"), 422, "neither sound nor video"},
		{"a type with a line end", p, 500, said("child", s.ada(), "filename", "a", "filetype", "audio/mp4\r\nX: y"), 422, "neither sound nor video"},
		{"video of a child that sends sound", nils, 500, said("child", child("Nils"), "filename", "a.mp4"), 403, "sound only for Nils"},
		{"a family's drop", p, 500, said("kind", "drop", "filename", "a.mp4"), 403, "the teacher's"},
		{"a family's model take", p, 500, said("kind", "model", "filename", "a.mp4"), 403, "the teacher's"},
		{"something else", p, 500, said("kind", "../../x", "child", s.ada(), "filename", "a.mp4"), 422, "makes no sense"},
		{"a type without end", p, 500, said("child", s.ada(), "filename", "a", "filetype", "audio/"+strings.Repeat("x", 100)), 422, "what kind of recording"},
		{"a dropped one", s.phone(t, s.TeacherDevice), 500, said("kind", "drop", "filename", "a", "filetype", "audio/"+strings.Repeat("x", 100)), 422, "what kind of recording"},
		{"a very long note", p, 500, said("child", s.ada(), "filename", "a.mp4", "note", strings.Repeat("la ", 5000)), 422, "letters at most"},
	} {
		if _, status, text := c.p.begin(c.bytes, c.meta); status != c.status || !strings.Contains(text, c.say) || !strings.Contains(text, `"say"`) {
			t.Errorf("%s: %d %s", c.name, status, text)
		}
	}
	if a, text, err := p.ask(http.MethodPost, "/uploads/", nil, "Upload-Defer-Length", "1"); err != nil || a.StatusCode < 400 || a.StatusCode >= 600 {
		t.Errorf("unknown length: %d %s, %v", a.StatusCode, text, err)
	}
	if a, _, err := p.ask(http.MethodPost, "/uploads/", nil, "Upload-Length", "-5"); err != nil || a.StatusCode != http.StatusBadRequest {
		t.Errorf("negative length: %d, %v", a.StatusCode, err)
	}
	if l := s.files(t); len(l) != 0 {
		t.Errorf("left behind: %q", l)
	}
	for n := range 25 { // a family has so many on the way, and no more
		_, status, text := p.begin(1000, said("child", s.ada(), "filename", fmt.Sprintf("%d.mp4", n)))
		if want := map[bool]int{true: 201, false: 429}[n < 20]; status != want {
			t.Fatalf("half recording %d: %d %s", n, status, text)
		}
	}
	if _, status, text := nils.begin(1000, said("child", child("Runa"), "filename", "x.mp4")); status != 201 {
		t.Errorf("another family is kept out too: %d %s", status, text)
	}
}

// TestTricksInNames: a name is words for a person, and an upload's address is an id or nothing.
func TestTricksInNames(t *testing.T) {
	s := open(t, Options{})
	p := s.phone(t, s.Okafor.Device)
	outside := filepath.Join(filepath.Dir(s.dir), "evil")
	for n, name := range []string{"../../evil", "../evil\x00.mp4", "/etc/passwd", `..\..\evil.mp4`, "CON", strings.Repeat("long ", 500), "", ".info", "<script>alert(1)</script>.m4a", "a\u202egpj.m4a"} {
		b := noise(1000, uint64(10+n))
		at, status, text := p.begin(int64(len(b)), said("child", s.ada(), "filename", name, "filetype", "audio/mp4"))
		if status != http.StatusCreated {
			t.Errorf("%q: %d %s", name, status, text)
			continue
		}
		a := p.sends(at, b)
		got := s.take(t, a.Header.Get("Antiphon-Take"))
		if strings.ContainsAny(got.FileName, "/\\\x00\n") || len([]rune(got.FileName)) > 120 || got.FileName == ".." {
			t.Errorf("%q is kept as %q", name, got.FileName)
		}
		if got.State != studio.Waiting {
			t.Errorf("%q: %+v", name, got)
		}
	}
	for _, f := range s.files(t) {
		if !strings.HasSuffix(f, ".done") || len(f) != 26+len(".done") {
			t.Errorf("a file %q was made", f)
		}
	}
	if _, err := os.Lstat(outside); err == nil {
		t.Error("a file was made outside")
	}
	for _, at := range []string{"/uploads/..%2f..%2fetc%2fpasswd", "/uploads/%2e%2e", "/uploads/x.info", "/uploads/" + strings.Repeat("0", 26), "/uploads/" + strings.Repeat("a", 5000)} {
		if n, a := p.offset(at); n != -1 || a.StatusCode != http.StatusNotFound {
			t.Errorf("%s: %d", at, a.StatusCode)
		}
	}
}

// TestThousandHalves: a thousand files are half here; the server goes on, and forgets them in time.
func TestThousandHalves(t *testing.T) {
	s := open(t, Options{Drops: 1000})
	teacher := s.phone(t, s.TeacherDevice)
	for n := range 1000 {
		at, status, text := teacher.begin(1e9, said("kind", "drop", "filename", fmt.Sprintf("take %d.mp4", n)))
		if status != http.StatusCreated {
			t.Fatalf("%d: %d %s", n, status, text)
		}
		if a, _, err := teacher.patch(at, 0, []byte("half")); err != nil || a.StatusCode != http.StatusNoContent {
			t.Fatal(a.StatusCode, err)
		}
	}
	if _, status, text := teacher.begin(1e9, said("kind", "drop", "filename", "one more.mp4")); status != http.StatusTooManyRequests || !strings.Contains(text, "half here already") {
		t.Errorf("one more: %d %s", status, text)
	}
	p := s.phone(t, s.Okafor.Device)
	b := noise(2e5, 5)
	at, _, _ := p.begin(int64(len(b)), said("child", s.ada(), "filename", "a.m4a"))
	if a := p.sends(at, b); a.Header.Get("Antiphon-Take") == "" {
		t.Error("a family's recording does not arrive beside them")
	}
	if status, _ := s.Get(t, s.TeacherDevice, "/unsorted"); status != http.StatusOK {
		t.Errorf("the page: %d", status)
	}
	old := time.Now().Add(-time.Hour)
	for _, f := range s.files(t) { // the test's studio has its own clock, which stands before ours
		if err := os.Chtimes(filepath.Join(s.dir, f), old, s.Now().Add(-4*24*time.Hour)); err != nil {
			t.Fatal(err)
		}
	}
	if err := s.arrivals.uploads.tend(t.Context()); err != nil {
		t.Fatal(err)
	}
	if l := s.files(t); len(l) != 0 {
		t.Errorf("%d files are left, as %q", len(l), l[0])
	}
	if _, status, text := teacher.begin(1e6, said("kind", "drop", "filename", "again.mp4")); status != http.StatusCreated {
		t.Errorf("afterwards: %d %s", status, text)
	}
}

// TestErasedMeanwhile: what a family had half sent goes with the family.
func TestErasedMeanwhile(t *testing.T) {
	s := open(t, Options{})
	p := s.phone(t, s.Okafor.Device)
	at, _, _ := p.begin(5e5, said("child", s.ada(), "filename", "a.m4a"))
	if a, _, err := p.patch(at, 0, noise(1e5, 6)); err != nil || a.StatusCode != http.StatusNoContent {
		t.Fatal(a.StatusCode, err)
	}
	if _, err := s.Desk.EraseFamily(t.Context(), s.Teacher, s.Okafor.Family.ID); err != nil {
		t.Fatal(err)
	}
	if err := s.arrivals.uploads.tend(t.Context()); err != nil {
		t.Fatal(err)
	}
	if l := s.files(t); len(l) != 0 {
		t.Errorf("left behind: %q", l)
	}
}

// TestRefusedWhenWhole: what the studio does not take after all is told, and gone.
func TestRefusedWhenWhole(t *testing.T) {
	s := open(t, Options{})
	p := s.phone(t, s.Okafor.Device)
	b := noise(1e5, 7)
	at, _, _ := p.begin(int64(len(b)), said("child", s.ada(), "filename", "a.mp4"))
	st := s.Okafor.Students[0]
	st.Media = studio.SoundOnly // the family changes its mind while it is sent
	if _, err := s.Desk.ChangeStudent(context.WithoutCancel(t.Context()), s.Teacher, st); err != nil {
		t.Fatal(err)
	}
	a, text, err := p.patch(at, 0, b)
	if err != nil || a.StatusCode != http.StatusForbidden || !strings.Contains(text, "sound only for Ada") {
		t.Errorf("%d %s, %v", a.StatusCode, text, err)
	}
	if n, _ := p.offset(at); n != -1 {
		t.Errorf("%d bytes are still here", n)
	}
	if l := s.files(t); len(l) != 0 {
		t.Errorf("left behind: %q", l)
	}
}

func TestDropAndModel(t *testing.T) {
	s := open(t, Options{})
	teacher := s.phone(t, s.TeacherDevice)
	b := noise(1e5, 8)
	at, _, _ := teacher.begin(int64(len(b)), said("kind", "drop", "filename", "Ada Sunday.m4a"))
	a := teacher.sends(at, b)
	if a.Header.Get("Antiphon-Take") != "" {
		t.Error("a file without a name became a take")
	}
	l, err := s.Desk.Unsorted(t.Context(), s.Teacher)
	if err != nil || len(l) != 1 || l[0].FileName != "Ada Sunday.m4a" || l[0].SHA256 != sum(b) {
		t.Errorf("%+v, %v", l, err)
	}
	w, err := s.Desk.AddWork(t.Context(), s.Teacher, studio.Work{Title: "Down the Lane"})
	if err != nil {
		t.Fatal(err)
	}
	b = noise(1e5, 9)
	at, status, text := teacher.begin(int64(len(b)), said("kind", "model", "work", string(w.ID), "filename", "mine.m4a"))
	if status != http.StatusCreated {
		t.Fatal(status, text)
	}
	teacher.sends(at, b)
	ms, err := s.Desk.ModelTakes(t.Context(), s.Teacher, w.ID)
	if err != nil || len(ms) != 1 || ms[0].State != studio.Waiting || len(ms[0].Media) != 1 || ms[0].Media[0].SentSHA256 != sum(b) {
		t.Errorf("%+v, %v", ms, err)
	}
}
