package sounds

import (
	"context"
	"fmt"
	"net/http"
	"net/http/httptest"
	"os"
	"os/exec"
	"path/filepath"
	"strings"
	"testing"
	"time"

	"antiphon/internal/notation"
	"antiphon/internal/sound"
	"antiphon/internal/studio"
	"antiphon/internal/web/page"
)

// TestShelf: a sound is made once, served in parts and again without being made, and the ones that were heard
// longest ago go when there are too many bytes.
func TestShelf(t *testing.T) {
	if _, err := exec.LookPath("ffmpeg"); err != nil {
		t.Skip("ffmpeg is not installed")
	}
	score, _, err := notation.Read(strings.NewReader("X:1\nT:Own\nM:4/4\nL:1/4\nQ:1/4=120\nK:C\nCDEF|\n"), "own.abc", notation.Limits{})
	if err != nil {
		t.Fatal(err)
	}
	dir := filepath.Join(t.TempDir(), "sounds")
	s := Open(dir, Options{MostBytes: 70_000})
	defer s.End()
	made := 0
	ask := func(key string, header ...string) *httptest.ResponseRecorder {
		t.Helper()
		w, r := httptest.NewRecorder(), httptest.NewRequest(http.MethodGet, "/", nil)
		if len(header) == 2 {
			r.Header.Set(header[0], header[1])
		}
		if err := s.Serve(w, r, key, func(ctx context.Context) (*sound.Audio, error) {
			made++
			return sound.Render(ctx, score, sound.Options{Guitar: sound.Strings})
		}); err != nil {
			t.Fatal(err)
		}
		return w
	}
	whole := ask("a")
	if whole.Code != 200 || whole.Header().Get("Content-Type") != "audio/mp4" || whole.Body.Len() < 10_000 {
		t.Fatal(whole.Code, whole.Header(), whole.Body.Len())
	}
	if w := ask("a", "Range", "bytes=10-19"); w.Code != http.StatusPartialContent || w.Body.Len() != 10 {
		t.Errorf("a part: %d, %d bytes", w.Code, w.Body.Len())
	}
	if w := ask("a", "If-None-Match", whole.Header().Get("ETag")); w.Code != http.StatusNotModified {
		t.Errorf("the same again: %d", w.Code)
	}
	if made != 1 {
		t.Errorf("made %d times", made)
	}
	long := time.Now().Add(-time.Hour)
	if err := os.Chtimes(filepath.Join(dir, "a.m4a"), long, long); err != nil {
		t.Fatal(err)
	}
	half := filepath.Join(dir, "making-1")
	if err := os.WriteFile(half, nil, 0o600); err != nil {
		t.Fatal(err)
	}
	if err := os.Chtimes(half, long, long); err != nil {
		t.Fatal(err)
	}
	ask("b")
	left, err := filepath.Glob(filepath.Join(dir, "*"))
	if err != nil || len(left) != 1 || filepath.Base(left[0]) != "b.m4a" {
		t.Errorf("left: %v, %v (a sound has %d bytes)", left, err, whole.Body.Len())
	}
	w, r := httptest.NewRecorder(), httptest.NewRequest(http.MethodGet, "/", nil)
	err = s.Serve(w, r, "c", func(ctx context.Context) (*sound.Audio, error) {
		return sound.Render(ctx, score, sound.Options{Bars: &sound.Loop{From: "9"}})
	})
	if p, ok := err.(*studio.Problem); !ok || p.Kind != studio.Invalid || !strings.HasPrefix(p.Say, "There is no bar 9") || !strings.HasSuffix(p.Say, ".") {
		t.Errorf("bars that are not there: %v", err)
	}
}

// TestCrowded: whoever asks for a hundred sounds at once is told to wait, and the machine is not kept busy with them.
func TestCrowded(t *testing.T) {
	s := Open(filepath.Join(t.TempDir(), "sounds"), Options{Patience: time.Millisecond})
	defer s.End()
	begun := 0
	for i := range 100 {
		w, r := httptest.NewRecorder(), httptest.NewRequest(http.MethodGet, "/", nil)
		err := s.Serve(w, r, fmt.Sprint("k", i), func(ctx context.Context) (*sound.Audio, error) {
			begun++
			<-ctx.Done()
			return nil, ctx.Err()
		})
		if p, ok := err.(*studio.Problem); !ok || p.Kind != page.TooMany || w.Header().Get("Retry-After") == "" {
			t.Fatalf("the %dth: %v, %v", i, err, w.Header())
		}
	}
	s.End()
	if begun != 1 {
		t.Errorf("%d were begun", begun)
	}
}
