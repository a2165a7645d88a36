// Package cage runs a foreign program on hostile input: a wall clock, processor, memory and output
// limit, no network, only the files it is given, an empty environment, and an end that takes its
// children along.
//
// It is not a container: the program runs as the same user, and where the kernel lacks a guard the
// rest still holds and the result names what was missing.
package cage

import (
	"bytes"
	"context"
	"errors"
	"fmt"
	"io"
	"os"
	"os/exec"
	"time"
)

// Job is one run of a program.
type Job struct {
	Program string      // looked up in PATH
	Args    []string    // without the program's own name
	Stdout  io.Writer   // nil discards
	Streams []io.Writer // what the program writes to descriptors 3, 4, …
	Read    []string    // absolute paths of the files or folders it may read, besides its own libraries
	Limits  Limits
}

// Limits of a job. A zero field takes the value named beside it.
type Limits struct {
	Wall        time.Duration // 2 minutes
	MemoryBytes int64         // address space, 2 GiB
	OutputBytes int64         // on all streams together, 8 GiB
}

// Result is what is left of a run, also of one that failed.
type Result struct {
	Stderr  string // its last 64 KiB
	Code    int    // exit code, -1 after a signal
	Missing []string
}

// Errors of Run; an exit code above zero is an *ExitError.
var (
	ErrNotInstalled = errors.New("the program is not installed")
	ErrTooSlow      = errors.New("the program took longer than allowed")
	ErrTooMuch      = errors.New("the program wrote more than allowed")
)

// ExitError is a program that ended badly by itself.
type ExitError struct {
	Program string
	Code    int // -1 after a signal
	Stderr  string
}

func (e *ExitError) Error() string { return fmt.Sprintf("%s ended with code %d", e.Program, e.Code) }

// Run runs the job to its end. Nothing of it is alive afterwards.
func (j Job) Run(ctx context.Context) (Result, error) {
	wall := j.Limits.Wall
	if wall == 0 {
		wall = 2 * time.Minute
	}
	ctx, cancel := context.WithTimeoutCause(ctx, wall, ErrTooSlow)
	defer cancel()
	path, err := exec.LookPath(j.Program)
	if err != nil {
		return Result{}, fmt.Errorf("%s: %w", j.Program, ErrNotInstalled)
	}
	cmd := exec.CommandContext(ctx, path, j.Args...)
	cmd.Env = []string{"LC_ALL=C.UTF-8"}
	cmd.Dir = "/"
	var stderr bytes.Buffer
	cmd.Stderr = &stderr
	cmd.Stdout = j.Stdout
	done := make(chan error, len(j.Streams))
	for _, w := range j.Streams {
		pr, pw, err := os.Pipe()
		if err != nil {
			return Result{}, err
		}
		defer pw.Close()
		cmd.ExtraFiles = append(cmd.ExtraFiles, pw)
		go func() {
			_, err := io.Copy(w, pr)
			pr.Close()
			done <- err
		}()
	}
	err = cmd.Start()
	for _, f := range cmd.ExtraFiles {
		f.Close()
	}
	if err != nil {
		return Result{}, err
	}
	for range j.Streams {
		<-done
	}
	err = cmd.Wait()
	r := Result{Stderr: stderr.String(), Code: cmd.ProcessState.ExitCode()}
	if ctx.Err() != nil {
		return r, context.Cause(ctx)
	}
	if err != nil && r.Code != 0 {
		return r, &ExitError{Program: j.Program, Code: r.Code, Stderr: r.Stderr}
	}
	return r, err
}
