package store

import (
	"context"
	"errors"
	"strconv"
	"strings"
	"time"

	"antiphon/internal/studio"
)

const takeColumns = `id, studio_id, family_id, student_id, COALESCE(assignment_id, ''), COALESCE(work_id, ''), by_id, state, why,
	file_name, note, hurt, bytes, announced_at, arrived_at, keep_until, answered_at, changed_at, turn, duration_s, concerns, sounds_like, same_as, summary, partner`

func scanTake(w row) (t studio.Take, err error) {
	return t, w.Scan(&t.ID, &t.Studio, &t.Family, &t.Student, &t.Assignment, &t.Work, &t.By, &t.State, &t.Why,
		&t.FileName, &t.Note, asBool{&t.Hurt}, &t.Bytes, stamp{&t.Announced}, stamp{&t.Arrived}, stamp{&t.KeepUntil}, stamp{&t.Answered},
		stamp{&t.Changed}, &t.Turn, &t.DurationS, asJSON{&t.Concerns}, asJSON{&t.SoundsLike}, &t.SameAs, asJSON{&t.Summary}, asJSON{&t.With})
}

// found is what the ear found out, as it is stored.
func found(t studio.Take) (concerns, soundsLike, summary string, err error) {
	if concerns, err = inJSON(t.Concerns); err != nil {
		return "", "", "", err
	}
	if soundsLike, err = inJSON(t.SoundsLike); err != nil {
		return "", "", "", err
	}
	summary, err = inJSON(t.Summary)
	return concerns, soundsLike, summary, err
}

func (r records) AddTake(ctx context.Context, t studio.Take) error {
	concerns, soundsLike, summary, err := found(t)
	if err != nil {
		return err
	}
	partner, err := inJSON(t.With)
	if err != nil {
		return err
	}
	return exec(ctx, r.write, `
		INSERT INTO takes (id, studio_id, family_id, student_id, assignment_id, work_id, by_id, state, why, file_name, note, hurt, bytes,
			announced_at, arrived_at, keep_until, answered_at, changed_at, turn, duration_s, concerns, sounds_like, same_as, summary, partner)
		VALUES ($1, $2, $3, $4, $5, $6, $7, $8, $9, $10, $11, $12, $13, $14, $15, $16, $17, $18, $19, $20, $21, $22, $23, $24, $25)`,
		t.ID, t.Studio, t.Family, t.Student, orNull(t.Assignment), orNull(t.Work), t.By, t.State, t.Why, t.FileName, t.Note, bit(t.Hurt), t.Bytes,
		micros(t.Announced), micros(t.Arrived), micros(t.KeepUntil), micros(t.Answered), micros(t.Changed), t.Turn, t.DurationS,
		concerns, soundsLike, t.SameAs, summary, partner)
}

func (r records) Take(ctx context.Context, in studio.Scope, id studio.TakeID) (studio.Take, error) {
	q := `SELECT ` + takeColumns + ` FROM takes WHERE ` + where(in) + ` AND id = $3` + r.hold
	return one(ctx, r.read, scanTake, q, in.Studio(), in.Family(), id)
}

func (r records) takes(ctx context.Context, p *picks, order string) ([]studio.Take, error) {
	return list(ctx, r.read, scanTake, `SELECT `+takeColumns+` FROM takes WHERE `+p.String()+` ORDER BY `+order, p.args...)
}

func (r records) Takes(ctx context.Context, in studio.Scope, q studio.TakeQuery) ([]studio.Take, error) {
	p := pick(in)
	of(p, "student_id", q.Student)
	of(p, "work_id", q.Work)
	of(p, "assignment_id", q.Assignment)
	of(p, "state", q.State)
	if q.Models {
		p.and("family_id = studio_id")
	} else {
		p.and("family_id <> studio_id")
	}
	if q.Unanswered {
		p.and("answered_at = 0 AND arrived_at <> 0")
	}
	if !q.Since.IsZero() {
		p.and("announced_at >= ?", micros(q.Since))
	}
	if q.Before.ID != "" {
		p.and("(announced_at, id) < (?, ?)", micros(q.Before.Announced), q.Before.ID)
	}
	return r.takes(ctx, p, `announced_at DESC, id DESC`+limit(q.Limit))
}

func (r records) Unanswered(ctx context.Context, in studio.Scope) ([]studio.Take, error) {
	return r.takes(ctx, pick(in).and("answered_at = 0 AND arrived_at <> 0 AND family_id <> studio_id"), `arrived_at, id`)
}

// TakesChanged does not break off between takes of one moment.
func (r records) TakesChanged(ctx context.Context, in studio.Scope, since time.Time, most int) ([]studio.Take, error) {
	p := pick(in).and("changed_at > ?", micros(since))
	last := `SELECT changed_at FROM takes WHERE ` + p.String() + ` ORDER BY changed_at LIMIT 1 OFFSET ` + strconv.Itoa(most-1)
	until, err := one(ctx, r.read, func(w row) (at int64, err error) { return at, w.Scan(&at) }, last, p.args...)
	switch {
	case err == nil:
		p.and("changed_at <= ?", until)
	case !errors.Is(err, studio.ErrNotFound):
		return nil, err
	}
	return r.takes(ctx, p, `changed_at, id`)
}

func (r records) TakesUntil(ctx context.Context, s studio.StudioID, t time.Time) ([]studio.Take, error) {
	return list(ctx, r.read, scanTake, `SELECT `+takeColumns+` FROM takes WHERE studio_id = $1 AND keep_until <= $2 ORDER BY keep_until, id`, s, micros(t))
}

func (r records) MoveTake(ctx context.Context, t studio.Take, now time.Time, from ...studio.TakeState) error {
	concerns, soundsLike, summary, err := found(t)
	if err != nil {
		return err
	}
	args := []any{t.Studio, t.Family, t.ID, micros(t.Changed), micros(now), orNull(t.Assignment), orNull(t.Work), t.State, t.Why, t.Bytes,
		micros(t.Arrived), micros(t.KeepUntil), t.Turn, t.DurationS, concerns, soundsLike, t.SameAs, summary}
	var in []string
	for _, f := range from {
		args = append(args, f)
		in = append(in, "$"+strconv.Itoa(len(args)))
	}
	return change(ctx, r.write, studio.ErrConflict, `
		UPDATE takes SET changed_at = $5, assignment_id = $6, work_id = $7, state = $8, why = $9, bytes = $10, arrived_at = $11, keep_until = $12,
			turn = $13, duration_s = $14, concerns = $15, sounds_like = $16, same_as = $17, summary = $18
		WHERE studio_id = $1 AND family_id = $2 AND id = $3 AND changed_at = $4 AND state IN (`+strings.Join(in, ", ")+`)`, args...)
}

func (r records) AnswerTakes(ctx context.Context, in studio.Scope, s studio.StudentID, only studio.TakeID, until, now time.Time) error {
	p := pick(in).and("student_id = ? AND answered_at = 0 AND arrived_at <> 0 AND arrived_at <= ?", s, micros(until))
	of(p, "id", only)
	at := "$" + strconv.Itoa(len(p.args)+1)
	return exec(ctx, r.write, `UPDATE takes SET answered_at = `+at+`, changed_at = `+at+` WHERE `+p.String(), append(p.args, micros(now))...)
}

// RemoveTake also lets go of it where another take of the family is said to be the same.
func (r records) RemoveTake(ctx context.Context, in studio.Scope, id studio.TakeID) error {
	r.somethingDeleted()
	q := `UPDATE takes SET same_as = '' WHERE ` + where(in) + ` AND same_as = $3 AND student_id = (SELECT student_id FROM takes AS t WHERE t.id = $3)`
	if err := exec(ctx, r.write, q, in.Studio(), in.Family(), id); err != nil {
		return err
	}
	return change(ctx, r.write, studio.ErrNotFound, `DELETE FROM takes WHERE `+where(in)+` AND id = $3`, in.Studio(), in.Family(), id)
}

func (r records) AddPrint(ctx context.Context, p studio.Print) error {
	return change(ctx, r.write, studio.ErrNotFound, `
		INSERT INTO prints (take_id, studio_id, family_id, student_id, print, arrived_at) VALUES ($1, $2, $3, $4, $5, $6)
		ON CONFLICT (take_id) DO UPDATE SET print = excluded.print
		WHERE prints.studio_id = excluded.studio_id AND prints.family_id = excluded.family_id`,
		p.Take, p.Studio, p.Family, p.Student, p.Bytes, micros(p.Arrived))
}

func (r records) Prints(ctx context.Context, in studio.Scope, s studio.StudentID, since time.Time) ([]studio.Print, error) {
	p := pick(in)
	of(p, "student_id", s)
	p.and("arrived_at >= ?", micros(since))
	return list(ctx, r.read, func(w row) (p studio.Print, err error) {
		return p, w.Scan(&p.Take, &p.Studio, &p.Family, &p.Student, &p.Bytes, stamp{&p.Arrived})
	}, `SELECT take_id, studio_id, family_id, student_id, print, arrived_at FROM prints WHERE `+p.String()+` ORDER BY arrived_at, take_id`, p.args...)
}

// Load of a family asks for its own rows; of a studio only for what is arriving.
func (r records) Load(ctx context.Context, in studio.Scope, since time.Time) (l studio.Load, err error) {
	l.Arriving, err = one(ctx, r.read, scanCount, `SELECT count(*) FROM takes WHERE `+where(in)+` AND state = 'arriving'`, in.Studio(), in.Family())
	if err != nil || in.Whole() {
		return l, err
	}
	sum := func(w row) (n int64, err error) { return n, w.Scan(&n) }
	l.Bytes, err = one(ctx, r.read, sum, `SELECT CAST(COALESCE(sum(bytes), 0) AS BIGINT) FROM media WHERE `+where(in), in.Studio(), in.Family())
	if err != nil {
		return l, err
	}
	l.Came, err = one(ctx, r.read, sum, `SELECT CAST(COALESCE(sum(bytes), 0) AS BIGINT) FROM takes WHERE `+where(in)+` AND announced_at > $3`,
		in.Studio(), in.Family(), micros(since))
	if err != nil {
		return l, err
	}
	voices, err := one(ctx, r.read, sum, `SELECT CAST(COALESCE(sum(bytes), 0) AS BIGINT) FROM media WHERE `+where(in)+` AND kind = 'voice' AND made_at > $3`,
		in.Studio(), in.Family(), micros(since))
	l.Came += voices
	return l, err
}
