package store_test

import (
	"bufio"
	"context"
	"crypto/sha256"
	"encoding/hex"
	"errors"
	"fmt"
	"io"
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
	_, err := store.SQL(tx).ExecContext(ctx, `INSERT INTO kill_jobs (take_id) VALUES ($1)`, string(j.Take))
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
				a, err := d.Announce(ctx, teacher, studio.Announcement{Student: ss[0].ID})
				if err != nil {
					tell("error %v", err)
					return
				}
				sound := strings.Repeat(fmt.Sprintf("%d of %d;", n, phone), 2000)
				if _, err := d.Receive(ctx, teacher, a.ID, "audio/mp4", strings.NewReader(sound)); err != nil {
					tell("error %v", err)
					return
				}
				sum := sha256.Sum256([]byte(sound))
				tell("take %s %s %s", st.ID, a.ID, hex.EncodeToString(sum[:]))
				r, err := d.Remark(ctx, teacher, a.ID, studio.Anchor{AtS: 1}, "Good.", "")
				if err != nil {
					tell("error %v", err)
					return
				}
				tell("remark %s %s %s", st.ID, r.ID, a.ID)
				l, err := d.SaveDraft(ctx, teacher, studio.Lesson{Student: ss[0].ID, Words: string(a.ID)})
				if err != nil {
					tell("error %v", err)
					return
				}
				tell("draft %s %s %s", st.ID, l.ID, a.ID)
			}
		})
	}
	wg.Wait()
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
		_, err := store.SQL(tx).ExecContext(ctx, `CREATE TABLE kill_jobs (take_id TEXT NOT NULL)`)
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
			if n == 7+11*round { // then more may come, told before the kill
				cmd.Process.Kill()
			}
		}
		cmd.Process.Kill()
		if err := cmd.Wait(); err == nil {
			t.Error("the process ended by itself")
		}
	}
	for _, kind := range []string{"take", "remark", "draft"} {
		if len(acknowledged[kind]) == 0 {
			t.Errorf("no %s was acknowledged", kind)
		}
	}
	t.Logf("acknowledged: %d takes, %d remarks, %d drafts", len(acknowledged["take"]), len(acknowledged["remark"]), len(acknowledged["draft"]))
	whole(t, s, folder, acknowledged)
}

// whole checks that what was acknowledged is there, and that nothing is there by half.
func whole(t *testing.T, s *store.Store, folder string, acknowledged map[string][]string) {
	ctx := t.Context()
	b, err := disk.Open(folder)
	if err != nil {
		t.Fatal(err)
	}
	defer b.Close()
	jobs := map[studio.TakeID]int{}
	err = s.Within(ctx, func(tx studio.Records) error {
		rows, err := store.SQL(tx).QueryContext(ctx, `SELECT take_id FROM kill_jobs`)
		if err != nil {
			return err
		}
		defer rows.Close()
		for rows.Next() {
			var id studio.TakeID
			if err := rows.Scan(&id); err != nil {
				return err
			}
			jobs[id]++
		}
		return rows.Err()
	})
	if err != nil {
		t.Fatal(err)
	}
	studios := map[studio.StudioID]bool{}
	for _, kind := range []string{"take", "remark", "draft"} {
		for _, line := range acknowledged[kind] {
			part := strings.Fields(line)
			in := studio.WholeStudio(studio.StudioID(part[0]))
			studios[in.Studio()] = true
			switch kind {
			case "take":
				id := studio.TakeID(part[1])
				tk, err := s.Take(ctx, in, id)
				if err != nil || tk.State != studio.Waiting || jobs[id] != 1 {
					t.Errorf("take %s: %+v, %d jobs, %v", id, tk, jobs[id], err)
				}
				if got := fileSum(t, s, b, in, id); got != part[2] {
					t.Errorf("take %s has the bytes %q, sent were %s", id, got, part[2])
				}
			case "remark":
				rs, err := s.Remarks(ctx, in, studio.TakeID(part[2]))
				if err != nil || len(rs) != 1 || string(rs[0].ID) != part[1] {
					t.Errorf("remark %s: %+v, %v", part[1], rs, err)
				}
			case "draft":
				l, err := s.Lesson(ctx, in, studio.LessonID(part[1]))
				if err != nil || l.Words != part[2] {
					t.Errorf("draft %s: %+v, %v", part[1], l, err)
				}
			}
		}
	}
	for st := range studios { // also what nobody was told of
		in := studio.WholeStudio(st)
		ts, err := s.Takes(ctx, in, studio.TakeQuery{})
		if err != nil {
			t.Fatal(err)
		}
		for _, tk := range ts {
			sum := fileSum(t, s, b, in, tk.ID)
			if arrived := tk.State == studio.Waiting; arrived != (sum != "") || arrived != (jobs[tk.ID] == 1) {
				t.Errorf("half a take: %+v, bytes %q, %d jobs", tk, sum, jobs[tk.ID])
			}
		}
	}
}

// fileSum is the SHA-256 of a take's file, checked against what is written of it; "" where it has none.
func fileSum(t *testing.T, s *store.Store, b *disk.Blobs, in studio.Scope, id studio.TakeID) string {
	t.Helper()
	ms, err := s.Media(t.Context(), in, id)
	if err != nil {
		t.Fatal(err)
	}
	if len(ms) == 0 {
		return ""
	}
	f, err := b.Open(t.Context(), ms[0].Key())
	if err != nil {
		t.Errorf("take %s: %v", id, err)
		return ""
	}
	h := sha256.New()
	_, err = io.Copy(h, f)
	if err := errors.Join(err, f.Close()); err != nil {
		t.Fatal(err)
	}
	sum := hex.EncodeToString(h.Sum(nil))
	if sum != ms[0].SHA256 {
		t.Errorf("take %s: the file is %s, written is %s", id, sum, ms[0].SHA256)
	}
	return sum
}
