// Package s3 keeps the studio's files in a bucket of S3-compatible storage, for a school that has one,
// or for several programs that work on one studio.
//
// An object is there wholly or not at all. It knows no names from outside: a key is three ids, and
// anything else is refused. It makes no bucket, and it says nothing about who else may read the bucket:
// that is for whoever keeps it to see to.
package s3

import (
	"bytes"
	"context"
	"crypto/sha256"
	"encoding/hex"
	"errors"
	"fmt"
	"hash"
	"io"
	"net/http"
	"strings"
	"time"

	"antiphon/internal/studio"

	"github.com/minio/minio-go/v7"
	"github.com/minio/minio-go/v7/pkg/credentials"
)

// Options say where the bucket is. Only Region, Prefix and Plain may be left out.
type Options struct {
	Endpoint string // host, or host:port
	Plain    bool   // HTTP instead of HTTPS: within one machine only
	Region   string // "" asks the server
	Bucket   string // that is there already
	Prefix   string // before every key, "antiphon/"
	Key      string
	Secret   string
}

// Blobs implements studio.Blobs.
type Blobs struct {
	c *minio.Client
	o Options
}

// Open looks whether the bucket is there.
func Open(ctx context.Context, o Options) (*Blobs, error) {
	c, err := minio.New(o.Endpoint, &minio.Options{Creds: credentials.NewStaticV4(o.Key, o.Secret, ""), Secure: !o.Plain, Region: o.Region})
	if err != nil {
		return nil, fmt.Errorf("opening the storage at %q: %w", o.Endpoint, err)
	}
	there, err := c.BucketExists(ctx, o.Bucket)
	if err == nil && !there {
		err = errors.New("there is no such bucket, or not for this key: make it, or correct the setting")
	}
	if err != nil {
		return nil, fmt.Errorf("opening the bucket %q at %q: %w", o.Bucket, o.Endpoint, err)
	}
	return &Blobs{c, o}, nil
}

func (b *Blobs) place(k studio.BlobKey) (string, error) {
	if !studio.IsID(k.Studio) || !studio.IsID(k.Family) || !studio.IsID(k.Media) {
		return "", fmt.Errorf("%q/%q/%q names no file: %w", k.Studio, k.Family, k.Media, studio.ErrNotFound)
	}
	return b.o.Prefix + string(k.Studio) + "/" + string(k.Family) + "/" + string(k.Media), nil
}

// partBytes is what is held in memory of a file while it is sent: S3 takes parts of 5 MB at least and
// 10,000 at most, so that files may have 80 GB.
const partBytes = 8 << 20

// Put sends what fits into one part at once, and more in parts that become an object with the last.
func (b *Blobs) Put(ctx context.Context, key studio.BlobKey, r io.Reader, limit int64) (int64, string, error) {
	name, err := b.place(key)
	if err != nil {
		return 0, "", err
	}
	m := &measured{ctx: ctx, r: r, sum: sha256.New(), limit: limit}
	var first bytes.Buffer
	_, err = io.CopyN(&first, m, partBytes)
	o := minio.PutObjectOptions{ContentType: "application/octet-stream", PartSize: partBytes, SendContentMd5: true}
	switch {
	case errors.Is(err, io.EOF):
		_, err = b.c.PutObject(ctx, b.o.Bucket, name, bytes.NewReader(first.Bytes()), int64(first.Len()), o)
	case err == nil:
		_, err = b.c.PutObject(ctx, b.o.Bucket, name, io.MultiReader(&first, m), -1, o)
	}
	if m.err != nil {
		err = m.err
	}
	if err != nil {
		// An answer that was lost may have been a yes.
		gone := b.Remove(context.WithoutCancel(ctx), key)
		return 0, "", fmt.Errorf("keeping a recording: %w", errors.Join(err, gone))
	}
	return m.n, hex.EncodeToString(m.sum.Sum(nil)), nil
}

// measured counts and sums what is read, and ends it with an error where it is too much or broken off.
type measured struct {
	ctx   context.Context
	r     io.Reader
	sum   hash.Hash
	n     int64
	limit int64
	err   error // why it ended; nil at its proper end
}

// errBroken stands for any error: a client takes some of the readers' own for a proper end, such as
// io.ErrUnexpectedEOF, which is what a connection says that was cut.
var errBroken = errors.New("the recording broke off")

func (m *measured) Read(p []byte) (int, error) {
	if m.err == nil {
		m.err = m.ctx.Err()
	}
	if m.err != nil {
		return 0, errBroken
	}
	n, err := m.r.Read(p)
	m.sum.Write(p[:n])
	m.n += int64(n)
	switch {
	case m.n > m.limit:
		m.err = fmt.Errorf("more than %d bytes: %w", m.limit, studio.ErrTooLarge)
	case err != nil && err != io.EOF:
		m.err = err
	default:
		return n, err
	}
	return 0, errBroken
}

func notThere(err error) bool {
	return minio.ToErrorResponse(err).StatusCode == http.StatusNotFound
}

// Open asks for the object's head; its bytes come as they are read, from where was sought.
func (b *Blobs) Open(ctx context.Context, key studio.BlobKey) (io.ReadSeekCloser, error) {
	name, err := b.place(key)
	if err != nil {
		return nil, err
	}
	o, err := b.c.GetObject(ctx, b.o.Bucket, name, minio.GetObjectOptions{})
	if err != nil {
		return nil, fmt.Errorf("opening a recording: %w", err)
	}
	if _, err := o.Stat(); err != nil {
		if notThere(err) {
			err = fmt.Errorf("%w: %w", studio.ErrNotFound, err)
		}
		return nil, errors.Join(fmt.Errorf("opening a recording: %w", err), o.Close())
	}
	return o, nil
}

func (b *Blobs) Remove(ctx context.Context, key studio.BlobKey) error {
	name, err := b.place(key)
	if err != nil {
		return err
	}
	if err := b.c.RemoveObject(ctx, b.o.Bucket, name, minio.RemoveObjectOptions{}); err != nil && !notThere(err) {
		return fmt.Errorf("removing a recording: %w", err)
	}
	return nil
}

func (b *Blobs) RemoveFamily(ctx context.Context, s studio.StudioID, f studio.FamilyID) error {
	if !studio.IsID(s) || !studio.IsID(f) {
		return fmt.Errorf("%q/%q names no family: %w", s, f, studio.ErrNotFound)
	}
	ctx, stop := context.WithCancel(ctx)
	defer stop()
	var listing error
	all := make(chan minio.ObjectInfo)
	go func() { // ends with the list, or with ctx
		defer close(all)
		for o := range b.c.ListObjectsIter(ctx, b.o.Bucket, minio.ListObjectsOptions{Prefix: b.o.Prefix + string(s) + "/" + string(f) + "/", Recursive: true}) {
			if o.Err != nil {
				listing = o.Err
				return
			}
			select {
			case all <- o:
			case <-ctx.Done():
				return
			}
		}
	}()
	var errs []error
	for r := range b.c.RemoveObjects(ctx, b.o.Bucket, all, minio.RemoveObjectsOptions{}) {
		errs = append(errs, r.Err)
	}
	if err := errors.Join(append(errs, listing, ctx.Err())...); err != nil {
		return fmt.Errorf("removing a family's recordings: %w", err)
	}
	return nil
}

func (b *Blobs) Each(ctx context.Context, s studio.StudioID, do func(studio.BlobKey, time.Time) error) error {
	if !studio.IsID(s) {
		return fmt.Errorf("%q names no studio: %w", s, studio.ErrNotFound)
	}
	ctx, stop := context.WithCancel(ctx)
	defer stop()
	for o := range b.c.ListObjectsIter(ctx, b.o.Bucket, minio.ListObjectsOptions{Prefix: b.o.Prefix + string(s) + "/", Recursive: true}) {
		if o.Err != nil {
			return fmt.Errorf("listing recordings: %w", o.Err)
		}
		part := strings.Split(strings.TrimPrefix(o.Key, b.o.Prefix), "/")
		if len(part) != 3 {
			continue // not ours
		}
		key := studio.BlobKey{Studio: s, Family: studio.FamilyID(part[1]), Media: studio.MediaID(part[2])}
		if _, err := b.place(key); err != nil {
			continue // not ours
		}
		if err := do(key, o.LastModified); err != nil {
			return err
		}
	}
	return nil
}

// halfFor is how long an upload may be under way.
const halfFor = 24 * time.Hour

// ClearHalf removes the parts of uploads that a killed program left. They are no objects, but take room.
func (b *Blobs) ClearHalf(ctx context.Context, now time.Time) error {
	ctx, stop := context.WithCancel(ctx)
	defer stop()
	for u := range b.c.ListIncompleteUploads(ctx, b.o.Bucket, b.o.Prefix, true) {
		if u.Err != nil {
			return fmt.Errorf("clearing half recordings: %w", u.Err)
		}
		if now.Sub(u.Initiated) < halfFor {
			continue
		}
		if err := b.c.RemoveIncompleteUpload(ctx, b.o.Bucket, u.Key); err != nil {
			return fmt.Errorf("clearing half recordings: %w", err)
		}
	}
	return nil
}
