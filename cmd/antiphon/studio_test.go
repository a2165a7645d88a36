package main

import (
	"bytes"
	"context"
	"log/slog"
	"os"
	"path/filepath"
	"strings"
	"testing"

	"antiphon/internal/jobs"
)

// Whoever answers takes up what a killed one left, so there is one at a time.
func TestOneAnswersForAStudio(t *testing.T) {
	data := t.TempDir()
	letGo, err := hold(data)
	if err != nil {
		t.Fatal(err)
	}
	if _, err := hold(data); err == nil || !strings.Contains(err.Error(), "answers for the studio") {
		t.Errorf("a second one: %v", err)
	}
	letGo()
	letGo, err = hold(data)
	if err != nil {
		t.Fatalf("after the first: %v", err)
	}
	letGo()
}

func TestAStudioThatCannotBeOpenedSaysWhy(t *testing.T) {
	for name, c := range map[string]struct {
		flags studioFlags
		file  string // what stands where the database should
		want  string
	}{
		"no database server": {studioFlags{Database: "postgres://nobody@127.0.0.1:1/none?connect_timeout=2"}, "", "check --database"},
		"no database":        {studioFlags{}, "this is a letter, and no database at all, but long enough to look at: " + strings.Repeat("la ", 200), "cannot be opened"},
		"no such storage":    {studioFlags{Files: "ftp://elsewhere"}, "", "--files"},
	} {
		t.Run(name, func(t *testing.T) {
			c.flags.Data = t.TempDir()
			if c.file != "" {
				if err := os.WriteFile(filepath.Join(c.flags.Data, databaseFile), []byte(c.file), 0o600); err != nil {
					t.Fatal(err)
				}
			}
			o, err := c.flags.open(context.Background(), jobs.Options{})
			if err == nil {
				o.close()
				t.Fatal("it was opened")
			}
			if !strings.Contains(err.Error(), c.want) {
				t.Errorf("it says %q", err)
			}
		})
	}
}

// Who opens a studio on a machine without ffmpeg reads it in the log, before the first take waits in vain.
func TestWhatIsMissingStandsInTheLog(t *testing.T) {
	t.Setenv("PATH", t.TempDir())
	var b bytes.Buffer
	warnMissing(&app{ctx: t.Context()}, slog.New(slog.NewTextHandler(&b, nil)))
	if got := b.String(); !strings.Contains(got, "ffprobe is not installed") || !strings.Contains(got, "apt-get install ffmpeg") {
		t.Errorf("the log says %q", got)
	}
}
