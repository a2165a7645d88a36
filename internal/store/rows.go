package store

import (
	"context"
	"encoding/json"
	"fmt"
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

// orNull stores "" as NULL, which a foreign key does not look at.
func orNull[T ~string](s T) any {
	if s == "" {
		return nil
	}
	return string(s)
}
