package arrive

import (
	"errors"
	"io"
	"net/http"
	"os"
	"path"
	"path/filepath"
	"slices"
	"strings"
	"testing"
	"time"

	"antiphon/internal/studio"
)

// draft is a lesson that is being written for Ada, with one task.
func (s *site) draft(t testing.TB) studio.Lesson {
	t.Helper()
	l, err := s.Desk.SaveDraft(t.Context(), s.Teacher, studio.Lesson{Student: s.Okafor.Students[0].ID, Date: s.Now().Format(time.DateOnly),
		Assignments: []studio.Assignment{{Work: s.Work(t, "Three Blind Mice").ID, Do: "Slowly."}}})
	if err != nil {
		t.Fatal(err)
	}
	return l
}

// answers reads what is kept of a lesson's answers, by item.
func (s *site) answers(t testing.TB, l studio.Lesson) map[studio.AssignmentID]string {
	t.Helper()
	as, err := s.Desk.Answers(t.Context(), s.Teacher, l.ID)
	if err != nil {
		t.Fatal(err)
	}
	ms, err := s.Store.MediaOfLesson(t.Context(), studio.OneFamily(l.Studio, l.Family), l.ID)
	if err != nil {
		t.Fatal(err)
	}
	all := map[studio.AssignmentID]string{}
	for _, a := range as {
		i := slices.IndexFunc(ms, func(m studio.Media) bool { return m.ID == a.Media })
		f, err := s.Desk.Bytes(t.Context(), s.Ear(), ms[i])
		if err != nil {
			t.Fatal(err)
		}
		b, err := io.ReadAll(f)
		if err = errors.Join(err, f.Close()); err != nil {
			t.Fatal(err)
		}
		all[a.Assignment] = a.Type + " " + sum(b)
	}
	return all
}

// TestAnswerCutFiveTimes: what the teacher recorded of a task, and of the opening words, arrives over a bad line.
func TestAnswerCutFiveTimes(t *testing.T) {
	s := open(t, Options{})
	l := s.draft(t)
	film := noise(30e6, 51)
	bad := &badNetwork{to: strings.TrimPrefix(s.URL, "http://"), after: 5e6, cuts: 5}
	p := s.phone(t, s.TeacherDevice)
	p.at = bad.serve(t)
	want := map[studio.AssignmentID]string{}
	for _, item := range []studio.AssignmentID{l.Assignments[0].ID, ""} {
		at, status, text := p.begin(int64(len(film)), said("kind", "answer", "lesson", string(l.ID), "item", string(item), "filename", "answer.webm", "filetype", "video/webm"))
		if status != http.StatusCreated {
			t.Fatal(status, text)
		}
		p.sends(at, film)
		want[item] = "video/webm " + sum(film)
		film = film[:4e6]
	}
	if bad.cut != 5 {
		t.Errorf("the connection was cut %d times", bad.cut)
	}
	got := s.answers(t, l)
	for item, w := range want {
		if got[item] != w {
			t.Errorf("of %q is kept %s, sent was %s", item, got[item], w)
		}
	}
	if n := s.arrivals.uploads.nameless.Load(); n != 0 {
		t.Errorf("%d are counted as half here", n)
	}
}

// TestAnswerKilledWhenWhole: all bytes are here, and the program was killed before the studio had them, or before
// it was noted that it had. A newer one of another item stays as it is.
func TestAnswerKilledWhenWhole(t *testing.T) {
	s := open(t, Options{})
	l := s.draft(t)
	p := s.phone(t, s.TeacherDevice)
	b := noise(3e5, 52)
	at, _, _ := p.begin(int64(len(b)), said("kind", "answer", "lesson", string(l.ID), "item", string(l.Assignments[0].ID), "filename", "a.webm", "filetype", "audio/webm"))
	id := path.Base(at)
	info, err := os.ReadFile(filepath.Join(s.dir, id+".info"))
	if err != nil {
		t.Fatal(err)
	}
	for range 2 {
		if err := errors.Join(os.WriteFile(filepath.Join(s.dir, id), b, 0o600), os.WriteFile(filepath.Join(s.dir, id+".info"), info, 0o600)); err != nil {
			t.Fatal(err)
		}
		if err := s.arrivals.uploads.tend(t.Context()); err != nil {
			t.Error(err)
		}
		if got := s.answers(t, l)[l.Assignments[0].ID]; got != "audio/webm "+sum(b) {
			t.Errorf("kept is %s", got)
		}
		if n, _ := p.offset(at); n != int64(len(b)) {
			t.Errorf("%d bytes are here", n)
		}
		if err := os.Remove(filepath.Join(s.dir, id+".done")); err != nil {
			t.Fatal(err)
		}
	}
}

// TestAnswerRefused: before the first byte where it would not be kept, and after the last where that changed.
func TestAnswerRefused(t *testing.T) {
	s := open(t, Options{})
	l := s.draft(t)
	teacher, family := s.phone(t, s.TeacherDevice), s.phone(t, s.Okafor.Device)
	one := string(l.Assignments[0].ID)
	of := func(lesson, item string, more ...string) string {
		return said(append([]string{"kind", "answer", "lesson", lesson, "item", item, "filename", "a.webm", "filetype", "audio/webm"}, more...)...)
	}
	for _, c := range []struct {
		name   string
		p      *phone
		meta   string
		status int
		say    string
	}{
		{"a family", family, of(string(l.ID), one), 403, "the teacher's"},
		{"no lesson", teacher, of(strings.Repeat("0", 26), one), 404, ""},
		{"a task that is gone", teacher, of(string(l.ID), strings.Repeat("0", 26)), 422, "does not stand in the lesson any more"},
		{"no item", teacher, said("kind", "answer", "lesson", string(l.ID), "filename", "a.webm", "filetype", "audio/webm"), 422, "makes no sense"},
	} {
		if _, status, text := c.p.begin(500, c.meta); status != c.status || !strings.Contains(text, c.say) {
			t.Errorf("%s: %d %s", c.name, status, text)
		}
	}
	b := noise(1e5, 53)
	at, status, text := teacher.begin(int64(len(b)), of(string(l.ID), one))
	if status != http.StatusCreated {
		t.Fatal(status, text)
	}
	if a, text, err := teacher.patch(at, 0, b[:1000]); err != nil || a.StatusCode != http.StatusNoContent {
		t.Fatal(text, err)
	}
	if n, _ := family.offset(at); n != -1 {
		t.Error("a family sees the half of it")
	}
	if err := s.Desk.SendLesson(t.Context(), s.Teacher, l.ID, l.Version); err != nil {
		t.Fatal(err)
	}
	if err := s.arrivals.uploads.tend(t.Context()); err != nil {
		t.Error(err)
	}
	if n, _ := teacher.offset(at); n != 1000 {
		t.Errorf("the half is tended away while the lesson may be taken back: %d bytes", n)
	}
	if a, text, err := teacher.patch(at, 1000, b[1000:]); err != nil || a.StatusCode != http.StatusGone || !strings.Contains(text, "has been sent") {
		t.Errorf("into a lesson that went out: %d %s, %v", a.StatusCode, text, err)
	}
	if left := s.files(t); len(left) != 0 {
		t.Errorf("left behind: %q", left)
	}
	if n := s.arrivals.uploads.nameless.Load(); n != 0 {
		t.Errorf("%d are counted as half here", n)
	}
}

// TestAnswerOfADraftThatIsThrownAway goes with it.
func TestAnswerOfADraftThatIsThrownAway(t *testing.T) {
	s := open(t, Options{})
	l := s.draft(t)
	p := s.phone(t, s.TeacherDevice)
	at, _, _ := p.begin(1000, said("kind", "answer", "lesson", string(l.ID), "item", "", "filename", "a.webm", "filetype", "audio/webm"))
	if a, text, err := p.patch(at, 0, noise(100, 54)); err != nil || a.StatusCode != http.StatusNoContent {
		t.Fatal(text, err)
	}
	if err := s.arrivals.uploads.tend(t.Context()); err != nil || len(s.files(t)) != 2 {
		t.Errorf("before: %q, %v", s.files(t), err)
	}
	if err := s.Desk.DropDraft(t.Context(), s.Teacher, l.ID); err != nil {
		t.Fatal(err)
	}
	if err := s.arrivals.uploads.tend(t.Context()); err != nil || len(s.files(t)) != 0 {
		t.Errorf("left behind: %q, %v", s.files(t), err)
	}
}
