package storetest

import (
	"bytes"
	"errors"
	"io"
	"log/slog"
	"reflect"
	"slices"
	"strings"
	"testing"
	"time"

	"antiphon/internal/studio"
)

func drafts(t *testing.T, h *House) {
	ctx := t.Context()
	f := h.Found(t, "Lindenhof")
	v, mira := h.Join(t, f, "Abel", "Mira")
	w, err := h.Desk.AddWork(ctx, f.Teacher, studio.Work{Title: "Three Blind Mice", Rights: "traditional"})
	must(t, err)
	l, err := h.Desk.SaveDraft(ctx, f.Teacher, studio.Lesson{Student: mira, Date: "2026-03-02", Words: "Well done.", Assignments: []studio.Assignment{
		{Work: w.ID, FromBar: "1", ToBar: "4", Goals: studio.Goals{TempoBpm: 66, Tone: "warm"}, Do: "Four times, slowly."},
		{Work: w.ID, Do: "All of it, once."},
	}})
	must(t, err)
	if ls, err := h.Desk.Lessons(ctx, v, studio.LessonQuery{Drafts: true}); err != nil || len(ls) != 0 {
		t.Errorf("the family sees a draft: %+v, %v", ls, err)
	}
	stale := l
	l.Words = "Very well done."
	l.Assignments[0], l.Assignments[1] = l.Assignments[1], l.Assignments[0]
	l, err = h.Desk.SaveDraft(ctx, f.Teacher, l)
	must(t, err)
	stale.Words = "From another window."
	_, err = h.Desk.SaveDraft(ctx, f.Teacher, stale)
	refused(t, "an old version", err, studio.Conflict)
	_, err = h.Desk.Announce(ctx, v, studio.Announcement{Student: mira, Assignment: l.Assignments[0].ID})
	refused(t, "a take for a draft", err, studio.Invalid)
	refused(t, "sending an old version", h.Desk.SendLesson(ctx, f.Teacher, l.ID, stale.Version), studio.Conflict)

	must(t, h.Desk.SendLesson(ctx, f.Teacher, l.ID, l.Version))
	_, err = h.Desk.SaveDraft(ctx, f.Teacher, l)
	refused(t, "changing what was sent", err, studio.Conflict)
	ls, err := h.Desk.Lessons(ctx, v, studio.LessonQuery{Drafts: true})
	must(t, err)
	l.Sent = h.Now
	if len(ls) != 1 || !reflect.DeepEqual(ls[0], l) {
		t.Errorf("sent\n%+v\nwant\n%+v", ls, l)
	}
	a, err := h.Desk.Announce(ctx, v, studio.Announcement{Student: mira, Assignment: l.Assignments[1].ID})
	must(t, err)
	if got, err := h.Store.Take(ctx, studio.WholeStudio(f.Studio.ID), a.ID); err != nil || !reflect.DeepEqual(got, a) {
		t.Errorf("take\n%+v\nwant\n%+v, %v", got, a, err)
	}
}

func library(t *testing.T, h *House) {
	ctx := t.Context()
	f := h.Found(t, "Lindenhof")
	var ids []studio.WorkID
	for _, title := range []string{"One", "Two", "Three"} {
		w, err := h.Desk.AddWork(ctx, f.Teacher, studio.Work{Title: title, Score: "<score/>", Exercise: title == "Two", Recipe: "r"})
		must(t, err)
		if got, err := h.Store.Work(ctx, f.Studio.ID, w.ID); err != nil || !reflect.DeepEqual(got, w) {
			t.Errorf("work\n%+v\nwant\n%+v, %v", got, w, err)
		}
		ids = append(ids, w.ID)
	}
	c := studio.Collection{Name: "First book", Items: []studio.CollectionItem{
		{Work: ids[2]}, {Work: ids[0], After: []studio.WorkID{ids[2]}}, {Work: ids[1], After: []studio.WorkID{ids[2], ids[0]}}}}
	c, err := h.Desk.Shelve(ctx, f.Teacher, c)
	must(t, err)
	for range 2 {
		if cs, err := h.Store.Collections(ctx, f.Studio.ID); err != nil || len(cs) != 1 || !reflect.DeepEqual(cs[0], c) {
			t.Errorf("collections\n%+v\nwant\n%+v, %v", cs, c, err)
		}
		c.Name, c.Items = "First book, shorter", c.Items[:2]
		_, err = h.Desk.Shelve(ctx, f.Teacher, c)
		must(t, err)
	}
	_, err = h.Desk.Shelve(ctx, f.Teacher, studio.Collection{Name: "Circle", Items: []studio.CollectionItem{{Work: ids[0], After: []studio.WorkID{ids[1]}}, {Work: ids[1]}}})
	refused(t, "before what it needs", err, studio.Invalid)
	other := h.Found(t, "Seeblick")
	_, err = h.Desk.Shelve(ctx, other.Teacher, c)
	refused(t, "another studio's collection", err, studio.NotFound)
}

func retention(t *testing.T, h *House) {
	ctx := t.Context()
	f := h.Found(t, "Lindenhof")
	v, mira := h.Join(t, f, "Abel", "Mira")
	old := h.Send(t, v, mira, "old").Take
	h.Now = h.Now.AddDate(0, 0, 1)
	young := h.Send(t, v, mira, "young").Take
	h.Now = old.Arrived.AddDate(0, 0, studio.DefaultKeepDays).Add(-1)
	r := h.keepTheClock(t, h.Desk, f)
	if r.Takes != 0 {
		t.Errorf("too early: %+v", r)
	}
	h.Now = h.Now.Add(1)
	r = h.keepTheClock(t, h.Desk, f)
	rs, err := h.Store.Receipts(ctx, f.Studio.ID)
	must(t, err)
	if r.Takes != 1 || len(rs) != 1 || rs[0] != r {
		t.Errorf("receipt %+v, kept %+v", r, rs)
	}
	ts, err := h.Desk.TakesBy(ctx, v, studio.TakeQuery{})
	must(t, err)
	if len(ts) != 1 || ts[0].ID != young.ID {
		t.Errorf("what is left: %+v", ts)
	}
}

// keepTheClock looks a day before and now, as a program does that runs.
func (h *House) keepTheClock(t *testing.T, d *studio.Desk, f Founded) studio.Receipt {
	t.Helper()
	now := h.Now
	h.Now = now.AddDate(0, 0, -1)
	_, err := d.KeepTheClock(t.Context(), f.Ear)
	must(t, err)
	h.Now = now
	r, err := d.KeepTheClock(t.Context(), f.Ear)
	must(t, err)
	return r
}

// clockJumps: a machine that starts in a wrong year deletes nothing; one that was off for a week deletes a
// day after it came back.
func clockJumps(t *testing.T, h *House) {
	ctx := t.Context()
	f := h.Found(t, "Lindenhof")
	v, mira := h.Join(t, f, "Abel", "Mira")
	var log bytes.Buffer
	d := h.desk(studio.DeskOptions{Log: slog.New(slog.NewTextHandler(&log, nil))})
	h.Send(t, v, mira, "la")
	_, err := d.Drop(ctx, f.Teacher, "found.mp4", "video/mp4", strings.NewReader("whose?"))
	must(t, err)
	look := func(what string, at time.Time, want int) {
		t.Helper()
		h.Now = at
		_, err := d.KeepTheClock(ctx, f.Ear)
		must(t, err)
		if n := h.files(t, f) - len(h.dooms(t, f)); n != want {
			t.Errorf("%s: %d recordings are left, want %d", what, n, want)
		}
	}
	start := h.Now
	look("the first look", start, 2)
	if log.Len() != 0 {
		t.Errorf("the first look is no jump: %s", &log)
	}
	wrong := time.Date(2036, 1, 1, 0, 0, 0, 0, time.UTC)
	look("a wrong year", wrong, 2)
	if !strings.Contains(log.String(), "the clock jumped") {
		t.Errorf("not in the log: %s", &log)
	}
	for hour := range 24 {
		look("still wrong", wrong.Add(time.Duration(hour)*time.Hour), 2)
	}
	look("put right", start.Add(25*time.Hour), 2)
	look("a day later", start.Add(50*time.Hour), 2)
	if n := strings.Count(log.String(), "the clock jumped"); n != 2 {
		t.Errorf("%d jumps: %s", n, &log)
	}

	over := start.AddDate(0, 0, 30) // the unsorted one; the machine was off for four weeks
	look("back again", over, 2)
	look("23 hours later", over.Add(23*time.Hour), 2)
	look("another machine's clock, which is late", over.Add(23*time.Hour-time.Minute), 2)
	look("a day later", over.Add(24*time.Hour), 1)
	look("a week off", over.AddDate(0, 0, 8), 1)
	must(t, d.Sweep(ctx, f.Ear))
	if rs, err := d.Receipts(ctx, f.Teacher); err != nil || len(rs) != 1 || rs[0].Files != 1 {
		t.Errorf("receipts: %+v, %v", rs, err)
	}
}

func (h *House) dooms(t *testing.T, f Founded) []studio.Doomed {
	t.Helper()
	l, err := h.Store.Dooms(t.Context(), f.Studio.ID)
	must(t, err)
	return l
}

// erase: what is left of a family is the receipt, and a neighbour loses nothing.
func erase(t *testing.T, h *House) {
	ctx := t.Context()
	f := h.Found(t, "Lindenhof")
	b, jon := h.Join(t, f, "Bartsch", "Jon")
	kept := h.Send(t, b, jon, "stays").Take
	asIs := func(row string) bool {
		return strings.HasPrefix(row, "works: ") || strings.HasPrefix(row, "receipts: ") || strings.HasPrefix(row, "unsorted: ")
	}
	before := slices.DeleteFunc(h.dump(t), asIs)

	v := h.Live(t, f, "Abelone", "Miranda")
	hers, err := h.Desk.Students(ctx, v)
	must(t, err)
	u, err := h.Desk.Drop(ctx, f.Teacher, "found.mp4", "video/mp4", strings.NewReader("whose?"))
	must(t, err)
	must(t, h.Desk.KeepGuesses(ctx, f.Ear, u.ID, []studio.Guess{{Student: hers[0].ID, Why: "It sounds like Miranda."}, {Student: jon, Why: "Or like Jon."}}))
	ms, err := h.Store.Media(ctx, studio.OneFamily(v.Studio, v.Family), "")
	must(t, err)
	if len(ms) == 0 {
		t.Fatal("the family has no files")
	}
	r, err := h.Desk.EraseFamily(ctx, v, v.Family)
	must(t, err)
	if r.Takes != 2 || r.Files != 3 || r.Students != 1 {
		t.Errorf("receipt: %+v", r)
	}
	must(t, h.Desk.Sweep(ctx, f.Ear))
	for _, m := range ms {
		if _, err := h.Blobs.Open(ctx, m.Key()); !errors.Is(err, studio.ErrNotFound) {
			t.Errorf("file %s: %v", m.ID, err)
		}
	}
	var left []string
	for _, row := range h.dump(t) {
		if !asIs(row) {
			left = append(left, row)
		}
		for _, s := range []string{"Abelone", "Miranda", string(v.Family), string(v.Person), string(hers[0].ID)} {
			if strings.Contains(row, s) {
				t.Errorf("%s is still in: %s", s, row)
			}
		}
	}
	if !reflect.DeepEqual(left, before) {
		t.Errorf("left\n%s\nwas\n%s", strings.Join(left, "\n"), strings.Join(before, "\n"))
	}
	if all, err := h.Desk.Unsorted(ctx, f.Teacher); err != nil || len(all) != 1 || len(all[0].Guesses) != 1 || all[0].Guesses[0].Student != jon {
		t.Errorf("guesses that are left: %+v, %v", all, err)
	}
	_, err = h.Desk.ReviewTake(ctx, b, kept.ID)
	must(t, err)
	_, err = h.Desk.EraseFamily(ctx, f.Teacher, v.Family)
	refused(t, "erasing twice", err, studio.NotFound)
}

// Live gives a family something of every kind: two takes, one heard, corrected and remarked, lessons, looks.
func (h *House) Live(t *testing.T, f Founded, name, child string) studio.Viewer {
	t.Helper()
	ctx := t.Context()
	v, s := h.Join(t, f, name, child)
	w, err := h.Desk.AddWork(ctx, f.Teacher, studio.Work{Title: "Frère Jacques", Rights: "traditional"})
	must(t, err)
	l, err := h.Desk.SaveDraft(ctx, f.Teacher, studio.Lesson{Student: s, Date: "2026-03-02", Words: "For " + child, Assignments: []studio.Assignment{{Work: w.ID, Do: child + " plays"}}})
	must(t, err)
	_, err = h.Desk.KeepAnswer(ctx, f.Teacher, l.ID, "", "video/webm", strings.NewReader("to "+child))
	must(t, err)
	must(t, h.Desk.SendLesson(ctx, f.Teacher, l.ID, l.Version))
	a, err := h.Desk.Announce(ctx, v, studio.Announcement{Student: s, Assignment: l.Assignments[0].ID})
	must(t, err)
	_, err = h.Desk.Receive(ctx, v, a.ID, "video/mp4", strings.NewReader(child+" plays"))
	must(t, err)
	hg := h.heard(t, f.Ear, a.ID, `{"schema":"antiphon.hearing/1","take":{"file":"`+child+`.mp4"}}`)
	_, err = h.Desk.Correct(ctx, f.Teacher, a.ID, hg.ID, "note-right", []byte(`{"who":"`+child+`"}`))
	must(t, err)
	_, err = h.Desk.Remark(ctx, f.Teacher, a.ID, studio.Anchor{AtS: 1}, "Good, "+child, "late-thumb")
	must(t, err)
	_, err = h.Desk.ReviewTake(ctx, v, a.ID)
	must(t, err)
	h.Send(t, v, s, child+" again")
	_, err = h.Desk.AddPush(ctx, v, []byte(`{"endpoint":"https://push.example.org/`+child+`"}`))
	must(t, err)
	_, err = h.Desk.SendNudge(ctx, f.Teacher, s, "Five minutes today, "+child+"?")
	must(t, err)
	letter, err := h.Desk.SaveLetter(ctx, f.Teacher, studio.Letter{Student: s, From: "2026-01-01", To: "2026-03-01", Parts: []studio.LetterPart{{Heading: "What " + child + " did"}}})
	must(t, err)
	must(t, h.Desk.SendLetter(ctx, f.Teacher, letter.ID, letter.Version))
	_, err = h.Desk.Pin(ctx, f.Teacher, s, w.ID)
	must(t, err)
	must(t, h.Store.AddFingering(ctx, studio.OwnFingering{ID: studio.FingeringID("q" + string(a.ID)[1:]), Studio: v.Studio, Family: v.Family, Student: s, Work: w.ID,
		Score: "<score/>", Why: "for " + child, Kept: h.Now, Held: h.Now, Fits: true}))
	must(t, h.Store.AddForecast(ctx, studio.Forecast{ID: studio.ForecastID("o" + string(a.ID)[1:]), Studio: v.Studio, Family: v.Family, Student: s, Day: "2026-03-02"}))
	must(t, h.Desk.Tap(ctx, v, []studio.Tap{{ID: "tap-of-the-phone", Student: s, Assignment: l.Assignments[0].ID, Kind: studio.TapQuestion, Text: "How is " + child + " to sit?", At: h.Now}}))
	return v
}

// allOrNothing: a job that cannot be handed on, an error or a panic leaves no trace.
func allOrNothing(t *testing.T, h *House) {
	ctx := t.Context()
	f := h.Found(t, "Lindenhof")
	v, mira := h.Join(t, f, "Abel", "Mira")
	a, err := h.Desk.Announce(ctx, v, studio.Announcement{Student: mira})
	must(t, err)
	before := h.dump(t)
	h.Jobs.Err = errors.New("no room")
	_, err = h.Desk.Receive(ctx, v, a.ID, "audio/mp4", strings.NewReader("la"))
	refused(t, "no job", err, studio.Internal)
	func() {
		defer func() {
			if recover() == nil {
				t.Error("a panic was swallowed")
			}
		}()
		h.Store.Within(ctx, func(tx studio.Records) error {
			must(t, tx.AddFamily(ctx, studio.Family{ID: "00000000000000000000000000", Studio: f.Studio.ID, Name: "x"}))
			panic("on the way")
		})
	}()
	if after := h.dump(t); !reflect.DeepEqual(after, before) {
		t.Errorf("after\n%s\nbefore\n%s", strings.Join(after, "\n"), strings.Join(before, "\n"))
	}
	h.Jobs.Err = nil
	r, err := h.Desk.Receive(ctx, v, a.ID, "audio/mp4", strings.NewReader("la"))
	must(t, err)
	if r.Take.State != studio.Waiting {
		t.Errorf("sent again: %+v", r)
	}
}

// aloud: a take has many spoken remarks, the family hears them, and they go with the take.
func aloud(t *testing.T, h *House) {
	ctx := t.Context()
	f := h.Found(t, "Lindenhof")
	v, mira := h.Join(t, f, "Abel", "Mira")
	b, _ := h.Join(t, f, "Bartsch", "Jon")
	take := h.Send(t, v, mira, "la").Take
	for _, said := range []string{"first", "second"} {
		r, err := h.Desk.RemarkAloud(ctx, f.Teacher, take.ID, studio.Anchor{AtS: 3}, "", "", studio.Recording{Type: "audio/webm", Body: strings.NewReader(said)})
		must(t, err)
		for _, who := range []studio.Viewer{f.Teacher, v} {
			_, _, err = h.Desk.Listen(ctx, who, r.Media)
			refused(t, "before it is clean", err, studio.Conflict)
		}
		unclean, err := h.Desk.Unclean(ctx, f.Ear)
		must(t, err)
		if last := h.Jobs.All[len(h.Jobs.All)-1]; len(unclean) != 1 || unclean[0].ID != r.Media || last.Kind != studio.JobSpoken || last.Take != take.ID {
			t.Fatalf("to be cleaned: %+v, the job %+v", unclean, last)
		}
		_, err = h.Desk.ReplaceSpoken(ctx, f.Teacher, unclean[0], "audio/webm", strings.NewReader("x"))
		refused(t, "cleaned by a person", err, studio.NotAllowed)
		clean, err := h.Desk.ReplaceSpoken(ctx, f.Ear, unclean[0], "audio/ogg", strings.NewReader(said))
		must(t, err)
		_, err = h.Desk.ReplaceSpoken(ctx, f.Ear, unclean[0], "audio/ogg", strings.NewReader("again"))
		refused(t, "cleaned twice", err, studio.NotFound)
		r, err = h.Store.Remark(ctx, studio.OneFamily(v.Studio, v.Family), r.ID)
		must(t, err)
		m, file, err := h.Desk.Listen(ctx, v, r.Media)
		must(t, err)
		if m != clean || !m.Clean || m.Type != "audio/ogg" {
			t.Errorf("clean %+v, heard %+v", clean, m)
		}
		got, err := io.ReadAll(file)
		must(t, errors.Join(err, file.Close()))
		if string(got) != said || m.Kind != studio.Spoken {
			t.Errorf("said %q, heard %q, %+v", said, got, m)
		}
		_, _, err = h.Desk.Listen(ctx, b, r.Media)
		refused(t, "another family's remark", err, studio.NotFound)
	}
	if l, err := h.Desk.Unclean(ctx, f.Ear); err != nil || len(l) != 0 {
		t.Errorf("still unclean: %+v, %v", l, err)
	}
	must(t, h.Desk.Sweep(ctx, f.Ear))
	if n := h.files(t, f); n != 3 {
		t.Errorf("%d files: what was not clean stays", n)
	}
	_, err := h.Desk.RemarkAloud(ctx, f.Teacher, take.ID, studio.Anchor{}, "", "", studio.Recording{Type: "audio/webm", Body: strings.NewReader("")})
	refused(t, "nothing said", err, studio.Invalid)
	damaged(t, h, f, v, take.ID)
	w, err := h.Desk.ReviewTake(ctx, v, take.ID)
	must(t, err)
	if len(w.Remarks) != 2 || len(w.Media) != 3 {
		t.Errorf("%d remarks, %d files", len(w.Remarks), len(w.Media))
	}
	rc, err := h.Desk.DeleteTake(ctx, f.Teacher, take.ID)
	must(t, err)
	must(t, h.Desk.Sweep(ctx, f.Ear))
	if rc.Files != 3 {
		t.Errorf("receipt: %+v", rc)
	}
	must(t, h.Blobs.Each(ctx, v.Studio, func(k studio.BlobKey, _ time.Time) error {
		t.Errorf("file %s is left", k.Media)
		return nil
	}))
}

// damaged: a remark that nobody can play says so, and is not given out with what it tells of a place.
func damaged(t *testing.T, h *House, f Founded, v studio.Viewer, take studio.TakeID) {
	t.Helper()
	ctx := t.Context()
	r, err := h.Desk.RemarkAloud(ctx, f.Teacher, take, studio.Anchor{}, "Listen.", "", studio.Recording{Type: "audio/webm", Body: strings.NewReader("noise")})
	must(t, err)
	var out bytes.Buffer
	must(t, h.Desk.ExportFamily(ctx, v, v.Family, &out))
	if bytes.Contains(out.Bytes(), []byte("noise")) { // files are stored in a zip as they are
		t.Error("the export gives out what is not clean")
	}
	l, err := h.Desk.Unclean(ctx, f.Ear)
	must(t, err)
	must(t, h.Desk.LoseSpoken(ctx, f.Ear, l[0]))
	refused(t, "lost twice", h.Desk.LoseSpoken(ctx, f.Ear, l[0]), studio.NotFound)
	got, err := h.Store.Remark(ctx, studio.OneFamily(v.Studio, v.Family), r.ID)
	must(t, err)
	if got.Media != "" || !strings.HasPrefix(got.Text, "Listen.\n(") || !strings.Contains(got.Text, "damaged") {
		t.Errorf("left: %+v", got)
	}
	must(t, h.Desk.RemoveRemark(ctx, f.Teacher, r.ID))
}

// strays: a file whose row never came is swept after a day, not before; one with a row stays.
func strays(t *testing.T, h *House) {
	ctx := t.Context()
	f := h.Found(t, "Lindenhof")
	v, mira := h.Join(t, f, "Abel", "Mira")
	kept := h.Send(t, v, mira, "la").Take
	stray := studio.BlobKey{Studio: v.Studio, Family: v.Family, Media: "zzzzzzzzzzzzzzzzzzzzzzzzzz"}
	_, _, err := h.Blobs.Put(ctx, stray, strings.NewReader("killed before its row"), 100)
	must(t, err)
	var written time.Time
	must(t, h.Blobs.Each(ctx, v.Studio, func(k studio.BlobKey, at time.Time) error {
		if k == stray {
			written = at
		}
		return nil
	}))
	there := func() bool {
		t.Helper()
		file, err := h.Blobs.Open(ctx, stray)
		if err == nil {
			must(t, file.Close())
		} else if !errors.Is(err, studio.ErrNotFound) {
			t.Fatal(err)
		}
		return err == nil
	}
	h.Now = written.Add(23 * time.Hour)
	must(t, h.Desk.SweepStrays(ctx, f.Ear))
	if !there() {
		t.Error("a file was swept while its row may still come")
	}
	h.Now = written.Add(25 * time.Hour)
	must(t, h.Desk.SweepStrays(ctx, f.Ear))
	if there() {
		t.Error("a stray file stays for good")
	}
	ms, err := h.Store.Media(ctx, studio.OneFamily(v.Studio, v.Family), kept.ID)
	must(t, err)
	file, err := h.Blobs.Open(ctx, ms[0].Key())
	must(t, err)
	must(t, file.Close())
}

// twice: what a double click or a browser that sends again brings is there once; an empty lesson stays here.
func twice(t *testing.T, h *House) {
	ctx := t.Context()
	f := h.Found(t, "Lindenhof")
	a, mira := h.Join(t, f, "Abel", "Mira")
	take := h.Send(t, a, mira, "a take").Take
	at := studio.Anchor{AtS: 3.5, Bar: "2"}
	first, err := h.Desk.Remark(ctx, f.Teacher, take.ID, at, "The thumb first.", "")
	must(t, err)
	again, err := h.Desk.Remark(ctx, f.Teacher, take.ID, at, "The thumb first.", "")
	must(t, err)
	if again.ID != first.ID {
		t.Error("a remark that was sent again is there twice")
	}
	h.Now = h.Now.Add(time.Hour)
	later, err := h.Desk.Remark(ctx, f.Teacher, take.ID, at, "The thumb first.", "")
	must(t, err)
	if later.ID == first.ID {
		t.Error("what is said an hour later is not said")
	}
	l, err := h.Desk.SaveDraft(ctx, f.Teacher, studio.Lesson{Student: mira, Date: "2026-03-02"})
	must(t, err)
	refused(t, "an empty lesson", h.Desk.SendLesson(ctx, f.Teacher, l.ID, l.Version), studio.Invalid)
	_, err = h.Desk.SaveDraft(ctx, f.Teacher, studio.Lesson{Student: mira, Date: "2026-03-02", Assignments: []studio.Assignment{{Work: "w0000000000000000000000001"}}})
	refused(t, "a work of nobody's", err, studio.NotFound)
}
