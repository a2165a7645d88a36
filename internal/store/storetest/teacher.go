package storetest

import (
	"encoding/json"
	"slices"
	"strings"
	"sync"
	"testing"
	"time"

	"antiphon/internal/studio"
)

const phrase = "three blind mice see how"

// begin sets a studio up as a teacher does, and gives the recovery codes.
func (h *House) begin(t *testing.T) (teacher studio.Viewer, codes []string) {
	t.Helper()
	secret, err := h.Desk.OpenSetUp(t.Context())
	must(t, err)
	v, device, codes, err := h.Desk.SetUp(t.Context(), secret, studio.NewTeacher{Studio: "Lindenhof", Name: "Ada Lind", Password: phrase, Device: "desk"})
	must(t, err)
	known, err := h.Desk.Recognise(t.Context(), device)
	must(t, err)
	if known != v || v.Role != studio.Teacher {
		t.Fatalf("the device makes %+v, not %+v", known, v)
	}
	return v, codes
}

func setUp(t *testing.T, h *House) {
	ctx := t.Context()
	if _, there, err := h.Desk.Home(ctx); err != nil || there {
		t.Errorf("an empty house has a studio: %v", err)
	}
	_, _, err := h.Desk.SignIn(ctx, phrase, "desk")
	refused(t, "signing in before there is a teacher", err, studio.NotAllowed)
	_, _, err = h.Desk.TeacherPasskeys(ctx)
	refused(t, "passkeys of nobody", err, studio.NotFound)
	first, err := h.Desk.OpenSetUp(ctx)
	must(t, err)
	second, err := h.Desk.OpenSetUp(ctx)
	must(t, err)
	n := studio.NewTeacher{Studio: "Lindenhof", Name: "Ada Lindenbaum", Password: phrase}
	_, _, _, err = h.Desk.SetUp(ctx, first, n)
	refused(t, "an older address", err, studio.Gone)
	for _, bad := range []string{"too short", strings.Repeat("a", 20), "ada LINDENBAUM", strings.Repeat("ab", 101), "no letters \xff\xff"} {
		n := n
		n.Password = bad
		_, _, _, err = h.Desk.SetUp(ctx, second, n)
		refused(t, "the password "+bad, err, studio.Invalid)
	}
	// Eight browsers press the button of the same address: one of them is the teacher.
	var wg sync.WaitGroup
	errs := make([]error, 8)
	for i := range errs {
		wg.Go(func() { _, _, _, errs[i] = h.Desk.SetUp(ctx, second, n) })
	}
	wg.Wait()
	won := 0
	for _, err := range errs {
		if err == nil {
			won++
		} else {
			refused(t, "an address that was used", err, studio.Gone)
		}
	}
	if won != 1 {
		t.Errorf("%d teachers from one address", won)
	}
	st, there, err := h.Desk.Home(ctx)
	must(t, err)
	if !there || st.Name != "Lindenhof" || st.KeepDays != studio.DefaultKeepDays || st.ReplyDays != studio.DefaultReplyDays || st.Language != "en" {
		t.Errorf("the studio: %+v", st)
	}
	_, err = h.Desk.OpenSetUp(ctx)
	refused(t, "setting up twice", err, studio.Conflict)
	_, _, _, err = h.Desk.SetUp(ctx, second, n)
	refused(t, "the same address again", err, studio.Gone)
}

func signIn(t *testing.T, h *House) {
	ctx := t.Context()
	v, codes := h.begin(t)
	_, _, wrong := h.Desk.SignIn(ctx, phrase+"!", "phone")
	refused(t, "a wrong password", wrong, studio.NotAllowed)
	_, _, tooLong := h.Desk.SignIn(ctx, strings.Repeat(phrase, 1000), "phone")
	_, _, noCode := h.Desk.Recover(ctx, "0000-0000-0000-0000", "phone")
	for what, err := range map[string]error{"a novel": tooLong, "no such code": noCode} {
		if err == nil || strings.Split(err.Error(), " (")[0] != wrong.Error() {
			t.Errorf("%s is answered %v, a wrong password %v", what, err, wrong)
		}
	}
	on, phone, err := h.Desk.SignIn(ctx, phrase, " my\nphone ")
	must(t, err)
	if on.Person != v.Person || on.Device == v.Device {
		t.Errorf("signed in as %+v", on)
	}
	must(t, h.Desk.SignOut(ctx, on))
	_, err = h.Desk.Recognise(ctx, phone)
	refused(t, "a device that signed out", err, studio.NotAllowed)

	// A recovery code is forgiving to the eye and works once, whoever is quicker.
	if len(codes) != 10 {
		t.Fatalf("recovery codes: %q", codes)
	}
	copied := strings.ToUpper(strings.NewReplacer("-", " ", "0", "o", "1", "l").Replace(codes[3]))
	var wg sync.WaitGroup
	errs := make([]error, 4)
	for i := range errs {
		wg.Go(func() { _, _, errs[i] = h.Desk.Recover(ctx, copied, "found again") })
	}
	wg.Wait()
	won := 0
	for _, err := range errs {
		if err == nil {
			won++
		} else {
			refused(t, "a used code", err, studio.NotAllowed)
		}
	}
	ways, err := h.Desk.WaysIn(ctx, v)
	must(t, err)
	if won != 1 || ways.CodesLeft != 9 || !ways.Password || ways.Passkeys != 0 {
		t.Errorf("%d got in by one code; left %+v", won, ways)
	}

	// Another password signs the others out, not the one that changed it.
	_, phone, err = h.Desk.SignIn(ctx, phrase, "phone")
	must(t, err)
	must(t, h.Desk.ChangePassword(ctx, v, "ode to joy, slowly"))
	_, err = h.Desk.Recognise(ctx, phone)
	refused(t, "another device after a new password", err, studio.NotAllowed)
	ds, err := h.Desk.Devices(ctx, v)
	must(t, err)
	for _, d := range ds {
		if d.Revoked.IsZero() != (d.ID == v.Device) {
			t.Errorf("after a new password: %+v", d)
		}
	}
	_, _, err = h.Desk.SignIn(ctx, phrase, "phone")
	refused(t, "the old password", err, studio.NotAllowed)
	_, _, err = h.Desk.SignIn(ctx, "ode to joy, slowly", "phone")
	must(t, err)
	anew, err := h.Desk.NewRecoveryCodes(ctx, v)
	must(t, err)
	_, _, err = h.Desk.Recover(ctx, codes[0], "x")
	refused(t, "a code of the older sheet", err, studio.NotAllowed)
	_, _, err = h.Desk.Recover(ctx, anew[0], "x")
	must(t, err)
	for _, row := range h.dump(t) { // what is shown once is nowhere stored
		for _, s := range append(append([]string{phrase, "ode to joy", phone}, codes...), anew...) {
			if strings.Contains(row, s) || strings.Contains(row, strings.ReplaceAll(s, "-", "")) {
				t.Errorf("%s is stored in: %s", s, row)
			}
		}
	}
}

func passkeys(t *testing.T, h *House) {
	ctx := t.Context()
	v, _ := h.begin(t)
	_, err := h.Desk.AddPasskey(ctx, v, "phone", json.RawMessage(`{"half`))
	refused(t, "half a passkey", err, studio.Invalid)
	k, err := h.Desk.AddPasskey(ctx, v, " the\tphone ", json.RawMessage(`{"count": 1}`))
	must(t, err)
	p, ks, err := h.Desk.TeacherPasskeys(ctx)
	must(t, err)
	if p.ID != v.Person || len(ks) != 1 || ks[0].ID != k.ID || string(ks[0].Credential) != `{"count": 1}` || ks[0].Name != "the phone" || !ks[0].Used.IsZero() {
		t.Errorf("%+v, %+v", p, ks)
	}
	h.Now = h.Now.Add(time.Hour)
	on, _, err := h.Desk.EnterByPasskey(ctx, k.ID, json.RawMessage(`{"count": 2}`), "phone")
	must(t, err)
	ks, err = h.Desk.Passkeys(ctx, on)
	must(t, err)
	if on.Person != v.Person || string(ks[0].Credential) != `{"count": 2}` || !ks[0].Used.Equal(h.Now) {
		t.Errorf("entered as %+v with %+v", on, ks)
	}
	must(t, h.Desk.ForgetPasskey(ctx, v, k.ID))
	_, _, err = h.Desk.EnterByPasskey(ctx, k.ID, json.RawMessage(`{}`), "phone")
	refused(t, "a forgotten passkey", err, studio.NotAllowed)
	refused(t, "forgetting twice", h.Desk.ForgetPasskey(ctx, v, k.ID), studio.NotFound)
}

// onlyTheTeacher: a family is refused whatever is the teacher's.
func onlyTheTeacher(t *testing.T, h *House) {
	ctx := t.Context()
	teacher, _ := h.begin(t)
	f := Founded{studio.Studio{ID: teacher.Studio}, teacher, studio.Viewer{Studio: teacher.Studio, Role: studio.Ear}}
	a, mira := h.Join(t, f, "Abel", "Mira")
	take := h.Send(t, a, mira, "la").Take
	w, err := h.Desk.AddWork(ctx, teacher, studio.Work{Title: "Three Blind Mice"})
	must(t, err)
	discard := func(_ any, err error) error { return err }
	for what, err := range map[string]error{
		"password":    h.Desk.ChangePassword(ctx, a, phrase),
		"codes":       discard(h.Desk.NewRecoveryCodes(ctx, a)),
		"ways in":     discard(h.Desk.WaysIn(ctx, a)),
		"passkeys":    discard(h.Desk.Passkeys(ctx, a)),
		"passkey":     discard(h.Desk.AddPasskey(ctx, a, "x", json.RawMessage(`{}`))),
		"settings":    discard(h.Desk.ChangeStudio(ctx, a, studio.Settings{Name: "Mine", KeepDays: 9, ReplyDays: 1, Language: "en"})),
		"child":       discard(h.Desk.AddStudent(ctx, a, a.Family, studio.NewStudent{Name: "Zoë"})),
		"desk":        discard(h.Desk.Look(ctx, a)),
		"pulse":       discard(h.Desk.Pulse(ctx, a)),
		"unsorted":    discard(h.Desk.Unsorted(ctx, a)),
		"drop":        discard(h.Desk.Drop(ctx, a, "x", "audio/mp4", strings.NewReader("x"))),
		"answer":      h.Desk.Answer(ctx, a, take.ID),
		"assign":      h.Desk.Assign(ctx, a, take.ID, "", w.ID),
		"works":       discard(h.Desk.Works(ctx, a)),
		"work":        discard(h.Desk.Work(ctx, a, w.ID)), // nobody asked for it
		"model":       discard(h.Desk.ReceiveModel(ctx, a, w.ID, "audio/mp4", strings.NewReader("x"))),
		"models":      discard(h.Desk.ModelTakes(ctx, a, w.ID)),
		"revise":      h.Desk.ReviseWork(ctx, a, w),
		"passage":     discard(h.Desk.AddPassage(ctx, a, studio.Passage{Work: w.ID, Name: "x"})),
		"collections": discard(h.Desk.Collections(ctx, a)),
		"book":        discard(h.Desk.OwnRemedies(ctx, a)),
		"remedy":      h.Desk.KeepRemedy(ctx, a, "late-thumb", json.RawMessage(`{}`)),
		"said":        discard(h.Desk.SaidBefore(ctx, a, mira, "late-thumb")),
		"corrections": h.Desk.ExportCorrections(ctx, a, &strings.Builder{}),
		"receipts":    discard(h.Desk.Receipts(ctx, a)),
		"hear":        discard(h.Desk.BeginHearing(ctx, a, take.ID)),
		"clean":       discard(h.Desk.ReplaceOriginal(ctx, a, take.ID, "audio/mp4", strings.NewReader("x"))),
		"prints":      discard(h.Desk.Prints(ctx, a, mira, time.Time{})),
		"clock":       discard(h.Desk.KeepTheClock(ctx, a)),
	} {
		if err == nil || !strings.HasPrefix(err.Error(), string(studio.NotAllowed)) && !strings.HasPrefix(err.Error(), string(studio.NotFound)) {
			t.Errorf("%s by a family: %v", what, err)
		}
	}
	st, err := h.Desk.ChangeStudio(ctx, teacher, studio.Settings{Name: " New\nname ", KeepDays: 30, ReplyDays: 2, Language: "es"})
	must(t, err)
	if own, err := h.Desk.OwnStudio(ctx, a); err != nil || own != st || own.Name != "New name" || own.ReplyDays != 2 {
		t.Errorf("settings: %+v, %v", own, err)
	}
	for _, s := range []studio.Settings{{KeepDays: 1, ReplyDays: 1, Language: "en"}, {Name: "x", ReplyDays: 1, Language: "en"}, {Name: "x", KeepDays: 9999, ReplyDays: 1, Language: "en"},
		{Name: "x", KeepDays: 1, Language: "en"}, {Name: "x", KeepDays: 1, ReplyDays: 1, Language: `"><b>`}} {
		_, err := h.Desk.ChangeStudio(ctx, teacher, s)
		refused(t, "nonsense", err, studio.Invalid)
	}
	if later := h.Send(t, a, mira, "after the new clock").Take; !later.KeepUntil.Equal(h.Now.AddDate(0, 0, 30)) {
		t.Errorf("kept until %v", later.KeepUntil)
	}
}

// invitation: reading a link changes nothing; the family chooses what is sent of a child.
func invitation(t *testing.T, h *House) {
	ctx := t.Context()
	f := h.Found(t, "Lindenhof")
	_, link, err := h.Desk.InviteFamily(ctx, f.Teacher, studio.NewFamily{Name: "Abel", Students: []studio.NewStudent{{Name: "Mira"}, {Name: "Ole"}}}, studio.Asked{KeepDays: 90})
	must(t, err)
	other := h.Found(t, "Seeblick")
	_, _, err = h.Desk.InviteFamily(ctx, other.Teacher, studio.NewFamily{Name: "Weiss", Students: []studio.NewStudent{{Name: "Jon"}}}, studio.Asked{})
	must(t, err)
	open := func(what string, now time.Time, want int) {
		t.Helper()
		was := h.Now
		h.Now = now
		l, err := h.Desk.Invitations(ctx, f.Teacher)
		h.Now = was
		must(t, err)
		if len(l) != want {
			t.Errorf("%s: %+v", what, l)
		}
		for _, i := range l {
			if i.Studio != f.Studio.ID || i.Hash != "" || !i.Expires.Equal(i.Made.AddDate(0, 0, 7)) || !i.Redeemed.IsZero() {
				t.Errorf("%s: %+v", what, i)
			}
		}
	}
	open("a link that nobody used", h.Now, 1)
	open("in its last second", h.Now.AddDate(0, 0, 7).Add(-time.Second), 1)
	open("when it is over", h.Now.AddDate(0, 0, 7), 0)
	var i studio.Invite
	for range 3 {
		i, err = h.Desk.Invitation(ctx, link)
		must(t, err)
	}
	if i.Studio != "Lindenhof" || i.Teacher != "Teacher of Lindenhof" || i.Family != "Abel" || i.KeepDays != 90 || i.What == "" || i.Who == "" ||
		!i.Expires.Equal(h.Now.AddDate(0, 0, 7)) || len(i.Students) != 2 {
		t.Errorf("invitation: %+v", i)
	}
	_, _, err = h.Desk.Redeem(ctx, link, studio.Redemption{Name: "Parent", Agrees: true, Media: map[studio.StudentID]studio.MediaMode{i.Students[0].ID: "face"}})
	refused(t, "a mode that is none", err, studio.Invalid)
	v, _, err := h.Desk.Redeem(ctx, link, studio.Redemption{Name: "Parent", Agrees: true,
		Media: map[studio.StudentID]studio.MediaMode{i.Students[1].ID: studio.HandsOnly, "zzzzzzzzzzzzzzzzzzzzzzzzzz": studio.FullVideo}})
	must(t, err)
	open("a link that was used", h.Now, 0)
	_, err = h.Desk.Invitations(ctx, v)
	refused(t, "the open links, for a family", err, studio.NotAllowed)
	ss, err := h.Desk.Students(ctx, v)
	must(t, err)
	if ss[0].Media != studio.SoundOnly || ss[1].Media != studio.HandsOnly {
		t.Errorf("chosen: %+v", ss)
	}
	for _, bad := range []string{link, "", "nonsense"} {
		_, err = h.Desk.Invitation(ctx, bad)
		refused(t, "a link that is used or none", err, studio.Gone)
	}
	// Later the family changes its mind, but not the child's name.
	s, err := h.Desk.ChangeStudent(ctx, v, studio.Student{ID: ss[0].ID, Name: "Somebody", Media: studio.FullVideo})
	must(t, err)
	if s.Name != ss[0].Name || s.Media != studio.FullVideo {
		t.Errorf("changed: %+v", s)
	}
	_, err = h.Desk.ChangeStudent(ctx, f.Teacher, studio.Student{ID: s.ID, Name: "Miranda", Media: studio.SoundOnly})
	must(t, err)
	_, err = h.Desk.AddStudent(ctx, f.Teacher, v.Family, studio.NewStudent{Name: "Zoë"})
	must(t, err)
	ss, err = h.Desk.Students(ctx, v)
	must(t, err)
	var names []string
	for _, s := range ss {
		names = append(names, s.Name)
	}
	if len(ss) != 3 || !slices.Contains(names, "Miranda") || !slices.Contains(names, "Zoë") {
		t.Errorf("students: %q", names)
	}
	if cs, err := h.Desk.Consents(ctx, v, v.Family); err != nil || len(cs) != 1 || cs[0].KeepDays != 90 {
		t.Errorf("consents: %+v, %v", cs, err)
	}
}
