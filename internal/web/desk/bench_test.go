package desk_test

import (
	"context"
	"fmt"
	"math/rand/v2"
	"slices"
	"testing"
	"time"

	"antiphon/internal/studio"
	"antiphon/internal/web/webtest"
)

// A large studio after three years: 300 families, about 100,000 takes, a lesson a week.
const (
	benchFamilies = 300
	benchTakes    = 333
	benchLessons  = 150
	benchWaiting  = 60 // families with two takes that wait
)

// BenchmarkPages asks for the teacher's pages of a large studio, in SQLite, through HTTP on this machine. It
// reports milliseconds a page.
func BenchmarkPages(b *testing.B) {
	s := open(b)
	var student studio.StudentID
	var draft studio.LessonID
	err := s.Store.Within(b.Context(), func(tx studio.Records) (err error) {
		student, draft, err = threeYears(b.Context(), tx, s)
		return err
	})
	if err != nil {
		b.Fatal(err)
	}
	for _, path := range []string{"/desk", "/desk/standing", "/students", "/students/" + string(student), "/students/" + string(student) + "?words=finger", "/lessons/" + string(draft), "/studio", "/studio/families"} {
		b.Run(path[:min(len(path), 12)], func(b *testing.B) {
			c := s.Client(b, s.TeacherDevice)
			bytes := 0
			var ms []float64
			for b.Loop() {
				start := time.Now()
				bytes = len(fetch(b, c, s.URL+path))
				ms = append(ms, time.Since(start).Seconds()*1000)
			}
			slices.Sort(ms)
			b.ReportMetric(ms[len(ms)*95/100], "ms-p95")
			b.ReportMetric(b.Elapsed().Seconds()*1000/float64(b.N), "ms/page")
			b.ReportMetric(float64(bytes)/1024, "KiB")
		})
	}
}

func threeYears(ctx context.Context, tx studio.Records, s *webtest.Site) (student studio.StudentID, draft studio.LessonID, err error) {
	draw := rand.NewChaCha8([32]byte{7})
	id := func() string {
		one, err := studio.NewID[studio.TakeID](draw)
		if err != nil {
			panic(err) // ChaCha8 does not fail
		}
		return string(one)
	}
	start := s.Now().AddDate(-3, 0, 0)
	of := s.Teacher.Studio
	var works []studio.WorkID
	for i := range 200 {
		w := studio.Work{ID: studio.WorkID(id()), Studio: of, Title: fmt.Sprintf("Study %d", i+1), Added: start}
		if err := tx.AddWork(ctx, w); err != nil {
			return "", "", err
		}
		works = append(works, w.ID)
	}
	for n := range benchFamilies {
		f := studio.FamilyID(id())
		st := studio.Student{ID: studio.StudentID(id()), Studio: of, Family: f, Name: fmt.Sprintf("Student %d", n), Media: studio.FullVideo, Since: start}
		if err := tx.AddFamily(ctx, studio.Family{ID: f, Studio: of, Name: fmt.Sprintf("Family %d", n), Since: start}); err != nil {
			return "", "", err
		}
		if err := tx.AddStudent(ctx, st); err != nil {
			return "", "", err
		}
		for i := range benchLessons {
			l := studio.Lesson{ID: studio.LessonID(id()), Studio: of, Family: f, Student: st.ID, Date: start.AddDate(0, 0, 7*i).Format("2006-01-02"), Saved: start}
			for k := range 3 {
				l.Assignments = append(l.Assignments, studio.Assignment{ID: studio.AssignmentID(id()), Work: works[(i/6+k)%len(works)], Do: "Three times a day, slowly."})
			}
			if err := tx.PutLesson(ctx, l); err != nil {
				return "", "", err
			}
			if i < benchLessons-1 || n > 0 {
				if err := tx.SendLesson(ctx, studio.OneFamily(of, f), l.ID, 1, start.AddDate(0, 0, 7*i)); err != nil {
					return "", "", err
				}
			} else {
				student, draft = st.ID, l.ID
			}
		}
		for i := range benchTakes {
			at := s.Now().Add(-time.Duration(benchTakes-i) * 79 * time.Hour)
			t := studio.Take{ID: studio.TakeID(id()), Studio: of, Family: f, Student: st.ID, Work: works[(i/13)%len(works)], State: studio.Ready, Announced: at, Arrived: at, Changed: at,
				KeepUntil: at.AddDate(5, 0, 0), DurationS: 90, Summary: &studio.Summary{Bpm: 60 + float64(i%20), SteadinessPct: 6, Notes: 60, RightShare: .95, Wrong: 2, FromBar: "1", ToBar: "16"}}
			if i < benchTakes-2 || n >= benchWaiting {
				t.Answered = at.Add(24 * time.Hour)
			}
			if err := tx.AddTake(ctx, t); err != nil {
				return "", "", err
			}
			if i%3 == 0 {
				if err := tx.AddRemark(ctx, studio.Remark{ID: studio.RemarkID(id()), Studio: of, Family: f, Student: st.ID, Take: t.ID, By: s.Teacher.Person, Anchor: studio.Anchor{Bar: "5"}, Text: "The fourth finger comes late.", Made: at}); err != nil {
					return "", "", err
				}
			}
		}
	}
	return student, draft, nil
}
