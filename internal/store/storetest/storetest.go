// Package storetest is the contract of a store as one suite, run on every database.
//
// It knows package store's tables only to look for what should not be there.
package storetest

import (
	"context"
	"fmt"
	"math/rand/v2"
	"slices"
	"strings"
	"sync"
	"testing"
	"time"

	"antiphon/internal/store"
	"antiphon/internal/store/disk"
	"antiphon/internal/studio"
)

// Run runs the whole suite; open gives an empty store that is closed when its test ends.
func Run(t *testing.T, open func(t *testing.T) *store.Store) {
	RunOn(t, open, func(t *testing.T) studio.Blobs { return onDisk(t, t.TempDir()) })
}

// RunOn runs the suite with files somewhere else than on the disk; blobs gives an empty store of files.
func RunOn(t *testing.T, open func(t *testing.T) *store.Store, blobs func(t *testing.T) studio.Blobs) {
	for _, c := range []struct {
		name string
		run  func(*testing.T, *House)
	}{
		{"a take's way", takesWay},
		{"a link works once", linkOnce},
		{"who may what", whoMay},
		{"the same bytes", sameBytes},
		{"drafts", drafts},
		{"twice", twice},
		{"library", library},
		{"export", export},
		{"retention", retention},
		{"a clock that jumps", clockJumps},
		{"erase", erase},
		{"strays", strays},
		{"remarks aloud", aloud},
		{"all or nothing", allOrNothing},
		{"set up", setUp},
		{"signing in", signIn},
		{"passkeys", passkeys},
		{"only the teacher", onlyTheTeacher},
		{"an invitation", invitation},
		{"something hurts", hurts},
		{"names of devices", deviceNames},
		{"unsorted", unsorted},
		{"model takes", models},
		{"quotas", quotas},
		{"a full disk", fullDisk},
		{"nothing forgotten", nothingForgotten},
		{"meanwhile", meanwhile},
		{"pages", pages},
		{"changes", changes},
		{"the desk", desk},
		{"what was said", said},
		{"the book", book},
		{"a student's page", studentFile},
		{"plans", plans},
		{"what was heard bar by bar", heardBars},
		{"kinds of tasks", tasks},
		{"at home", atHome},
		{"voice notes", voices},
		{"a phone that is stuck", stuck},
		{"at an hour", atAnHour},
		{"taking back", takingBack},
		{"item by item", itemByItem},
		{"clips", clips},
		{"being reached", reached},
		{"phrases", phrases},
		{"between lessons", between},
		{"a lesson is proposed", proposing},
		{"letters", letters},
		{"a child's own fingers", ownFingers},
		{"what a child's own fingers ask", ownDemands},
		{"scores as they stood before", earlierScores},
		{"fingers kept while the score is replaced", fingersBesideScores},
		{"a family's language", language},
		{"no family sees another", noFamilySeesAnother},
	} {
		t.Run(c.name, func(t *testing.T) { c.run(t, newHouse(open(t), blobs(t))) })
	}
}

// House is a store with files, jobs and a clock that a test moves.
type House struct {
	Store *store.Store
	Blobs studio.Blobs
	Jobs  *Jobs
	Desk  *studio.Desk
	Now   time.Time
	rand  *seeded
}

// NewHouse puts a desk on s, with its files in folder. Ids come from a seed.
func NewHouse(t *testing.T, s *store.Store, folder string) *House {
	t.Helper()
	return newHouse(s, onDisk(t, folder))
}

func newHouse(s *store.Store, b studio.Blobs) *House {
	h := &House{Store: s, Blobs: b, Jobs: &Jobs{}, Now: time.Date(2026, 3, 2, 16, 0, 0, 0, time.UTC), rand: &seeded{r: rand.NewChaCha8([32]byte{1})}}
	h.Desk = h.desk(studio.DeskOptions{MaxTakeBytes: 1 << 16})
	return h
}

func onDisk(t *testing.T, folder string) *disk.Blobs {
	t.Helper()
	b, err := disk.Open(folder)
	must(t, err)
	t.Cleanup(func() { b.Close() })
	return b
}

// desk is another desk in the same house, with its clock and its ids.
func (h *House) desk(o studio.DeskOptions) *studio.Desk {
	o.Now, o.Rand, o.Zone = func() time.Time { return h.Now }, h.rand, time.UTC
	return studio.NewDesk(h.Store, h.Blobs, h.Jobs, o)
}

// seeded is randomness that several goroutines may draw from.
type seeded struct {
	mu sync.Mutex
	r  *rand.ChaCha8
}

func (s *seeded) Read(b []byte) (int, error) {
	s.mu.Lock()
	defer s.mu.Unlock()
	return s.r.Read(b)
}

// Jobs remembers what was handed on, also from transactions that came to nothing.
type Jobs struct {
	mu  sync.Mutex
	All []studio.Job
	Err error // answered instead
}

func (j *Jobs) Enqueue(_ context.Context, tx studio.Records, job studio.Job) error {
	j.mu.Lock()
	defer j.mu.Unlock()
	if j.Err != nil {
		return j.Err
	}
	if store.SQL(tx) == nil {
		return fmt.Errorf("job %v is not in a transaction", job)
	}
	j.All = append(j.All, job)
	return nil
}

func must(t *testing.T, err error) {
	t.Helper()
	if err != nil {
		t.Fatal(err)
	}
}

// Dump is every row of every table but the migrations' own, as "table: column=value …", sorted.
func Dump(t *testing.T, tx studio.Records) (out []string) {
	t.Helper()
	q := store.SQL(tx)
	ask := func(query string) (rows [][]string) {
		t.Helper()
		rs, err := q.QueryContext(t.Context(), query)
		must(t, err)
		defer rs.Close()
		cols, err := rs.Columns()
		must(t, err)
		for rs.Next() {
			vals, into := make([]any, len(cols)), make([]any, len(cols))
			for i := range vals {
				into[i] = &vals[i]
			}
			must(t, rs.Scan(into...))
			r := make([]string, len(cols))
			for i, v := range vals {
				r[i] = fmt.Sprintf("%s=%s", cols[i], v)
				if b, ok := v.([]byte); ok {
					r[i] = cols[i] + "=" + string(b)
				}
			}
			rows = append(rows, r)
		}
		must(t, rs.Err())
		return rows
	}
	for _, table := range Tables(t, tx) {
		for _, r := range ask("SELECT * FROM " + table) {
			out = append(out, table+": "+strings.Join(r, " "))
		}
	}
	slices.Sort(out)
	return out
}

// Tables that the migrations make, as the schema says.
func Tables(t *testing.T, tx studio.Records) (names []string) {
	t.Helper()
	q := store.SQL(tx)
	rs, err := q.QueryContext(t.Context(), `SELECT table_name FROM information_schema.tables WHERE table_schema = current_schema() AND table_type = 'BASE TABLE'`)
	if err != nil { // SQLite, where a refused question does not end a transaction
		rs, err = q.QueryContext(t.Context(), `SELECT name FROM sqlite_master WHERE type = 'table'`)
	}
	must(t, err)
	defer rs.Close()
	for rs.Next() {
		var name string
		must(t, rs.Scan(&name))
		if !strings.HasPrefix(name, "goose_") && !strings.HasPrefix(name, "sqlite_") && !strings.HasPrefix(name, "river_") {
			names = append(names, name)
		}
	}
	must(t, rs.Err())
	slices.Sort(names)
	return names
}

// dump outside a transaction.
func (h *House) dump(t *testing.T) (rows []string) {
	t.Helper()
	must(t, h.Store.Within(t.Context(), func(tx studio.Records) error { rows = Dump(t, tx); return nil }))
	return rows
}
