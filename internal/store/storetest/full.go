package storetest

import (
	"context"
	"strings"
	"testing"

	"antiphon/internal/studio"
)

// fullDisk: nothing new is taken in while less than the reserve would be left; what is there can be
// deleted all the same.
func fullDisk(t *testing.T, h *House) {
	ctx := t.Context()
	f := h.Found(t, "Lindenhof")
	v, mira := h.Join(t, f, "Abel", "Mira")
	kept := h.Send(t, v, mira, "la").Take
	w, err := h.Desk.AddWork(ctx, f.Teacher, studio.Work{Title: "Three Blind Mice", Rights: "traditional", Score: "<score/>"})
	must(t, err)
	u, err := h.Desk.Drop(ctx, f.Teacher, "found.mp4", "video/mp4", strings.NewReader("whose?"))
	must(t, err)

	free := int64(5000)
	d := h.desk(studio.DeskOptions{MaxTakeBytes: 4000, Reserve: 1000, Free: func(context.Context) (int64, error) { return free, nil }})
	coming, err := d.Announce(ctx, v, studio.Announcement{Student: mira, Bytes: 2000}) // twice 2000 for a moment
	must(t, err)
	_, err = d.Announce(ctx, v, studio.Announcement{Student: mira, Bytes: 2001})
	refused(t, "one byte more", err, studio.Full)

	free = 999
	before := h.dump(t)
	for what, try := range map[string]func() error{
		"a take":       func() error { _, err := d.Announce(ctx, v, studio.Announcement{Student: mira}); return err },
		"a model take": func() error { _, err := d.AnnounceModel(ctx, f.Teacher, w.ID, "mine.mp4", 0); return err },
		"an upload":    func() error { return d.RoomFor(ctx, 0) },
		"the bytes": func() error {
			_, err := d.Receive(ctx, v, coming.ID, "audio/mp4", strings.NewReader("x"))
			return err
		},
		"a drop": func() error {
			_, err := d.Drop(ctx, f.Teacher, "b.mp4", "video/mp4", strings.NewReader("b"))
			return err
		},
		"sorting, which copies": func() error { _, err := d.Sort(ctx, f.Teacher, u.ID, studio.Announcement{Student: mira}); return err },
		"a spoken remark": func() error {
			_, err := d.RemarkAloud(ctx, f.Teacher, kept.ID, studio.Anchor{}, "", "", studio.Recording{Type: "audio/webm", Body: strings.NewReader("x")})
			return err
		},
	} {
		err := try()
		refused(t, what, err, studio.Full)
		if err != nil && !strings.Contains(err.Error(), "The studio's disk is full") {
			t.Errorf("%s: %v", what, err)
		}
	}
	if after := h.dump(t); strings.Join(after, "\n") != strings.Join(before, "\n") {
		t.Errorf("refused, and all the same there is\n%s\nbefore\n%s", strings.Join(after, "\n"), strings.Join(before, "\n"))
	}
	if n := h.files(t, f); n != 2 {
		t.Errorf("%d files", n)
	}

	_, err = d.Remark(ctx, f.Teacher, kept.ID, studio.Anchor{}, "Words take no room worth speaking of.", "")
	must(t, err)
	must(t, d.Discard(ctx, f.Teacher, u.ID))
	r, err := d.DeleteTake(ctx, v, kept.ID)
	must(t, err)
	_, err = d.EraseFamily(ctx, v, v.Family)
	must(t, err)
	must(t, d.Sweep(ctx, f.Ear))
	if n := h.files(t, f); n != 0 || r.Takes != 1 {
		t.Errorf("%d files are left, %+v", n, r)
	}
}
