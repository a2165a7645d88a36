package disk_test

import (
	"errors"
	"io"
	"io/fs"
	"os"
	"path/filepath"
	"strings"
	"syscall"
	"testing"

	"antiphon/internal/store/disk"
	"antiphon/internal/store/storetest"
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

func TestContract(t *testing.T) {
	storetest.Blobs(t, func(t *testing.T) studio.Blobs { b, _ := open(t); return b })
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

// TestNothingBeside: what lies in the folder is the file alone, and nothing after a failure.
func TestNothingBeside(t *testing.T) {
	b, folder := open(t)
	key := studio.BlobKey{Studio: st, Family: fam, Media: file}
	if _, _, err := b.Put(t.Context(), key, strings.NewReader("abcd"), 3); !errors.Is(err, studio.ErrTooLarge) {
		t.Error(err)
	}
	if left := files(t, folder); len(left) != 0 {
		t.Errorf("a failure leaves %v", left)
	}
	if _, _, err := b.Put(t.Context(), key, strings.NewReader("abc"), 3); err != nil {
		t.Fatal(err)
	}
	if got, want := files(t, folder), string(st)+"/"+string(fam)+"/"+string(file); len(got) != 1 || got[0] != want {
		t.Errorf("on the disk: %v", got)
	}
	if err := os.WriteFile(filepath.Join(folder, "half", string(file)), []byte("killed on the way"), 0o600); err != nil {
		t.Fatal(err)
	}
	if err := b.ClearHalf(); err != nil {
		t.Fatal(err)
	}
	if got := files(t, folder); len(got) != 1 {
		t.Errorf("after clearing: %v", got)
	}
}

// TestNoWayOut: a link in the folder leads nowhere.
func TestNoWayOut(t *testing.T) {
	b, folder := open(t)
	outside := filepath.Join(filepath.Dir(folder), "outside")
	if err := errors.Join(os.WriteFile(outside, []byte("secret"), 0o600),
		os.MkdirAll(filepath.Join(folder, string(st), string(fam)), 0o700),
		os.Symlink(outside, filepath.Join(folder, string(st), string(fam), string(file)))); err != nil {
		t.Fatal(err)
	}
	if f, err := b.Open(t.Context(), studio.BlobKey{Studio: st, Family: fam, Media: file}); err == nil {
		got, _ := io.ReadAll(f)
		t.Errorf("a link out of the folder was followed: %q", got)
	}
	if got, err := os.ReadFile(outside); err != nil || string(got) != "secret" {
		t.Errorf("outside: %q, %v", got, err)
	}
}

// noRoom is a recording whose bytes the system cannot take.
type noRoom struct{}

func (noRoom) Read([]byte) (int, error) {
	return 0, &fs.PathError{Op: "write", Path: "sent", Err: syscall.ENOSPC}
}

func TestFullDisk(t *testing.T) {
	b, folder := open(t)
	_, _, err := b.Put(t.Context(), studio.BlobKey{Studio: st, Family: fam, Media: file}, noRoom{}, 10)
	if !errors.Is(err, studio.ErrFull) {
		t.Errorf("no room: %v", err)
	}
	if left := files(t, folder); len(left) != 0 {
		t.Errorf("left: %v", left)
	}
}
