package store

import (
	"context"
	"encoding/json"
	"errors"
	"strconv"
	"strings"
	"time"

	"antiphon/internal/plan/calendar"
	"antiphon/internal/studio"
	"golang.org/x/sync/errgroup"
)

func (r records) Unprofiled(ctx context.Context, s studio.StudioID, most int) ([]studio.Work, error) {
	return list(ctx, r.read, scanWork, `
		SELECT w.id, w.studio_id, w.title, w.composer, w.exercise, w.recipe, c.score, w.rights, w.added_at
		FROM works AS w JOIN scores AS c ON c.studio_id = w.studio_id AND c.work_id = w.id
		LEFT JOIN work_plans AS p ON p.studio_id = w.studio_id AND p.work_id = w.id
		WHERE w.studio_id = $1 AND COALESCE(p.fresh, 0) = 0 ORDER BY w.added_at, w.id`+limit(most), s)
}

func (r records) PutDemand(ctx context.Context, s studio.StudioID, w studio.WorkID, d studio.Demand) error {
	doc, err := inJSON(d)
	if err != nil {
		return err
	}
	return change(ctx, r.write, studio.ErrNotFound, `
		INSERT INTO work_plans (work_id, studio_id, demand, fresh, says) VALUES ($2, $1, $3, 1, '{}')
		ON CONFLICT (work_id) DO UPDATE SET demand = excluded.demand, fresh = 1 WHERE work_plans.studio_id = excluded.studio_id`, s, w, doc)
}

func (r records) PutWorkSays(ctx context.Context, s studio.StudioID, w studio.WorkID, says studio.WorkSays) error {
	doc, err := inJSON(says)
	if err != nil {
		return err
	}
	return change(ctx, r.write, studio.ErrNotFound, `
		INSERT INTO work_plans (work_id, studio_id, demand, fresh, says) VALUES ($2, $1, 'null', 0, $3)
		ON CONFLICT (work_id) DO UPDATE SET says = excluded.says WHERE work_plans.studio_id = excluded.studio_id`, s, w, doc)
}

func (r records) WorkPlans(ctx context.Context, s studio.StudioID) ([]studio.WorkPlan, error) {
	return list(ctx, r.read, func(w row) (p studio.WorkPlan, err error) {
		var fresh bool
		if err := w.Scan(&p.Studio, &p.Work, asJSON{&p.Demand}, asBool{&fresh}, asJSON{&p.Says}); err != nil {
			return p, err
		}
		if !fresh {
			p.Demand = nil
		}
		return p, nil
	}, `SELECT studio_id, work_id, demand, fresh, says FROM work_plans WHERE studio_id = $1 ORDER BY work_id`, s)
}

func (r records) StudioPlan(ctx context.Context, s studio.StudioID) (studio.StudioPlan, error) {
	p, err := one(ctx, r.read, func(w row) (p studio.StudioPlan, err error) { return p, w.Scan(asJSON{&p}) },
		`SELECT doc FROM studio_plans WHERE studio_id = $1`+r.hold, s)
	if errors.Is(err, studio.ErrNotFound) {
		err = nil
	}
	p.Studio = s
	return p, err
}

func (r records) PutStudioPlan(ctx context.Context, p studio.StudioPlan) error {
	doc, err := inJSON(p)
	if err != nil {
		return err
	}
	return exec(ctx, r.write, `INSERT INTO studio_plans (studio_id, doc) VALUES ($1, $2) ON CONFLICT (studio_id) DO UPDATE SET doc = excluded.doc`, p.Studio, doc)
}

func scanStudentPlan(w row) (p studio.StudentPlan, err error) {
	var st studio.StudioID
	var f studio.FamilyID
	var s studio.StudentID
	err = w.Scan(&st, &f, &s, asJSON{&p})
	p.Studio, p.Family, p.Student = st, f, s
	return p, err
}

func (r records) StudentPlan(ctx context.Context, in studio.Scope, id studio.StudentID) (studio.StudentPlan, error) {
	s, err := r.Student(ctx, in, id)
	if err != nil {
		return studio.StudentPlan{}, err
	}
	p, err := one(ctx, r.read, scanStudentPlan, `SELECT studio_id, family_id, student_id, doc FROM student_plans WHERE `+where(in)+` AND student_id = $3`+r.hold,
		in.Studio(), in.Family(), id)
	if errors.Is(err, studio.ErrNotFound) {
		p, err = studio.StudentPlan{Studio: s.Studio, Family: s.Family, Student: s.ID}, nil
	}
	return p, err
}

func (r records) StudentPlans(ctx context.Context, in studio.Scope) ([]studio.StudentPlan, error) {
	return list(ctx, r.read, scanStudentPlan, `SELECT studio_id, family_id, student_id, doc FROM student_plans WHERE `+where(in)+` ORDER BY student_id`,
		in.Studio(), in.Family())
}

func (r records) PutStudentPlan(ctx context.Context, p studio.StudentPlan) error {
	doc, err := inJSON(p)
	if err != nil {
		return err
	}
	return change(ctx, r.write, studio.ErrNotFound, `
		INSERT INTO student_plans (student_id, studio_id, family_id, doc) VALUES ($3, $1, $2, $4)
		ON CONFLICT (student_id) DO UPDATE SET doc = excluded.doc
		WHERE student_plans.studio_id = excluded.studio_id AND student_plans.family_id = excluded.family_id`, p.Studio, p.Family, p.Student, doc)
}

func (r records) AddForecast(ctx context.Context, f studio.Forecast) error {
	said, err := inJSON(f.Said)
	if err != nil {
		return err
	}
	return exec(ctx, r.write, `INSERT INTO forecasts (id, studio_id, family_id, student_id, day, came, said) VALUES ($1, $2, $3, $4, $5, $6, $7)`,
		f.ID, f.Studio, f.Family, f.Student, f.Day, f.Came, said)
}

func (r records) Forecasts(ctx context.Context, in studio.Scope, s studio.StudentID) ([]studio.Forecast, error) {
	p := of(pick(in), "student_id", s)
	return list(ctx, r.read, func(w row) (f studio.Forecast, err error) {
		return f, w.Scan(&f.ID, &f.Studio, &f.Family, &f.Student, &f.Day, &f.Came, asJSON{&f.Said})
	}, `SELECT id, studio_id, family_id, student_id, day, came, said FROM forecasts WHERE `+p.String()+` ORDER BY day, id`, p.args...)
}

func (r records) ForecastCame(ctx context.Context, in studio.Scope, id studio.ForecastID, day string) error {
	return change(ctx, r.write, studio.ErrNotFound, `UPDATE forecasts SET came = $4 WHERE `+where(in)+` AND id = $3`, in.Studio(), in.Family(), id, day)
}

func (r records) History(ctx context.Context, in studio.Scope, s studio.StudentID, since, tapsSince time.Time, eastS int) (h studio.History, err error) {
	g, ctx := errgroup.WithContext(ctx)
	if s != "" || r.deleted != nil {
		g.SetLimit(1) // of one student it is little, and a transaction has one connection
	}
	g.Go(func() (err error) { h.Practised, err = r.practised(ctx, in, s, tapsSince, eastS); return err }) // the longest first
	g.Go(func() (err error) { h.Asked, err = r.askedOf(ctx, in, s, since); return err })
	g.Go(func() (err error) { h.Heard, err = r.heardOf(ctx, in, s, since); return err })
	g.Go(func() (err error) { h.Said, err = r.saidTo(ctx, in, s, since); return err })
	err = g.Wait()
	return h, err
}

// workOf is "" where something stands under the studio's own id, as what is of no work does.
func workOf(in studio.Scope, w studio.WorkID) studio.WorkID {
	if string(w) == string(in.Studio()) {
		return ""
	}
	return w
}

func (r records) askedOf(ctx context.Context, in studio.Scope, s studio.StudentID, since time.Time) ([]studio.AskedOnce, error) {
	p := of(pick(in), "student_id", s).and("sent_at <> 0")
	if !since.IsZero() {
		p.and("day >= ?", since.Format(time.DateOnly))
	}
	return list(ctx, r.read, func(w row) (a studio.AskedOnce, err error) {
		var goals, more string
		if err := w.Scan(&a.Student, &a.Lesson, &a.Day, &a.Work, &a.Ask, &goals, &more, &a.FromBar, &a.ToBar); err != nil {
			return a, err
		}
		if strings.Contains(goals, `"TempoBpm"`) {
			var g studio.Goals
			if err := json.Unmarshal([]byte(goals), &g); err != nil {
				return a, err
			}
			a.Bpm = g.TempoBpm
		}
		if strings.Contains(more, `"For"`) {
			var m struct{ For studio.WorkID }
			if err := json.Unmarshal([]byte(more), &m); err != nil {
				return a, err
			}
			a.For = m.For
		}
		a.Work = workOf(in, a.Work)
		return a, nil
	}, `
		SELECT l.student_id, l.id, l.day, a.work_id, a.ask, a.goals, a.more, a.from_bar, a.to_bar
		FROM (SELECT id, student_id, day FROM lessons WHERE `+p.String()+`) AS l JOIN assignments AS a ON a.lesson_id = l.id
		ORDER BY l.day, l.id, a.place`, p.args...)
}

func (r records) heardOf(ctx context.Context, in studio.Scope, s studio.StudentID, since time.Time) ([]studio.HeardOnce, error) {
	p := of(pick(in), "student_id", s).and("arrived_at <> 0 AND family_id <> studio_id")
	if !since.IsZero() {
		p.and("arrived_at >= ?", micros(since))
	}
	return list(ctx, r.read, func(w row) (h studio.HeardOnce, err error) {
		var bars string
		if err := w.Scan(&h.Student, &h.Take, &h.Work, stamp{&h.At}, asBool{&h.Hurt}, &h.Note, asJSON{&h.Summary}, &bars, &h.FromBar, &h.ToBar); err != nil || bars == "" || h.Summary == nil {
			return h, err // of a hearing that counts no more, or not yet
		}
		var b studio.HeardBars
		if err := json.Unmarshal([]byte(bars), &b); err != nil {
			return h, err
		}
		if len(b.Bar) > 0 {
			h.Bars = &b
		}
		return h, nil
	}, `
		SELECT t.student_id, t.id, COALESCE(t.work_id, ''), t.arrived_at, t.hurt, t.note, t.summary, t.bars, COALESCE(a.from_bar, ''), COALESCE(a.to_bar, '')
		FROM (SELECT id, student_id, work_id, assignment_id, arrived_at, hurt, note, summary, bars FROM takes WHERE `+p.String()+`) AS t
		LEFT JOIN assignments AS a ON a.id = t.assignment_id AND a.work_id = t.work_id
		ORDER BY t.arrived_at, t.id`, p.args...)
}

func (r records) PutBars(ctx context.Context, in studio.Scope, id studio.TakeID, b studio.HeardBars) error {
	bars, err := inJSON(b)
	if err != nil {
		return err
	}
	return change(ctx, r.write, studio.ErrNotFound, `UPDATE takes SET bars = $4 WHERE `+where(in)+` AND id = $3`, in.Studio(), in.Family(), id, bars)
}

func (r records) Uncounted(ctx context.Context, s studio.StudioID, most int) ([]studio.Hearing, error) {
	return list(ctx, r.read, func(w row) (h studio.Hearing, err error) {
		var doc string
		if err := w.Scan(&h.ID, &h.Studio, &h.Family, &h.Take, &h.Schema, &doc); err != nil || doc == "" {
			return h, err
		}
		h.JSON = json.RawMessage(doc)
		return h, nil
	}, `
		SELECT COALESCE(h.id, ''), t.studio_id, t.family_id, t.id, COALESCE(h.version, ''), COALESCE(h.json, '')
		FROM (SELECT id, studio_id, family_id, arrived_at FROM takes WHERE studio_id = $1 AND bars = '' AND summary <> 'null' ORDER BY arrived_at, id`+limit(most)+`) AS t
		LEFT JOIN hearings AS h ON h.id = (SELECT n.id FROM hearings AS n WHERE n.studio_id = t.studio_id AND n.take_id = t.id ORDER BY n.heard_at DESC, n.id DESC LIMIT 1)
		ORDER BY t.arrived_at, t.id`, s)
}

// practised counts taps by work, its bars and day. What was taken back counts the other way. It groups in the order that it gives
// them in, so that they are sorted once.
func (r records) practised(ctx context.Context, in studio.Scope, s studio.StudentID, since time.Time, eastS int) ([]studio.PractisedDay, error) {
	p := of(pick(in), "student_id", s).and("kind IN ('done', 'undone', 'try', 'rung')")
	if !since.IsZero() {
		p.and("at >= ?", micros(since))
	}
	east := "$" + strconv.Itoa(len(p.args)+1)
	return list(ctx, r.read, func(w row) (d studio.PractisedDay, err error) {
		var day int64
		err = w.Scan(&d.Student, &d.Work, &d.FromBar, &d.ToBar, &day, &d.Done, &d.Tries, &d.Clean, &d.TopBpm, &d.Seconds)
		d.Day, d.Work, d.Done = calendar.Day(day), workOf(in, d.Work), max(d.Done, 0)
		return d, err
	}, `
		SELECT student_id, work_id, from_bar, to_bar, day, CAST(sum(done) AS BIGINT), CAST(sum(tried) AS BIGINT), CAST(sum(well) AS BIGINT), max(top), sum(seconds) FROM (
			SELECT t.student_id AS student_id, COALESCE(a.work_id, '') AS work_id, COALESCE(a.from_bar, '') AS from_bar, COALESCE(a.to_bar, '') AS to_bar, (t.at + `+east+`) / 86400000000 AS day,
				CASE t.kind WHEN 'done' THEN 1 WHEN 'undone' THEN -1 ELSE 0 END AS done,
				CASE t.kind WHEN 'try' THEN 1 ELSE 0 END AS tried,
				CASE WHEN t.kind = 'try' AND t.clean = 1 THEN 1 ELSE 0 END AS well,
				CASE WHEN t.kind = 'rung' OR t.kind = 'try' AND t.clean = 1 THEN t.bpm ELSE 0 END AS top,
				t.seconds AS seconds
			FROM (SELECT student_id, assignment_id, kind, at, clean, bpm, seconds FROM taps WHERE `+p.String()+`) AS t
			LEFT JOIN assignments AS a ON a.id = t.assignment_id
		) AS one GROUP BY day, student_id, work_id, from_bar, to_bar ORDER BY day, student_id, work_id, from_bar, to_bar`, append(p.args, int64(eastS)*1_000_000)...)
}

func (r records) saidTo(ctx context.Context, in studio.Scope, s studio.StudentID, since time.Time) ([]studio.SaidOnce, error) {
	p := of(pick(in), "student_id", s)
	if !since.IsZero() {
		p.and("made_at >= ?", micros(since))
	}
	return list(ctx, r.read, func(w row) (x studio.SaidOnce, err error) {
		var at studio.Anchor
		err = w.Scan(&x.Student, &x.Take, &x.Work, stamp{&x.At}, &x.Remedy, &x.Text, &x.Remark, asJSON{&at})
		x.Bar = at.Bar
		return x, err
	}, `
		SELECT r.student_id, r.take_id, COALESCE(t.work_id, ''), r.made_at, r.remedy, r.words, r.id, r.anchor
		FROM (SELECT id, student_id, take_id, made_at, remedy, words, anchor FROM remarks WHERE `+p.String()+`) AS r
		JOIN takes AS t ON t.id = r.take_id
		ORDER BY r.made_at, r.id`, p.args...)
}
