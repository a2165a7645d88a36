package storetest

import (
	"fmt"
	"slices"
	"strings"
	"testing"
	"time"

	"antiphon/internal/studio"
)

// reached: an address works once it is confirmed, a device has one place to be told at, and notices are few.
func reached(t *testing.T, h *House) {
	ctx := t.Context()
	f := h.Found(t, "Lindenhof")
	v, mira := h.Join(t, f, "Abel", "Mira")
	b, _ := h.Join(t, f, "Bartsch", "Jon")
	for _, bad := range []string{"", "ilona", "Ilona <ilona@example.org>", "a@b\r\nBcc: c@d", "a b@example.org", strings.Repeat("a", 250) + "@example.org"} {
		_, err := h.Desk.AskEmail(ctx, v, bad)
		refused(t, bad, err, studio.Invalid)
	}
	older, err := h.Desk.AskEmail(ctx, v, "old@example.org")
	must(t, err)
	secret, err := h.Desk.AskEmail(ctx, v, " ilona@example.org ")
	must(t, err)
	_, err = h.Desk.ConfirmEmail(ctx, older)
	refused(t, "an older link", err, studio.Gone)
	if p, err := h.Desk.Self(ctx, v); err != nil || p.Email != "ilona@example.org" || !p.EmailAt.IsZero() || p.NoteNames != studio.Letters {
		t.Errorf("before: %+v, %v", p, err)
	}
	notices := func() (all []studio.Telling) {
		t.Helper()
		for _, j := range h.Jobs.All {
			if j.Kind == studio.JobNotify {
				x, err := h.Desk.ToTell(ctx, f.Ear, j.Notice)
				must(t, err)
				all = append(all, x)
			}
		}
		h.Jobs.All = nil
		return all
	}
	_, err = h.Desk.SendNudge(ctx, f.Teacher, mira, "Five minutes?")
	must(t, err)
	if n := notices(); len(n) != 0 {
		t.Errorf("told at an address that nobody confirmed: %+v", n)
	}
	p, err := h.Desk.ConfirmEmail(ctx, secret)
	must(t, err)
	if p.ID != v.Person || !p.EmailAt.Equal(h.Now) {
		t.Errorf("confirmed: %+v", p)
	}
	_, err = h.Desk.ConfirmEmail(ctx, secret)
	refused(t, "twice", err, studio.Gone)
	must(t, h.Desk.KeepNoteNames(ctx, v, studio.DoReMi))
	refused(t, "names of nothing", h.Desk.KeepNoteNames(ctx, v, "numbers"), studio.Invalid)
	for _, words := range []string{"Five minutes?", "Or three?"} { // the second is told with the first
		_, err = h.Desk.SendNudge(ctx, f.Teacher, mira, words)
		must(t, err)
	}
	n := notices()
	if len(n) != 1 || n[0].Person.Email != "ilona@example.org" || n[0].Person.NoteNames != studio.DoReMi || n[0].Off == "" || n[0].Notice.Kind != studio.OfNudge {
		t.Fatalf("to tell: %+v", n)
	}
	x := n[0].Notice
	x.Sent, x.Tries, x.State = h.Now, 1, studio.Waits
	must(t, h.Desk.Told(ctx, f.Ear, x))
	// One that is being told, or was broken off, is waited for; one that is given up is not.
	for _, s := range []struct {
		state studio.NoticeState
		more  int
	}{{studio.TellsNow, 0}, {studio.TellsAgain, 0}, {studio.GivenUp, 1}} {
		_, err = h.Desk.SendNudge(ctx, f.Teacher, mira, "And now?")
		must(t, err)
		open := notices()
		if len(open) != 1 || open[0].Notice.State != studio.Waits {
			t.Fatalf("to tell: %+v", open)
		}
		stuck := open[0].Notice
		stuck.State = s.state
		must(t, h.Desk.Told(ctx, f.Ear, stuck))
		_, err = h.Desk.SendNudge(ctx, f.Teacher, mira, "Hello?")
		must(t, err)
		if again, err := h.Desk.ToTell(ctx, f.Ear, stuck.ID); err != nil || again.Notice.State != s.state {
			t.Errorf("kept as %+v, %v", again.Notice, err)
		}
		if more := notices(); len(more) != s.more {
			t.Errorf("after one that is %q: %d more", s.state, len(more))
		}
		must(t, h.Desk.GiveUpNotice(ctx, f.Ear, stuck.ID))
	}
	refused(t, "giving up by a family", h.Desk.GiveUpNotice(ctx, v, x.ID), studio.NotAllowed)
	must(t, h.Desk.GiveUpNotice(ctx, f.Ear, x.ID))
	if sent, err := h.Desk.ToTell(ctx, f.Ear, x.ID); err != nil || sent.Notice.State != studio.Waits {
		t.Errorf("what was sent is given up: %+v, %v", sent.Notice, err)
	}
	must(t, h.Desk.MailsOff(ctx, n[0].Off))
	must(t, h.Desk.MailsOff(ctx, n[0].Off))
	if p, err := h.Desk.Self(ctx, v); err != nil || p.Email != "" || !p.EmailAt.IsZero() || p.NoteNames != studio.DoReMi {
		t.Errorf("off: %+v, %v", p, err)
	}
	late, err := h.Desk.AskEmail(ctx, v, "ilona@example.org")
	must(t, err)
	h.Now = h.Now.AddDate(0, 0, 8)
	_, err = h.Desk.ConfirmEmail(ctx, late)
	refused(t, "after a week", err, studio.Gone)

	// Push: one for a device, none for one that is signed out, and no other family's.
	for _, doc := range []string{"", "{}", `{"endpoint":"http://push.example.org"}`, `{"endpoint":"https://push.example.org/` + strings.Repeat("a", 5000) + `"}`} {
		_, err := h.Desk.AddPush(ctx, v, []byte(doc))
		refused(t, doc, err, studio.Invalid)
	}
	for i := range 2 {
		_, err = h.Desk.AddPush(ctx, v, []byte(fmt.Sprintf(`{"endpoint":"https://push.example.org/%d"}`, i)))
		must(t, err)
	}
	ps, err := h.Desk.PushOf(ctx, f.Ear, v.Person)
	must(t, err)
	if len(ps) != 1 || !strings.HasSuffix(string(ps[0].Doc), `/1"}`) || ps[0].Device != v.Device {
		t.Errorf("push: %+v", ps)
	}
	_, err = h.Desk.PushOf(ctx, b, v.Person)
	refused(t, "another's", err, studio.NotFound)
	refused(t, "forgetting another's", h.Desk.RemovePush(ctx, b, ps[0].ID), studio.NotFound)

	// The teacher is told of a hurt at once and of each, of questions and takes together.
	_, err = h.Desk.ToTell(ctx, v, x.ID)
	refused(t, "telling by a family", err, studio.NotAllowed)
	teacher, err := h.Desk.AskEmail(ctx, f.Teacher, "marit@example.org")
	must(t, err)
	_, err = h.Desk.ConfirmEmail(ctx, teacher)
	must(t, err)
	for i := range 2 {
		must(t, h.Desk.Tap(ctx, v, []studio.Tap{
			{ID: fmt.Sprint("question-", i), Student: mira, Kind: studio.TapQuestion, Text: "Which finger?", At: h.Now},
			{ID: fmt.Sprint("hurts-now-", i), Student: mira, Kind: studio.TapHurt, At: h.Now, Text: fmt.Sprint("My wrist, ", i)},
		}))
		h.Send(t, v, mira, fmt.Sprint("take ", i))
	}
	var got []string
	for _, x := range notices() {
		got = append(got, fmt.Sprint(x.Notice.Kind, " ", x.Notice.At.Sub(h.Now)))
		if x.Person.ID != f.Teacher.Person {
			t.Errorf("%s for %s", x.Notice.Kind, x.Person.Name)
		}
	}
	if want := []string{"question 15m0s", "hurt 0s", "take 15m0s", "hurt 0s"}; !slices.Equal(got, want) {
		t.Errorf("told of %q, want %q", got, want)
	}
	must(t, h.Desk.Revoke(ctx, v, v.Device))
	if ps, err := h.Desk.PushOf(ctx, f.Ear, v.Person); err != nil || len(ps) != 0 {
		t.Errorf("a device that is signed out is told: %+v, %v", ps, err)
	}
	_, err = h.Desk.AddPush(ctx, v, []byte(`{"endpoint":"https://push.example.org/3"}`))
	refused(t, "of one that is signed out", err, studio.NotFound)

	if s, err := h.Desk.TellHearing(ctx, f.Teacher, mira, true); err != nil || !s.TellHearing {
		t.Errorf("telling a hearing: %+v, %v", s, err)
	}
	_, err = h.Desk.TellHearing(ctx, b, mira, true)
	refused(t, "by a family", err, studio.NotAllowed)
	s, err := h.Desk.ChangeStudent(ctx, f.Teacher, studio.Student{ID: mira, Name: "Mira", Media: studio.SoundOnly})
	must(t, err)
	if !s.TellHearing {
		t.Error("changing the name forgets what the family is told")
	}
}

// phrases: the teacher's own sentences, and when they were said last.
func phrases(t *testing.T, h *House) {
	ctx := t.Context()
	f := h.Found(t, "Lindenhof")
	v, mira := h.Join(t, f, "Abel", "Mira")
	one, err := h.Desk.KeepPhrase(ctx, f.Teacher, studio.Phrase{Text: " Play bar ... to the far wall. "})
	must(t, err)
	again, err := h.Desk.KeepPhrase(ctx, f.Teacher, studio.Phrase{Text: "Play bar … to the far wall."})
	must(t, err)
	two, err := h.Desk.KeepPhrase(ctx, f.Teacher, studio.Phrase{Text: "Breathe out."})
	must(t, err)
	if one.Text != "Play bar … to the far wall." || again.ID != one.ID {
		t.Errorf("%+v, %+v", one, again)
	}
	one, err = h.Desk.UsePhrase(ctx, f.Teacher, one.ID, mira)
	must(t, err)
	two.Text = "Breathe out at the end."
	_, err = h.Desk.KeepPhrase(ctx, f.Teacher, two)
	must(t, err)
	all, err := h.Desk.Phrases(ctx, f.Teacher)
	must(t, err)
	if len(all) != 2 || all[0] != one || all[0].To != mira || all[0].Times != 1 || all[1].Text != "Breathe out at the end." {
		t.Errorf("phrases: %+v", all)
	}
	_, err = h.Desk.Phrases(ctx, v)
	refused(t, "for a family", err, studio.NotAllowed)
	_, err = h.Desk.KeepPhrase(ctx, f.Teacher, studio.Phrase{Text: " "})
	refused(t, "no words", err, studio.Invalid)
	_, err = h.Desk.KeepPhrase(ctx, f.Teacher, studio.Phrase{ID: "zzzzzzzzzzzzzzzzzzzzzzzzzz", Text: "x"})
	refused(t, "one that is not there", err, studio.NotFound)
	_, err = h.Desk.UsePhrase(ctx, f.Teacher, one.ID, "zzzzzzzzzzzzzzzzzzzzzzzzzz")
	refused(t, "to nobody", err, studio.NotFound)
	_, err = h.Desk.EraseFamily(ctx, f.Teacher, v.Family)
	must(t, err)
	if all, err = h.Desk.Phrases(ctx, f.Teacher); err != nil || len(all) != 2 || all[0].To != "" || all[0].Times != 1 {
		t.Errorf("after the family is gone: %+v, %v", all, err)
	}
	must(t, h.Desk.RemovePhrase(ctx, f.Teacher, one.ID))
	refused(t, "removing twice", h.Desk.RemovePhrase(ctx, f.Teacher, one.ID), studio.NotFound)
}

// between: a nudge is drafted from what happened, sent by the teacher only, and stands until the next lesson.
func between(t *testing.T, h *House) {
	ctx := t.Context()
	f := h.Found(t, "Lindenhof")
	v, mira := h.Join(t, f, "Abel", "Mira")
	b, _ := h.Join(t, f, "Bartsch", "Jon")
	l := h.lessonFor(t, f, mira, studio.Assignment{Do: "The ladder.\nSlowly."}, studio.Assignment{Do: "The first line."})
	n, err := h.Desk.DraftNudge(ctx, f.Teacher, mira)
	must(t, err)
	if n.Language != "en" || !strings.Contains(n.Text, "good beginning for Mira") || !strings.Contains(n.Text, "The ladder.") || strings.Contains(n.Text, "%") {
		t.Errorf("with nothing tapped: %q", n.Text)
	}
	h.Now = h.Now.AddDate(0, 0, 2)
	must(t, h.Desk.Tap(ctx, v, []studio.Tap{{ID: "done-on-day-1", Student: mira, Assignment: l.Assignments[0].ID, Kind: studio.TapDone, At: h.Now}}))
	must(t, h.Store.PutStudio(ctx, studio.Studio{ID: f.Studio.ID, Name: "Tilo", KeepDays: 400, ReplyDays: 3, Language: "es"}))
	n, err = h.Desk.DraftNudge(ctx, f.Teacher, mira)
	must(t, err)
	if n.Language != "es" || !strings.Contains(n.Text, "un día de práctica") || !strings.Contains(n.Text, "The first line.") {
		t.Errorf("after a day: %q", n.Text)
	}
	if _, there, err := h.Desk.NudgeFor(ctx, v, mira); err != nil || there {
		t.Errorf("a draft is shown, %v", err)
	}
	_, err = h.Desk.SendNudge(ctx, v, mira, "x")
	refused(t, "by a family", err, studio.NotAllowed)
	_, err = h.Desk.SendNudge(ctx, f.Teacher, mira, " ")
	refused(t, "no words", err, studio.Invalid)
	_, err = h.Desk.SendNudge(ctx, f.Teacher, mira, n.Text)
	must(t, err)
	if got, there, err := h.Desk.NudgeFor(ctx, v, mira); err != nil || !there || got.Text != n.Text {
		t.Errorf("sent: %+v, %v", got, err)
	}
	_, _, err = h.Desk.NudgeFor(ctx, b, mira)
	refused(t, "another family's", err, studio.NotFound)
	h.Now = h.Now.Add(time.Hour)
	h.lessonFor(t, f, mira, studio.Assignment{Do: "On."})
	if got, there, err := h.Desk.NudgeFor(ctx, v, mira); err != nil || there {
		t.Errorf("after the lesson: %+v, %v", got, err)
	}
}
