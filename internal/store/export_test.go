package store

import (
	"context"
	"database/sql"
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
