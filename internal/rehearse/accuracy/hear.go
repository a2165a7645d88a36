package main

import (
	"bytes"
	"fmt"
	"os/exec"
	"path/filepath"
	"time"

	"antiphon/internal/rehearse"
)

// hear runs the binary on one take and judges what it says.
func hear(binary, dir string, s rehearse.Spec, t rehearse.Truth) rehearse.Marks {
	audio := filepath.Join(dir, "takes", t.Audio)
	score := filepath.Join(dir, "takes", t.Score.MusicXML)
	var stdout, stderr bytes.Buffer
	cmd := exec.Command(binary, "hear", audio, "--score", score, "--json")
	cmd.Stdout, cmd.Stderr = &stdout, &stderr
	begun := time.Now()
	err := cmd.Run()
	wall := time.Since(begun).Seconds()
	failed := func(why string) rehearse.Marks {
		return rehearse.Marks{Takes: 1, AudioS: t.DurationS, WallS: wall, Failed: []string{t.ID + ": " + why}}
	}
	if err != nil {
		return failed(fmt.Sprintf("%v: %s", err, lastLine(stderr.Bytes())))
	}
	report, err := rehearse.ParseReport(stdout.Bytes())
	if err != nil {
		return failed(err.Error())
	}
	m := rehearse.Judge(t, s.ShownPiece(), report)
	m.WallS = wall
	return m
}

func lastLine(b []byte) string {
	lines := bytes.Split(bytes.TrimSpace(b), []byte("\n"))
	return string(lines[len(lines)-1])
}
