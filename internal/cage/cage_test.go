package cage

import (
	"bytes"
	"context"
	"errors"
	"fmt"
	"io"
	"net"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"testing"
	"time"
)

// sh runs a line of shell in a cage.
func sh(t *testing.T, j Job, line string) (string, Result, error) {
	t.Helper()
	var out bytes.Buffer
	j.Program, j.Args, j.Stdout = "/bin/sh", append([]string{"-c", line, "sh"}, j.Args...), &out
	r, err := j.Run(t.Context())
	return out.String(), r, err
}

// guarded skips where the kernel gives no such guard: the code then says so in Missing.
func guarded(t *testing.T, g Guard) {
	t.Helper()
	_, r, err := sh(t, Job{}, "true")
	if err != nil {
		t.Fatal(err)
	}
	if slices.Contains(r.Missing, g) {
		t.Skipf("this kernel, or the container around it, does not give the guard %q", g)
	}
}

func TestOutputAndExitCode(t *testing.T) {
	out, r, err := sh(t, Job{Args: []string{"-one argument\n"}}, `printf '%s' "$1"; echo oops >&2; exit 3`)
	ee, ok := errors.AsType[*ExitError](err)
	if out != "-one argument\n" || !ok || ee.Code != 3 || r.Code != 3 || ee.Stderr != "oops\n" {
		t.Errorf("got %q, %+v, %v", out, r, err)
	}
}

func TestEmptyEnvironment(t *testing.T) {
	t.Setenv("ANTIPHON_SECRET", "in the parent")
	out, _, err := sh(t, Job{}, "/usr/bin/env; pwd")
	if err != nil || strings.Contains(out, "ANTIPHON_SECRET") || !strings.HasSuffix(out, "\n/\n") {
		t.Errorf("environment is %q, %v", out, err)
	}
}

func TestMoreStreams(t *testing.T) {
	var three, four bytes.Buffer
	j := Job{Program: "/bin/sh", Args: []string{"-c", "echo three >&3; echo four >&4"}, Streams: []io.Writer{&three, &four}}
	if _, err := j.Run(t.Context()); err != nil || three.String() != "three\n" || four.String() != "four\n" {
		t.Errorf("%q %q %v", three.String(), four.String(), err)
	}
}

func TestStdin(t *testing.T) {
	long := strings.Repeat("a line of text\n", 1e6)
	out, _, err := sh(t, Job{Stdin: strings.NewReader(long)}, "cat")
	if err != nil || out != long {
		t.Errorf("%d of %d bytes came through, %v", len(out), len(long), err)
	}
	if out, _, err := sh(t, Job{Stdin: strings.NewReader(long)}, "head -n 1"); err != nil || out != "a line of text\n" {
		t.Errorf("a program that stops reading: %q, %v", out, err)
	}
	if _, err := (Job{Program: "no-such-program-here", Stdin: strings.NewReader(long)}).Run(t.Context()); !errors.Is(err, ErrNotInstalled) {
		t.Error(err)
	}
}

func TestNotInstalled(t *testing.T) {
	_, err := Job{Program: "no-such-program-here"}.Run(t.Context())
	if !errors.Is(err, ErrNotInstalled) {
		t.Error(err)
	}
}

func TestTooSlow(t *testing.T) {
	_, _, err := sh(t, Job{Limits: Limits{Wall: 100 * time.Millisecond}}, "sleep 60 & sleep 60; wait")
	if !errors.Is(err, ErrTooSlow) {
		t.Error(err)
	}
}

func TestStoppedByCaller(t *testing.T) {
	ctx, cancel := context.WithCancel(t.Context())
	j := Job{Program: "/bin/sh", Args: []string{"-c", "echo up; sleep 60"}, Stdout: writerFunc(func([]byte) error { cancel(); return nil })}
	if _, err := j.Run(ctx); !errors.Is(err, context.Canceled) {
		t.Error(err)
	}
	if _, err := j.Run(ctx); !errors.Is(err, context.Canceled) {
		t.Error("already stopped:", err)
	}
}

func TestTooMuchOutput(t *testing.T) {
	_, _, err := sh(t, Job{Limits: Limits{OutputBytes: 1000}}, "yes")
	if !errors.Is(err, ErrTooMuch) {
		t.Error(err)
	}
}

func TestWriterEndsTheJob(t *testing.T) {
	full := errors.New("full")
	j := Job{Program: "yes", Stdout: writerFunc(func([]byte) error { return full })}
	if _, err := j.Run(t.Context()); !errors.Is(err, full) {
		t.Error(err)
	}
}

func TestTooMuchMemory(t *testing.T) {
	// tail keeps an endless line without a line end in memory until there is none. It is a child of
	// the shell, started at once: the limits must be there before.
	_, r, err := sh(t, Job{Limits: Limits{MemoryBytes: 64 << 20, Wall: 20 * time.Second}}, "tail /dev/zero; exit $?")
	if ee, ok := errors.AsType[*ExitError](err); !ok || !strings.Contains(ee.Stderr, "memory exhausted") {
		t.Errorf("%v %+v", err, r)
	}
}

func TestLimitsAreSet(t *testing.T) {
	out, _, err := sh(t, Job{Limits: Limits{MemoryBytes: 100 << 20, Wall: 7 * time.Second, OutputBytes: 1 << 20}},
		"ulimit -v; ulimit -H -t; ulimit -f; ulimit -n; ulimit -c")
	if want := "102400\n15\n2048\n128\n0\n"; err != nil || out != want { // KiB, s, blocks of 512 bytes (POSIX)
		t.Errorf("got %q, %v, want %q", out, err, want)
	}
}

func TestNice(t *testing.T) {
	told := func(n int) (now int) { // nice(1) without a program tells the niceness
		out, _, err := sh(t, Job{Nice: n}, "nice")
		if _, serr := fmt.Sscan(out, &now); err != nil || serr != nil {
			t.Fatalf("niceness %d: %q, %v", n, out, err)
		}
		return now
	}
	if own, got := told(0), told(15); got != min(19, own+15) {
		t.Errorf("15 behind %d is %d", own, got)
	}
}

func TestFilesItWasNotGiven(t *testing.T) {
	guarded(t, Files)
	dir := t.TempDir()
	mine, other := filepath.Join(dir, "mine"), filepath.Join(dir, "other")
	for _, p := range []string{mine, other} {
		if err := os.WriteFile(p, []byte(filepath.Base(p)), 0o644); err != nil {
			t.Fatal(err)
		}
	}
	for _, c := range []struct {
		name, line, arg string
		want            string
		ok              bool
	}{
		{"the one it was given", `cat "$1"`, mine, "mine", true},
		{"the one beside it", `cat "$1"`, other, "", false},
		{"the folder", `ls "$1"`, dir, "", false},
		{"passwords", `cat "$1"`, "/etc/passwd", "", false},
		{"its own, for writing", `echo x > "$1"`, mine, "", false},
		{"a new one", `echo x > "$1"`, filepath.Join(dir, "new"), "", false},
		{"another process", `cat "$1"`, "/proc/1/environ", "", false},
	} {
		out, _, err := sh(t, Job{Read: []string{mine}, Args: []string{c.arg}}, c.line)
		if out != c.want || (err == nil) != c.ok {
			t.Errorf("%s: got %q, %v", c.name, out, err)
		}
	}
	if _, err := os.Stat(filepath.Join(dir, "new")); err == nil {
		t.Error("a file was written")
	}
	out := t.TempDir()
	if _, _, err := sh(t, Job{Write: []string{out}, Args: []string{out}}, `echo x > "$1/a" && mv "$1/a" "$1/b"`); err != nil {
		t.Error("in its own folder:", err)
	}
	if b, err := os.ReadFile(filepath.Join(out, "b")); string(b) != "x\n" {
		t.Errorf("%q %v", b, err)
	}
	if _, err := os.ReadFile(other); err != nil {
		t.Error("we ourselves are in the cage:", err)
	}
}

func TestNoNetwork(t *testing.T) {
	guarded(t, Network)
	ln, err := net.Listen("tcp", "127.0.0.1:0")
	if err != nil {
		t.Skip("no loopback here:", err)
	}
	defer ln.Close()
	_, port, _ := net.SplitHostPort(ln.Addr().String())
	j := Job{Program: "/bin/bash", Args: []string{"-c", "exec 5<>/dev/tcp/127.0.0.1/" + port}}
	if _, err := j.Run(t.Context()); err == nil {
		t.Error("connected to a port of this machine")
	}
	if c, err := net.Dial("tcp", ln.Addr().String()); err != nil {
		t.Error("the listener cannot be reached from here either:", err)
	} else {
		c.Close()
	}
}

func TestChildrenDie(t *testing.T) {
	guarded(t, Children)
	// A child that leaves the process group and closes its streams would outlive a mere group kill.
	dir := t.TempDir()
	_, _, err := sh(t, Job{Write: []string{dir}, Args: []string{dir}},
		`setsid sh -c 'touch "$1/up"; sleep 1; touch "$1/alive"' sh "$1" >/dev/null 2>&1 </dev/null & while ! test -e "$1/up"; do sleep 0.01; done`)
	if err != nil {
		t.Fatal(err)
	}
	time.Sleep(1500 * time.Millisecond)
	if _, err := os.Stat(filepath.Join(dir, "alive")); err == nil {
		t.Error("a child outlived its cage")
	}
}

func TestManyJobsAtOnce(t *testing.T) {
	done := make(chan error)
	for range 16 {
		go func() {
			var out bytes.Buffer
			_, err := Job{Program: "/bin/sh", Args: []string{"-c", "echo hello"}, Stdout: &out}.Run(t.Context())
			if err == nil && out.String() != "hello\n" {
				err = errors.New(out.String())
			}
			done <- err
		}()
	}
	for range 16 {
		if err := <-done; err != nil {
			t.Error(err)
		}
	}
	if _, err := os.ReadFile("/proc/self/status"); err != nil {
		t.Error("this process was restricted:", err)
	}
}

func BenchmarkEmptyJob(b *testing.B) {
	for b.Loop() {
		if _, err := (Job{Program: "true"}).Run(b.Context()); err != nil {
			b.Fatal(err)
		}
	}
}

type writerFunc func([]byte) error

func (f writerFunc) Write(p []byte) (int, error) {
	if err := f(p); err != nil {
		return 0, err
	}
	return len(p), nil
}
