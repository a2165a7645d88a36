package store

import (
	"context"
	"database/sql"
	"sync"

	"antiphon/internal/studio"
)

// MigrateTo brings a database to an older schema than the newest, for tests.
func MigrateTo(ctx context.Context, db *sql.DB, postgres bool, version int64) error {
	p, _, err := steps(db, dialectOf(postgres))
	if err != nil {
		return err
	}
	_, err = p.UpTo(ctx, version)
	return err
}

// Newest is the number of the newest schema.
func Newest(db *sql.DB) (int64, error) {
	_, n, err := steps(db, sqliteDialect())
	return n, err
}

// Dialect is SQL that was written for PostgreSQL, as the other database wants it.
func Dialect(text string, postgres bool) string { return dialectOf(postgres).ddl.Replace(text) }

func dialectOf(postgres bool) dialect {
	if postgres {
		return postgresDialect()
	}
	return sqliteDialect()
}

// Watched is s, and tells on of every question that it asks, one after the other; of a transaction too.
func Watched(s *Store, on func(query string, args []any)) *Store {
	w := *s
	var one sync.Mutex
	inTurn := func(query string, args []any) {
		one.Lock()
		defer one.Unlock()
		on(query, args)
	}
	w.records = records{read: watch{s.records.read, inTurn}, write: watch{s.records.write, inTurn}}
	return &w
}

type watch struct {
	querier
	on func(query string, args []any)
}

func (w watch) ExecContext(ctx context.Context, query string, args ...any) (sql.Result, error) {
	w.on(query, args)
	return w.querier.ExecContext(ctx, query, args...)
}

func (w watch) QueryContext(ctx context.Context, query string, args ...any) (*sql.Rows, error) {
	w.on(query, args)
	return w.querier.QueryContext(ctx, query, args...)
}

func (w watch) QueryRowContext(ctx context.Context, query string, args ...any) *sql.Row {
	w.on(query, args)
	return w.querier.QueryRowContext(ctx, query, args...)
}

// WatchedTx is the same for a transaction.
func WatchedTx(tx studio.Records, on func(query string, args []any)) studio.Records {
	t := tx.(*transaction)
	return &transaction{records{read: watch{t.read, on}, write: watch{t.write, on}, deleted: t.deleted, hold: t.hold}, t.tx}
}
