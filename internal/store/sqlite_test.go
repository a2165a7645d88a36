package store_test

import (
	"bytes"
	"database/sql"
	"errors"
	"os"
	"path/filepath"
	"strings"
	"testing"

	"antiphon/internal/store"
	"antiphon/internal/store/storetest"
	"antiphon/internal/studio"
)

// TestErasedBytes: after a family is erased its names are in no byte of the folder, neither in the
// database's free pages nor in its journal.
func TestErasedBytes(t *testing.T) {
	folder := t.TempDir()
	s := opened(t, func() (*store.Store, error) { return store.OpenSQLite(t.Context(), filepath.Join(folder, "studio.db")) })
	h := storetest.NewHouse(t, s, filepath.Join(folder, "blobs"))
	f := h.Found(t, "Lindenhof")
	v := h.Live(t, f, "Abelone", "Miranda")
	secrets := []string{"Abelone", "Miranda", string(v.Family), string(v.Person)}
	in := func() (found []string) {
		t.Helper()
		err := filepath.WalkDir(folder, func(path string, d os.DirEntry, err error) error {
			if err != nil {
				return err
			}
			text := []byte(path)
			if !d.IsDir() {
				if text, err = os.ReadFile(path); err != nil {
					return err
				}
			}
			for _, w := range secrets {
				if bytes.Contains(text, []byte(w)) {
					found = append(found, w+" in "+filepath.Base(path))
				}
			}
			return nil
		})
		if err != nil {
			t.Fatal(err)
		}
		return found
	}
	if before := in(); len(before) < len(secrets) {
		t.Fatalf("before: only %v", before)
	}
	if _, err := h.Desk.EraseFamily(t.Context(), f.Teacher, v.Family); err != nil {
		t.Fatal(err)
	}
	if err := h.Desk.Sweep(t.Context(), f.Ear); err != nil {
		t.Fatal(err)
	}
	if left := in(); len(left) != 0 {
		t.Errorf("left: %v", left)
	}
}

func TestOpenAgain(t *testing.T) {
	path := filepath.Join(t.TempDir(), "studio.db")
	for range 2 {
		s, err := store.OpenSQLite(t.Context(), path)
		if err != nil {
			t.Fatal(err)
		}
		h := storetest.NewHouse(t, s, t.TempDir())
		if _, _, err := h.Desk.Found(t.Context(), "Lindenhof", "Teacher"); err != nil && !strings.Contains(err.Error(), string(studio.Conflict)) {
			t.Error(err)
		}
		if err := s.Close(); err != nil {
			t.Fatal(err)
		}
	}
	db, err := sql.Open("sqlite", path)
	if err != nil {
		t.Fatal(err)
	}
	defer db.Close()
	var studios int
	if err := db.QueryRowContext(t.Context(), `SELECT count(*) FROM studios`).Scan(&studios); err != nil || studios != 1 {
		t.Errorf("%d studios after opening again, %v", studios, err)
	}
	if _, err := db.ExecContext(t.Context(), `INSERT INTO goose_db_version (version_id, is_applied) VALUES (999, 1)`); err != nil {
		t.Fatal(err)
	}
	if _, err := store.OpenSQLite(t.Context(), path); err == nil || !strings.Contains(err.Error(), "999") || !strings.Contains(err.Error(), "newer program") {
		t.Errorf("data of a newer program: %v", err)
	}
}

func TestOpenNonsense(t *testing.T) {
	path := filepath.Join(t.TempDir(), "notes.txt")
	if err := os.WriteFile(path, []byte(strings.Repeat("Dear diary, ", 1000)), 0o600); err != nil {
		t.Fatal(err)
	}
	for _, p := range []string{path, filepath.Join(t.TempDir(), "no", "such", "folder.db")} {
		if _, err := store.OpenSQLite(t.Context(), p); err == nil || !strings.Contains(err.Error(), p) {
			t.Errorf("%s: %v", p, err)
		}
	}
	if _, err := store.OpenPostgres(t.Context(), "host=/nowhere dbname=none"); err == nil {
		t.Error("no server, and no error")
	}
}

// TestFullDatabase: where the database finds no room, that is what is said. SQLite's own limit of pages
// stands for the disk: both end in SQLITE_FULL (https://www.sqlite.org/rescode.html#full).
func TestFullDatabase(t *testing.T) {
	ctx := t.Context()
	folder := t.TempDir()
	s := opened(t, func() (*store.Store, error) { return store.OpenSQLite(ctx, filepath.Join(folder, "studio.db")) })
	h := storetest.NewHouse(t, s, filepath.Join(folder, "blobs"))
	f := h.Found(t, "Lindenhof")
	if _, err := s.DB().ExecContext(ctx, `PRAGMA max_page_count = 1`); err != nil { // no more than there are
		t.Fatal(err)
	}
	var err error
	for range 100 {
		if _, err = h.Desk.AddWork(ctx, f.Teacher, studio.Work{Title: "Scale", Rights: "traditional", Score: strings.Repeat("<score/>", 1000)}); err != nil {
			break
		}
	}
	p, ok := errors.AsType[*studio.Problem](err)
	if !ok || p.Kind != studio.Full || !strings.Contains(p.Say, "disk is full") {
		t.Errorf("a full database: %v", err)
	}
}
