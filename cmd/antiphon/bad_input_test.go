package main

import (
	"archive/zip"
	"bytes"
	"context"
	"errors"
	"fmt"
	"io"
	"os"
	"os/exec"
	"path/filepath"
	"strings"
	"sync"
	"syscall"
	"testing"
	"time"
)

// buildDir holds the real program for the tests of its command line.
func buildDir() string {
	return filepath.Join(os.TempDir(), fmt.Sprintf("antiphon-test-%d", os.Getpid()))
}

// built builds it, once.
var built = sync.OnceValues(func() (string, error) {
	path := filepath.Join(buildDir(), "antiphon")
	if out, err := exec.Command("go", "build", "-o", path, ".").CombinedOutput(); err != nil {
		return "", fmt.Errorf("%w: %s", err, out)
	}
	return path, nil
})

func TestMain(m *testing.M) {
	code := m.Run()
	os.RemoveAll(buildDir())
	os.Exit(code)
}

// end is how a run of the program ended.
type end struct {
	code      int
	out, errs string
	memoryMB  int64 // the most it held
}

// antiphon runs the program in a folder of the test's own.
func antiphon(t *testing.T, dir string, args ...string) end {
	t.Helper()
	path, err := built()
	if err != nil {
		t.Fatal(err)
	}
	ctx, cancel := context.WithTimeout(t.Context(), 2*time.Minute) // a hang fails, whatever the machine
	defer cancel()
	cmd := exec.CommandContext(ctx, path, args...)
	var out, errs bytes.Buffer
	cmd.Dir, cmd.Stdout, cmd.Stderr = dir, &out, &errs
	err = cmd.Run()
	if _, exited := errors.AsType[*exec.ExitError](err); err != nil && !exited || ctx.Err() != nil {
		t.Fatalf("antiphon %q: %v", args, err)
	}
	usage := cmd.ProcessState.SysUsage().(*syscall.Rusage)
	return end{cmd.ProcessState.ExitCode(), out.String(), errs.String(), usage.Maxrss >> 10}
}

func tool(t *testing.T, name string, args ...string) {
	t.Helper()
	if out, err := exec.Command(name, args...).CombinedOutput(); err != nil {
		t.Fatalf("%s %q: %v\n%s", name, args, err, out)
	}
}

func write(t *testing.T, path string, content ...string) string {
	t.Helper()
	if err := os.WriteFile(path, []byte(strings.Join(content, "")), 0o644); err != nil {
		t.Fatal(err)
	}
	return path
}

const (
	xmlHead  = `<?xml version="1.0" encoding="UTF-8"?>` + "\n"
	partHead = `<score-partwise version="4.0"><part-list><score-part id="P1"><part-name>Guitar</part-name></score-part></part-list><part id="P1"><measure number="1"><attributes><divisions>1</divisions><time><beats>4</beats><beat-type>4</beat-type></time></attributes>`
	partTail = `</measure></part></score-partwise>`
	note     = `<note><pitch><step>C</step><octave>4</octave></pitch><duration>1</duration><type>quarter</type></note>`
	hit      = `<note><unpitched><display-step>E</display-step><display-octave>4</display-octave></unpitched><duration>1</duration><type>quarter</type></note>`
)

// zipped writes a compressed score; each entry is a name and what fills it.
func zipped(t *testing.T, path string, entries ...func(*zip.Writer) error) string {
	t.Helper()
	var b bytes.Buffer
	w := zip.NewWriter(&b)
	for _, e := range entries {
		if err := e(w); err != nil {
			t.Fatal(err)
		}
	}
	if err := w.Close(); err != nil {
		t.Fatal(err)
	}
	return write(t, path, b.String())
}

func entry(name string, parts ...string) func(*zip.Writer) error {
	return filled(name, strings.Join(parts, ""), "", 0, "")
}

// filled is an entry with many times the same in the middle. It is never whole in memory, since
// what this process holds is counted against the one it starts.
func filled(name, before, middle string, times int, after string) func(*zip.Writer) error {
	return func(z *zip.Writer) error {
		w, err := z.Create(name)
		if err != nil {
			return err
		}
		_, err = io.WriteString(w, before)
		for i := 0; i < times && err == nil; i++ {
			_, err = io.WriteString(w, middle)
		}
		if err == nil {
			_, err = io.WriteString(w, after)
		}
		return err
	}
}

func rootfile(path string) func(*zip.Writer) error {
	return entry("META-INF/container.xml", xmlHead, `<container><rootfiles><rootfile full-path="`, path, `"/></rootfiles></container>`)
}

// midi is a Standard MIDI File, format 0, with one track of the given bytes and a length of our choice.
func midi(length int, track string) string {
	return "MThd\x00\x00\x00\x06\x00\x00\x00\x01\x00\x60MTrk" +
		string([]byte{byte(length >> 24), byte(length >> 16), byte(length >> 8), byte(length)}) + track
}

// TestBadInput: each bad file gives exit 1 and one line that names the file, on stderr and nowhere
// else, within bounds on memory, and no output file.
func TestBadInput(t *testing.T) {
	dir := t.TempDir()
	at := func(name string) string { return filepath.Join(dir, name) }
	score := write(t, at("score.musicxml"), xmlHead, partHead, strings.Repeat(note, 4), partTail)
	take := at("take.wav")
	tool(t, "ffmpeg", "-v", "error", "-f", "lavfi", "-i", "sine=262:r=22050:d=3", take)
	tool(t, "ffmpeg", "-v", "error", "-i", take, "-c:a", "aac", at("take.m4a"))
	whole, err := os.ReadFile(at("take.m4a"))
	if err != nil {
		t.Fatal(err)
	}
	wav, err := os.ReadFile(take)
	if err != nil {
		t.Fatal(err)
	}
	tool(t, "ffmpeg", "-v", "error", "-f", "lavfi", "-i", "testsrc=size=64x48:rate=5:duration=1", "-c:v", "mpeg4", at("silent.mp4"))
	tool(t, "ffmpeg", "-v", "error", "-f", "lavfi", "-i", "anullsrc=r=8000:cl=mono:d=10800", "-c:a", "aac", "-b:a", "8k", at("long.m4a"))

	hear := func(take, score string) []string {
		return []string{"hear", take, "--score", score, "--html", at("out.html")}
	}
	for _, c := range []struct {
		name string
		args []string
		says string // what was wrong
		file string // whose name must be in the line
	}{
		{"no such take", hear(at("none.m4a"), score), "no such file", "none.m4a"},
		{"a folder", hear(dir, score), "folder", dir},
		{"empty", hear(write(t, at("empty.m4a")), score), "empty", "empty.m4a"},
		{"truncated before its table", hear(write(t, at("half.m4a"), string(whole[:len(whole)/2])), score), "cut off", "half.m4a"},
		{"zero-length audio", hear(write(t, at("nothing.wav"), string(wav[:bytes.Index(wav, []byte("data"))+8])), score), "0 seconds", "nothing.wav"},
		{"video without sound", hear(at("silent.mp4"), score), "without sound", "silent.mp4"},
		{"three hours", hear(at("long.m4a"), score), "longer than allowed", "long.m4a"},
		{"not media at all", hear(score, score), "not a recording", "score.musicxml"},
		{"text renamed", hear(write(t, at("text.mp4"), strings.Repeat("Practise slowly.\n", 100)), score), "not a recording", "text.mp4"},
		{"a playlist", hear(write(t, at("list.mp4"), "#EXTM3U\n#EXT-X-TARGETDURATION:9\n#EXTINF:9,\nfile://", take, "\n#EXT-X-ENDLIST\n"), score), "elsewhere", "list.mp4"},
		{"a concat script", hear(write(t, at("list.m4a"), "ffconcat version 1.0\nfile '", take, "'\n"), score), "elsewhere", "list.m4a"},
		{"a name with control characters", hear(at("a\x1b[31m\nb.m4a"), score), "no such file", `a\x1b[31m\nb.m4a`},
		{"no such score", hear(take, at("none.musicxml")), "no such file", "none.musicxml"},
		{"score without pitched notes", hear(take, write(t, at("drum.musicxml"), xmlHead, partHead, strings.Repeat(hit, 4), partTail)), "note", "drum.musicxml"},

		{"no such score to show", []string{"score", at("none.musicxml")}, "no such file", "none.musicxml"},
		{"empty score", []string{"score", write(t, at("empty.musicxml"))}, "empty", "empty.musicxml"},
		{"ill-formed", []string{"score", write(t, at("ill.musicxml"), xmlHead, partHead, note, "</measure>")}, "", "ill.musicxml"},
		{"text as score", []string{"score", write(t, at("text.musicxml"), "Practise slowly.\n")}, "", "text.musicxml"},
		{"entities", []string{"score", write(t, at("bomb.musicxml"), xmlHead, `<!DOCTYPE score-partwise [<!ENTITY a "aaaaaaaaaa"><!ENTITY b "&a;&a;&a;&a;&a;&a;&a;&a;&a;&a;"><!ENTITY c "&b;&b;&b;&b;&b;&b;&b;&b;&b;&b;">]>`,
			`<score-partwise version="4.0"><work><work-title>&c;</work-title></work></score-partwise>`)}, "", "bomb.musicxml"},
		{"an entity from a file", []string{"score", write(t, at("xxe.musicxml"), xmlHead, `<!DOCTYPE score-partwise [<!ENTITY a SYSTEM "file:///etc/passwd">]>`,
			`<score-partwise version="4.0"><work><work-title>&a;</work-title></work></score-partwise>`)}, "", "xxe.musicxml"},
		{"a million notes", []string{"score", zipped(t, at("million.mxl"), rootfile("score.xml"),
			filled("score.xml", xmlHead+partHead, note, 1e6, partTail))}, "", "million.mxl"},
		{"a million notes in 3 MB", []string{"score", write(t, at("million.abc"), "X:1\nL:1/8\nM:4/4\nK:C\n", strings.Repeat("CDEF GABc|CDEF GABc|\n", 1e6/16))}, "", "million.abc"},
		{"deep nesting", []string{"score", write(t, at("deep.musicxml"), xmlHead, strings.Repeat("<a>", 1e5))}, "", "deep.musicxml"},
		{"zip bomb", []string{"score", zipped(t, at("bomb.mxl"), rootfile("score.xml"),
			filled("score.xml", xmlHead+partHead, strings.Repeat(" ", 1<<10), 1<<18, note+partTail))}, "", "bomb.mxl"},
		{"zip that leads out", []string{"score", zipped(t, at("out.mxl"), rootfile("../../../etc/passwd"), entry("x", "y"))}, "", "out.mxl"},
		{"zip without a score", []string{"score", zipped(t, at("none.mxl"), entry("readme", "hello"))}, "", "none.mxl"},
		{"broken zip", []string{"score", write(t, at("broken.mxl"), "PK\x03\x04 and nothing more")}, "", "broken.mxl"},
		{"MIDI track longer than the file", []string{"score", write(t, at("long.mid"), midi(1<<30, "\x00\x90\x3c\x40"))}, "", "long.mid"},
		{"MIDI event longer than its track", []string{"score", write(t, at("meta.mid"), midi(8, "\x00\xff\x01\xff\xff\xff\x7f\x00"))}, "", "meta.mid"},
		{"MIDI cut in its header", []string{"score", write(t, at("head.mid"), "MThd\x00\x00\x00\x06\x00")}, "", "head.mid"},
		{"hear with a broken score", hear(take, at("ill.musicxml")), "", "ill.musicxml"},
	} {
		got := antiphon(t, dir, c.args...)
		if got.code != exitFailed || got.out != "" {
			t.Errorf("%s: exit %d, stdout %.200q, stderr %.300q", c.name, got.code, got.out, got.errs)
			continue
		}
		line, rest, _ := strings.Cut(got.errs, "\n")
		if rest != "" || !strings.HasPrefix(line, "antiphon: ") || len(line) > 600 || strings.Contains(line, "\x1b") {
			t.Errorf("%s: not one clear line: %.600q", c.name, got.errs)
		}
		if !strings.Contains(line, c.says) || !strings.Contains(line, c.file) {
			t.Errorf("%s: %q names neither %q nor %q", c.name, line, c.says, c.file)
		}
		if got.memoryMB > 500 {
			t.Errorf("%s: held %d MB", c.name, got.memoryMB)
		}
		if testing.Verbose() {
			t.Logf("%-34s %4d MB  %s", c.name, got.memoryMB, strings.ReplaceAll(line, dir, ""))
		}
		if _, err := os.Stat(at("out.html")); err == nil {
			t.Errorf("%s: an output file was left", c.name)
		}
	}
	if got := antiphon(t, dir, "score", at("drum.musicxml")); got.code != exitDone || got.errs != "" || got.out == "" {
		t.Errorf("a score without pitched notes is to be shown: %+v", got)
	}
}

// TestTruncatedTake: a take that was cut off behind its table is refused, and heard as far as it goes
// if that is asked for.
func TestTruncatedTake(t *testing.T) {
	dir := t.TempDir()
	at := func(name string) string { return filepath.Join(dir, name) }
	score := write(t, at("score.musicxml"), xmlHead, partHead, strings.Repeat(note, 4), partTail)
	tool(t, "ffmpeg", "-v", "error", "-f", "lavfi", "-i", "sine=262:r=22050:d=6", "-c:a", "aac", "-movflags", "+faststart", at("take.m4a"))
	b, err := os.ReadFile(at("take.m4a"))
	if err != nil {
		t.Fatal(err)
	}
	cut := write(t, at("cut.m4a"), string(b[:len(b)*2/3+1])) // in the middle of a frame
	if got := antiphon(t, dir, "hear", cut, "--score", score); got.code != exitFailed || strings.Count(got.errs, "\n") != 1 || !strings.Contains(got.errs, "--part") {
		t.Errorf("without --part: %+v", got)
	}
	got := antiphon(t, dir, "hear", cut, "--score", score, "--part")
	if got.code != exitDone || !strings.Contains(got.out+got.errs, "cut off") {
		t.Errorf("%+v", got)
	}
}

// TestOutputsAreNotOverwritten: a file that is there stays, unless the user says so.
func TestOutputsAreNotOverwritten(t *testing.T) {
	dir := t.TempDir()
	at := func(name string) string { return filepath.Join(dir, name) }
	score := write(t, at("score.musicxml"), xmlHead, partHead, strings.Repeat(note, 4), partTail)
	tool(t, "ffmpeg", "-v", "error", "-f", "lavfi", "-i", "sine=262:r=22050:d=3", at("take.wav"))
	for _, flag := range []string{"--html", "--midi"} {
		mine := write(t, at("mine"+flag), "mine")
		got := antiphon(t, dir, "hear", at("take.wav"), "--score", score, flag, mine)
		b, err := os.ReadFile(mine)
		if got.code != exitFailed || string(b) != "mine" || err != nil || strings.Count(got.errs, "\n") != 1 || !strings.Contains(got.errs, "--force") {
			t.Errorf("%s: %+v, the file holds %q", flag, got, b)
		}
		got = antiphon(t, dir, "hear", at("take.wav"), "--score", score, flag, mine, "--force")
		if b, err := os.ReadFile(mine); got.code != exitDone || err != nil || string(b) == "mine" || len(b) == 0 {
			t.Errorf("%s --force: %+v, %v", flag, got, err)
		}
		got = antiphon(t, dir, "hear", at("take.wav"), "--score", score, flag, at("no/such/folder"))
		if got.code != exitFailed || strings.Count(got.errs, "\n") != 1 {
			t.Errorf("%s into no folder: %+v", flag, got)
		}
	}
}
