package webtest

import (
	"fmt"
	"os"
	"path/filepath"
	"testing"

	"antiphon/internal/engrave"
)

// Engraver draws music for a test, which is skipped where the engraving library was not built in. Its cache is
// that of the engraver's own tests: compiling the library takes seconds.
func Engraver(t testing.TB) *engrave.Engraver {
	t.Helper()
	if !engrave.Available() {
		t.Skip("built without the engraving library: run make assets")
	}
	dir := filepath.Join(os.TempDir(), fmt.Sprintf("antiphon-engrave-test-%d", os.Getuid()))
	if err := os.MkdirAll(dir, 0o700); err != nil {
		t.Fatal(err)
	}
	e, err := engrave.New(engrave.Settings{CacheDir: dir})
	if err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() {
		if err := e.Close(); err != nil {
			t.Error(err)
		}
	})
	return e
}
