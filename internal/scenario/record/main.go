// Command record makes the file of what was heard in the takes of the demo's past weeks: it records each
// of them and lets the ear hear it through the same code as in a studio. `make demo-data` runs it.
package main

import (
	"bytes"
	"context"
	"flag"
	"fmt"
	"maps"
	"os"
	"os/exec"
	"os/signal"
	"path/filepath"
	"slices"
	"time"

	"antiphon/internal/listen"
	"antiphon/internal/scenario"
	"antiphon/internal/store"
	"antiphon/internal/store/disk"
	"antiphon/internal/studio"
)

func main() {
	out := flag.String("o", "internal/scenario/heard.jsonl.gz", "file to write")
	flag.Parse()
	ctx, stop := signal.NotifyContext(context.Background(), os.Interrupt)
	defer stop()
	if err := record(ctx, *out); err != nil {
		fmt.Fprintln(os.Stderr, "record:", err)
		os.Exit(1)
	}
}

// nobody does no jobs: what is to be heard is heard at once.
type nobody struct{}

func (nobody) Enqueue(context.Context, studio.Records, studio.Job) error { return nil }

func record(ctx context.Context, out string) (err error) {
	dir, err := os.MkdirTemp("", "antiphon-record-")
	if err != nil {
		return err
	}
	defer os.RemoveAll(dir)
	st, err := store.OpenSQLite(ctx, filepath.Join(dir, "studio.db"))
	if err != nil {
		return err
	}
	defer st.Close()
	blobs, err := disk.Open(filepath.Join(dir, "files"))
	if err != nil {
		return err
	}
	_, noVoice := exec.LookPath("espeak-ng")
	heard := 0
	built, err := scenario.Build(ctx, scenario.Options{Store: st, Blobs: blobs, Jobs: nobody{}, Now: time.Now(),
		Recorder: scenario.NewRecorder(dir, noVoice == nil),
		Hear: func(ctx context.Context, desk *studio.Desk, job studio.Job) error {
			if heard++; heard%20 == 0 {
				fmt.Fprintln(os.Stderr, heard, "takes")
			}
			return listen.New(desk, listen.Options{Dir: dir}).Do(ctx, job, true)
		}})
	if err != nil {
		return err
	}
	var b bytes.Buffer
	if err := scenario.WritePast(&b, slices.Sorted(maps.Keys(built.Heard)), built.Heard); err != nil {
		return err
	}
	fmt.Fprintf(os.Stderr, "%d takes, %d kB\n", len(built.Heard), b.Len()/1000)
	return os.WriteFile(out, b.Bytes(), 0o644)
}
