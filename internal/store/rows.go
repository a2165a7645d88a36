package store

import (
	"context"
	"encoding/json"
	"fmt"
	"strconv"
	"strings"
	"time"

	"antiphon/internal/studio"
)

// where is the condition of a scope, with its studio as $1 and its family as $2.
func where(in studio.Scope) string {
	if in.Whole() {
		return `studio_id = $1 AND $2 = '*'`
	}
	return `studio_id = $1 AND family_id = $2`
}

// picks is a condition that is put together. Every one begins with a scope, as $1 and $2.
type picks struct {
	in   studio.Scope
	more strings.Builder
	args []any
}

func pick(in studio.Scope) *picks {
	return &picks{in: in, args: []any{in.Studio(), in.Family()}}
}

// and adds a condition; each ? in it is the next of args.
func (p *picks) and(condition string, args ...any) *picks {
	p.more.WriteString(" AND ")
	for _, r := range condition {
		if r != '?' {
			p.more.WriteRune(r)
			continue
		}
		p.args = append(p.args, args[0])
		args = args[1:]
		p.more.WriteString("$" + strconv.Itoa(len(p.args)))
	}
	return p
}

// of adds an equality where there is something to be equal to.
func of[T ~string](p *picks, column string, v T) *picks {
	if v == "" {
		return p
	}
	return p.and(column+" = ?", string(v))
}

// limit is the end of a query that asks for n rows; 0 for all.
func limit(n int) string {
	if n <= 0 {
		return ""
	}
	return " LIMIT " + strconv.Itoa(n)
}

func (p *picks) String() string { return where(p.in) + p.more.String() }

type row interface{ Scan(into ...any) error }

func list[T any](ctx context.Context, q querier, scan func(row) (T, error), query string, args ...any) ([]T, error) {
	rows, err := q.QueryContext(ctx, query, args...)
	if err != nil {
		return nil, said(err)
	}
	defer rows.Close()
	var all []T
	for rows.Next() {
		v, err := scan(rows)
		if err != nil {
			return nil, said(err)
		}
		all = append(all, v)
	}
	return all, said(rows.Err())
}

func one[T any](ctx context.Context, q querier, scan func(row) (T, error), query string, args ...any) (T, error) {
	v, err := scan(q.QueryRowContext(ctx, query, args...))
	return v, said(err)
}

func exec(ctx context.Context, q querier, query string, args ...any) error {
	_, err := q.ExecContext(ctx, query, args...)
	return said(err)
}

// change runs a statement that must meet one row; none answers otherwise.
func change(ctx context.Context, q querier, otherwise error, query string, args ...any) error {
	res, err := q.ExecContext(ctx, query, args...)
	if err != nil {
		return said(err)
	}
	n, err := res.RowsAffected()
	if err != nil {
		return err
	}
	if n == 0 {
		return otherwise
	}
	return nil
}

// micros is a time as both databases keep it: microseconds since 1970, 0 for none.
func micros(t time.Time) int64 {
	if t.IsZero() {
		return 0
	}
	return t.UnixMicro()
}

// stamp scans what micros made.
type stamp struct{ t *time.Time }

func (s stamp) Scan(v any) error {
	n, ok := v.(int64)
	if !ok {
		return fmt.Errorf("a time is %T, not microseconds", v)
	}
	*s.t = time.Time{}
	if n != 0 {
		*s.t = time.UnixMicro(n).UTC()
	}
	return nil
}

// asJSON scans a JSON column into a value.
type asJSON struct{ into any }

func (j asJSON) Scan(v any) error {
	switch v := v.(type) {
	case string:
		return json.Unmarshal([]byte(v), j.into)
	case []byte:
		return json.Unmarshal(v, j.into)
	}
	return fmt.Errorf("a JSON column is %T", v)
}

// inJSON is a value as a JSON column keeps it.
func inJSON(v any) (string, error) {
	b, err := json.Marshal(v)
	return string(b), err
}

// bit is a bool as both databases keep it.
func bit(b bool) int64 {
	if b {
		return 1
	}
	return 0
}

// asBool scans what bit made.
type asBool struct{ into *bool }

func (b asBool) Scan(v any) error {
	n, ok := v.(int64)
	if !ok {
		return fmt.Errorf("a yes or no is %T", v)
	}
	*b.into = n != 0
	return nil
}

func scanCount(w row) (n int, err error) { return n, w.Scan(&n) }

// orNull stores "" as NULL, which a foreign key does not look at.
func orNull[T ~string](s T) any {
	if s == "" {
		return nil
	}
	return string(s)
}
