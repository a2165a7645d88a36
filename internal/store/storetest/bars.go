package storetest

import (
	"archive/zip"
	"bytes"
	"encoding/json"
	"reflect"
	"strings"
	"testing"
	"time"

	"antiphon/internal/store"
	"antiphon/internal/studio"
)

// barHearing is a hearing of two bars: one note of the first is wrong, and the playing broke off in the second.
const barHearing = `{"schema":"antiphon.hearing/1","score":{"notes":[{"id":"a","bar":"1"},{"id":"b","bar":"1"},{"id":"c","bar":"2"}]},
 "jumps":[{"kind":"restart","from_bar":"2","to_bar":"1"}],"played":[{"note":"a","verdict":"right"},{"note":"b","verdict":"wrong"},{"note":"c","verdict":"right"}],"missed":[],
 "tempo":{"beat_unit_q":1,"curve":[{"bar":"1","bpm":61.24}]},"findings":[]}`

// heardBars: what was heard bar by bar is kept with a take, and what was heard before bars were counted is counted later;
// practice of a few bars and of the whole are told apart.
func heardBars(t *testing.T, h *House) {
	ctx := t.Context()
	f := h.Found(t, "Lindenhof")
	v, mira := h.Join(t, f, "Abel", "Mira")
	other, jon := h.Join(t, f, "Bartsch", "Jon")
	w, err := h.Desk.AddWork(ctx, f.Teacher, studio.Work{Title: "Three Blind Mice", Rights: "traditional"})
	must(t, err)
	take := func(v studio.Viewer, s studio.StudentID, a studio.AssignmentID, doc string) studio.TakeID {
		t.Helper()
		one, err := h.Desk.Announce(ctx, v, studio.Announcement{Student: s, Assignment: a})
		must(t, err)
		_, err = h.Desk.Receive(ctx, v, one.ID, "audio/mp4", strings.NewReader("la "+string(one.ID)))
		must(t, err)
		m, err := h.Desk.BeginHearing(ctx, f.Ear, one.ID)
		must(t, err)
		h.clean(t, f.Ear, m)
		_, err = h.Desk.KeepHearing(ctx, f.Ear, one.ID, studio.Heard{Doc: []byte(doc), Summary: studio.Summary{Bpm: 61, Notes: 3}})
		must(t, err)
		h.Now = h.Now.Add(time.Hour)
		return one.ID
	}
	l := h.asked(t, f, mira, studio.Assignment{Work: w.ID, Do: "All."}, studio.Assignment{Work: w.ID, FromBar: "1", ToBar: "2", Do: "These."})
	must(t, h.Desk.Tap(ctx, v, []studio.Tap{
		{ID: "tap-a--------", Student: mira, Assignment: l.Assignments[0].ID, Kind: studio.TapTry, Clean: true, At: h.Now},
		{ID: "tap-b--------", Student: mira, Assignment: l.Assignments[1].ID, Kind: studio.TapTry, At: h.Now},
		{ID: "tap-c--------", Student: mira, Assignment: l.Assignments[1].ID, Kind: studio.TapTry, At: h.Now}}))
	first, second := take(v, mira, l.Assignments[0].ID, barHearing), take(v, mira, l.Assignments[1].ID, hearing)
	theirs := h.asked(t, f, jon, studio.Assignment{Work: w.ID, Do: "All."})
	take(other, jon, theirs.Assignments[0].ID, barHearing)

	in := studio.WholeStudio(f.Studio.ID)
	want := &studio.HeardBars{Bar: []string{"1", "2"}, Written: []int{2, 1}, Right: []int{1, 1}, Stops: []int{0, 1}, Bpm: []float64{61.2, 0}}
	look := func(when string, bars *studio.HeardBars) studio.History {
		t.Helper()
		all, err := h.Store.History(ctx, in, mira, time.Time{}, time.Time{}, 0)
		must(t, err)
		if len(all.Heard) != 2 || all.Heard[0].Take != first || all.Heard[1].Take != second || !reflect.DeepEqual(all.Heard[0].Bars, bars) || all.Heard[1].Bars != nil {
			t.Errorf("%s: %+v, want %+v", when, all.Heard, bars)
		}
		return all
	}
	all := look("as it is heard", want)
	if p := all.Practised; len(p) != 2 || p[0].FromBar != "" || p[0].Tries != 1 || p[1].FromBar != "1" || p[1].ToBar != "2" || p[1].Tries != 2 || p[1].Clean != 0 {
		t.Errorf("practised: %+v", p)
	}
	if a := all.Asked; len(a) != 2 || a[0].ToBar != "" || a[1].FromBar != "1" || a[1].ToBar != "2" {
		t.Errorf("asked: %+v", a)
	}

	// No teacher but the family's own.
	stranger := h.Found(t, "Ahornweg").Teacher
	_, err = h.Desk.Memory(ctx, stranger, mira, studio.SaidQuery{})
	refused(t, "all about a student of another studio", err, studio.NotFound)
	_, err = h.Desk.AskPassage(ctx, stranger, mira, w.ID, "1", "2")
	refused(t, "a passage for a student of another studio", err, studio.NotFound)
	_, err = h.Desk.Memory(ctx, v, mira, studio.SaidQuery{})
	refused(t, "all about a student, for the family", err, studio.NotAllowed)

	// As an older program left it.
	must(t, h.Store.Within(ctx, func(tx studio.Records) error {
		_, err := store.SQL(tx).ExecContext(ctx, `UPDATE takes SET bars = ''`)
		return err
	}))
	look("before it is counted", nil)
	refused(t, "counting by a family", h.Desk.CountBars(ctx, v), studio.NotAllowed)
	must(t, h.Desk.CountBars(ctx, f.Ear))
	look("counted later", want)
	if left, err := h.Store.Uncounted(ctx, f.Studio.ID, 10); err != nil || len(left) != 0 {
		t.Errorf("still to be counted: %+v, %v", left, err)
	}

	// A family has it in its export, and only its own.
	var zipped bytes.Buffer
	must(t, h.Desk.ExportFamily(ctx, v, v.Family, &zipped))
	z, err := zip.NewReader(bytes.NewReader(zipped.Bytes()), int64(zipped.Len()))
	must(t, err)
	file, err := z.Open("family.json")
	must(t, err)
	var e studio.Export
	must(t, json.NewDecoder(file).Decode(&e))
	if len(e.Heard) != 2 || e.Heard[0].Take != first || !reflect.DeepEqual(e.Heard[0].Bars, want) {
		t.Errorf("the export has %+v", e.Heard)
	}

	// An assignment of another work says nothing of the bars.
	canon, err := h.Desk.AddWork(ctx, f.Teacher, studio.Work{Title: "Tallis’s Canon", Rights: "traditional"})
	must(t, err)
	must(t, h.Desk.Assign(ctx, f.Teacher, second, l.Assignments[1].ID, canon.ID))
	if all := look("in the bars of another work", want); all.Heard[1].Work != canon.ID || all.Heard[1].FromBar != "" || all.Heard[1].ToBar != "" {
		t.Errorf("with an assignment of another work: %+v", all.Heard[1])
	}

	// Of another work nothing is told before it is heard again.
	must(t, h.Desk.Assign(ctx, f.Teacher, first, "", w.ID))
	look("while it is heard again", nil)
	if left, err := h.Store.Uncounted(ctx, f.Studio.ID, 10); err != nil || len(left) != 0 {
		t.Errorf("to be counted while it is heard again: %+v, %v", left, err)
	}
}
