// Package cage runs a foreign program on hostile input: a wall clock, processor, memory and output
// limit, no network, only the files it is given, an empty environment, and an end that takes its
// children along.
//
// It is not a container: the program runs as the same user, and where the kernel lacks a guard the
// rest still holds and the result names what was missing.
package cage

import (
	"context"
	"errors"
	"fmt"
	"io"
	"os/exec"
	"path/filepath"
	"runtime"
	"time"
)

// Job is one run of a program.
type Job struct {
	Program string      // looked up in PATH
	Args    []string    // without the program's own name
	Stdin   io.Reader   // nil is an empty one; it must end by itself
	Stdout  io.Writer   // nil discards; a failing writer ends the job with its error
	Streams []io.Writer // what the program writes to descriptors 3, 4, …, in the manner of Stdout
	Read    []string    // absolute paths of the files or folders it may read, besides the system's libraries
	Write   []string    // absolute paths of the folders it may write in
	Limits  Limits
	Nice    int // how far it stands back behind others who want the processor, 0 to 19, as nice(1) has it
}

// Limits of a job. A zero field takes the value named beside it.
type Limits struct {
	Wall        time.Duration // 2 minutes; processor time is held to twice that
	MemoryBytes int64         // address space, 2 GiB
	OutputBytes int64         // each stream, and each file it writes, 8 GiB
}

func (l Limits) withDefaults() Limits {
	if l.Wall == 0 {
		l.Wall = 2 * time.Minute
	}
	if l.MemoryBytes == 0 {
		l.MemoryBytes = 2 << 30
	}
	if l.OutputBytes == 0 {
		l.OutputBytes = 8 << 30
	}
	return l
}

// Guard is one protection that a kernel may lack.
type Guard string

// The guards that can be missing. The others (limits, empty environment, own process group) always hold.
const (
	Files    Guard = "files"    // Landlock: it reads and writes nothing but what it was given
	Network  Guard = "network"  // a network namespace of its own, with nothing in it
	Children Guard = "children" // a process namespace of its own, so that no child outlives it
)

// Result is what is left of a run, also of one that failed.
type Result struct {
	Stderr  string  // its last 64 KiB
	Code    int     // exit code, -1 after a signal
	Missing []Guard // what the kernel would not give
}

// Errors of Run; a program that ended badly by itself is an *ExitError.
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

func (e *ExitError) Error() string {
	if e.Code < 0 {
		return e.Program + " was ended by a signal"
	}
	return fmt.Sprintf("%s ended with code %d", e.Program, e.Code)
}

// The resource limits must hold from the first instruction on, also for what the program starts at
// once, and only the process itself can do that: a shell sets them and becomes the program. A limit
// that is refused is one that was lower already.
const (
	shell   = "/bin/sh"
	limited = `p=$1 n=$5; { ulimit -v $2; ulimit -t $3; ulimit -f $4; ulimit -n 128; ulimit -c 0; } 2>/dev/null; shift 5; [ "$n" -eq 0 ] || exec nice -n "$n" "$p" "$@"; exec "$p" "$@"`
)

// Run runs the job to its end. When it returns nothing of the job is alive, and no writer is used
// any more.
func (j Job) Run(ctx context.Context) (Result, error) {
	j.Limits = j.Limits.withDefaults()
	path, err := exec.LookPath(j.Program)
	if err != nil {
		return Result{}, fmt.Errorf("%s: %w", j.Program, ErrNotInstalled)
	}
	if path, err = filepath.Abs(path); err != nil {
		return Result{}, err
	}
	ctx, cancel := context.WithCancelCause(ctx)
	defer cancel(nil)
	ctx, stop := context.WithTimeoutCause(ctx, j.Limits.Wall, ErrTooSlow)
	defer stop()

	// Landlock binds a thread and what it starts, and the kernel's parent-death signal follows the
	// thread too. So one thread is given up to the job: it is locked, restricted, starts the
	// program, waits for it, and ends with its goroutine, which never unlocks it.
	type end struct {
		r   Result
		err error
	}
	ended := make(chan end, 1)
	go func() {
		runtime.LockOSThread()
		r, err := j.run(ctx, cancel, path)
		ended <- end{r, err}
	}()
	e := <-ended
	return e.r, e.err
}

func (j Job) run(ctx context.Context, cancel context.CancelCauseFunc, path string) (r Result, err error) {
	if err := ctx.Err(); err != nil {
		return Result{}, context.Cause(ctx)
	}
	stdin, fed, err := feed(j.Stdin)
	if err != nil {
		return Result{}, err
	}
	tail := &tail{}
	streams, err := openStreams(cancel, j.Limits.OutputBytes, append([]io.Writer{j.Stdout, tail}, j.Streams...))
	if err != nil {
		stdin.Close()
		<-fed
		return Result{}, err
	}
	command := func() *exec.Cmd {
		return &exec.Cmd{
			Path: shell, Args: append([]string{shell, "-c", limited, shell, path,
				fmt.Sprint(j.Limits.MemoryBytes >> 10), fmt.Sprint(int64(2*j.Limits.Wall.Seconds()) + 1), fmt.Sprint(j.Limits.OutputBytes >> 9), fmt.Sprint(j.Nice)}, j.Args...),
			Dir:   "/",
			Env:   []string{"LC_ALL=C.UTF-8"},
			Stdin: stdin, Stdout: streams.theirs[0], Stderr: streams.theirs[1], ExtraFiles: streams.theirs[2:],
		}
	}
	cmd, missing, err := start(command, j, path)
	stdin.Close()
	streams.started()
	if err != nil {
		streams.finish()
		<-fed
		return Result{Missing: missing}, fmt.Errorf("start %s: %w", j.Program, err)
	}
	over := context.AfterFunc(ctx, func() { kill(cmd) })
	waited := cmd.Wait()
	over()
	kill(cmd) // what it may have left behind in its group
	streams.finish()
	<-fed // the program is gone, so what was still to be written cannot be

	r = Result{Stderr: tail.String(), Code: cmd.ProcessState.ExitCode(), Missing: missing}
	if cause := context.Cause(ctx); cause != nil {
		return r, cause
	}
	if _, bad := errors.AsType[*exec.ExitError](waited); bad {
		return r, &ExitError{Program: j.Program, Code: r.Code, Stderr: r.Stderr}
	}
	return r, waited
}
