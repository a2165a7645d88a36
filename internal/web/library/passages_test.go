package library_test

import (
	"net/url"
	"regexp"
	"strings"
	"testing"

	"antiphon/internal/studio"
)

func TestPassages(t *testing.T) {
	s := open(t)
	w := s.added(mice)
	at := "/library/works/" + string(w.ID)
	form := url.Values{"from": {"5"}, "to": {"6"}, "name": {"<i>they ran</i>"}}
	for range 2 {
		if status, to := s.post(at+"/passages", form); status != 303 {
			t.Fatal(status, to)
		}
	}
	s.post(at+"/passages", url.Values{"from": {"2"}, "to": {"2"}})
	all, err := s.Desk.Passages(t.Context(), s.Teacher, w.ID)
	if err != nil || len(all) != 2 {
		t.Fatalf("%d passages (%v)", len(all), err)
	}
	text := s.page(at)
	has(t, text, "&lt;i&gt;they ran&lt;/i&gt;", "bars 5–6", ">Bar 2</a>")
	for q, want := range map[string]string{"from=6&to=5": "comes after", "from=44": "There is no bar 44"} {
		form, err := url.ParseQuery(q)
		if err != nil {
			t.Fatal(err)
		}
		if status, say := s.post(at+"/passages", form); status != 422 || !strings.Contains(say, want) {
			t.Errorf("%s: %d %s", q, status, say)
		}
	}
	remove := regexp.MustCompile(`action="(/library/works/[^"]*/remove)"`).FindStringSubmatch(text)[1]
	for range 2 {
		if status, to := s.post(remove, nil); status != 303 {
			t.Fatal(status, to)
		}
	}
	if all, err = s.Desk.Passages(t.Context(), s.Teacher, w.ID); err != nil || len(all) != 1 {
		t.Errorf("%d passages are left (%v)", len(all), err)
	}
}

// TestModels: the teacher's own take goes in by a plain form and is deleted from here; a family's take
// is not, whatever the address says.
func TestModels(t *testing.T) {
	s := open(t)
	w := s.added(mice)
	at := "/library/works/" + string(w.ID)
	if status, text := s.upload(s.TeacherDevice, at+"/models", "file", "", file{"mine.wav", "RIFF\x24\x00\x00\x00WAVEfmt a take of the teacher's own" + strings.Repeat(" and on", 300_000)}); status != 303 {
		t.Fatal(status, mainOf(text))
	}
	models, err := s.Desk.ModelTakes(t.Context(), s.Teacher, w.ID)
	if err != nil || len(models) != 1 {
		t.Fatalf("%d model takes (%v)", len(models), err)
	}
	text := s.page(at)
	has(t, text, "Here, and being listened to.", string(models[0].ID)+"/remove")
	if status, text := s.upload(s.TeacherDevice, at+"/models", "other", "", file{"mine.m4a", "x"}); status != 422 {
		t.Errorf("no recording: %d %s", status, mainOf(text))
	}
	if status, text := s.upload(s.TeacherDevice, at+"/models", "file", "", file{"mine.mp4", "<html>no recording"}); status != 422 || !strings.Contains(text, "neither sound nor video") {
		t.Errorf("a page: %d %s", status, mainOf(text))
	}
	ada := s.Okafor.Students[0]
	take, err := s.Desk.Announce(t.Context(), s.Okafor.Coach, studio.Announcement{Student: ada.ID, FileName: "ada.m4a", Bytes: 4})
	if err != nil {
		t.Fatal(err)
	}
	if status, _ := s.post(at+"/models/"+string(take.ID)+"/remove", nil); status != 303 {
		t.Error(status)
	}
	if left, err := s.Desk.TakesBy(t.Context(), s.Teacher, studio.TakeQuery{Student: ada.ID}); err != nil || len(left) != 1 || left[0].ID != take.ID {
		t.Errorf("a child's take was deleted: %v", err)
	}
	for range 2 {
		if status, to := s.post(at+"/models/"+string(models[0].ID)+"/remove", nil); status != 303 {
			t.Fatal(status, to)
		}
	}
	if models, err = s.Desk.ModelTakes(t.Context(), s.Teacher, w.ID); err != nil || len(models) != 0 {
		t.Errorf("%d model takes are left (%v)", len(models), err)
	}
}

// model is a take of the teacher's own that was heard and can be played.
func (s *site) model(w studio.Work) studio.TakeID {
	s.t.Helper()
	ctx := s.t.Context()
	ear := studio.Viewer{Studio: s.Teacher.Studio, Role: studio.Ear}
	m, err := s.Desk.ReceiveModel(ctx, s.Teacher, w.ID, "audio/wav", strings.NewReader("the teacher plays"))
	if err == nil {
		_, err = s.Desk.BeginHearing(ctx, ear, m.ID)
	}
	if err == nil {
		_, err = s.Desk.ReplaceOriginal(ctx, ear, m.ID, "audio/wav", strings.NewReader("the teacher plays, without where"))
	}
	if err == nil {
		_, err = s.Desk.KeepRendition(ctx, ear, m.ID, studio.Playable, "audio/mp4", strings.NewReader("what browsers play"))
	}
	if err == nil {
		_, err = s.Desk.KeepHearing(ctx, ear, m.ID, studio.Heard{Doc: []byte(`{"schema":"antiphon.hearing/1"}`), DurationS: 75, Summary: studio.Summary{Bpm: 66, Notes: 14, RightShare: 1}})
	}
	if err != nil {
		s.t.Fatal(err)
	}
	return m.ID
}

// TestModelIsPlayed: one that was heard stands there with its length and tempo, and a player.
func TestModelIsPlayed(t *testing.T) {
	s := open(t)
	w := s.added(mice)
	s.model(w)
	text := s.page("/library/works/" + string(w.ID))
	has(t, text, "1:15, today", "about 66 quarter notes a minute")
	m := regexp.MustCompile(`<audio controls preload="none" src="(/media/[^"]*)"`).FindStringSubmatch(text)
	if m == nil {
		t.Fatal("no player")
	}
	if a, b := s.bytesOf(m[1]); a.StatusCode != 200 || string(b) != "what browsers play" {
		t.Errorf("%s %q", a.Status, b)
	}
}
