package storetest

import (
	"strings"
	"testing"
	"time"

	"antiphon/internal/studio"
)

// hurts: that something hurt is told without a recording, lies first on the desk, and goes when its time
// is over.
func hurts(t *testing.T, h *House) {
	ctx := t.Context()
	f := h.Found(t, "Lindenhof")
	v, mira := h.Join(t, f, "Abel", "Mira")
	b, jon := h.Join(t, f, "Bartsch", "Jon")
	h.Send(t, b, jon, "who has waited longer")
	played := h.Send(t, v, mira, "la").Take
	h.heard(t, f.Ear, played.ID, `{"schema":"antiphon.hearing/1"}`)
	w, err := h.Desk.AddWork(ctx, f.Teacher, studio.Work{Title: "Three Blind Mice", Rights: "traditional"})
	must(t, err)
	l, err := h.Desk.SaveDraft(ctx, f.Teacher, studio.Lesson{Student: mira, Date: "2026-03-02", Assignments: []studio.Assignment{{Work: w.ID, Do: "Slowly."}}})
	must(t, err)
	of := l.Assignments[0].ID
	_, err = h.Desk.Hurts(ctx, v, mira, of, "The left wrist.")
	refused(t, "of what was not sent yet", err, studio.Invalid)
	must(t, h.Desk.SendLesson(ctx, f.Teacher, l.ID, l.Version))
	for _, note := range []string{"", " \n ", strings.Repeat("a", 2001)} {
		_, err = h.Desk.Hurts(ctx, v, mira, "", note)
		refused(t, "words that say nothing, or too many", err, studio.Invalid)
	}
	_, err = h.Desk.Hurts(ctx, b, mira, "", "The left wrist.")
	refused(t, "of another family's child", err, studio.NotFound)
	_, err = h.Desk.Hurts(ctx, f.Teacher, mira, "", "The left wrist.")
	refused(t, "by the teacher", err, studio.NotAllowed)

	h.Now = h.Now.Add(time.Hour)
	told, err := h.Desk.Hurts(ctx, v, mira, of, " The left wrist,\nafter ten minutes. ")
	must(t, err)
	kept, err := h.Store.Take(ctx, studio.OneFamily(v.Studio, v.Family), told.ID)
	must(t, err)
	if kept.State != studio.NeedsALook || !kept.Hurt || kept.Note != "The left wrist,\nafter ten minutes." || kept.Why == "" || kept.Assignment != of || kept.Student != mira ||
		!kept.Arrived.Equal(h.Now) || !kept.Answered.IsZero() || !kept.KeepUntil.Equal(h.Now.AddDate(0, 0, studio.DefaultKeepDays)) {
		t.Errorf("kept: %+v", kept)
	}
	desk, err := h.Desk.Look(ctx, f.Teacher)
	must(t, err)
	if len(desk.Waiting) != 2 || desk.Waiting[0].Student.ID != mira || !desk.Waiting[0].Hurt {
		t.Errorf("the desk: %+v", desk.Waiting)
	}
	if len(desk.NeedsLook) != 0 || !kept.OnlyTold() {
		t.Errorf("a hurt without a recording is to be looked at before it is listened to: %+v", desk.NeedsLook)
	}
	_, err = h.Desk.BeginHearing(ctx, f.Ear, told.ID)
	refused(t, "hearing it", err, studio.NotFound)
	refused(t, "having it heard again", h.Desk.HearAgain(ctx, f.Teacher, told.ID), studio.Conflict)
	r, err := h.Desk.ReviewTake(ctx, f.Teacher, told.ID)
	must(t, err)
	if len(r.Media) != 0 || r.Hearing != nil || !r.Take.Hurt {
		t.Errorf("its page: %+v", r)
	}
	must(t, h.Desk.Answer(ctx, f.Teacher, told.ID))
	if desk, err = h.Desk.Look(ctx, f.Teacher); err != nil || len(desk.Waiting) != 1 {
		t.Errorf("answered, and on the desk: %+v, %v", desk.Waiting, err)
	}
	h.Now = kept.KeepUntil
	if rc := h.keepTheClock(t, h.Desk, f); rc.Takes != 3 {
		t.Errorf("when its time is over: %+v", rc)
	}
	_, err = h.Desk.ReviewTake(ctx, v, told.ID)
	refused(t, "when it is gone", err, studio.NotFound)
}

// deviceNames: a phone is called what its owner calls it, as long as it is not signed out.
func deviceNames(t *testing.T, h *House) {
	ctx := t.Context()
	f := h.Found(t, "Lindenhof")
	v, _ := h.Join(t, f, "Abel", "Mira")
	b, _ := h.Join(t, f, "Bartsch", "Jon")
	name := func() string {
		t.Helper()
		all, err := h.Desk.Devices(ctx, v)
		must(t, err)
		if len(all) != 1 {
			t.Fatalf("devices: %+v", all)
		}
		return all[0].Name
	}
	must(t, h.Desk.NameDevice(ctx, v, v.Device, " The kitchen's\n tablet \u202e"))
	if got := name(); got != "The kitchen's tablet" {
		t.Errorf("named %q", got)
	}
	for _, bad := range []string{"", " \t", strings.Repeat("é", 61)} {
		refused(t, "a name that is none, or too long", h.Desk.NameDevice(ctx, v, v.Device, bad), studio.Invalid)
	}
	must(t, h.Desk.NameDevice(ctx, v, v.Device, strings.Repeat("é", 60)))
	refused(t, "another family's", h.Desk.NameDevice(ctx, b, v.Device, "Mine"), studio.NotFound)
	refused(t, "one that is not there", h.Desk.NameDevice(ctx, v, studio.DeviceID("zzzzzzzzzzzzzzzzzzzzzzzzzz"), "Mine"), studio.NotFound)
	must(t, h.Desk.NameDevice(ctx, f.Teacher, v.Device, "Abel's phone")) // the teacher sees all of them
	if got := name(); got != "Abel's phone" {
		t.Errorf("named %q", got)
	}
	must(t, h.Desk.Revoke(ctx, v, v.Device))
	refused(t, "one that is signed out", h.Desk.NameDevice(ctx, v, v.Device, "Old"), studio.NotFound)
	if got := name(); got != "Abel's phone" {
		t.Errorf("named %q", got)
	}
}
