package store_test

import (
	"context"
	"fmt"
	"math/rand/v2"
	"path/filepath"
	"strconv"
	"testing"
	"time"

	"antiphon/internal/plan"
	"antiphon/internal/store"
	"antiphon/internal/store/storetest"
	"antiphon/internal/studio"
)

// A large studio after two years, as plans see it: a lesson a week, a take and twelve taps in most of them, sixty works each.
const (
	planStudents = 300
	planWeeks    = 90
	planWorks    = 60
)

// BenchmarkPlans plans from the database of a large studio: one student's page, the whole studio's page, and the weeks of all
// students. It reports seconds, or milliseconds of one page.
func BenchmarkPlans(b *testing.B) {
	ctx := b.Context()
	s, err := store.OpenSQLite(ctx, filepath.Join(b.TempDir(), "studio.db"))
	if err != nil {
		b.Fatal(err)
	}
	defer s.Close()
	now := time.Date(2026, 11, 28, 18, 0, 0, 0, time.UTC)
	d := studio.NewDesk(s, nil, &storetest.Jobs{}, studio.DeskOptions{Zone: time.UTC, Now: func() time.Time { return now }})
	st, p, err := d.Found(ctx, "Lindenhof", "Teacher")
	if err != nil {
		b.Fatal(err)
	}
	v := studio.Viewer{Studio: st.ID, Role: studio.Teacher, Person: p.ID}
	var student studio.StudentID
	if err := s.Within(ctx, func(tx studio.Records) (err error) { student, err = planStudio(ctx, tx, st.ID, now); return err }); err != nil {
		b.Fatal(err)
	}
	if err := d.KeepPlans(ctx, studio.Viewer{Studio: st.ID, Role: studio.Ear}); err != nil {
		b.Fatal(err)
	}
	b.Run("one student", func(b *testing.B) {
		for b.Loop() {
			if _, err := d.PlanOf(ctx, v, student); err != nil {
				b.Fatal(err)
			}
		}
		b.ReportMetric(b.Elapsed().Seconds()*1000/float64(b.N), "ms/page")
	})
	b.Run("all about a student", func(b *testing.B) {
		passages, skills := 0, 0
		for b.Loop() {
			m, err := d.Memory(ctx, v, student, studio.SaidQuery{})
			if err != nil {
				b.Fatal(err)
			}
			passages, skills = 0, len(m.Skills)
			for _, it := range m.Items {
				passages += len(it.Passages)
			}
		}
		b.ReportMetric(b.Elapsed().Seconds()*1000/float64(b.N), "ms/page")
		b.ReportMetric(float64(passages), "passages")
		b.ReportMetric(float64(skills), "skills")
	})
	b.Run("what is slipping", func(b *testing.B) {
		for b.Loop() {
			if _, err := d.SlippingAll(ctx, v); err != nil {
				b.Fatal(err)
			}
		}
		b.ReportMetric(b.Elapsed().Seconds()/float64(b.N), "s/page")
	})
	b.Run("all weeks", func(b *testing.B) {
		lines := 0
		for b.Loop() {
			state, err := d.AllPlans(ctx, v)
			if err != nil {
				b.Fatal(err)
			}
			pl, err := plan.New(state)
			if err != nil {
				b.Fatal(err)
			}
			weeks, err := pl.All()
			if err != nil {
				b.Fatal(err)
			}
			lines = 0
			for _, w := range weeks {
				lines += len(w.Lines)
			}
		}
		b.ReportMetric(b.Elapsed().Seconds()/float64(b.N), "s/studio")
		b.ReportMetric(float64(lines)/planStudents, "lines/student")
	})
}

// benchSkills are needed by works, three by each.
var benchSkills = []string{"chords", "fourth finger", "shifting", "small barre", "thumb and finger together"}

// sixteenBars are those of a take with some slips.
func sixteenBars(rng *rand.Rand) (b studio.HeardBars) {
	for i := range 16 {
		wrong := 0
		if rng.IntN(6) == 0 {
			wrong = 1 + rng.IntN(2)
		}
		b.Bar, b.Written, b.Right = append(b.Bar, strconv.Itoa(i+1)), append(b.Written, 4), append(b.Right, 4-wrong)
		b.Stops, b.Told, b.Bpm = append(b.Stops, wrong/2), append(b.Told, wrong), append(b.Bpm, float64(60+rng.IntN(20))+.5)
	}
	return b
}

// planStudio fills the database.
func planStudio(ctx context.Context, tx studio.Records, of studio.StudioID, now time.Time) (last studio.StudentID, err error) {
	draw := rand.NewChaCha8([32]byte{3})
	rng := rand.New(draw)
	id := func() string {
		one, err := studio.NewID[studio.TakeID](draw)
		if err != nil {
			panic(err) // ChaCha8 does not fail
		}
		return string(one)
	}
	start := now.AddDate(0, 0, -7*planWeeks)
	var works []studio.WorkID
	c := studio.Collection{ID: studio.CollectionID(id()), Studio: of, Name: "All"}
	for i := range planWorks {
		w := studio.Work{ID: studio.WorkID(id()), Studio: of, Title: fmt.Sprintf("Study %d", i+1), Added: start}
		if err := tx.AddWork(ctx, w); err != nil {
			return "", err
		}
		if err := tx.PutDemand(ctx, of, w.ID, studio.Demand{Load: 0.5 + rng.Float64(), Bars: 16, LastBar: "16", Skills: benchSkills[i%3 : i%3+3],
			Where: map[string][]int{benchSkills[i%3]: {2, 5, 9, 9}, benchSkills[i%3+1]: {7, 7, 12, 15}, benchSkills[i%3+2]: {0, 15}}}); err != nil {
			return "", err
		}
		works, c.Items = append(works, w.ID), append(c.Items, studio.CollectionItem{Work: w.ID})
	}
	if err := tx.PutCollection(ctx, c); err != nil {
		return "", err
	}
	for n := range planStudents {
		f := studio.FamilyID(id())
		s := studio.Student{ID: studio.StudentID(id()), Studio: of, Family: f, Name: fmt.Sprintf("Student %d", n), Media: studio.FullVideo, Since: start}
		if err := tx.AddFamily(ctx, studio.Family{ID: f, Studio: of, Name: fmt.Sprintf("Family %d", n), Since: start}); err != nil {
			return "", err
		}
		if err := tx.AddStudent(ctx, s); err != nil {
			return "", err
		}
		in := studio.OneFamily(of, f)
		for i := range planWeeks {
			at := start.AddDate(0, 0, 7*i)
			l := studio.Lesson{ID: studio.LessonID(id()), Studio: of, Family: f, Student: s.ID, Date: at.Format(time.DateOnly), Saved: at}
			now := i * (planWorks - 4) / planWeeks
			for k := range 4 {
				l.Assignments = append(l.Assignments, studio.Assignment{ID: studio.AssignmentID(id()), Work: works[now+k], Do: "Slowly.", Goals: studio.Goals{TempoBpm: 88}})
			}
			l.Assignments[1].FromBar, l.Assignments[1].ToBar = "5", "8"
			if err := tx.PutLesson(ctx, l); err != nil {
				return "", err
			}
			if err := tx.SendLesson(ctx, in, l.ID, 1, at); err != nil {
				return "", err
			}
			for k := range 12 {
				t := studio.Tap{ID: "tap-" + id(), Studio: of, Family: f, Student: s.ID, Assignment: l.Assignments[k%4].ID, Kind: studio.TapTry, Clean: k%3 > 0, Bpm: 60 + float64(k),
					Seconds: 120, At: at.Add(time.Duration(k*13) * time.Hour), Came: at, KeepUntil: at.AddDate(5, 0, 0)}
				if _, err := tx.AddTap(ctx, t); err != nil {
					return "", err
				}
			}
			if rng.IntN(5) == 0 {
				continue
			}
			when := at.Add(100 * time.Hour)
			t := studio.Take{ID: studio.TakeID(id()), Studio: of, Family: f, Student: s.ID, Assignment: l.Assignments[0].ID, Work: l.Assignments[0].Work, State: studio.Ready, Announced: when, Arrived: when,
				Changed: when, Answered: when, KeepUntil: when.AddDate(5, 0, 0), DurationS: 90,
				Summary: &studio.Summary{Bpm: 60 + float64(i%20), SteadinessPct: 6, Notes: 60, RightShare: .85 + float64(i%14)/100, FromBar: "1", ToBar: "16"}}
			if err := tx.AddTake(ctx, t); err != nil {
				return "", err
			}
			if err := tx.PutBars(ctx, in, t.ID, sixteenBars(rng)); err != nil {
				return "", err
			}
			if err := tx.AddRemark(ctx, studio.Remark{ID: studio.RemarkID(id()), Studio: of, Family: f, Student: s.ID, Take: t.ID, Anchor: studio.Anchor{Bar: "5"}, Text: "The fourth finger comes late.", Made: when}); err != nil {
				return "", err
			}
		}
		last = s.ID
	}
	return last, nil
}
