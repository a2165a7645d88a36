package jobs_test

import (
	"bufio"
	"context"
	"errors"
	"fmt"
	"io"
	"os"
	"os/exec"
	"syscall"
	"testing"

	"antiphon/internal/jobs"
	"antiphon/internal/studio"
)

const firstAddress = "ANTIPHON_TEST_FIRST_ADDRESS" // set in the processes that start at once

// TestOpensAtOnce is one of several processes that start on the same new database.
func TestOpensAtOnce(t *testing.T) {
	address := os.Getenv(firstAddress)
	if address == "" {
		t.Skip("only for TestFirstStart")
	}
	fmt.Println("ready")
	if _, err := bufio.NewReader(os.Stdin).ReadString('\n'); err != nil { // all wait for the same word
		t.Fatal(err)
	}
	s, q := open(t, address, jobs.Options{})
	enqueue(t, s, q, nil, "one")
}

// TestFirstStart: several programs that start at once on one new database all succeed.
func TestFirstStart(t *testing.T) {
	both(t, func(t *testing.T, address string) {
		type process struct {
			cmd *exec.Cmd
			in  io.WriteCloser
			out *bufio.Reader
		}
		ps := make([]process, 4)
		for i := range ps {
			cmd := exec.Command(os.Args[0], "-test.run=^TestOpensAtOnce$")
			cmd.Env = append(os.Environ(), firstAddress+"="+address)
			cmd.SysProcAttr = &syscall.SysProcAttr{Pdeathsig: syscall.SIGKILL}
			in, err := cmd.StdinPipe()
			if err != nil {
				t.Fatal(err)
			}
			out, err := cmd.StdoutPipe()
			if err != nil {
				t.Fatal(err)
			}
			cmd.Stderr = cmd.Stdout
			if err := cmd.Start(); err != nil {
				t.Fatal(err)
			}
			ps[i] = process{cmd, in, bufio.NewReader(out)}
		}
		for _, p := range ps {
			if said, err := p.out.ReadString('\n'); err != nil || said != "ready\n" {
				t.Errorf("%q, %v", said, err)
			}
		}
		for _, p := range ps {
			if _, err := p.in.Write([]byte("go\n")); err != nil {
				t.Error(err)
			}
		}
		for _, p := range ps {
			said, err := io.ReadAll(p.out)
			if err := errors.Join(err, p.cmd.Wait()); err != nil {
				t.Errorf("%v: %s", err, said)
			}
		}
		s, _ := open(t, address, jobs.Options{})
		var n int
		if err := s.DB().QueryRowContext(t.Context(), `SELECT count(*) FROM river_job`).Scan(&n); err != nil || n != len(ps) {
			t.Errorf("%d jobs of %d programs, %v", n, len(ps), err)
		}
	})
}

// TestTwoWork: two workers on one database share the work, and nothing is done twice.
func TestTwoWork(t *testing.T) {
	both(t, func(t *testing.T, address string) {
		const n = 30
		done := make(chan studio.TakeID, 2*n)
		for range 2 {
			_, q := open(t, address, jobs.Options{})
			work(t, q, func(_ context.Context, j studio.Job, _ bool) error { done <- j.Take; return nil })
		}
		s, q := open(t, address, jobs.Options{})
		left := map[studio.TakeID]bool{}
		for i := range n {
			id := studio.TakeID(fmt.Sprint("take ", i))
			left[id] = true
			enqueue(t, s, q, nil, id)
		}
		for range n {
			id := next(t, done)
			if !left[id] {
				t.Errorf("%s was done twice", id)
			}
			delete(left, id)
		}
	})
}
