package library_test

import (
	"bytes"
	"fmt"
	"io"
	"net/http"
	"net/url"
	"os"
	"os/exec"
	"path/filepath"
	"strconv"
	"strings"
	"sync"
	"testing"

	"antiphon/internal/notation"
)

// bytesOf fetches a file as the teacher.
func (s *site) bytesOf(path string, header ...string) (*http.Response, []byte) {
	s.t.Helper()
	r, err := http.NewRequestWithContext(s.t.Context(), http.MethodGet, s.URL+path, nil)
	if err != nil {
		s.t.Fatal(err)
	}
	for i := 0; i+1 < len(header); i += 2 {
		r.Header.Set(header[i], header[i+1])
	}
	a, err := s.Client(s.t, s.TeacherDevice).Do(r)
	if err != nil {
		s.t.Fatal(err)
	}
	defer a.Body.Close()
	b, err := io.ReadAll(a.Body)
	if err != nil {
		s.t.Fatal(err)
	}
	return a, b
}

// seconds of a sound file, by ffprobe.
func seconds(t testing.TB, sound []byte) float64 {
	t.Helper()
	file := filepath.Join(t.TempDir(), "sound.m4a")
	if err := os.WriteFile(file, sound, 0o600); err != nil {
		t.Fatal(err)
	}
	out, err := exec.CommandContext(t.Context(), "ffprobe", "-v", "error", "-show_entries", "format=duration", "-of", "csv=p=0", file).Output()
	if err != nil {
		t.Fatalf("ffprobe: %v", err)
	}
	v, err := strconv.ParseFloat(strings.TrimSpace(string(out)), 64)
	if err != nil {
		t.Fatal(err)
	}
	return v
}

// TestSound: a work is played at the tempo that is asked for; parts of the file can be asked for, as
// players do; many who ask at once get one sound.
func TestSound(t *testing.T) {
	if _, err := exec.LookPath("ffprobe"); err != nil {
		t.Skip("ffmpeg is not installed")
	}
	s := open(t)
	at := "/library/works/" + string(s.added(ladder).ID) + "/sound"
	marked, whole := s.bytesOf(at)
	if marked.StatusCode != 200 || marked.Header.Get("Content-Type") != "audio/mp4" {
		t.Fatal(marked.Status, marked.Header)
	}
	// 5 bars of 4 at 72 are 16.7 s, and a little for the last note to die away.
	if d := seconds(t, whole); d < 16 || d > 21 {
		t.Errorf("at 72 it lasts %.1f s", d)
	}
	_, quick := s.bytesOf(at + "?bpm=144")
	if d := seconds(t, quick); d < 8 || d > 12 {
		t.Errorf("at 144 it lasts %.1f s", d)
	}
	_, passage := s.bytesOf(at + "?bpm=144&from=2&to=3")
	if d := seconds(t, passage); d < 3 || d > 4.5 { // 2 bars of 4 at 144 are 3.3 s
		t.Errorf("two bars at 144 last %.1f s", d)
	}
	part, some := s.bytesOf(at, "Range", "bytes=100-299")
	if part.StatusCode != http.StatusPartialContent || !bytes.Equal(some, whole[100:300]) {
		t.Errorf("a part: %s, %d bytes", part.Status, len(some))
	}
	var all sync.WaitGroup
	for range 4 {
		all.Go(func() {
			if _, b := s.bytesOf(at + "?bpm=100&click=yes"); len(b) < 1000 {
				t.Errorf("%d bytes", len(b))
			}
		})
	}
	all.Wait()
	for ask, want := range map[string]string{"?bpm=7": "Give 20 to 300", "?bpm=NaN": "Give 20 to 300", "?from=9": "There is no bar 9", "?from=3&to=2": "Bar 3 comes after bar 2"} {
		if a, b := s.bytesOf(at + ask); a.StatusCode != 422 || !strings.Contains(string(b), want) {
			t.Errorf("%s: %s %s", ask, a.Status, mainOf(string(b)))
		}
	}
	rests := s.added("X:1\nT:Rests\nM:4/4\nL:1/4\nK:C\nz4|z4|]\n")
	if a, b := s.bytesOf("/library/works/" + string(rests.ID) + "/sound"); a.StatusCode != 422 {
		t.Errorf("silence: %s %s", a.Status, mainOf(string(b)))
	}
}

// TestDownloads: each file is what its ending says and bears the title that the work has now.
func TestDownloads(t *testing.T) {
	s := open(t)
	w := s.added(mice)
	at := "/library/works/" + string(w.ID)
	s.post(at, url.Values{"title": {"Mäuse: drei / \"blind\"\n"}, "rights": {"own"}})
	for ending, begins := range map[string]string{".pdf": "%PDF-1.", ".mid": "MThd", ".musicxml": "<?xml"} {
		a, b := s.bytesOf(at + "/score" + ending)
		if a.StatusCode != 200 || !bytes.HasPrefix(b, []byte(begins)) {
			t.Errorf("%s: %s %.20q", ending, a.Status, b)
		}
		if d := a.Header.Get("Content-Disposition"); !strings.HasPrefix(d, "attachment") || strings.ContainsAny(strings.TrimPrefix(d, "attachment; filename*="), `/"`) || !strings.Contains(d, "drei") {
			t.Errorf("%s: %s", ending, d)
		}
	}
	// What is taken away can be added again, plain, zipped and as MIDI.
	_, midi := s.bytesOf(at + "/score.mid")
	_, b := s.bytesOf(at + "/score.musicxml")
	zip := zipped(t, map[string]string{"META-INF/container.xml": fmt.Sprintf(container, "score.xml"), "score.xml": string(b)})
	_, text := s.upload(s.TeacherDevice, "/library/add", "scores", "own", file{"again.mid", string(midi)}, file{"again.mxl", zip})
	if n := strings.Count(text, "8 bars, 14 notes"); n != 2 || strings.Contains(text, "Not added") {
		t.Errorf("added again: %s", mainOf(text))
	}
	score, _, err := notation.Read(bytes.NewReader(b), "", notation.Limits{})
	if err != nil || score.Title != `Mäuse: drei / "blind"` || len(score.Sounding()) != 14 {
		t.Errorf("%v, %q", err, score.Title)
	}
}
