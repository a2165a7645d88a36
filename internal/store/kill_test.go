package store_test

import (
	"bufio"
	"context"
	"crypto/sha256"
	"encoding/hex"
	"fmt"
	"os"
	"os/exec"
	"path/filepath"
	"strings"
	"sync"
	"syscall"
	"testing"

	"antiphon/internal/store"
	"antiphon/internal/store/disk"
	"antiphon/internal/store/storetest"
	"antiphon/internal/studio"
)

const (
	killAddress = "ANTIPHON_TEST_KILL_ADDRESS" // of the database; set in the process that is killed
	killFolder  = "ANTIPHON_TEST_KILL_FOLDER"
)

// tableJobs writes jobs into a table, in the transaction that it is given.
type tableJobs struct{}

func (tableJobs) Enqueue(ctx context.Context, tx studio.Records, j studio.Job) error {
	if j.Kind == studio.JobSweep {
		return nil // it is about nothing that must not be lost
	}
	_, err := store.SQL(tx).ExecContext(ctx, `INSERT INTO kill_jobs (kind, about) VALUES ($1, $2)`, string(j.Kind), string(j.Take)+string(j.Unsorted))
	return err
}

func openAddress(ctx context.Context, address string) (*store.Store, error) {
	if strings.HasPrefix(address, "host=") {
		return store.OpenPostgres(ctx, address)
	}
	return store.OpenSQLite(ctx, address)
}

// TestTakesInUntilKilled is the process that is killed: four phones send without end, and each take,
// remark and draft that was acknowledged is told on standard output.
func TestTakesInUntilKilled(t *testing.T) {
	address, folder := os.Getenv(killAddress), os.Getenv(killFolder)
	if address == "" {
		t.Skip("only for TestKilled")
	}
	ctx := t.Context()
	s, err := openAddress(ctx, address)
	if err != nil {
		t.Fatal(err)
	}
	b, err := disk.Open(folder)
	if err != nil {
		t.Fatal(err)
	}
	d := studio.NewDesk(s, b, tableJobs{}, studio.DeskOptions{})
	st, p, err := d.Found(ctx, "Lindenhof", "Teacher")
	if err != nil {
		t.Fatal(err)
	}
	teacher := studio.Viewer{Studio: st.ID, Role: studio.Teacher, Person: p.ID}
	var out sync.Mutex
	tell := func(format string, a ...any) {
		out.Lock()
		defer out.Unlock()
		fmt.Printf(format+"\n", a...)
	}
	var wg sync.WaitGroup
	for phone := range 4 {
		f, _, err := d.InviteFamily(ctx, teacher, studio.NewFamily{Name: "Family", Students: []studio.NewStudent{{Name: "Child"}}}, studio.Asked{})
		if err != nil {
			t.Fatal(err)
		}
		ss, err := s.Students(ctx, studio.OneFamily(st.ID, f.ID))
		if err != nil {
			t.Fatal(err)
		}
		wg.Go(func() {
			for n := 0; ; n++ {
				if err := round(ctx, d, teacher, ss[0], fmt.Sprintf("%d of %d;", n, phone), tell); err != nil {
					tell("error %v", err)
					return
				}
			}
		})
	}
	wg.Wait()
}

// round is what happens to one recording, from its first byte to the lesson that answers it; each step
// is told once it is acknowledged.
func round(ctx context.Context, d *studio.Desk, teacher studio.Viewer, of studio.Student, words string, tell func(string, ...any)) error {
	child := of.ID
	ear, coach := studio.Viewer{Studio: teacher.Studio, Role: studio.Ear}, studio.Viewer{Studio: of.Studio, Role: studio.Coach, Family: of.Family}
	said := func(kind string, id, rest any) { tell("%s %s %s %s", kind, teacher.Studio, id, rest) }
	sound := strings.Repeat(words, 2000)
	a, err := d.Announce(ctx, teacher, studio.Announcement{Student: child})
	if err != nil {
		return err
	}
	if _, err := d.Receive(ctx, teacher, a.ID, "audio/mp4", strings.NewReader(sound)); err != nil {
		return err
	}
	said("take", a.ID, sumOf(sound))
	r, err := d.Remark(ctx, teacher, a.ID, studio.Anchor{AtS: 1}, "Good.", "")
	if err != nil {
		return err
	}
	said("remark", r.ID, a.ID)
	aloud, err := d.RemarkAloud(ctx, teacher, a.ID, studio.Anchor{AtS: 2}, "", "", studio.Recording{Type: "audio/webm", Body: strings.NewReader("aloud " + words)})
	if err != nil {
		return err
	}
	said("aloud", aloud.Media, sumOf("aloud "+words))

	u, err := d.Drop(ctx, teacher, "x.mp4", "audio/mp4", strings.NewReader("dropped "+sound))
	if err != nil {
		return err
	}
	said("dropped", u.ID, sumOf("dropped "+sound))
	sorted, err := d.Sort(ctx, teacher, u.ID, studio.Announcement{Student: child})
	if err != nil {
		return err
	}
	said("sorted", u.ID, sorted.ID)
	said("take", sorted.ID, sumOf("dropped "+sound))

	m, err := d.BeginHearing(ctx, ear, a.ID)
	if err != nil {
		return err
	}
	if _, err := d.ReplaceOriginal(ctx, ear, a.ID, "audio/mp4", strings.NewReader("clean "+sound)); err != nil {
		return err
	}
	said("clean", a.ID, sumOf("clean "+sound))
	h, err := d.KeepHearing(ctx, ear, a.ID, studio.Heard{Doc: []byte(`{"schema":"antiphon.hearing/1"}`), Turn: m.Turn, Print: []byte("print")})
	if err != nil {
		return err
	}
	said("heard", a.ID, h.ID)
	l, err := d.SaveDraft(ctx, teacher, studio.Lesson{Student: child, Date: "2026-03-02", Words: string(a.ID)})
	if err != nil {
		return err
	}
	said("draft", l.ID, a.ID)
	answer, err := d.KeepAnswer(ctx, teacher, l.ID, "", "video/webm", strings.NewReader("answer "+words))
	if err != nil {
		return err
	}
	said("answer", answer.Media, sumOf("answer "+words))
	note := studio.Tap{ID: "voice-" + string(a.ID), Student: child}
	if err := d.SayVoice(ctx, coach, note, "audio/webm", strings.NewReader("voice "+words)); err != nil {
		return err
	}
	said("voice", note.ID, sumOf("voice "+words))
	if err := d.SendLesson(ctx, teacher, l.ID, l.Version); err != nil {
		return err
	}
	said("sent", l.ID, a.ID)
	return nil
}

func sumOf(s string) string {
	sum := sha256.Sum256([]byte(s))
	return hex.EncodeToString(sum[:])
}

func TestKilled(t *testing.T) {
	t.Run("SQLite", func(t *testing.T) { killed(t, filepath.Join(t.TempDir(), "studio.db")) })
	t.Run("PostgreSQL", func(t *testing.T) { killed(t, storetest.Postgres(t)(t)) })
}

// killed starts the process again and again on the same data, and kills it in the middle of its work.
func killed(t *testing.T, address string) {
	ctx, folder := t.Context(), t.TempDir()
	s := opened(t, func() (*store.Store, error) { return openAddress(ctx, address) })
	err := s.Within(ctx, func(tx studio.Records) error {
		_, err := store.SQL(tx).ExecContext(ctx, `CREATE TABLE kill_jobs (kind TEXT NOT NULL, about TEXT NOT NULL)`)
		return err
	})
	if err != nil {
		t.Fatal(err)
	}
	acknowledged := map[string][]string{} // by kind, the rest of the line
	for round := range 6 {
		cmd := exec.Command(os.Args[0], "-test.run=^TestTakesInUntilKilled$")
		cmd.Env = append(os.Environ(), killAddress+"="+address, killFolder+"="+folder)
		cmd.SysProcAttr = &syscall.SysProcAttr{Pdeathsig: syscall.SIGKILL}
		out, err := cmd.StdoutPipe()
		if err != nil {
			t.Fatal(err)
		}
		if err := cmd.Start(); err != nil {
			t.Fatal(err)
		}
		lines := bufio.NewScanner(out)
		for n := 0; lines.Scan(); n++ {
			kind, rest, ok := strings.Cut(lines.Text(), " ")
			if kind == "error" || !ok {
				t.Errorf("round %d: %s", round, lines.Text())
				break
			}
			acknowledged[kind] = append(acknowledged[kind], rest)
			if n == 7+23*round { // then more may come, told before the kill
				cmd.Process.Kill()
			}
		}
		cmd.Process.Kill()
		if err := cmd.Wait(); err == nil {
			t.Error("the process ended by itself")
		}
	}
	for _, kind := range []string{"take", "remark", "aloud", "dropped", "sorted", "clean", "heard", "draft", "answer", "voice", "sent"} {
		if len(acknowledged[kind]) == 0 {
			t.Errorf("no %s was acknowledged", kind)
		}
		t.Logf("acknowledged: %d %s", len(acknowledged[kind]), kind)
	}
	whole(t, s, folder, acknowledged)
}
