package disk_test

import (
	"context"
	"errors"
	"io"
	"io/fs"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"testing"
	"time"

	"antiphon/internal/store/disk"
	"antiphon/internal/studio"
)

const (
	st   = studio.StudioID("11111111111111111111111111")
	fam  = studio.FamilyID("22222222222222222222222222")
	file = studio.MediaID("33333333333333333333333333")
)

func open(t *testing.T) (*disk.Blobs, string) {
	t.Helper()
	folder := filepath.Join(t.TempDir(), "blobs")
	b, err := disk.Open(folder)
	if err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() { b.Close() })
	return b, folder
}

// files lists every file below folder.
func files(t *testing.T, folder string) (all []string) {
	t.Helper()
	err := filepath.WalkDir(folder, func(path string, d fs.DirEntry, err error) error {
		if err == nil && !d.IsDir() {
			all = append(all, strings.TrimPrefix(path, folder+"/"))
		}
		return err
	})
	if err != nil {
		t.Fatal(err)
	}
	return all
}

func TestWhole(t *testing.T) {
	b, folder := open(t)
	key := studio.BlobKey{Studio: st, Family: fam, Media: file}
	n, sum, err := b.Put(t.Context(), key, strings.NewReader("abc"), 3)
	// SHA-256 of "abc": FIPS 180-2, appendix B.1.
	if err != nil || n != 3 || sum != "ba7816bf8f01cfea414140de5dae2223b00361a396177a9cb410ff61f20015ad" {
		t.Errorf("%d bytes, %s, %v", n, sum, err)
	}
	f, err := b.Open(t.Context(), key)
	if err != nil {
		t.Fatal(err)
	}
	got, err := io.ReadAll(f)
	if err := errors.Join(err, f.Close()); err != nil || string(got) != "abc" {
		t.Errorf("read %q, %v", got, err)
	}
	var seen []studio.BlobKey
	if err := b.Each(t.Context(), st, func(k studio.BlobKey, _ time.Time) error { seen = append(seen, k); return nil }); err != nil || !slices.Equal(seen, []studio.BlobKey{key}) {
		t.Errorf("each: %v, %v", seen, err)
	}
	if err := b.Each(t.Context(), "44444444444444444444444444", func(studio.BlobKey, time.Time) error { return errors.New("a file") }); err != nil {
		t.Errorf("a studio without files: %v", err)
	}
	if got, want := files(t, folder), []string{string(st) + "/" + string(fam) + "/" + string(file)}; !slices.Equal(got, want) {
		t.Errorf("on the disk: %v", got)
	}
	for range 2 {
		if err := b.RemoveFamily(t.Context(), st, fam); err != nil {
			t.Error(err)
		}
		if err := b.Remove(t.Context(), key); err != nil {
			t.Error(err)
		}
	}
	if _, err := b.Open(t.Context(), key); !errors.Is(err, studio.ErrNotFound) {
		t.Errorf("opened what was removed: %v", err)
	}
}

type broken struct{ r io.Reader }

func (b broken) Read(p []byte) (int, error) {
	n, err := b.r.Read(p)
	if err == io.EOF {
		err = errors.New("the connection is gone")
	}
	return n, err
}

func TestOrNone(t *testing.T) {
	stopped, stop := context.WithCancel(t.Context())
	stop()
	for _, c := range []struct {
		name string
		ctx  context.Context
		r    io.Reader
		want error // nil any
	}{
		{"one byte too many", t.Context(), strings.NewReader("abcd"), studio.ErrTooLarge},
		{"broken off", t.Context(), broken{strings.NewReader("ab")}, nil},
		{"given up", stopped, strings.NewReader("ab"), context.Canceled},
	} {
		b, folder := open(t)
		_, _, err := b.Put(c.ctx, studio.BlobKey{Studio: st, Family: fam, Media: file}, c.r, 3)
		if err == nil || c.want != nil && !errors.Is(err, c.want) {
			t.Errorf("%s: %v", c.name, err)
		}
		if left := files(t, folder); len(left) != 0 {
			t.Errorf("%s leaves %v", c.name, left)
		}
	}
}

func TestNoWayOut(t *testing.T) {
	b, folder := open(t)
	outside := filepath.Join(filepath.Dir(folder), "outside")
	if err := os.WriteFile(outside, []byte("secret"), 0o600); err != nil {
		t.Fatal(err)
	}
	for _, k := range []studio.BlobKey{
		{}, {Studio: st}, {Studio: st, Family: fam}, {Studio: "..", Family: "..", Media: "outside"}, {Studio: st, Family: fam, Media: "../../../outside"},
		{Studio: st, Family: "*", Media: file}, {Studio: "half", Family: fam, Media: file}, {Studio: st, Family: fam, Media: file + "/"}, {Studio: st, Family: fam, Media: "\x00" + file[1:]},
	} {
		if _, _, err := b.Put(t.Context(), k, strings.NewReader("x"), 9); !errors.Is(err, studio.ErrNotFound) {
			t.Errorf("put %q: %v", k, err)
		}
		if f, err := b.Open(t.Context(), k); !errors.Is(err, studio.ErrNotFound) {
			t.Errorf("open %q: %v, %v", k, f, err)
		}
		if err := b.Remove(t.Context(), k); !errors.Is(err, studio.ErrNotFound) {
			t.Errorf("remove %q: %v", k, err)
		}
	}
	if err := b.RemoveFamily(t.Context(), "", ""); !errors.Is(err, studio.ErrNotFound) {
		t.Errorf("remove nobody's files: %v", err)
	}
	// A link in the folder leads nowhere.
	if err := errors.Join(os.MkdirAll(filepath.Join(folder, string(st), string(fam)), 0o700),
		os.Symlink(outside, filepath.Join(folder, string(st), string(fam), string(file)))); err != nil {
		t.Fatal(err)
	}
	if f, err := b.Open(t.Context(), studio.BlobKey{Studio: st, Family: fam, Media: file}); err == nil {
		t.Errorf("a link out of the folder was followed: %v", f)
	}
	if got, err := os.ReadFile(outside); err != nil || string(got) != "secret" {
		t.Errorf("outside: %q, %v", got, err)
	}
}
