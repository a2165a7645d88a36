package listen

import (
	"bufio"
	"fmt"
	"os"
	"os/exec"
	"strings"
	"syscall"
	"testing"
	"time"

	"antiphon/internal/rehearse"
	"antiphon/internal/store"
	"antiphon/internal/store/disk"
	"antiphon/internal/studio"
)

const killFolder = "ANTIPHON_TEST_LISTEN_FOLDER" // set in the process that is killed

// TestWorksUntilKilled is the process that is killed: it hears whatever waits in the folder.
func TestWorksUntilKilled(t *testing.T) {
	folder := os.Getenv(killFolder)
	if folder == "" {
		t.Skip("only for TestKilled")
	}
	r := &room{kit: &kit{t: t, dir: folder}, folder: folder}
	r.open()
	fmt.Println("working")
	if err := r.queue.Work(t.Context(), r.hands.Do); err != nil {
		t.Fatal(err)
	}
}

// TestKilled kills the process that hears, again and again and at other moments each time. What was begun
// is begun anew, nothing is there by half, and nothing twice.
func TestKilled(t *testing.T) {
	r := openRoom(t, studio.FullVideo)
	lane := r.named("lane")
	_, of := r.ask(lane, "1", "4")
	short := r.take(lane, "own-nylon", 3, usual, func(s *rehearse.Spec) { s.Legs[0].ToTick = lane.Bars[4].At })
	ids := []studio.TakeID{
		r.send(r.filmed(short, "1280x960"), "video/quicktime", of),
		r.send(r.encoded(r.take(lane, "own-nylon", 4, usual, func(s *rehearse.Spec) { s.Legs[0].ToTick = lane.Bars[4].At }), "aac"), "audio/mp4", of),
	}
	r.queue.Close()
	if err := r.store.Close(); err != nil {
		t.Fatal(err)
	}
	for _, after := range []time.Duration{0, 250, 700, 1300, 2100, 3400} {
		cmd := exec.Command(os.Args[0], "-test.run=^TestWorksUntilKilled$")
		cmd.Env = append(os.Environ(), killFolder+"="+r.folder)
		cmd.SysProcAttr = &syscall.SysProcAttr{Pdeathsig: syscall.SIGKILL}
		out, err := cmd.StdoutPipe()
		if err != nil {
			t.Fatal(err)
		}
		if err := cmd.Start(); err != nil {
			t.Fatal(err)
		}
		line, err := bufio.NewReader(out).ReadString('\n')
		if err != nil || strings.TrimSpace(line) != "working" {
			t.Errorf("%q, %v", line, err)
		}
		time.Sleep(after * time.Millisecond) // where the kill comes is chance on purpose; what is checked holds wherever
		cmd.Process.Kill()
		if err := cmd.Wait(); err == nil {
			t.Error("the process ended by itself")
		}
		r.atEveryMoment(ids)
	}
	r.open()
	left := len(r.copies())
	mine, done, err := r.hands.workplace()
	if err != nil {
		t.Fatal(err)
	}
	if err := clearLeft(r.hands.o.Dir, 0, time.Now()); err != nil || left == 0 || len(r.copies()) != 1 || r.copies()[0] != mine {
		t.Errorf("of %d copies that the kills left, and one in use, there are %q, %v", left, r.copies(), err)
	}
	done()
	r.work()
	for i, id := range ids {
		v := r.wait(id, studio.Ready, studio.NeedsALook)
		if v.Take.State != studio.Ready || v.Take.Summary == nil || v.Take.Summary.RightShare < 0.9 || !r.waitFor(id, studio.Peaks).Clean {
			t.Errorf("take %d: %+v, %+v", i, v.Take, v.Take.Summary)
		}
	}
	r.waitFor(ids[0], studio.Playable)
	r.atEveryMoment(ids)
	named := map[studio.MediaID]bool{}
	for _, id := range ids {
		ms, err := r.desk.Files(t.Context(), r.ear, id)
		if err != nil {
			t.Fatal(err)
		}
		for _, m := range ms {
			named[m.ID] = true
		}
	}
	if len(named) != 6 { // two originals, two peaks, a poster and a playable
		t.Errorf("%d files belong to the two takes", len(named))
	}
}

// atEveryMoment checks what must hold whenever the process was killed: each file that a row names is there
// wholly, one of each kind; a clean original tells nothing; a hearing is there exactly when the take is ready.
func (r *room) atEveryMoment(ids []studio.TakeID) {
	r.t.Helper()
	s, err := store.OpenSQLite(r.t.Context(), r.folder+"/studio.db")
	if err != nil {
		r.t.Fatal(err)
	}
	defer s.Close()
	b, err := disk.Open(r.folder + "/files")
	if err != nil {
		r.t.Fatal(err)
	}
	look := &room{kit: r.kit, desk: studio.NewDesk(s, b, nil, studio.DeskOptions{}), ear: r.ear, teacher: r.teacher}
	for _, id := range ids {
		ms, err := look.desk.Files(r.t.Context(), r.ear, id)
		if err != nil {
			r.t.Fatal(err)
		}
		kinds := map[studio.MediaKind]int{}
		for _, m := range ms {
			kinds[m.Kind]++
			if got := look.bytes(m); int64(len(got)) != m.Bytes || m.Kind == studio.Original && m.Clean && strings.Contains(string(got), place) {
				r.t.Errorf("%s of %d bytes has %d, or tells its place", m.Kind, m.Bytes, len(got))
			}
		}
		for k, n := range kinds {
			if n > 1 {
				r.t.Errorf("%d files are its %s", n, k)
			}
		}
		v, err := look.desk.ReviewTake(r.t.Context(), r.teacher, id)
		if err != nil {
			r.t.Fatal(err)
		}
		if ready := v.Take.State == studio.Ready; kinds[studio.Original] != 1 || ready != (v.Hearing != nil) || ready != (v.Take.Summary != nil) {
			r.t.Errorf("half a job: %s, hearing %v, files %v", v.Take.State, v.Hearing != nil, kinds)
		}
	}
}
