package store

import (
	"context"
	"database/sql"
	"embed"
	"fmt"
	"io/fs"
	"strconv"
	"strings"

	"github.com/pressly/goose/v3"
	"github.com/pressly/goose/v3/lock"
)

// Migrations go forward only. A file that was released is never changed; a new one follows it.
//
//go:embed migrations/*.sql
var migrations embed.FS

// dialect is where the two databases differ in their schema: the files are written for PostgreSQL.
type dialect struct {
	goose goose.Dialect
	ddl   *strings.Replacer
}

func sqliteDialect() dialect {
	return dialect{goose.DialectSQLite3, strings.NewReplacer("BIGINT", "INTEGER", "DOUBLE PRECISION", "REAL", "BYTEA", "BLOB", "\n);", "\n) STRICT;")}
}

func postgresDialect() dialect { return dialect{goose.DialectPostgres, strings.NewReplacer()} }

// migrate brings db to the newest schema. A database from a newer program is refused.
func migrate(ctx context.Context, db *sql.DB, d dialect) error {
	p, newest, err := steps(db, d)
	if err != nil {
		return fmt.Errorf("reading migrations: %w", err)
	}
	if _, err := p.Up(ctx); err != nil {
		return fmt.Errorf("migrating: %w", err)
	}
	v, err := p.GetDBVersion(ctx)
	if err != nil {
		return fmt.Errorf("asking for the schema's version: %w", err)
	}
	if v > newest {
		return fmt.Errorf("this data has schema %d and this program knows schema %d: start the newer program", v, newest)
	}
	return nil
}

// steps reads the migrations for a database, and the number of the last of them.
func steps(db *sql.DB, d dialect) (p *goose.Provider, newest int64, err error) {
	names, err := fs.Glob(migrations, "migrations/*.sql")
	if err != nil {
		return nil, 0, err
	}
	var all []*goose.Migration
	for _, name := range names {
		text, err := migrations.ReadFile(name)
		if err != nil {
			return nil, 0, err
		}
		digits, _, _ := strings.Cut(strings.TrimPrefix(name, "migrations/"), "_")
		if newest, err = strconv.ParseInt(digits, 10, 64); err != nil {
			return nil, 0, fmt.Errorf("migration %s: %w", name, err)
		}
		ddl := d.ddl.Replace(string(text))
		all = append(all, goose.NewGoMigration(newest, &goose.GoFunc{
			RunTx: func(ctx context.Context, tx *sql.Tx) error {
				_, err := tx.ExecContext(ctx, ddl)
				return err
			}}, nil))
	}
	o := []goose.ProviderOption{goose.WithGoMigrations(all...), goose.WithDisableGlobalRegistry(true)}
	if d.goose == goose.DialectPostgres { // several programs may start at once
		l, err := lock.NewPostgresSessionLocker()
		if err != nil {
			return nil, 0, err
		}
		o = append(o, goose.WithSessionLocker(l))
	}
	p, err = goose.NewProvider(d.goose, db, nil, o...)
	return p, newest, err
}
