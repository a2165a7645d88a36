package storetest

import (
	"context"
	"database/sql"
	"fmt"
	"os"
	"os/exec"
	"os/user"
	"path/filepath"
	"strconv"
	"syscall"
	"testing"
	"time"

	_ "github.com/jackc/pgx/v5/stdlib" // the driver "pgx"
)

// Postgres starts a server of the test's own, without a network, and stops it when the test ends.
// It skips the test only where the server's programs are not there. The address is of a database
// that is there from the start.
func Postgres(t *testing.T) (newDatabase func(t *testing.T) (address string)) {
	t.Helper()
	initdb, server := program("initdb"), program("postgres")
	if initdb == "" || server == "" {
		t.Skip("PostgreSQL's server is not installed (Debian: apt-get install postgresql): only SQLite is tested")
	}
	dir, err := os.MkdirTemp("/tmp", "pg") // short, for a socket's path holds 107 bytes, and open to the server's own user
	must(t, err)
	t.Cleanup(func() { os.RemoveAll(dir) })
	attr := &syscall.SysProcAttr{Setpgid: true, Pdeathsig: syscall.SIGQUIT}
	if os.Getuid() == 0 { // the server refuses to be root
		u, err := user.Lookup("postgres")
		must(t, err)
		uid, err := strconv.Atoi(u.Uid)
		must(t, err)
		gid, err := strconv.Atoi(u.Gid)
		must(t, err)
		must(t, os.Chown(dir, uid, gid))
		attr.Credential = &syscall.Credential{Uid: uint32(uid), Gid: uint32(gid)}
	}
	run := func(name string, args ...string) *exec.Cmd {
		c := exec.Command(name, args...)
		c.Dir, c.SysProcAttr, c.Env = dir, attr, []string{"LC_ALL=C", "HOME=" + dir}
		return c
	}
	if out, err := run(initdb, "-D", filepath.Join(dir, "data"), "-U", "antiphon", "-A", "trust", "-E", "UTF8", "--no-sync").CombinedOutput(); err != nil {
		t.Fatalf("initdb: %v\n%s", err, out)
	}
	log, err := os.Create(filepath.Join(dir, "log"))
	must(t, err)
	srv := run(server, "-D", filepath.Join(dir, "data"), "-k", dir, "-c", "listen_addresses=", "-c", "fsync=off")
	srv.Stdout, srv.Stderr = log, log
	must(t, srv.Start())
	ended := make(chan error, 1)
	go func() { ended <- srv.Wait() }()
	t.Cleanup(func() {
		srv.Process.Signal(syscall.SIGINT) // a fast shutdown
		<-ended
		log.Close()
	})
	address := func(database string) string {
		return fmt.Sprintf("host=%s user=antiphon dbname=%s sslmode=disable", dir, database)
	}
	db, err := sql.Open("pgx", address("postgres"))
	must(t, err)
	t.Cleanup(func() { db.Close() })
	ctx, cancel := context.WithTimeout(t.Context(), time.Minute)
	defer cancel()
	for db.PingContext(ctx) != nil {
		select {
		case err := <-ended:
			ended <- err
			said, _ := os.ReadFile(log.Name())
			t.Fatalf("the server ended: %v\n%s", err, said)
		case <-ctx.Done():
			t.Fatal("the server did not answer for a minute")
		case <-time.After(50 * time.Millisecond):
		}
	}
	n := 0
	return func(t *testing.T) string {
		t.Helper()
		n++
		name := "studio" + strconv.Itoa(n)
		_, err := db.ExecContext(t.Context(), "CREATE DATABASE "+name)
		must(t, err)
		return address(name)
	}
}

func program(name string) string {
	found, err := filepath.Glob("/usr/lib/postgresql/*/bin/" + name)
	if err == nil && len(found) > 0 {
		return found[len(found)-1]
	}
	if p, err := exec.LookPath(name); err == nil {
		return p
	}
	return ""
}
