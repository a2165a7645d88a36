package storetest

import (
	"bytes"
	"context"
	"crypto/sha256"
	"encoding/hex"
	"errors"
	"io"
	"math/rand/v2"
	"slices"
	"strings"
	"testing"
	"time"

	"antiphon/internal/studio"
)

// Blobs is the contract of a store of files as one suite; open gives an empty one.
func Blobs(t *testing.T, open func(t *testing.T) studio.Blobs) {
	for _, c := range []struct {
		name string
		run  func(*testing.T, studio.Blobs)
	}{
		{"whole", wholeBlobs}, {"or none", noHalfBlobs}, {"no way out", strangeKeys}, {"large", largeBlob},
	} {
		t.Run(c.name, func(t *testing.T) { c.run(t, open(t)) })
	}
}

const (
	blobStudio = studio.StudioID("11111111111111111111111111")
	blobFamily = studio.FamilyID("22222222222222222222222222")
	blobMedia  = studio.MediaID("33333333333333333333333333")
)

var aBlob = studio.BlobKey{Studio: blobStudio, Family: blobFamily, Media: blobMedia}

func eachBlob(t *testing.T, b studio.Blobs, s studio.StudioID) (all []studio.BlobKey) {
	t.Helper()
	must(t, b.Each(t.Context(), s, func(k studio.BlobKey, written time.Time) error {
		if d := time.Since(written); d < -time.Minute || d > time.Hour {
			t.Errorf("%v is said to be written at %v", k, written)
		}
		all = append(all, k)
		return nil
	}))
	return all
}

func wholeBlobs(t *testing.T, b studio.Blobs) {
	ctx := t.Context()
	n, sum, err := b.Put(ctx, aBlob, strings.NewReader("abc"), 3)
	// SHA-256 of "abc": FIPS 180-2, appendix B.1.
	if err != nil || n != 3 || sum != "ba7816bf8f01cfea414140de5dae2223b00361a396177a9cb410ff61f20015ad" {
		t.Errorf("%d bytes, %s, %v", n, sum, err)
	}
	f, err := b.Open(ctx, aBlob)
	must(t, err)
	got, err := io.ReadAll(f)
	if err != nil || string(got) != "abc" {
		t.Errorf("read %q, %v", got, err)
	}
	// As a page asks: how long it is, and then from somewhere on.
	if end, err := f.Seek(0, io.SeekEnd); err != nil || end != 3 {
		t.Errorf("its end is at %d, %v", end, err)
	}
	if _, err := f.Seek(1, io.SeekStart); err != nil {
		t.Error(err)
	}
	if got, err := io.ReadAll(f); err != nil || string(got) != "bc" {
		t.Errorf("from the second byte on: %q, %v", got, err)
	}
	must(t, f.Close())
	if all := eachBlob(t, b, blobStudio); !slices.Equal(all, []studio.BlobKey{aBlob}) {
		t.Errorf("each: %v", all)
	}
	if all := eachBlob(t, b, "44444444444444444444444444"); len(all) != 0 {
		t.Errorf("a studio without files: %v", all)
	}
	other := aBlob
	other.Family, other.Media = "55555555555555555555555555", "66666666666666666666666666"
	_, _, err = b.Put(ctx, other, strings.NewReader("stays"), 9)
	must(t, err)
	if all := eachBlob(t, b, blobStudio); len(all) != 2 {
		t.Errorf("each of two: %v", all)
	}
	must(t, b.Each(ctx, blobStudio, func(k studio.BlobKey, _ time.Time) error { // a sweep removes as it looks
		if k == aBlob {
			return b.Remove(ctx, k)
		}
		return nil
	}))
	if err := b.Each(ctx, blobStudio, func(studio.BlobKey, time.Time) error { return errBack }); !errors.Is(err, errBack) {
		t.Errorf("each does not stop: %v", err)
	}
	_, _, err = b.Put(ctx, aBlob, strings.NewReader("again"), 9)
	must(t, err)
	for range 2 {
		if err := b.RemoveFamily(ctx, blobStudio, blobFamily); err != nil {
			t.Error(err)
		}
		if err := b.Remove(ctx, aBlob); err != nil {
			t.Error(err)
		}
	}
	if _, err := b.Open(ctx, aBlob); !errors.Is(err, studio.ErrNotFound) {
		t.Errorf("opened what was removed: %v", err)
	}
	if all := eachBlob(t, b, blobStudio); !slices.Equal(all, []studio.BlobKey{other}) {
		t.Errorf("another family's: %v", all)
	}
}

// cut is a reader that breaks off.
type cut struct {
	r  io.Reader
	as error
}

func (c cut) Read(p []byte) (int, error) {
	n, err := c.r.Read(p)
	if err == io.EOF {
		err = c.as
	}
	return n, err
}

// noise is longer than the parts in which a store may send a file.
func noise(n int) []byte {
	b := make([]byte, n)
	rand.NewChaCha8([32]byte{3}).Read(b)
	return b
}

const severalParts = 20 << 20

func noHalfBlobs(t *testing.T, b studio.Blobs) {
	stopped, stop := context.WithCancel(t.Context())
	stop()
	long := noise(severalParts)
	gone := errors.New("the connection is gone")
	for _, c := range []struct {
		name  string
		ctx   context.Context
		r     io.Reader
		limit int64
		want  error
	}{
		{"one byte too many", t.Context(), strings.NewReader("abcd"), 3, studio.ErrTooLarge},
		{"many bytes too many", t.Context(), bytes.NewReader(long), severalParts - 1, studio.ErrTooLarge},
		{"broken off", t.Context(), cut{strings.NewReader("ab"), gone}, 3, gone},
		{"cut", t.Context(), cut{strings.NewReader("ab"), io.ErrUnexpectedEOF}, 3, io.ErrUnexpectedEOF},
		{"broken off late", t.Context(), cut{bytes.NewReader(long), gone}, 2 * severalParts, gone},
		{"cut late", t.Context(), cut{bytes.NewReader(long), io.ErrUnexpectedEOF}, 2 * severalParts, io.ErrUnexpectedEOF},
		{"given up", stopped, strings.NewReader("ab"), 3, context.Canceled},
	} {
		_, _, err := b.Put(c.ctx, aBlob, c.r, c.limit)
		if !errors.Is(err, c.want) {
			t.Errorf("%s: %v, want %v", c.name, err, c.want)
		}
		if left := eachBlob(t, b, blobStudio); len(left) != 0 {
			t.Errorf("%s leaves %v", c.name, left)
			must(t, b.Remove(t.Context(), aBlob))
		}
		if _, err := b.Open(t.Context(), aBlob); !errors.Is(err, studio.ErrNotFound) {
			t.Errorf("%s can be opened: %v", c.name, err)
		}
	}
}

func largeBlob(t *testing.T, b studio.Blobs) {
	ctx := t.Context()
	long := noise(severalParts)
	want := sha256.Sum256(long)
	n, sum, err := b.Put(ctx, aBlob, bytes.NewReader(long), severalParts)
	if err != nil || n != severalParts || sum != hex.EncodeToString(want[:]) {
		t.Errorf("%d bytes, %s, %v", n, sum, err)
	}
	f, err := b.Open(ctx, aBlob)
	must(t, err)
	defer f.Close()
	h := sha256.New()
	if n, err := io.Copy(h, f); err != nil || n != severalParts || !bytes.Equal(h.Sum(nil), want[:]) {
		t.Errorf("read %d bytes, %x, %v", n, h.Sum(nil), err)
	}
	_, err = f.Seek(severalParts-1000, io.SeekStart)
	must(t, err)
	if tail, err := io.ReadAll(f); err != nil || !bytes.Equal(tail, long[severalParts-1000:]) {
		t.Errorf("its end: %d bytes, %v", len(tail), err)
	}
}

func strangeKeys(t *testing.T, b studio.Blobs) {
	ctx := t.Context()
	for _, k := range []studio.BlobKey{
		{}, {Studio: blobStudio}, {Studio: blobStudio, Family: blobFamily}, {Studio: "..", Family: "..", Media: "outside"},
		{Studio: blobStudio, Family: blobFamily, Media: "../../../outside"}, {Studio: blobStudio, Family: "*", Media: blobMedia},
		{Studio: "half", Family: blobFamily, Media: blobMedia}, {Studio: blobStudio, Family: blobFamily, Media: blobMedia + "/"},
		{Studio: blobStudio, Family: blobFamily, Media: "\x00" + blobMedia[1:]},
	} {
		if _, _, err := b.Put(ctx, k, strings.NewReader("x"), 9); !errors.Is(err, studio.ErrNotFound) {
			t.Errorf("put %q: %v", k, err)
		}
		if f, err := b.Open(ctx, k); !errors.Is(err, studio.ErrNotFound) {
			t.Errorf("open %q: %v, %v", k, f, err)
		}
		if err := b.Remove(ctx, k); !errors.Is(err, studio.ErrNotFound) {
			t.Errorf("remove %q: %v", k, err)
		}
	}
	if err := b.RemoveFamily(ctx, "", ""); !errors.Is(err, studio.ErrNotFound) {
		t.Errorf("remove nobody's files: %v", err)
	}
	if err := b.Each(ctx, "..", func(studio.BlobKey, time.Time) error { return nil }); !errors.Is(err, studio.ErrNotFound) {
		t.Errorf("each of nobody: %v", err)
	}
}
