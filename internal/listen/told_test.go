package listen

import (
	"context"
	"errors"
	"testing"

	"antiphon/internal/studio"
)

// TestANoticeIsGivenUp: a person who could not be told is told of the next thing, and does not wait for ever
// because of the first.
func TestANoticeIsGivenUp(t *testing.T) {
	r := openRoom(t, studio.FullVideo)
	ctx := t.Context()
	secret, err := r.desk.AskEmail(ctx, r.coach, "parent@example.com")
	if err == nil {
		_, err = r.desk.ConfirmEmail(ctx, secret)
	}
	if err != nil {
		t.Fatal(err)
	}
	seen := map[studio.NoticeID]int{}
	r.hands = New(r.desk, Options{Dir: r.folder, Tell: func(_ context.Context, _ studio.Viewer, id studio.NoticeID) error {
		seen[id]++
		return errors.New("the mail server is away")
	}})
	for range 2 {
		if _, err := r.desk.SendNudge(ctx, r.teacher, r.child.ID, "Five minutes today?"); err != nil {
			t.Fatal(err)
		}
		var job studio.Job
		for _, last := range []bool{false, true} {
			all, err := r.store.OpenNotices(ctx, studio.OneFamily(r.teacher.Studio, r.family.ID), r.coach.Person)
			if err != nil || len(all) != 1 {
				t.Fatalf("to be told: %+v, %v", all, err)
			}
			job = studio.Job{Kind: studio.JobNotify, Studio: r.teacher.Studio, Notice: all[0].ID}
			if err := r.hands.Do(ctx, job, last); err == nil {
				t.Error("nobody says that it was not told")
			}
		}
		if x, err := r.desk.ToTell(ctx, r.ear, job.Notice); err != nil || x.Notice.State != studio.GivenUp {
			t.Errorf("after the last try: %+v, %v", x.Notice, err)
		}
	}
	if len(seen) != 2 {
		t.Errorf("tried %v", seen)
	}
}
