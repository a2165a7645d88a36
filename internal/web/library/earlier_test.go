package library_test

import (
	"html"
	"regexp"
	"strings"
	"testing"
	"time"
)

// TestFingersAsTheyStoodBefore: fingers kept for everybody do not overwrite those of before: both are seen, and gone
// back to; so is a score in whose place another one was put.
func TestFingersAsTheyStoodBefore(t *testing.T) {
	s := open(t)
	w := s.added(ladder)
	at := "/library/works/" + string(w.ID)
	if strings.Contains(s.page(at), "As it stood before") {
		t.Error("a new work has a past")
	}
	forms := keepForms(t, s.fingeredPage(w, ""))
	if _, to := s.post(at+"/fingering", forms[0]); to != at+"?saved=fingering" {
		t.Fatal(to)
	}
	first, _ := s.leftHand("", w.ID)
	s.Wait(time.Minute)
	if _, to := s.post(at+"/fingering", keepForms(t, s.fingeredPage(w, "anew=yes&no-fourth=yes&first=yes"))[0]); to != at+"?saved=fingering" {
		t.Fatal(to)
	}
	second, _ := s.leftHand("", w.ID)
	if first == second {
		t.Fatalf("both are %s", first)
	}
	text := s.page(at + "?saved=fingering")
	has(t, text, "kept too", "As it stood before", "Other fingers, in the score until today.", "Use these fingers for everybody again")
	backs := regexp.MustCompile(`action="([^"]*/earlier/[^"/]*)"`).FindAllStringSubmatch(text, -1)
	if len(backs) != 2 {
		t.Fatalf("%d to go back to", len(backs))
	}
	picture := regexp.MustCompile(`data-source="([^"]*/earlier/[^"]*)"`).FindStringSubmatch(text)
	if picture == nil || !strings.HasPrefix(s.page(html.UnescapeString(picture[1])+"&width=560"), "<svg") {
		t.Errorf("%q is no picture", picture)
	}
	b := browser(t, s)
	for _, width := range []int64{390, 1440} {
		for _, scheme := range []string{"light", "dark"} {
			b.Look(width, scheme)
			show(b, at+"?saved=fingering#earlier")
			b.Click("#earlier details summary")
			b.Wait(`document.querySelector("#earlier .sheet svg")`)
			for _, fault := range b.Faults() {
				t.Errorf("%d px, %s: %s", width, scheme, fault)
			}
			b.Shoot("earlier-" + scheme)
		}
	}
	if _, to := s.post(backs[0][1], nil); to != at+"?saved=back#earlier" {
		t.Fatal(to)
	}
	if got, _ := s.leftHand("", w.ID); got != first {
		t.Errorf("gone back to %s, want %s", got, first)
	}
	if status, to := s.post(backs[0][1], nil); status != 303 || to != at+"#earlier" { // pressed twice
		t.Errorf("once more: %d %s", status, to)
	}
	if got, _ := s.leftHand("", w.ID); got != first {
		t.Errorf("pressed twice: %s, want %s", got, first)
	}
	other := w
	other.Score = strings.Replace(w.Score, "<octave>", "<octave><!-- -->", 1)
	other.Score = strings.Replace(other.Score, "<step>C</step>", "<step>D</step>", 1)
	if err := s.Desk.ReviseWork(t.Context(), s.Teacher, other); err != nil {
		t.Fatal(err)
	}
	has(t, s.page(at), "Another score, here until today.", "Put this score back")
}
