package store_test

import (
	"path/filepath"
	"testing"

	"antiphon/internal/store"
	"antiphon/internal/store/storetest"
)

func sqlite(t *testing.T) *store.Store {
	t.Helper()
	return opened(t, func() (*store.Store, error) {
		return store.OpenSQLite(t.Context(), filepath.Join(t.TempDir(), "a studio?.db"))
	})
}

func opened(t *testing.T, open func() (*store.Store, error)) *store.Store {
	t.Helper()
	s, err := open()
	if err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() {
		if err := s.Close(); err != nil {
			t.Error(err)
		}
	})
	return s
}

// The name asks for care: a space and a question mark in an address.
func TestSQLite(t *testing.T) { storetest.Run(t, sqlite) }

func TestPostgreSQL(t *testing.T) {
	address := storetest.Postgres(t)
	storetest.Run(t, func(t *testing.T) *store.Store {
		return opened(t, func() (*store.Store, error) { return store.OpenPostgres(t.Context(), address(t)) })
	})
}
