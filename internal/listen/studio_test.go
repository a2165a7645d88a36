package listen

import (
	"context"
	"encoding/json"
	"errors"
	"io"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"testing"
	"time"

	"antiphon/internal/jobs"
	"antiphon/internal/rehearse"
	"antiphon/internal/store"
	"antiphon/internal/store/disk"
	"antiphon/internal/studio"
)

// room is a studio with a real database, real files and real jobs.
type room struct {
	*kit
	folder  string
	store   *store.Store
	blobs   *disk.Blobs
	queue   *jobs.Queue
	desk    *studio.Desk
	hands   *Hands
	teacher studio.Viewer
	ear     studio.Viewer
	family  studio.Family
	coach   studio.Viewer
	child   studio.Student
}

const waitAtMost = 2 * time.Minute // for what takes seconds; only a broken queue waits so long

func openRoom(t testing.TB, media studio.MediaMode) *room {
	t.Helper()
	r := &room{kit: newKit(t), folder: t.TempDir()}
	r.open()
	ctx := t.Context()
	st, p, err := r.desk.Found(ctx, "Studio at the Mill", "Marit Sandoval")
	if err != nil {
		t.Fatal(err)
	}
	r.teacher = studio.Viewer{Studio: st.ID, Role: studio.Teacher, Person: p.ID}
	r.ear = studio.Viewer{Studio: st.ID, Role: studio.Ear}
	f, token, err := r.desk.InviteFamily(ctx, r.teacher, studio.NewFamily{Name: "Okafor", Students: []studio.NewStudent{{Name: "Ada", Media: media}}}, studio.Asked{})
	if err != nil {
		t.Fatal(err)
	}
	if r.coach, _, err = r.desk.Redeem(ctx, token, studio.Redemption{Name: "Ngozi Okafor", Device: "phone", Agrees: true}); err != nil {
		t.Fatal(err)
	}
	r.family = f
	all, err := r.desk.Students(ctx, r.teacher)
	if err != nil || len(all) != 1 {
		t.Fatal(all, err)
	}
	r.child = all[0]
	return r
}

// open opens what is in the folder, as a program does that starts.
func (r *room) open() {
	r.t.Helper()
	var err error
	ctx := r.t.Context()
	if r.store, err = store.OpenSQLite(ctx, filepath.Join(r.folder, "studio.db")); err != nil {
		r.t.Fatal(err)
	}
	s := r.store
	r.t.Cleanup(func() { s.Close() })
	if r.blobs, err = disk.Open(filepath.Join(r.folder, "files")); err != nil {
		r.t.Fatal(err)
	}
	if r.queue, err = jobs.OpenSQLite(ctx, r.store.DB(), jobs.Options{Alone: true, Tries: 2, RetryAfter: func(int) time.Duration { return 0 }}); err != nil {
		r.t.Fatal(err)
	}
	r.desk = studio.NewDesk(r.store, r.blobs, r.queue, studio.DeskOptions{})
	if err = os.MkdirAll(filepath.Join(r.folder, "work"), 0o700); err != nil {
		r.t.Fatal(err)
	}
	r.hands = New(r.desk, Options{Dir: filepath.Join(r.folder, "work")})
}

// work does jobs until the test ends.
func (r *room) work() {
	ctx, stop := context.WithCancel(r.t.Context())
	ended := make(chan error, 1)
	go func() { ended <- r.queue.Work(ctx, r.hands.Do) }()
	r.t.Cleanup(func() {
		stop()
		if err := <-ended; err != nil {
			r.t.Error(err)
		}
	})
}

// ask puts a piece into the library and asks it of the child.
func (r *room) ask(p rehearse.Piece, fromBar, toBar string) (studio.Work, studio.AssignmentID) {
	r.t.Helper()
	ctx := r.t.Context()
	w, err := r.desk.AddWork(ctx, r.teacher, studio.Work{Title: p.Title, Score: p.MusicXML()})
	if err != nil {
		r.t.Fatal(err)
	}
	l, err := r.desk.SaveDraft(ctx, r.teacher, studio.Lesson{Student: r.child.ID, Date: "2026-11-22", Assignments: []studio.Assignment{{Work: w.ID, FromBar: fromBar, ToBar: toBar}}})
	if err == nil {
		err = r.desk.SendLesson(ctx, r.teacher, l.ID, l.Version)
	}
	if err == nil {
		l, err = r.desk.Lesson(ctx, r.teacher, l.ID)
	}
	if err != nil {
		r.t.Fatal(err)
	}
	return w, l.Assignments[0].ID
}

// copies are the workplaces that are there.
func (r *room) copies() []string {
	r.t.Helper()
	l, err := filepath.Glob(filepath.Join(r.folder, "work", "*"))
	if err != nil {
		r.t.Fatal(err)
	}
	return l
}

// send sends a file as the family does.
func (r *room) send(path, mediaType string, of studio.AssignmentID) studio.TakeID {
	r.t.Helper()
	t, err := r.desk.Announce(r.t.Context(), r.coach, studio.Announcement{Student: r.child.ID, Assignment: of, FileName: filepath.Base(path)})
	if err != nil {
		r.t.Fatal(err)
	}
	f, err := os.Open(path)
	if err != nil {
		r.t.Fatal(err)
	}
	defer f.Close()
	rec, err := r.desk.Receive(r.t.Context(), r.coach, t.ID, mediaType, f)
	if err != nil {
		r.t.Fatal(err)
	}
	return rec.Take.ID
}

// wait waits until a take is in one of the states.
func (r *room) wait(id studio.TakeID, states ...studio.TakeState) studio.Review {
	r.t.Helper()
	var v studio.Review
	poll(r.t, func() bool {
		var err error
		if v, err = r.desk.ReviewTake(r.t.Context(), r.teacher, id); err != nil {
			r.t.Fatal(err)
		}
		return slices.Contains(states, v.Take.State)
	})
	return v
}

// poll waits until something is so.
func poll(t testing.TB, so func() bool) {
	t.Helper()
	for end := time.Now().Add(waitAtMost); !so(); time.Sleep(20 * time.Millisecond) {
		if time.Now().After(end) {
			t.Fatal("nothing happens")
		}
	}
}

// waitFor waits until a take has a file of the kind.
func (r *room) waitFor(id studio.TakeID, kind studio.MediaKind) studio.Media {
	r.t.Helper()
	var found studio.Media
	poll(r.t, func() bool {
		ms, err := r.desk.Files(r.t.Context(), r.ear, id)
		if err != nil {
			r.t.Fatal(err)
		}
		i := slices.IndexFunc(ms, func(m studio.Media) bool { return m.Kind == kind })
		if i >= 0 {
			found = ms[i]
		}
		return i >= 0
	})
	return found
}

func (r *room) bytes(m studio.Media) []byte {
	r.t.Helper()
	f, err := r.desk.Bytes(r.t.Context(), r.ear, m)
	if err != nil {
		r.t.Fatal(err)
	}
	b, err := io.ReadAll(f)
	if err = errors.Join(err, f.Close()); err != nil {
		r.t.Fatal(err)
	}
	return b
}

const place = "+48.2082+016.3738/"

// filmed makes a video of a take, as a phone does.
func (k *kit) filmed(path, size string) string {
	k.t.Helper()
	out := strings.TrimSuffix(path, ".wav") + "-" + size + ".mov"
	k.ffmpeg("-f", "lavfi", "-i", "testsrc2=size="+size+":rate=8", "-i", path, "-shortest", "-c:v", "libx264", "-preset", "ultrafast", "-pix_fmt", "yuv420p", "-c:a", "aac", "-b:a", "128k",
		"-movflags", "use_metadata_tags", "-metadata", "com.apple.quicktime.location.ISO6709="+place, "-metadata", "com.apple.quicktime.model=Phone of the Okafors", out)
	return out
}

// TestFromLastByteToDesk is the way of a filmed take: clean, heard, and with all that pages need.
func TestFromLastByteToDesk(t *testing.T) {
	r := openRoom(t, studio.FullVideo)
	lane := r.named("lane")
	w, of := r.ask(lane, "", "")
	video := r.filmed(r.take(lane, "own-nylon", 3, usual), "1280x960")
	sent, err := os.ReadFile(video)
	if err != nil || !strings.Contains(string(sent), place) {
		t.Fatal("the video tells no place from the start", err)
	}
	id := r.send(video, "video/quicktime", of)
	before, err := r.desk.Files(t.Context(), r.ear, id)
	if err != nil || len(before) != 1 {
		t.Fatal(before, err)
	}
	if _, _, err := r.desk.Listen(t.Context(), r.teacher, before[0].ID); err == nil {
		t.Error("the recording is given out with its place")
	}
	r.work()
	v := r.wait(id, studio.Ready, studio.NeedsALook)
	if v.Take.State != studio.Ready || len(v.Take.Concerns) > 0 || v.Take.Work != w.ID {
		t.Fatalf("%+v", v.Take)
	}
	if s := v.Take.Summary; s == nil || s.RightShare < 0.95 || s.FromBar != "1" || s.ToBar != "8" || s.Bpm < 80 || s.Bpm > 95 {
		t.Errorf("summary %+v", s)
	}
	var doc struct {
		Schema string `json:"schema"`
		Passes []any  `json:"passes"`
		Score  struct {
			Notes []any `json:"notes"`
		} `json:"score"`
	}
	if err := json.Unmarshal(v.Hearing.JSON, &doc); err != nil || doc.Schema != "antiphon.hearing/1" || len(doc.Passes) != 1 || len(doc.Score.Notes) != len(lane.Notes) {
		t.Errorf("hearing %+v, %v", doc, err)
	}
	original := r.waitFor(id, studio.Original)
	if b := string(r.bytes(original)); !original.Clean || original.Type != "video/mp4" || strings.Contains(b, place) || strings.Contains(b, "Phone of") {
		t.Errorf("kept is %+v, and it tells the place: %v", original, strings.Contains(b, place))
	}
	if before[0].SentSHA256 != original.SentSHA256 {
		t.Error("what was sent is not known any more")
	}
	peaks, poster, playable := r.waitFor(id, studio.Peaks), r.waitFor(id, studio.Poster), r.waitFor(id, studio.Playable)
	if b := r.bytes(peaks); string(b[:4]) != "APK1" || len(b) < 16+2*95*int(v.Take.DurationS) {
		t.Errorf("peaks of %d bytes for %.1f s", len(b), v.Take.DurationS)
	}
	if b := r.bytes(poster); poster.Type != "image/jpeg" || string(b[:2]) != "\xff\xd8" {
		t.Errorf("poster %+v", poster)
	}
	if playable.Type != "video/mp4" || playable.Bytes == 0 {
		t.Errorf("playable %+v", playable)
	}
	ms, err := r.desk.Files(t.Context(), r.ear, id)
	if err != nil {
		t.Fatal(err)
	}
	if m, ok := Player(ms); !ok || m.ID != playable.ID {
		t.Errorf("played is %+v", m)
	}
	if m, ok := Player([]studio.Media{original}); !ok || m.ID != original.ID {
		t.Error("before the rendition is there nothing is played")
	}
	poll(t, func() bool { return len(r.copies()) == 0 })
}

// TestKeepsTheClock: what is over is deleted with its files, and what half a kill left is removed.
func TestKeepsTheClock(t *testing.T) {
	r := openRoom(t, studio.FullVideo)
	id := r.send(r.encoded(r.take(r.named("onebar"), "own-nylon", 1, usual), "aac"), "audio/mp4", "")
	files := func() (n int) {
		err := r.blobs.Each(t.Context(), r.teacher.Studio, func(studio.BlobKey, time.Time) error { n++; return nil })
		if err != nil {
			t.Fatal(err)
		}
		return n
	}
	if err := r.hands.tidy(t.Context()); err != nil || files() != 1 {
		t.Fatalf("today: %d files, %v", files(), err)
	}
	days := studio.DefaultKeepDays + 1
	later := func() time.Time { return time.Now().AddDate(0, 0, days) }
	hands := New(studio.NewDesk(r.store, r.blobs, r.queue, studio.DeskOptions{Now: later}), Options{Now: later})
	if err := hands.tidy(t.Context()); err != nil || files() != 1 {
		t.Errorf("on the day that the machine is back: %d files, %v", files(), err)
	}
	days++
	if err := hands.tidy(t.Context()); err != nil || files() != 0 {
		t.Errorf("when its time is over: %d files, %v", files(), err)
	}
	if _, err := r.desk.ReviewTake(t.Context(), r.teacher, id); err == nil {
		t.Error("the take is still there")
	}
}

// TestAnHourWhoseJobIsGone: a lesson that was to go out while nothing worked goes out when the clock is looked at.
func TestAnHourWhoseJobIsGone(t *testing.T) {
	r := openRoom(t, studio.SoundOnly)
	ctx := t.Context()
	l, err := r.desk.SaveDraft(ctx, r.teacher, studio.Lesson{Student: r.child.ID, Date: "2026-11-28", Words: "Well begun."})
	if err != nil {
		t.Fatal(err)
	}
	if err := r.desk.SendLater(ctx, r.teacher, l.ID, l.Version, time.Now().Add(time.Hour)); err != nil {
		t.Fatal(err)
	}
	at := func(after time.Duration) studio.Lesson {
		t.Helper()
		later := func() time.Time { return time.Now().Add(after) }
		hands := New(studio.NewDesk(r.store, r.blobs, r.queue, studio.DeskOptions{Now: later}), Options{Dir: r.hands.o.Dir, Now: later})
		if err := hands.tidy(ctx); err != nil {
			t.Fatal(err)
		}
		l, err := r.desk.Lesson(ctx, r.teacher, l.ID)
		if err != nil {
			t.Fatal(err)
		}
		return l
	}
	if l := at(0); !l.Sent.IsZero() {
		t.Error("sent before its hour")
	}
	if l := at(2 * time.Hour); l.Sent.IsZero() {
		t.Error("its hour went by")
	}
}
