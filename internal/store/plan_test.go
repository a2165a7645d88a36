package store_test

import (
	"context"
	"database/sql"
	"path/filepath"
	"regexp"
	"slices"
	"strings"
	"testing"
	"time"

	"antiphon/internal/store"
	"antiphon/internal/store/storetest"
	"antiphon/internal/studio"
)

// watched is a store that tells of every question, also of those in a transaction.
type watched struct {
	*store.Store
	on func(query string, args []any)
}

func (w watched) Within(ctx context.Context, do func(tx studio.Records) error) error {
	return w.Store.Within(ctx, func(tx studio.Records) error { return do(store.WatchedTx(tx, w.on)) })
}

// grow with the years; a page that reads all of one would become slower with every take.
var grow = regexp.MustCompile(`^(SCAN|SEARCH) (takes|t|media|m|hearings|lessons|l|assignments|a|remarks|access_log|prints|corrections|taps|answers|films|letters|notices|nudges)\b(.*)$`)

// wholeStudio says that an index is asked for a whole studio's rows, which is no narrower than a scan:
// it is held to nothing but the studio, or a work that is any. A stretch of time is narrow.
func wholeStudio(step string) bool {
	m := held.FindStringSubmatch(step)
	if m == nil {
		return true
	}
	for _, term := range strings.Split(m[1], " AND ") {
		if term != "studio_id=?" && !strings.HasPrefix(term, "work_id>") {
			return false
		}
	}
	return true
}

var held = regexp.MustCompile(`\(([^()]*)\)`)

// TestPlans looks at how SQLite answers what pages ask: never by reading all takes, hearings, lessons or
// remarks of the studio. https://www.sqlite.org/eqp.html says what the words of a plan mean.
func TestPlans(t *testing.T) {
	ctx := t.Context()
	path := filepath.Join(t.TempDir(), "studio.db")
	s := opened(t, func() (*store.Store, error) { return store.OpenSQLite(ctx, path) })
	h := storetest.NewHouse(t, s, t.TempDir())
	f := h.Found(t, "Lindenhof")
	v := h.Live(t, f, "Abel", "Mira")
	db, err := sql.Open("sqlite", path)
	if err != nil {
		t.Fatal(err)
	}
	defer db.Close()

	var page string
	asked := 0
	w := watched{Store: store.Watched(s, nil)}
	w.on = func(query string, args []any) {
		asked++
		rows, err := db.QueryContext(ctx, "EXPLAIN QUERY PLAN "+query, args...)
		if err != nil {
			t.Errorf("%s: %v\n%s", page, err, query)
			return
		}
		defer rows.Close()
		var plan []string
		for rows.Next() {
			var id, parent, unused int
			var detail string
			if err := rows.Scan(&id, &parent, &unused, &detail); err != nil {
				t.Fatal(err)
			}
			plan = append(plan, detail)
		}
		if err := rows.Err(); err != nil {
			t.Fatal(err)
		}
		sorted := strings.Contains(strings.Join(plan, "\n"), "USE TEMP B-TREE FOR ORDER BY")
		for _, step := range plan {
			m := grow.FindStringSubmatch(step)
			if m == nil {
				continue
			}
			few := strings.Contains(query, "LIMIT") && !sorted // in order of the index, and stops
			if strings.Contains(step, "takes_unanswered") || strings.Contains(step, "taps_open") || strings.Contains(step, "media_lesson ") && page == "the clock" {
				continue // holds only what waits for an answer; of lessons' files what is not over
			}
			if m[1] == "SCAN" || wholeStudio(step) && !few {
				t.Errorf("%s reads everything: %s\nin %s\n%s", page, step, strings.Join(plan, "\n"), query)
			}
		}
	}
	w.Store = store.Watched(s, w.on)
	d := studio.NewDesk(w, h.Blobs, h.Jobs, studio.DeskOptions{Zone: time.UTC, Now: func() time.Time { return h.Now.Add(time.Hour) }})

	ts, err := d.TakesBy(ctx, f.Teacher, studio.TakeQuery{})
	if err != nil || len(ts) < 2 {
		t.Fatal(ts, err)
	}
	take := ts[slices.IndexFunc(ts, func(x studio.Take) bool { return x.State == studio.Ready })] // with assignment, work and hearing
	ls, err := d.Lessons(ctx, v, studio.LessonQuery{})
	if err != nil || len(ls) != 1 {
		t.Fatal(ls, err)
	}
	ms, err := s.Media(ctx, studio.OneFamily(v.Studio, v.Family), take.ID)
	if err != nil || len(ms) == 0 {
		t.Fatal(ms, err)
	}
	child := take.Student
	discard := func(_ any, err error) error { return err }
	type ask struct {
		page string
		run  func() error
	}
	asks := []ask{
		{"the desk", func() error { return discard(d.Look(ctx, f.Teacher)) }},
		{"who sends and hears", func() error { return discard(d.Pulse(ctx, f.Teacher)) }},
		{"unsorted", func() error { return discard(d.Unsorted(ctx, f.Teacher)) }},
		{"a new lesson's draft", func() error {
			return discard(d.SaveDraft(ctx, f.Teacher, studio.Lesson{Student: child, Date: "2026-03-09"}))
		}},
		{"said before", func() error { return discard(d.SaidBefore(ctx, f.Teacher, child, "late-thumb")) }},
		{"everybody's week", func() error { return discard(d.SoFar(ctx, f.Teacher)) }},
		{"a proposal", func() error { _, _, err := d.ProposeLesson(ctx, f.Teacher, child); return err }},
		{"a letter's draft", func() error { return discard(d.DraftLetter(ctx, f.Teacher, child, "2026-01-01", "2026-03-31")) }},
		{"a nudge's draft", func() error { return discard(d.DraftNudge(ctx, f.Teacher, child)) }},
		{"tapping", func() error {
			return d.Tap(ctx, v, []studio.Tap{{ID: "a-tap-of-today", Student: child, Assignment: take.Assignment, Kind: studio.TapHurt, At: h.Now}})
		}},
		{"what is due", func() error { return d.SendDue(ctx, f.Ear, "") }},
		{"what is to be cut", func() error { return discard(d.ClipsToCut(ctx, f.Ear, ls[0].ID)) }},
		{"answer", func() error { return d.Answer(ctx, f.Teacher, take.ID) }},
		{"hear again", func() error { return d.HearAgain(ctx, f.Teacher, take.ID) }},
		{"begin to hear", func() error { return discard(d.BeginHearing(ctx, f.Ear, take.ID)) }},
		{"what it sounded like", func() error { return discard(d.Prints(ctx, f.Ear, child, h.Now.AddDate(0, -6, 0))) }},
		{"keep a hearing", func() error {
			return discard(d.KeepHearing(ctx, f.Ear, take.ID, studio.Heard{Doc: []byte(`{"schema":"antiphon.hearing/1"}`), Print: []byte("p"), SameAs: ts[0].ID}))
		}},
		{"the clock", func() error { return discard(d.KeepTheClock(ctx, f.Ear)) }},
		{"a device", func() error { _, err := d.Recognise(ctx, "x"); return unlessNotAllowed(err) }},
		{"model takes", func() error { return discard(d.ModelTakes(ctx, v, take.Work)) }},
	}
	for _, who := range []studio.Viewer{f.Teacher, v} {
		for name, q := range map[string]studio.TakeQuery{
			"all": {}, "of a student": {Student: child}, "of a work": {Work: take.Work}, "of a student and work": {Student: child, Work: take.Work},
			"of an assignment": {Assignment: take.Assignment}, "in a state": {State: studio.Waiting}, "unanswered": {Unanswered: true},
			"unanswered of a student": {Student: child, Unanswered: true}, "the next page": {Before: take}, "the next of a student": {Student: child, Before: take},
		} {
			asks = append(asks, ask{"takes " + name + " for the " + string(who.Role), func() error { return discard(d.TakesBy(ctx, who, q)) }})
		}
		asks = append(asks,
			ask{"a take", func() error { return discard(d.ReviewTake(ctx, who, take.ID)) }},
			ask{"a hearing", func() error { return discard(d.Hearing(ctx, who, take.ID)) }},
			ask{"a student", func() error { return discard(d.Student(ctx, who, child)) }},
			ask{"a course", func() error { return discard(d.Course(ctx, who, child)) }},
			ask{"changes", func() error { return discard(d.Changes(ctx, who, h.Now.AddDate(0, -1, 0))) }},
			ask{"lessons", func() error { return discard(d.Lessons(ctx, who, studio.LessonQuery{Drafts: true})) }},
			ask{"lessons of a student", func() error { return discard(d.Lessons(ctx, who, studio.LessonQuery{Student: child, Before: ls[0]})) }},
			ask{"a lesson", func() error { return discard(d.Lesson(ctx, who, ls[0].ID)) }},
			ask{"a student's week", func() error { return discard(d.SoFarOf(ctx, who, child)) }},
			ask{"taps", func() error { return discard(d.Taps(ctx, who, studio.TapQuery{})) }},
			ask{"taps of a student", func() error { return discard(d.Taps(ctx, who, studio.TapQuery{Student: child, Since: h.Now})) }},
			ask{"taps of a task", func() error {
				return discard(d.Taps(ctx, who, studio.TapQuery{Student: child, Assignment: take.Assignment}))
			}},
			ask{"answers", func() error { return discard(d.Answers(ctx, who, ls[0].ID)) }},
			ask{"a film", func() error { return discard(d.Film(ctx, who, ls[0].ID)) }},
			ask{"letters", func() error { return discard(d.Letters(ctx, who, child)) }},
			ask{"a word between lessons", func() error { _, _, err := d.NudgeFor(ctx, who, child); return err }},
			ask{"remarks", func() error { return discard(d.RemarksOf(ctx, who, child, 0)) }},
			ask{"who looked", func() error { return discard(d.AccessLog(ctx, who, child)) }},
			ask{"a work", func() error { return discard(d.Work(ctx, who, take.Work)) }},
			ask{"announcing", func() error {
				return discard(d.Announce(ctx, who, studio.Announcement{Student: child, Assignment: take.Assignment}))
			}},
			ask{"playing", func() error {
				_, file, err := d.Listen(ctx, who, ms[0].ID)
				if err == nil {
					err = file.Close()
				}
				return err
			}},
		)
	}
	for _, a := range asks {
		page, asked = a.page, 0
		if err := a.run(); err != nil {
			t.Errorf("%s: %v", a.page, err)
		}
		if asked == 0 {
			t.Errorf("%s asks nothing: this shows nothing", a.page)
		}
	}
}

func unlessNotAllowed(err error) error {
	if err != nil && strings.HasPrefix(err.Error(), string(studio.NotAllowed)) {
		return nil
	}
	return err
}
