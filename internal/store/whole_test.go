package store_test

import (
	"crypto/sha256"
	"encoding/hex"
	"errors"
	"io"
	"slices"
	"strings"
	"testing"
	"time"

	"antiphon/internal/store"
	"antiphon/internal/store/disk"
	"antiphon/internal/studio"
)

// told is one line of what was acknowledged.
type told struct {
	in       studio.Scope
	id, rest string
}

// whole checks that what was acknowledged is there, and that nothing is there by half.
func whole(t *testing.T, s *store.Store, folder string, acknowledged map[string][]string) {
	ctx := t.Context()
	b, err := disk.Open(folder)
	if err != nil {
		t.Fatal(err)
	}
	defer b.Close()
	jobs := map[string]int{}
	err = s.Within(ctx, func(tx studio.Records) error {
		rows, err := store.SQL(tx).QueryContext(ctx, `SELECT kind, about FROM kill_jobs`)
		if err != nil {
			return err
		}
		defer rows.Close()
		for rows.Next() {
			var kind, about string
			if err := rows.Scan(&kind, &about); err != nil {
				return err
			}
			jobs[kind+" "+about]++
		}
		return rows.Err()
	})
	if err != nil {
		t.Fatal(err)
	}
	lines := map[string][]told{}
	latest := map[string]map[string]string{} // by kind and id
	studios := map[studio.StudioID]bool{}
	for kind, all := range acknowledged {
		latest[kind] = map[string]string{}
		for _, line := range all {
			part := strings.Fields(line)
			x := told{studio.WholeStudio(studio.StudioID(part[0])), part[1], part[2]}
			lines[kind] = append(lines[kind], x)
			latest[kind][x.id] = x.rest
			studios[x.in.Studio()] = true
		}
	}
	for _, x := range lines["take"] {
		id := studio.TakeID(x.id)
		tk, err := s.Take(ctx, x.in, id)
		if err != nil || tk.Arrived.IsZero() || jobs["hear "+x.id] != 1 {
			t.Errorf("take %s: %+v, %d jobs, %v", id, tk, jobs["hear "+x.id], err)
		}
		want, cleaned := latest["clean"][x.id]
		got, sent := fileSum(t, s, b, x.in, id)
		if cleaned && got != want || sent != x.rest {
			t.Errorf("take %s has the bytes %q of sent %q; sent were %s, clean %q", id, got, sent, x.rest, want)
		}
	}
	for _, x := range lines["remark"] {
		if r, err := s.Remark(ctx, x.in, studio.RemarkID(x.id)); err != nil || string(r.Take) != x.rest {
			t.Errorf("remark %s: %+v, %v", x.id, r, err)
		}
	}
	for _, x := range lines["answer"] {
		if m, err := s.MediaByID(ctx, x.in, studio.MediaID(x.id)); err != nil || read(t, b, m.Key()) != x.rest {
			t.Errorf("answer %s: %+v, %v", x.id, m, err)
		}
	}
	for _, x := range lines["voice"] {
		taps, err := s.Taps(ctx, x.in, studio.TapQuery{})
		if err != nil {
			t.Fatal(err)
		}
		i := slices.IndexFunc(taps, func(v studio.Tap) bool { return v.ID == x.id })
		if i < 0 {
			t.Errorf("voice note %s is not there", x.id)
			continue
		}
		if m, err := s.MediaByID(ctx, x.in, taps[i].Media); err != nil || read(t, b, m.Key()) != x.rest {
			t.Errorf("voice note %s: %+v, %v", x.id, m, err)
		}
	}
	for _, x := range lines["aloud"] {
		if m, err := s.MediaByID(ctx, x.in, studio.MediaID(x.id)); err != nil || read(t, b, m.Key()) != x.rest {
			t.Errorf("spoken remark %s: %+v, %v", x.id, m, err)
		}
	}
	for _, x := range lines["dropped"] {
		u, err := s.Unsorted(ctx, x.in.Studio(), studio.UnsortedID(x.id))
		switch {
		case jobs["guess "+x.id] != 1:
			t.Errorf("unsorted %s has %d jobs", x.id, jobs["guess "+x.id])
		case err == nil:
			if got := read(t, b, u.Key()); got != x.rest || latest["sorted"][x.id] != "" {
				t.Errorf("unsorted %s has the bytes %s, and was sorted to %q", x.id, got, latest["sorted"][x.id])
			}
		default: // it became a take; whoever was to be told may have been killed
			if _, err := s.SameBytes(ctx, x.in, x.rest); err != nil {
				t.Errorf("what was dropped as %s is nowhere: %v", x.id, err)
			}
		}
	}
	for _, x := range lines["heard"] {
		if h, err := s.NewestHearing(ctx, x.in, studio.TakeID(x.id)); err != nil || string(h.ID) != x.rest {
			t.Errorf("hearing %s: %+v, %v", x.rest, h, err)
		}
	}
	for _, x := range lines["draft"] {
		if l, err := s.Lesson(ctx, x.in, studio.LessonID(x.id)); err != nil || l.Words != x.rest {
			t.Errorf("draft %s: %+v, %v", x.id, l, err)
		}
	}
	for _, x := range lines["sent"] {
		l, err := s.Lesson(ctx, x.in, studio.LessonID(x.id))
		tk, err2 := s.Take(ctx, x.in, studio.TakeID(x.rest))
		if err := errors.Join(err, err2); err != nil || l.Sent.IsZero() || tk.Answered.IsZero() {
			t.Errorf("sent %s: %+v, the take %+v, %v", x.id, l, tk, err)
		}
	}
	for st := range studios { // also what nobody was told of
		in := studio.WholeStudio(st)
		ts, err := s.Takes(ctx, in, studio.TakeQuery{})
		if err != nil {
			t.Fatal(err)
		}
		for _, tk := range ts {
			sum, _ := fileSum(t, s, b, in, tk.ID)
			arrived := !tk.Arrived.IsZero()
			if arrived != (sum != "") || arrived != (jobs["hear "+string(tk.ID)] == 1) || arrived == (tk.State == studio.Arriving) {
				t.Errorf("half a take: %+v, bytes %q, %d jobs", tk, sum, jobs["hear "+string(tk.ID)])
			}
			_, err := s.NewestHearing(ctx, in, tk.ID)
			if heard := err == nil; heard != (tk.State == studio.Ready) || heard != (tk.Summary != nil) {
				t.Errorf("half a hearing: %+v, %v", tk, err)
			}
		}
		us, err := s.AllUnsorted(ctx, st)
		if err != nil {
			t.Fatal(err)
		}
		for _, u := range us {
			if read(t, b, u.Key()) != u.SHA256 {
				t.Errorf("half an unsorted file: %+v", u)
			}
		}
		// What nothing names any more goes; everything that something names stays.
		late := studio.NewDesk(s, b, tableJobs{}, studio.DeskOptions{Now: func() time.Time { return time.Now().Add(48 * time.Hour) }})
		if err := late.Sweep(ctx, studio.Viewer{Studio: st, Role: studio.Ear}); err != nil {
			t.Fatal(err)
		}
		named := map[studio.MediaID]bool{}
		ms, err := s.Media(ctx, in, "")
		if err != nil {
			t.Fatal(err)
		}
		for _, m := range ms {
			named[m.ID] = true
			if read(t, b, m.Key()) != m.SHA256 {
				t.Errorf("the sweep took a file: %+v", m)
			}
		}
		for _, u := range us {
			named[studio.MediaID(u.ID)] = true
		}
		if err := b.Each(ctx, st, func(k studio.BlobKey, _ time.Time) error {
			if !named[k.Media] {
				t.Errorf("the sweep left %s, which nothing names", k.Media)
			}
			return nil
		}); err != nil {
			t.Fatal(err)
		}
	}
}

// read is the SHA-256 of a file; "" where it cannot be read.
func read(t *testing.T, b *disk.Blobs, key studio.BlobKey) string {
	t.Helper()
	f, err := b.Open(t.Context(), key)
	if err != nil {
		t.Errorf("file %s: %v", key.Media, err)
		return ""
	}
	h := sha256.New()
	_, err = io.Copy(h, f)
	if err := errors.Join(err, f.Close()); err != nil {
		t.Fatal(err)
	}
	return hex.EncodeToString(h.Sum(nil))
}

// fileSum is the SHA-256 of a take's original, checked against what is written of it, and that of what
// was sent; "" where it has none.
func fileSum(t *testing.T, s *store.Store, b *disk.Blobs, in studio.Scope, id studio.TakeID) (is, sent string) {
	t.Helper()
	ms, err := s.Media(t.Context(), in, id)
	if err != nil {
		t.Fatal(err)
	}
	for _, m := range ms {
		if m.Kind != studio.Original {
			continue
		}
		sum := read(t, b, m.Key())
		if sum != m.SHA256 {
			t.Errorf("take %s: the file is %s, written is %s", id, sum, m.SHA256)
		}
		return sum, m.SentSHA256
	}
	return "", ""
}
