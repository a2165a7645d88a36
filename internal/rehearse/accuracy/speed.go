package main

import (
	"fmt"
	"os"
	"os/exec"
	"path/filepath"
	"strings"
	"syscall"
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
		if out, err := cmd.Output(); err != nil {
			return "", fmt.Errorf("hearing %s: %w: %s", filepath.Base(audio), err, lastLine(out))
		}
		wall := time.Since(begun).Seconds()
		cpu := (cmd.ProcessState.UserTime() + cmd.ProcessState.SystemTime()).Seconds()
		peak := "–"
		if usage, ok := cmd.ProcessState.SysUsage().(*syscall.Rusage); ok {
			peak = fmt.Sprintf("%d MB", usage.Maxrss/1024) // kilobytes on Linux
		}
		fmt.Fprintf(&b, "| %.0f min | %d notes | %.1f s | %.1f s | %.0f / %.0f | %s |\n", takeS/60, c.notes, wall, cpu, takeS/wall, takeS/cpu, peak)
	}
	return b.String(), nil
}
