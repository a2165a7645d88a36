package storetest

import (
	"archive/zip"
	"bytes"
	"encoding/json"
	"errors"
	"io"
	"strings"
	"sync"
	"testing"

	"antiphon/internal/studio"
)

// Founded is a studio with its teacher and the ear.
type Founded struct {
	Studio       studio.Studio
	Teacher, Ear studio.Viewer
}

func (h *House) Found(t *testing.T, name string) Founded {
	t.Helper()
	st, p, err := h.Desk.Found(t.Context(), name, "Teacher of "+name)
	must(t, err)
	return Founded{st, studio.Viewer{Studio: st.ID, Role: studio.Teacher, Person: p.ID}, studio.Viewer{Studio: st.ID, Role: studio.Ear}}
}

// Join invites a family with one student and redeems its link.
func (h *House) Join(t *testing.T, f Founded, name, child string) (studio.Viewer, studio.StudentID) {
	t.Helper()
	_, link, err := h.Desk.InviteFamily(t.Context(), f.Teacher, studio.NewFamily{Name: name,
		Students: []studio.NewStudent{{Name: child, Media: studio.FullVideo}}}, studio.Asked{})
	must(t, err)
	v, secret, err := h.Desk.Redeem(t.Context(), link, studio.Redemption{Name: "Parent of " + child, Device: "phone", Agrees: true})
	must(t, err)
	known, err := h.Desk.Recognise(t.Context(), secret)
	must(t, err)
	if known != v {
		t.Fatalf("the device makes %+v, not %+v", known, v)
	}
	ss, err := h.Store.Students(t.Context(), studio.OneFamily(v.Studio, v.Family))
	must(t, err)
	if len(ss) != 1 || ss[0].Name != child {
		t.Fatalf("students of %s: %+v", name, ss)
	}
	return v, ss[0].ID
}

// Send announces and sends a take.
func (h *House) Send(t *testing.T, v studio.Viewer, s studio.StudentID, sound string) studio.Received {
	t.Helper()
	a, err := h.Desk.Announce(t.Context(), v, studio.Announcement{Student: s})
	must(t, err)
	r, err := h.Desk.Receive(t.Context(), v, a.ID, "audio/mp4", strings.NewReader(sound))
	must(t, err)
	return r
}

// listen opens the original of a take.
func (h *House) listen(t *testing.T, v studio.Viewer, id studio.TakeID) (studio.Media, io.ReadSeekCloser, error) {
	t.Helper()
	ms, err := h.Store.Media(t.Context(), studio.WholeStudio(v.Studio), id)
	must(t, err)
	for _, m := range ms {
		if m.Kind == studio.Original {
			return h.Desk.Listen(t.Context(), v, m.ID)
		}
	}
	t.Fatalf("take %s has no original among %+v", id, ms)
	return studio.Media{}, nil, nil
}

func (h *House) heard(t *testing.T, ear studio.Viewer, id studio.TakeID, doc string) studio.Hearing {
	t.Helper()
	m, err := h.Desk.BeginHearing(t.Context(), ear, id)
	must(t, err)
	h.clean(t, ear, m)
	hg, err := h.Desk.KeepHearing(t.Context(), ear, id, studio.Heard{Doc: []byte(doc), Turn: m.Turn, Print: []byte("print of " + id)})
	must(t, err)
	return hg
}

// clean takes the metadata out of an original, of which a test's recordings have none.
func (h *House) clean(t *testing.T, ear studio.Viewer, m studio.Material) {
	t.Helper()
	f, err := h.Desk.Bytes(t.Context(), ear, m.Original)
	must(t, err)
	_, err = h.Desk.ReplaceOriginal(t.Context(), ear, m.Take.ID, m.Original.Type, f)
	must(t, errors.Join(err, f.Close()))
}

// refused checks the kind of a problem, and that it says a sentence.
func refused(t *testing.T, what string, err error, kind studio.Kind) {
	t.Helper()
	p, ok := errors.AsType[*studio.Problem](err)
	if !ok || p.Kind != kind || !strings.HasSuffix(p.Say, ".") {
		t.Errorf("%s: got %v, want a problem of kind %s", what, err, kind)
	}
}

const hearing = `{"schema":"antiphon.hearing/1","passes":[{"n":1}]}`

func takesWay(t *testing.T, h *House) {
	ctx := t.Context()
	f := h.Found(t, "Lindenhof")
	v, child := h.Join(t, f, "Abel", "Mira")
	a, err := h.Desk.Announce(ctx, v, studio.Announcement{Student: child})
	must(t, err)
	if a.State != studio.Arriving {
		t.Errorf("announced: %s", a.State)
	}
	if _, err := h.Desk.BeginHearing(ctx, f.Ear, a.ID); err == nil {
		t.Error("a take without bytes is heard")
	}
	// Twice the wrong way: too large, then nothing at all. The take still waits for its bytes.
	_, err = h.Desk.Receive(ctx, v, a.ID, "audio/mp4", bytes.NewReader(make([]byte, 1<<16+1)))
	refused(t, "too large", err, studio.TooLarge)
	_, err = h.Desk.Receive(ctx, v, a.ID, "audio/mp4", strings.NewReader(""))
	refused(t, "empty", err, studio.Invalid)
	_, err = h.Desk.Receive(ctx, v, a.ID, "text/html", strings.NewReader("x"))
	refused(t, "no recording", err, studio.Invalid)

	r, err := h.Desk.Receive(ctx, v, a.ID, "audio/mp4", strings.NewReader("la la la"))
	must(t, err)
	if r.Take.State != studio.Waiting || r.Duplicate || !r.Take.Arrived.Equal(h.Now) {
		t.Errorf("received: %+v", r)
	}
	if want := (studio.Job{Kind: studio.JobHear, Studio: f.Studio.ID, Take: a.ID}); len(h.Jobs.All) != 1 || h.Jobs.All[0] != want {
		t.Errorf("jobs: %+v", h.Jobs.All)
	}
	ms, err := h.Store.Media(ctx, studio.OneFamily(v.Studio, v.Family), a.ID)
	must(t, err)
	_, _, err = h.Desk.Listen(ctx, v, ms[0].ID)
	refused(t, "a file with its metadata", err, studio.Conflict)
	_, err = h.Desk.KeepHearing(ctx, f.Ear, a.ID, studio.Heard{Doc: []byte(hearing)})
	refused(t, "a hearing that nobody began", err, studio.Conflict)
	first, err := h.Desk.BeginHearing(ctx, f.Ear, a.ID)
	must(t, err)
	h.clean(t, f.Ear, first)
	m, file, err := h.listen(t, v, a.ID)
	must(t, err)
	sound, err := io.ReadAll(file)
	must(t, errors.Join(err, file.Close()))
	// echo -n 'la la la' | sha256sum
	if string(sound) != "la la la" || m.Bytes != 8 || m.SHA256 != "d488288a90852227c137cc78556c8f55fe20c052d61df3b4987643b42def93c3" {
		t.Errorf("the file is %q, %+v", sound, m)
	}
	again, err := h.Desk.BeginHearing(ctx, f.Ear, a.ID) // the worker was killed and another comes
	must(t, err)
	_, err = h.Desk.KeepHearing(ctx, f.Ear, a.ID, studio.Heard{Doc: []byte(hearing), Turn: first.Turn})
	refused(t, "the worker that was given up", err, studio.Conflict)
	_, err = h.Desk.KeepHearing(ctx, f.Ear, a.ID, studio.Heard{Doc: []byte(`{"schema":"something/1"}`), Turn: again.Turn})
	refused(t, "another document", err, studio.Invalid)
	hg, err := h.Desk.KeepHearing(ctx, f.Ear, a.ID, studio.Heard{Doc: []byte(hearing), Turn: again.Turn})
	must(t, err)
	_, err = h.Desk.Remark(ctx, f.Teacher, a.ID, studio.Anchor{AtS: 2.5, Bar: "3", Frame: json.RawMessage(`{"line":[1,2]}`)}, "Listen to the bass.", "late-thumb")
	must(t, err)
	_, err = h.Desk.Correct(ctx, f.Teacher, a.ID, hg.ID, "note-right", json.RawMessage(`{"note":"n4"}`))
	must(t, err)
	_, err = h.Desk.Correct(ctx, f.Teacher, a.ID, "0123456789abcdefghjkmnpqrs", "note-right", json.RawMessage(`{}`))
	refused(t, "a hearing that is not there", err, studio.NotFound)

	w, err := h.Desk.ReviewTake(ctx, v, a.ID)
	must(t, err)
	if w.Take.State != studio.Ready || w.Hearing == nil || string(w.Hearing.JSON) != hearing || w.Hearing.Schema != "antiphon.hearing/1" {
		t.Errorf("review: %+v", w)
	}
	if len(w.Remarks) != 1 || w.Remarks[0].Anchor.Bar != "3" || w.Remarks[0].Anchor.AtS != 2.5 || string(w.Remarks[0].Anchor.Frame) != `{"line":[1,2]}` {
		t.Errorf("remarks: %+v", w.Remarks)
	}
	if len(w.Corrections) != 1 || w.Corrections[0].Hearing != hg.ID || string(w.Corrections[0].What) != `{"note":"n4"}` {
		t.Errorf("corrections: %+v", w.Corrections)
	}
	log, err := h.Store.AccessLog(ctx, studio.OneFamily(v.Studio, v.Family), child, 0)
	must(t, err)
	if len(log) != 2 || log[0].By != v.Person || log[0].Take != a.ID {
		t.Errorf("access log: %+v", log)
	}
	must(t, h.Desk.HearAgain(ctx, f.Teacher, a.ID))
	must(t, h.Desk.SetAside(ctx, f.Ear, a.ID, "Too quiet to hear.", studio.Heard{}))
	rc, err := h.Desk.DeleteTake(ctx, v, a.ID)
	must(t, err)
	if rc.Takes != 1 || rc.Files != 1 || rc.By != studio.Coach {
		t.Errorf("receipt: %+v", rc)
	}
	_, _, err = h.Desk.Listen(ctx, v, m.ID)
	refused(t, "a deleted take's file", err, studio.NotFound)
	must(t, h.Desk.Sweep(ctx, f.Ear))
	if _, err := h.Blobs.Open(ctx, m.Key()); !errors.Is(err, studio.ErrNotFound) {
		t.Errorf("the file of a deleted take: %v", err)
	}
}

func linkOnce(t *testing.T, h *House) {
	ctx := t.Context()
	f := h.Found(t, "Lindenhof")
	fam, link, err := h.Desk.InviteFamily(ctx, f.Teacher, studio.NewFamily{Name: "Abel", Students: []studio.NewStudent{{Name: "Mira"}}}, studio.Asked{})
	must(t, err)
	_, _, err = h.Desk.Redeem(ctx, link, studio.Redemption{Name: "Parent"})
	refused(t, "no consent", err, studio.Invalid)

	var wg sync.WaitGroup
	errs := make([]error, 8)
	secrets := make([]string, len(errs))
	for i := range errs {
		wg.Go(func() {
			_, secrets[i], errs[i] = h.Desk.Redeem(ctx, link, studio.Redemption{Name: "Parent", Agrees: true})
		})
	}
	wg.Wait()
	good := -1
	for i, err := range errs {
		if err == nil {
			if good >= 0 {
				t.Error("the link worked twice")
			}
			good = i
		} else {
			refused(t, "used link", err, studio.Gone)
		}
	}
	if good < 0 {
		t.Fatal("the link never worked")
	}
	for _, row := range h.dump(t) {
		if strings.Contains(row, link) || strings.Contains(row, secrets[good]) {
			t.Errorf("a secret is stored: %s", row)
		}
	}
	v, err := h.Desk.Recognise(ctx, secrets[good])
	must(t, err)
	_, err = h.Desk.Recognise(ctx, secrets[good]+"x")
	refused(t, "another secret", err, studio.NotAllowed)
	must(t, h.Desk.Revoke(ctx, f.Teacher, v.Device))
	_, err = h.Desk.Recognise(ctx, secrets[good])
	refused(t, "a revoked device", err, studio.NotAllowed)

	late, err := h.Desk.InviteDevice(ctx, f.Teacher, fam.ID, studio.Asked{})
	must(t, err)
	h.Now = h.Now.AddDate(0, 0, 7)
	_, _, err = h.Desk.Redeem(ctx, late, studio.Redemption{Name: "Parent", Agrees: true})
	refused(t, "an expired link", err, studio.Gone)
}

func whoMay(t *testing.T, h *House) {
	ctx := t.Context()
	f, g := h.Found(t, "Lindenhof"), h.Found(t, "Seeblick")
	a, mira := h.Join(t, f, "Abel", "Mira")
	b, _ := h.Join(t, f, "Bartsch", "Jon")
	take := h.Send(t, a, mira, "la").Take
	hg := h.heard(t, f.Ear, take.ID, hearing)
	m, file, err := h.listen(t, a, take.ID)
	must(t, errors.Join(err, file.Close()))
	discard := func(_ any, err error) error { return err }
	for _, v := range []studio.Viewer{b, g.Teacher, {}, {Studio: f.Studio.ID, Role: studio.Coach}, {Studio: f.Studio.ID, Role: "guest", Family: a.Family}} {
		for what, err := range map[string]error{
			"review":  discard(h.Desk.ReviewTake(ctx, v, take.ID)),
			"delete":  discard(h.Desk.DeleteTake(ctx, v, take.ID)),
			"remark":  discard(h.Desk.Remark(ctx, v, take.ID, studio.Anchor{}, "Hm.", "")),
			"correct": discard(h.Desk.Correct(ctx, v, take.ID, hg.ID, "x", json.RawMessage(`{}`))),
			"again":   h.Desk.HearAgain(ctx, v, take.ID),
			"erase":   discard(h.Desk.EraseFamily(ctx, v, a.Family)),
			"export":  h.Desk.ExportFamily(ctx, v, a.Family, io.Discard),
			"send":    discard(h.Desk.Announce(ctx, v, studio.Announcement{Student: mira})),
			"revoke":  h.Desk.Revoke(ctx, v, a.Device),
			"invite":  discard(h.Desk.InviteDevice(ctx, v, a.Family, studio.Asked{})),
			"listen":  func() error { _, _, err := h.Desk.Listen(ctx, v, m.ID); return err }(),
		} {
			p, ok := errors.AsType[*studio.Problem](err)
			if !ok || (p.Kind != studio.NotFound && p.Kind != studio.NotAllowed) {
				t.Errorf("%s by %+v: %v", what, v, err)
			}
		}
	}
	_, err = h.Desk.Remark(ctx, a, take.ID, studio.Anchor{}, "Hm.", "")
	refused(t, "a coach's remark", err, studio.NotAllowed)
	_, err = h.Desk.KeepHearing(ctx, f.Teacher, take.ID, studio.Heard{Doc: []byte(hearing)})
	refused(t, "a teacher's hearing", err, studio.NotAllowed)
	if ts, err := h.Desk.TakesBy(ctx, f.Teacher, studio.TakeQuery{}); err != nil || len(ts) != 1 || ts[0].State != studio.Ready {
		t.Errorf("after all that: %+v, %v", ts, err)
	}
}

func sameBytes(t *testing.T, h *House) {
	f := h.Found(t, "Lindenhof")
	a, mira := h.Join(t, f, "Abel", "Mira")
	b, jon := h.Join(t, f, "Bartsch", "Jon")
	first := h.Send(t, a, mira, "the same")
	again := h.Send(t, a, mira, "the same")
	if !again.Duplicate || again.Take.ID != first.Take.ID {
		t.Errorf("sent twice: %+v", again)
	}
	if other := h.Send(t, b, jon, "the same"); other.Duplicate {
		t.Error("another family's bytes are called a duplicate: that tells who sent what")
	}
	ts, err := h.Desk.TakesBy(t.Context(), a, studio.TakeQuery{Student: mira})
	must(t, err)
	if len(ts) != 1 {
		t.Errorf("takes: %+v", ts)
	}
}

func export(t *testing.T, h *House) {
	f := h.Found(t, "Lindenhof")
	a, mira := h.Join(t, f, "Abel", "Mira")
	b, jon := h.Join(t, f, "Bartsch", "Jon")
	mine := h.Send(t, a, mira, "mine").Take
	h.Send(t, b, jon, "theirs")
	h.heard(t, f.Ear, mine.ID, hearing)
	var buf bytes.Buffer
	must(t, h.Desk.ExportFamily(t.Context(), a, a.Family, &buf))
	z, err := zip.NewReader(bytes.NewReader(buf.Bytes()), int64(buf.Len()))
	must(t, err)
	var all []string
	for _, zf := range z.File {
		r, err := zf.Open()
		must(t, err)
		b, err := io.ReadAll(r)
		must(t, err)
		all = append(all, string(b))
	}
	if len(all) != 2 || all[1] != "mine" {
		t.Fatalf("%d files in the export", len(all))
	}
	for _, want := range []string{"Abel", "Mira", "Parent of Mira", "antiphon.hearing/1", string(mine.ID)} {
		if !strings.Contains(all[0], want) {
			t.Errorf("the export lacks %s", want)
		}
	}
	for _, not := range []string{"Bartsch", "Jon", string(b.Family), "Hash"} {
		if strings.Contains(all[0], not) {
			t.Errorf("the export holds %s", not)
		}
	}
	log, err := h.Store.AccessLog(t.Context(), studio.OneFamily(a.Studio, a.Family), mira, 0)
	must(t, err)
	if len(log) != 1 || log[0].What != "exported" {
		t.Errorf("access log: %+v", log)
	}
}
