package listen

import (
	"os"
	"strings"
	"testing"

	"antiphon/internal/studio"
)

// TestASpokenRemarkTellsNoPlace: a remark that the teacher films loses place and device as a take does,
// before anybody hears it; one that cannot be played says so.
func TestASpokenRemarkTellsNoPlace(t *testing.T) {
	r := openRoom(t, studio.FullVideo)
	ctx := t.Context()
	wav := r.take(r.named("onebar"), "own-nylon", 1, usual)
	id := r.send(r.encoded(wav, "aac"), "audio/mp4", "")
	film := r.filmed(wav, "320x240")
	say := func(mediaType string, b []byte) studio.Remark {
		t.Helper()
		m, err := r.desk.RemarkAloud(ctx, r.teacher, id, studio.Anchor{AtS: 1}, "", "", studio.Recording{Type: mediaType, Body: strings.NewReader(string(b))})
		if err != nil {
			t.Fatal(err)
		}
		return m
	}
	sent, err := os.ReadFile(film)
	if err != nil || !strings.Contains(string(sent), place) {
		t.Fatal("the film tells no place from the start", err)
	}
	webm, err := os.ReadFile(r.encoded(wav, "opus"))
	if err != nil {
		t.Fatal(err)
	}
	filmed, spoken, torn := say("video/quicktime", sent), say("audio/webm", webm), say("audio/webm", []byte("no sound at all"))
	if err := r.hands.Do(ctx, studio.Job{Kind: studio.JobSpoken, Studio: r.teacher.Studio, Take: id}, false); err != nil {
		t.Fatal(err)
	}
	all := map[studio.RemarkID]studio.Remark{}
	l, err := r.desk.RemarksOf(ctx, r.teacher, r.child.ID, 0)
	if err != nil {
		t.Fatal(err)
	}
	for _, x := range l {
		all[x.ID] = x
	}
	for was, want := range map[studio.RemarkID]string{filmed.ID: "video/mp4", spoken.ID: "audio/mp4"} {
		m, f, err := r.desk.Listen(ctx, r.teacher, all[was].Media)
		if err != nil {
			t.Fatal(err)
		}
		if err := f.Close(); err != nil {
			t.Fatal(err)
		}
		b := string(r.bytes(m))
		if !m.Clean || m.Type != want || len(b) < 500 || strings.Contains(b, place) || strings.Contains(b, "Phone of") {
			t.Errorf("kept is %+v of %d bytes, and it tells the place: %v", m, len(b), strings.Contains(b, place))
		}
	}
	if x := all[torn.ID]; x.Media != "" || !strings.Contains(x.Text, "damaged") {
		t.Errorf("what cannot be played: %+v", x)
	}
	// One whose job was given up is cleaned by the clock.
	left := say("audio/webm", webm)
	if l, err := r.desk.Unclean(ctx, r.ear); err != nil || len(l) != 1 || l[0].ID != left.Media {
		t.Errorf("before the clock: %+v, %v", l, err)
	}
	if err := r.hands.tidy(ctx); err != nil {
		t.Fatal(err)
	}
	if l, err := r.desk.Unclean(ctx, r.ear); err != nil || len(l) != 0 {
		t.Errorf("after the clock: %+v, %v", l, err)
	}
	if l := r.copies(); len(l) != 0 {
		t.Errorf("copies are left: %q", l)
	}
}
