package store_test

import (
	"bufio"
	"database/sql"
	"errors"
	"fmt"
	"io"
	"os"
	"os/exec"
	"path/filepath"
	"strings"
	"syscall"
	"testing"
	"time"

	"antiphon/internal/store"
	"antiphon/internal/store/storetest"
	"antiphon/internal/studio"
)

// TestMigrate brings data of every version to the newest, with rows in every table that the version had.
func TestMigrate(t *testing.T) {
	t.Run("SQLite", func(t *testing.T) {
		everyVersion(t, "sqlite", func(t *testing.T) string { return filepath.Join(t.TempDir(), "studio.db") })
	})
	t.Run("PostgreSQL", func(t *testing.T) {
		everyVersion(t, "pgx", storetest.Postgres(t))
	})
}

func everyVersion(t *testing.T, driver string, address func(t *testing.T) string) {
	db, err := sql.Open("sqlite", filepath.Join(t.TempDir(), "x.db"))
	if err != nil {
		t.Fatal(err)
	}
	defer db.Close()
	newest, err := store.Newest(db)
	if err != nil {
		t.Fatal(err)
	}
	for version := int64(1); version <= newest; version++ {
		t.Run(fmt.Sprint("from ", version), func(t *testing.T) {
			a := address(t)
			rows := rowsOf(t, driver, a, version)
			s := opened(t, func() (*store.Store, error) { return openAddress(t.Context(), a) })
			err := s.Within(t.Context(), func(tx studio.Records) error {
				for table, want := range rows {
					var n int
					if err := store.SQL(tx).QueryRowContext(t.Context(), `SELECT count(*) FROM `+table).Scan(&n); err != nil || n < want {
						t.Errorf("%d rows of %d are left in %s, %v", n, want, table, err)
					}
				}
				return nil
			})
			if err != nil {
				t.Fatal(err)
			}
			asked(t, s, version)
		})
	}
}

// rowsOf makes a database of an older version and puts its rows in; it counts the rows of each table.
func rowsOf(t *testing.T, driver, address string, version int64) map[string]int {
	t.Helper()
	ctx := t.Context()
	db, err := sql.Open(driver, address)
	if err != nil {
		t.Fatal(err)
	}
	defer db.Close()
	if err := store.MigrateTo(ctx, db, driver == "pgx", version); err != nil {
		t.Fatal(err)
	}
	rows := map[string]int{}
	for n := int64(1); n <= version; n++ {
		text := rowsText(t, n, version)
		if _, err := db.ExecContext(ctx, store.Dialect(text, driver == "pgx")); err != nil {
			t.Fatalf("rows of version %d in version %d: %v", n, version, err)
		}
		for _, line := range strings.Split(text, "\n") {
			if rest, ok := strings.CutPrefix(line, "INSERT INTO "); ok {
				table, _, _ := strings.Cut(rest, " ")
				rows[table] = 0
			}
		}
	}
	for table := range rows {
		var n int
		if err := db.QueryRowContext(ctx, `SELECT count(*) FROM `+table).Scan(&n); err != nil || n == 0 {
			t.Fatalf("no rows in %s, %v", table, err)
		}
		rows[table] = n
	}
	return rows
}

// rowsText is rows for the tables that migration n made, as a version has them: n.sql, or where a later
// migration changed these tables, n.later.sql.
func rowsText(t *testing.T, n, version int64) string {
	t.Helper()
	if files, err := filepath.Glob(fmt.Sprintf("migrations/%04d_*.sql", n)); err != nil || len(files) == 0 {
		return "" // a number that no migration took
	}
	for later := version; later > n; later-- {
		text, err := os.ReadFile(fmt.Sprintf("testdata/rows/%04d.%04d.sql", n, later))
		if err == nil {
			return string(text)
		}
		if !errors.Is(err, os.ErrNotExist) {
			t.Fatal(err)
		}
	}
	text, err := os.ReadFile(fmt.Sprintf("testdata/rows/%04d.sql", n))
	if err != nil {
		t.Fatalf("a version without rows to test it with: %v", err)
	}
	return string(text)
}

// asked checks what today's questions say of rows that were written by an older program.
func asked(t *testing.T, s *store.Store, version int64) {
	ctx := t.Context()
	const st, fam, child, work = "s0000000000000000000000001", "f0000000000000000000000001", "c0000000000000000000000001", "w0000000000000000000000001"
	d := studio.NewDesk(s, nil, nil, studio.DeskOptions{Zone: time.UTC, Now: func() time.Time { return time.UnixMicro(7_000_000) }})
	teacher := studio.Viewer{Studio: st, Role: studio.Teacher, Person: "p0000000000000000000000001"}
	home, there, err := d.Home(ctx)
	if err != nil || !there || home.ReplyDays != studio.DefaultReplyDays || home.Language != "en" {
		t.Errorf("home: %+v, %v, %v", home, there, err)
	}
	if _, err := s.Student(ctx, studio.WholeStudio(st), studio.StudentID(studio.Shelf(st))); err != nil {
		t.Errorf("the shelf: %v", err)
	}
	if fs, err := d.Families(ctx, teacher); err != nil || len(fs) != 1 || fs[0].Name != "Abel" {
		t.Errorf("families: %+v, %v", fs, err)
	}
	if version < 2 {
		return
	}
	if w, err := d.Work(ctx, teacher, work); err != nil || w.Score != "<score/>" || w.Title != "Three Blind Mice" {
		t.Errorf("work: %+v, %v", w, err)
	}
	if version < 4 {
		return
	}
	ts, err := d.TakesBy(ctx, teacher, studio.TakeQuery{Student: child, Work: work})
	if err != nil || len(ts) != 1 || ts[0].Bytes != 1234 || !ts[0].Changed.Equal(time.UnixMicro(5_000_000)) || ts[0].Summary != nil || ts[0].Concerns != nil {
		t.Errorf("takes: %+v, %v", ts, err)
	}
	if same, err := s.SameBytes(ctx, studio.OneFamily(st, fam), "the sum"); err != nil || same.ID != ts[0].ID {
		t.Errorf("the same bytes: %+v, %v", same, err)
	}
	if l, err := d.Look(ctx, teacher); err != nil || len(l.Waiting) != 1 || len(l.Arriving) != 1 {
		t.Errorf("the desk: %+v, %v", l, err)
	}
	if cs, err := d.Changes(ctx, teacher, time.Time{}); err != nil || len(cs) != 2 {
		t.Errorf("changes: %+v, %v", cs, err)
	}
	if version < 5 {
		return
	}
	r, err := d.ReviewTake(ctx, teacher, ts[0].ID)
	if err != nil || r.Hearing == nil || len(r.Remarks) != 1 || len(r.Corrections) != 1 || r.Work == nil || r.Assignment == nil || r.LessonDate != "1970-01-01" {
		t.Errorf("review: %+v, %v", r, err)
	}
	if rs, err := d.RemarksOf(ctx, teacher, child, 0); err != nil || len(rs) != 1 {
		t.Errorf("remarks: %+v, %v", rs, err)
	}
	// Its hearing is counted bar by bar, once.
	err = s.Within(ctx, func(tx studio.Records) error {
		_, err := store.SQL(tx).ExecContext(ctx, `UPDATE takes SET summary = '{"Bpm":60}' WHERE id = $1`, ts[0].ID)
		return err
	})
	if err != nil {
		t.Fatal(err)
	}
	for _, want := range []int{1, 0} {
		if left, err := s.Uncounted(ctx, st, 10); err != nil || len(left) != want {
			t.Errorf("%d hearings to be counted: %+v, %v", want, left, err)
		}
		if err := d.CountBars(ctx, studio.Viewer{Studio: st, Role: studio.Ear}); err != nil {
			t.Errorf("counting the bars of an old hearing: %v", err)
		}
	}
}

const firstAddress = "ANTIPHON_TEST_FIRST_ADDRESS" // set in the processes that start at once

// TestOpensAtOnce is one of several processes that start on the same new database.
func TestOpensAtOnce(t *testing.T) {
	address := os.Getenv(firstAddress)
	if address == "" {
		t.Skip("only for TestFirstStart")
	}
	fmt.Println("ready")
	if _, err := bufio.NewReader(os.Stdin).ReadString('\n'); err != nil { // all wait for the same word
		t.Fatal(err)
	}
	s, err := openAddress(t.Context(), address)
	if err != nil {
		t.Fatal(err)
	}
	if _, err := studio.NewDesk(s, nil, nil, studio.DeskOptions{}).OpenSetUp(t.Context()); err != nil {
		t.Error(err)
	}
	if err := s.Close(); err != nil {
		t.Error(err)
	}
}

// TestFirstStart: several programs that start at once on one new database all succeed.
func TestFirstStart(t *testing.T) {
	t.Run("SQLite", func(t *testing.T) {
		for range 3 {
			atOnce(t, filepath.Join(t.TempDir(), "studio.db"))
		}
	})
	t.Run("PostgreSQL", func(t *testing.T) { atOnce(t, storetest.Postgres(t)(t)) })
}

func atOnce(t *testing.T, address string) {
	t.Helper()
	type process struct {
		cmd *exec.Cmd
		in  io.WriteCloser
		out *bufio.Reader
	}
	ps := make([]process, 4)
	for i := range ps {
		cmd := exec.Command(os.Args[0], "-test.run=^TestOpensAtOnce$")
		cmd.Env = append(os.Environ(), firstAddress+"="+address)
		cmd.SysProcAttr = &syscall.SysProcAttr{Pdeathsig: syscall.SIGKILL}
		in, err := cmd.StdinPipe()
		if err != nil {
			t.Fatal(err)
		}
		out, err := cmd.StdoutPipe()
		if err != nil {
			t.Fatal(err)
		}
		cmd.Stderr = cmd.Stdout
		if err := cmd.Start(); err != nil {
			t.Fatal(err)
		}
		ps[i] = process{cmd, in, bufio.NewReader(out)}
	}
	for _, p := range ps {
		if said, err := p.out.ReadString('\n'); err != nil || said != "ready\n" {
			t.Errorf("%q, %v", said, err)
		}
	}
	for _, p := range ps {
		if _, err := p.in.Write([]byte("go\n")); err != nil {
			t.Error(err)
		}
	}
	for _, p := range ps {
		said, err := io.ReadAll(p.out)
		if err := errors.Join(err, p.cmd.Wait()); err != nil {
			t.Errorf("%v: %s", err, said)
		}
	}
}
