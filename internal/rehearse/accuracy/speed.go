package main

import (
	"fmt"
	"os"
	"os/exec"
	"path/filepath"
	"strings"
	"time"

	"antiphon/internal/rehearse"
)

// speedTable runs the whole command, decoding included, on one core, on longer and longer takes and
// scores. On a machine that others use the processor's time is the steadier figure.
func speedTable(o options) (string, error) {
	var b strings.Builder
	b.WriteString("Whole command with decoding (AAC 64 kbit/s), one core:\n\n| take | score | wall | processor | × real time (wall / processor) | peak memory |\n|---|---|---|---|---|---|\n")
	for _, c := range []struct {
		seconds float64
		notes   int
	}{{180, 600}, {600, 1000}, {1200, 1000}, {1800, 1000}, {1800, 3000}} {
		audio, score, takeS, err := rehearse.SaveLong(filepath.Join(o.out, "long"), c.seconds, c.notes)
		if err != nil {
			return "", err
		}
		cmd := exec.Command(o.antiphon, "hear", audio, "--score", score, "--json")
		if _, err := exec.LookPath("taskset"); err == nil {
			cmd = exec.Command("taskset", append([]string{"-c", "0"}, cmd.Args...)...)
		}
		cmd.Env = append(os.Environ(), "GOMAXPROCS=1")
		begun := time.Now()
		peakMB, err := runWatched(cmd)
		if err != nil {
			return "", fmt.Errorf("hearing %s: %w", filepath.Base(audio), err)
		}
		wall := time.Since(begun).Seconds()
		cpu := (cmd.ProcessState.UserTime() + cmd.ProcessState.SystemTime()).Seconds()
		peak := "–"
		if peakMB > 0 {
			peak = fmt.Sprintf("%d MB", peakMB)
		}
		fmt.Fprintf(&b, "| %.0f min | %d notes | %.1f s | %.1f s | %.0f / %.0f | %s |\n", takeS/60, c.notes, wall, cpu, takeS/wall, takeS/cpu, peak)
	}
	return b.String(), nil
}

// runWatched runs a command and returns the largest memory it was seen to hold, in MB, or 0 where the
// system does not tell. The kernel's own account of a finished child (ru_maxrss) would not do: it
// counts what its parent held when it was started.
func runWatched(cmd *exec.Cmd) (peakMB int, err error) {
	var stderr strings.Builder
	cmd.Stderr = &stderr
	if err := cmd.Start(); err != nil {
		return 0, err
	}
	done := make(chan error, 1)
	go func() { done <- cmd.Wait() }()
	status := fmt.Sprintf("/proc/%d/status", cmd.Process.Pid)
	tick := time.NewTicker(20 * time.Millisecond)
	defer tick.Stop()
	for {
		select {
		case err := <-done:
			if err != nil {
				err = fmt.Errorf("%w: %s", err, lastLine([]byte(stderr.String())))
			}
			return peakMB, err
		case <-tick.C:
			data, err := os.ReadFile(status)
			if err != nil || !strings.Contains(string(data), "Name:\tantiphon") {
				continue
			}
			if _, after, ok := strings.Cut(string(data), "VmHWM:"); ok {
				kb := 0
				fmt.Sscan(after, &kb)
				peakMB = max(peakMB, kb/1024)
			}
		}
	}
}
