//go:build !unix

package store

// alone has no lock here: of two programs that start at once on a new database one may fail, and is
// started again.
func alone(_ string, do func() error) error { return do() }
