package s3_test

import (
	"bytes"
	"context"
	"fmt"
	"net"
	"os"
	"os/exec"
	"path/filepath"
	"strings"
	"syscall"
	"testing"
	"time"

	"antiphon/internal/store"
	"antiphon/internal/store/s3"
	"antiphon/internal/store/storetest"
	"antiphon/internal/studio"

	"github.com/minio/minio-go/v7"
	"github.com/minio/minio-go/v7/pkg/credentials"
)

// A real server: the Versity S3 gateway on a folder (Apache-2.0). It is built once from the Go module
// proxy, in about a minute, and kept where Go keeps what it built.
const (
	gateway = "github.com/versity/versitygw/cmd/versitygw"
	version = "v1.8.0"
)

const key, secret = "antiphon-test", "a secret of the test's own"

func server(t *testing.T) (endpoint string) {
	t.Helper()
	cache, err := os.UserCacheDir()
	if err != nil {
		cache = os.TempDir()
	}
	bin := filepath.Join(cache, "antiphon-tests", "versitygw-"+version)
	if _, err := os.Stat(filepath.Join(bin, "versitygw")); err != nil {
		build := exec.Command("go", "install", gateway+"@"+version)
		build.Env = append(os.Environ(), "GOBIN="+bin, "GOFLAGS=")
		if out, err := build.CombinedOutput(); err != nil {
			t.Skipf("no S3 server could be built from the Go module proxy, so storage in S3 is not tested: %v\n%s", err, out)
		}
	}
	l, err := net.Listen("tcp", "127.0.0.1:0")
	if err != nil {
		t.Fatal(err)
	}
	endpoint = l.Addr().String()
	l.Close()
	dir := t.TempDir()
	var log bytes.Buffer
	srv := exec.Command(filepath.Join(bin, "versitygw"), "--port", endpoint, "--access", key, "--secret", secret, "--quiet", "posix", dir)
	srv.SysProcAttr = &syscall.SysProcAttr{Pdeathsig: syscall.SIGKILL}
	srv.Stdout, srv.Stderr = &log, &log
	if err := srv.Start(); err != nil {
		t.Fatal(err)
	}
	ended := make(chan error, 1)
	go func() { ended <- srv.Wait() }()
	t.Cleanup(func() {
		srv.Process.Signal(syscall.SIGTERM)
		<-ended
	})
	for deadline := time.Now().Add(time.Minute); ; {
		c, err := net.Dial("tcp", endpoint)
		if err == nil {
			c.Close()
			return endpoint
		}
		select {
		case err := <-ended:
			ended <- err
			t.Fatalf("the server ended: %v\n%s", err, &log)
		case <-time.After(50 * time.Millisecond):
		}
		if time.Now().After(deadline) {
			t.Fatal("the server did not answer for a minute")
		}
	}
}

func client(t *testing.T, endpoint string) *minio.Client {
	t.Helper()
	c, err := minio.New(endpoint, &minio.Options{Creds: credentials.NewStaticV4(key, secret, "")})
	if err != nil {
		t.Fatal(err)
	}
	return c
}

func TestS3(t *testing.T) {
	endpoint := server(t)
	c := client(t, endpoint)
	buckets := 0
	open := func(t *testing.T) *s3.Blobs {
		t.Helper()
		buckets++
		o := s3.Options{Endpoint: endpoint, Plain: true, Bucket: fmt.Sprint("studio", buckets), Prefix: "antiphon/", Key: key, Secret: secret}
		if err := c.MakeBucket(t.Context(), o.Bucket, minio.MakeBucketOptions{}); err != nil {
			t.Fatal(err)
		}
		b, err := s3.Open(t.Context(), o)
		if err != nil {
			t.Fatal(err)
		}
		return b
	}
	t.Run("contract", func(t *testing.T) {
		storetest.Blobs(t, func(t *testing.T) studio.Blobs { return open(t) })
	})
	t.Run("studio", func(t *testing.T) { // the whole suite of a studio, with its files in buckets
		storetest.RunOn(t, func(t *testing.T) *store.Store {
			s, err := store.OpenSQLite(t.Context(), filepath.Join(t.TempDir(), "studio.db"))
			if err != nil {
				t.Fatal(err)
			}
			t.Cleanup(func() { s.Close() })
			return s
		}, func(t *testing.T) studio.Blobs { return open(t) })
	})
	t.Run("refused", func(t *testing.T) {
		o := s3.Options{Endpoint: endpoint, Plain: true, Bucket: "nowhere", Key: key, Secret: secret}
		if _, err := s3.Open(t.Context(), o); err == nil || !strings.Contains(err.Error(), "nowhere") || !strings.Contains(err.Error(), "no such bucket") {
			t.Errorf("no bucket: %v", err)
		}
		o.Secret = "another"
		if _, err := s3.Open(t.Context(), o); err == nil || strings.Contains(err.Error(), "another") {
			t.Errorf("a wrong secret: %v", err)
		}
		ctx, cancel := context.WithTimeout(t.Context(), 5*time.Second)
		defer cancel()
		o.Endpoint = "127.0.0.1:1"
		if _, err := s3.Open(ctx, o); err == nil || !strings.Contains(err.Error(), "127.0.0.1:1") {
			t.Errorf("no server: %v", err)
		}
	})
	t.Run("half", func(t *testing.T) { half(t, c, open(t), fmt.Sprint("studio", buckets)) })
}

// half: parts that a killed program left are no file, and go after a day.
func half(t *testing.T, c *minio.Client, b *s3.Blobs, bucket string) {
	ctx := t.Context()
	core := minio.Core{Client: c}
	name := "antiphon/11111111111111111111111111/22222222222222222222222222/33333333333333333333333333"
	id, err := core.NewMultipartUpload(ctx, bucket, name, minio.PutObjectOptions{})
	if err != nil {
		t.Fatal(err)
	}
	if _, err := core.PutObjectPart(ctx, bucket, name, id, 1, strings.NewReader("half"), 4, minio.PutObjectPartOptions{}); err != nil {
		t.Fatal(err)
	}
	left := func() (n int) {
		t.Helper()
		for u := range c.ListIncompleteUploads(ctx, bucket, "", true) {
			if u.Err != nil {
				t.Fatal(u.Err)
			}
			n++
		}
		return n
	}
	if err := b.Each(ctx, "11111111111111111111111111", func(k studio.BlobKey, _ time.Time) error { return fmt.Errorf("half of %v is a file", k) }); err != nil {
		t.Error(err)
	}
	if err := b.ClearHalf(ctx, time.Now().Add(23*time.Hour)); err != nil || left() != 1 {
		t.Errorf("too early: %d left, %v", left(), err)
	}
	if err := b.ClearHalf(ctx, time.Now().Add(25*time.Hour)); err != nil || left() != 0 {
		t.Errorf("after a day: %d left, %v", left(), err)
	}
}
