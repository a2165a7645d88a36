//go:build unix

package main

import (
	"path/filepath"
	"testing"
)

func TestRoom(t *testing.T) {
	dir := t.TempDir()
	n, err := room(dir, dir)(t.Context())
	if err != nil || n <= 0 || n > 1<<60 {
		t.Errorf("%d bytes are free, %v", n, err)
	}
	if _, err := room(dir, filepath.Join(dir, "none"))(t.Context()); err == nil {
		t.Error("a folder that is not there has room")
	}
}
