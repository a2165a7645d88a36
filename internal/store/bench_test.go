package store_test

import (
	"context"
	"errors"
	"fmt"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"syscall"
	"testing"
	"time"

	"antiphon/internal/store"
	"antiphon/internal/store/disk"
	"antiphon/internal/store/storetest"
	"antiphon/internal/studio"
)

// A large studio after three years: 300 students, each with 333 takes, 150 lessons of four assignments,
// a remark, four files and two looks a take. A hearing of 50 notes is 10 kB: 5 million notes in all.
const (
	largeFamilies = 300
	largeTakes    = 333
	largeLessons  = 150
	largeTaps     = 20     // at home, for each lesson
	largeHearing  = 10_000 // bytes
	largeWorks    = 200
	largeScore    = 40_000 // bytes
)

// large fills a database by its own means, since a million rows one by one would take minutes. Rows are
// written in the order of time, so that one student's lie far from each other; ids have no order.
func large(ctx context.Context, s *store.Store, f storetest.Founded) error {
	const us, hour = 1_000_000, 3_600_000_000
	start := time.Date(2023, 9, 1, 16, 0, 0, 0, time.UTC).UnixMicro()
	st := string(f.Studio.ID)
	id := func(kind, n string) string {
		return `printf('` + kind + `%025d', (` + n + `) * 2654435761 % 4294967296)`
	}
	count := func(n int) string {
		return fmt.Sprintf(`WITH RECURSIVE n (i) AS (SELECT 0 UNION ALL SELECT i + 1 FROM n WHERE i < %d) `, n-1)
	}
	fam, work := id("f", fmt.Sprint("i % ", largeFamilies)), id("w", fmt.Sprint("i * 7 % ", largeWorks))
	at := fmt.Sprintf(`%d + (i / %d) * 79 * %d + (i %% %d) * 60 * %d`, start, largeFamilies, hour, largeFamilies, us)
	takes := largeFamilies * largeTakes
	open := fmt.Sprintf(`i >= %d`, takes-largeFamilies/3)                             // a third of the students wait
	if _, err := s.DB().ExecContext(ctx, `PRAGMA cache_size = -400000`); err != nil { // or ids without order take minutes
		return err
	}
	doc := `{"schema":"antiphon.hearing/1","filled":"` + strings.Repeat("x", largeHearing) + `"}`
	for _, q := range []struct {
		sql  string
		args []any
	}{
		{count(largeWorks) + `INSERT INTO works (id, studio_id, title, composer, exercise, recipe, rights, added_at)
			SELECT ` + id("w", "i") + `, $1, 'Work ' || i, '', 0, '', '', i FROM n`, []any{st}},
		{count(largeWorks) + `INSERT INTO scores (work_id, studio_id, score) SELECT ` + id("w", "i") + `, $1, $2 FROM n`, []any{st, strings.Repeat("s", largeScore)}},
		{`INSERT INTO collections (id, studio_id, name) VALUES ('k0000000000000000000000001', $1, 'First book')`, []any{st}},
		{count(50) + `INSERT INTO collection_items (studio_id, collection_id, place, work_id) SELECT $1, 'k0000000000000000000000001', i, ` + id("w", "i") + ` FROM n`, []any{st}},
		{count(largeFamilies) + `INSERT INTO families (id, studio_id, name, since) SELECT ` + id("f", "i") + `, $1, 'Abel ' || i, i FROM n`, []any{st}},
		{count(largeFamilies) + `INSERT INTO people (id, studio_id, family_id, role, name) SELECT ` + id("p", "i") + `, $1, ` + id("f", "i") + `, 'coach', 'Parent' FROM n`, []any{st}},
		{count(largeFamilies) + `INSERT INTO students (id, studio_id, family_id, name, media, since) SELECT ` + id("c", "i") + `, $1, ` + id("f", "i") + `, 'Mira ' || i, 'video', i FROM n`, []any{st}},
		{count(largeFamilies*largeLessons) + `INSERT INTO lessons (id, studio_id, family_id, student_id, day, words, version, saved_at, sent_at)
			SELECT ` + id("v", "i") + `, $1, ` + fam + `, ` + id("c", fmt.Sprint("i % ", largeFamilies)) + `, date('2023-09-01', '+' || (i / ` + fmt.Sprint(largeFamilies) + ` * 7) || ' days'),
			'Well done, and now the second part.', 1, 1, ` + fmt.Sprintf(`%d + (i / %d) * 7 * 24 * %d`, start, largeFamilies, hour) + ` FROM n`, []any{st}},
		{count(4*largeFamilies*largeLessons) + `INSERT INTO assignments (id, studio_id, family_id, lesson_id, place, work_id, from_bar, to_bar, goals, what_to_do)
			SELECT ` + id("a", "i") + `, $1, ` + id("f", fmt.Sprint("i / 4 % ", largeFamilies)) + `, ` + id("v", "i / 4") + `, i % 4, ` + work + `, '1', '8', '{"TempoBpm":60}',
			'Four times a day, slowly, with the metronome.' FROM n`, []any{st}},
		{count(takes) + `INSERT INTO takes (id, studio_id, family_id, student_id, assignment_id, work_id, by_id, state, why, file_name, bytes, announced_at, arrived_at, keep_until,
				answered_at, changed_at, duration_s, summary, concerns)
			SELECT ` + id("t", "i") + `, $1, ` + fam + `, ` + id("c", fmt.Sprint("i % ", largeFamilies)) + `, ` + id("a", fmt.Sprintf("i %% %d * 4", largeFamilies*largeLessons)) + `, ` + work + `, 'x', 'ready', '', 'video.mp4', 30000000, ` +
			at + `, ` + at + ` + 1000000, ` + at + ` + 400 * 86400000000, CASE WHEN ` + open + ` THEN 0 ELSE ` + at + ` + 90000000000 END, ` + at + `, 120,
			'{"Bpm":62,"RightShare":0.93,"Notes":50,"Wrong":2,"Missed":1,"FromBar":"1","ToBar":"16"}', '[{"Kind":"string-out-of-tune","Say":"The third string is flat."}]' FROM n`, []any{st}},
		{count(4*takes) + `INSERT INTO media (id, studio_id, family_id, student_id, take_id, kind, what, type, bytes, sha256, clean, sent_sha256, made_at)
			SELECT ` + id("m", "i") + `, $1, ` + id("f", fmt.Sprint("i / 4 % ", largeFamilies)) + `, ` + id("c", fmt.Sprint("i / 4 % ", largeFamilies)) + `, ` + id("t", "i / 4") + `, CASE i % 4 WHEN 0 THEN 'original' WHEN 1 THEN 'playable' WHEN 2 THEN 'poster' ELSE 'peaks' END,
			'', 'video/mp4', 1000, ` + id("sum", "i") + `, 1, ` + id("sum", "i") + `, 0 FROM n`, []any{st}},
		{count(largeTaps*largeFamilies*largeLessons) + `INSERT INTO taps (id, studio_id, family_id, student_id, assignment_id, by_id, kind, at, came_at, clean, bpm, seconds, words, media_id, is_right, answered_at, keep_until)
			SELECT ` + id("x", "i") + `, $1, ` + id("f", fmt.Sprintf("i / %d %% %d", largeTaps, largeFamilies)) + `, ` + id("c", fmt.Sprintf("i / %d %% %d", largeTaps, largeFamilies)) + `,
			` + id("a", fmt.Sprintf("i / %d * 4 + i %% 4", largeTaps)) + `, 'x', CASE i % ` + fmt.Sprint(largeTaps) + ` WHEN 0 THEN 'question' WHEN 1 THEN 'done' ELSE 'try' END,
			` + fmt.Sprintf(`%d + (i / %d) * 7 * 24 * %d + (i %% %d) * 8 * %d`, start, largeTaps*largeFamilies, hour, largeTaps, hour) + `, 0, i % 2, 60 + i % 20, 20, '', '', 0,
			CASE WHEN i >= ` + fmt.Sprint(largeTaps*largeFamilies*(largeLessons-1)) + ` THEN 0 ELSE 1 END, 9000000000000000 FROM n`, []any{st}},
		{count(takes) + `INSERT INTO hearings (id, studio_id, family_id, take_id, version, json, heard_at)
			SELECT ` + id("h", "i") + `, $1, ` + fam + `, ` + id("t", "i") + `, 'antiphon.hearing/1', $2, ` + at + ` + 2000000 FROM n`, []any{st, doc}},
		{count(takes) + `INSERT INTO remarks (id, studio_id, family_id, student_id, take_id, by_id, anchor, words, remedy, media_id, made_at)
			SELECT ` + id("r", "i") + `, $1, ` + fam + `, ` + id("c", fmt.Sprint("i % ", largeFamilies)) + `, ` + id("t", "i") + `, 'x', '{"AtS":12.5,"Bar":"7"}', 'Let the thumb play earlier here.',
			'late-thumb-' || (i % 40), '', ` + at + ` + 3000000 FROM n`, []any{st}},
		{count(2*takes) + `INSERT INTO access_log (studio_id, family_id, student_id, take_id, by_id, role, what, at)
			SELECT $1, ` + fam + `, ` + id("c", fmt.Sprint("i % ", largeFamilies)) + `, ` + id("t", "i / 2") + `, 'x', 'teacher', 'looked', ` + at + ` / 2 FROM n`, []any{st}},
		{count(takes) + `INSERT INTO prints (take_id, studio_id, family_id, student_id, print, arrived_at)
			SELECT ` + id("t", "i") + `, $1, ` + fam + `, ` + id("c", fmt.Sprint("i % ", largeFamilies)) + `, zeroblob(1000), ` + at + ` FROM n`, []any{st}},
	} {
		if err := s.Within(ctx, func(tx studio.Records) error {
			_, err := store.SQL(tx).ExecContext(ctx, q.sql, q.args...)
			return err
		}); err != nil {
			return fmt.Errorf("%w in %.300s", err, q.sql)
		}
	}
	return nil
}

// BenchmarkLargeStudio asks what pages ask of a large studio, in SQLite, through the desk and so with
// its access log. It reports milliseconds: the mean, the processor's share of it, and the 95th of a hundred.
func BenchmarkLargeStudio(b *testing.B) {
	ctx := b.Context()
	folder := b.TempDir()
	s, err := store.OpenSQLite(ctx, filepath.Join(folder, "studio.db"))
	if err != nil {
		b.Fatal(err)
	}
	defer s.Close()
	blobs, err := disk.Open(filepath.Join(folder, "blobs"))
	if err != nil {
		b.Fatal(err)
	}
	defer blobs.Close()
	now := time.Date(2026, 9, 3, 16, 0, 0, 0, time.UTC)
	d := studio.NewDesk(s, blobs, &storetest.Jobs{}, studio.DeskOptions{Now: func() time.Time { now = now.Add(time.Millisecond); return now }})
	st, p, err := d.Found(ctx, "Lindenhof", "Teacher")
	if err != nil {
		b.Fatal(err)
	}
	teacher := studio.Viewer{Studio: st.ID, Role: studio.Teacher, Person: p.ID}
	f := storetest.Founded{Studio: st, Teacher: teacher, Ear: studio.Viewer{Studio: st.ID, Role: studio.Ear}}
	if err := large(ctx, s, f); err != nil {
		b.Fatal(err)
	}
	if i, err := os.Stat(filepath.Join(folder, "studio.db")); err == nil {
		b.Logf("the database has %d MB", i.Size()>>20)
	}
	children, err := d.Students(ctx, teacher)
	if err != nil || len(children) != largeFamilies {
		b.Fatal(len(children), err)
	}
	takes, err := s.Takes(ctx, studio.WholeStudio(st.ID), studio.TakeQuery{})
	if err != nil || len(takes) != largeFamilies*largeTakes {
		b.Fatal(len(takes), err)
	}
	child := func(n int) studio.Student { return children[n*101%len(children)] }
	coach := func(n int) studio.Viewer {
		return studio.Viewer{Studio: st.ID, Role: studio.Coach, Person: "x", Family: child(n).Family}
	}
	take := func(n int) studio.Take { return takes[n*7919%len(takes)] }
	want := func(n, least int, err error) error {
		if err == nil && n < least {
			err = fmt.Errorf("only %d rows", n)
		}
		return err
	}
	for _, q := range []struct {
		name string
		ask  func(n int) error
	}{
		{"the desk", func(int) error {
			v, err := d.Look(ctx, teacher)
			return want(len(v.Waiting), largeFamilies/3, err)
		}},
		{"a page of takes", func(int) error {
			ts, err := d.TakesBy(ctx, teacher, studio.TakeQuery{})
			return want(len(ts), 50, err)
		}},
		{"a page of a student's takes, far back", func(n int) error {
			ts, err := d.TakesBy(ctx, teacher, studio.TakeQuery{Student: child(n).ID, Before: studio.Take{ID: "t", Announced: now.AddDate(-1, 0, 0)}})
			return want(len(ts), 50, err)
		}},
		{"a family's takes", func(n int) error {
			ts, err := d.TakesBy(ctx, coach(n), studio.TakeQuery{})
			return want(len(ts), 50, err)
		}},
		{"a take with all beside it", func(n int) error {
			r, err := d.ReviewTake(ctx, teacher, take(n).ID)
			if err == nil && (r.Hearing == nil || r.Work == nil || len(r.Media) != 4 || len(r.Remarks) != 1) {
				err = errors.New("not all of a take")
			}
			return err
		}},
		{"a student's page", func(n int) error {
			f, err := d.Student(ctx, teacher, child(n).ID)
			return want(len(f.Lessons), 50, err)
		}},
		{"what changed just now", func(int) error {
			ts, err := d.Changes(ctx, teacher, time.UnixMicro(takes[20].Changed.UnixMicro()))
			return want(len(ts), 1, err)
		}},
		{"a page of lessons", func(int) error {
			ls, err := d.Lessons(ctx, teacher, studio.LessonQuery{})
			return want(len(ls), 50, err)
		}},
		{"a page of a student's lessons", func(n int) error {
			ls, err := d.Lessons(ctx, teacher, studio.LessonQuery{Student: child(n).ID})
			return want(len(ls), 50, err)
		}},
		{"said before", func(n int) error {
			l, err := d.SaidBefore(ctx, teacher, child(n).ID, fmt.Sprint("late-thumb-", n%40))
			_ = l // not every remedy was said to everybody
			return err
		}},
		{"everybody's week", func(int) error {
			l, err := d.SoFar(ctx, teacher)
			tries := 0
			for _, s := range l {
				for _, i := range s.Items {
					tries += i.Tries
				}
			}
			return want(tries, largeFamilies*(largeTaps-2), err)
		}},
		{"a student's week", func(n int) error {
			s, err := d.SoFarOf(ctx, coach(n), child(n).ID)
			return want(len(s.Items), 4, err)
		}},
		{"a proposal", func(n int) error {
			l, _, err := d.ProposeLesson(ctx, teacher, child(n).ID)
			return want(len(l.Assignments), 4, err)
		}},
		{"students", func(int) error { l, err := d.Students(ctx, teacher); return want(len(l), largeFamilies, err) }},
		{"pulses", func(int) error { l, err := d.Pulse(ctx, teacher); return want(len(l), largeFamilies, err) }},
		{"the library", func(int) error { l, err := d.Works(ctx, teacher); return want(len(l), largeWorks, err) }},
		{"announcing", func(n int) error {
			t, err := d.Announce(ctx, coach(n), studio.Announcement{Student: child(n).ID})
			if err == nil {
				err = d.GiveUp(ctx, coach(n), t.ID)
			}
			return err
		}},
		{"what the ear needs of a take", func(n int) error {
			ws, err := s.Candidates(ctx, st.ID, child(n).ID, 300)
			return want(len(ws), largeWorks, err)
		}},
	} {
		b.Run(q.name, func(b *testing.B) {
			n, before := 0, processorMs(b)
			for b.Loop() {
				if err := q.ask(n); err != nil {
					b.Fatal(err)
				}
				n++
			}
			b.ReportMetric((processorMs(b)-before)/float64(b.N), "cpu-ms/page")
			b.ReportMetric(b.Elapsed().Seconds()*1000/float64(b.N), "ms/page")
			b.ReportMetric(ninetyFifth(b, q.ask), "ms-p95")
		})
	}
}

// processorMs is the time that this process was at work, which other programs on the machine do not lengthen.
func processorMs(b *testing.B) float64 {
	b.Helper()
	var u syscall.Rusage
	if err := syscall.Getrusage(syscall.RUSAGE_SELF, &u); err != nil {
		b.Fatal(err)
	}
	return float64(u.Utime.Nano()+u.Stime.Nano()) / 1e6
}

func ninetyFifth(b *testing.B, ask func(n int) error) float64 {
	b.Helper()
	ms := make([]float64, 100)
	for n := range ms {
		start := time.Now()
		if err := ask(1000 + n); err != nil {
			b.Fatal(err)
		}
		ms[n] = time.Since(start).Seconds() * 1000
	}
	slices.Sort(ms)
	return ms[94]
}
