package main

import (
	"errors"
	"os"
	"path/filepath"
	"testing"

	"antiphon/internal/rehearse"
)

func TestAPeerHearsAFileOnce(t *testing.T) {
	dir := t.TempDir()
	write := func(name, text string) {
		t.Helper()
		if err := os.MkdirAll(filepath.Join(dir, "takes"), 0o755); err != nil {
			t.Fatal(err)
		}
		if err := os.WriteFile(filepath.Join(dir, "takes", name), []byte(text), 0o644); err != nil {
			t.Fatal(err)
		}
	}
	write("a.wav", "sound")
	write("a.truth.json", "{}")
	k := kept{folder: filepath.Join(dir, "peers")}
	truth, p := rehearse.Truth{ID: "a", Audio: "a.wav"}, peer{name: "Some Peer"}
	runs := 0
	hear := func() (rehearse.Marks, error) { runs++; return rehearse.Marks{Takes: 1, Aligned50: runs}, nil }
	for i := 0; i < 2; i++ {
		if m, err := k.hear(p, dir, truth, hear); err != nil || m.Aligned50 != 1 {
			t.Fatalf("hearing %d: %+v, %v", i, m, err)
		}
	}
	write("a.wav", "another sound")
	if m, err := k.hear(p, dir, truth, hear); err != nil || m.Aligned50 != 2 {
		t.Errorf("another file under the same name was not heard: %+v, %v", m, err)
	}
	k.fresh = true
	if m, err := k.hear(p, dir, truth, hear); err != nil || m.Aligned50 != 3 {
		t.Errorf("-fresh did not run it again: %+v, %v", m, err)
	}
	if _, err := k.hear(p, dir, truth, func() (rehearse.Marks, error) { return rehearse.Marks{}, errors.New("broken") }); err == nil {
		t.Error("a peer's error is lost")
	}
}
