package week_test

import (
	"strings"
	"testing"

	"antiphon/internal/studio"
)

// TestASpokenRemarkComes: while a recorded remark is not clean the page says that it comes, and offers no
// player that would fail.
func TestASpokenRemarkComes(t *testing.T) {
	k := open(t)
	ctx := t.Context()
	_, _, to := k.upload(t, k.Okafor.Device, map[string]string{"child": string(k.ada.ID)}, "a.mp4", "video/mp4", []byte("the picture of it"))
	at := strings.TrimSuffix(to, "?sent")
	id := studio.TakeID(strings.TrimPrefix(at, "/week/takes/"))
	r, err := k.Desk.RemarkAloud(ctx, k.Teacher, id, studio.Anchor{AtS: 2}, "", "", studio.Recording{Type: "audio/webm", Body: strings.NewReader("Good!")})
	if err != nil {
		t.Fatal(err)
	}
	if err := k.Desk.Answer(ctx, k.Teacher, id); err != nil {
		t.Fatal(err)
	}
	_, body := k.Get(t, k.Okafor.Device, at)
	has(t, "before it is clean", body, "is being made ready")
	hasNot(t, "before it is clean", body, string(r.Media))

	ear := studio.Viewer{Studio: k.Teacher.Studio, Role: studio.Ear}
	l, err := k.Desk.Unclean(ctx, ear)
	if err != nil || len(l) != 1 {
		t.Fatal(l, err)
	}
	m, err := k.Desk.ReplaceSpoken(ctx, ear, l[0], "audio/webm", strings.NewReader("Good!"))
	if err != nil {
		t.Fatal(err)
	}
	_, body = k.Get(t, k.Okafor.Device, at)
	has(t, "clean", body, `<audio controls preload="none" src="/media/`+string(m.ID)+`"`)
	hasNot(t, "clean", body, "is being made ready")
}
