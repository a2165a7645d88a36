package main

import (
	"context"
	"fmt"
	"net/url"
	"os"
	"path/filepath"
	"strings"
	"time"

	"antiphon/internal/store/disk"
	"antiphon/internal/store/s3"
	"antiphon/internal/studio"
)

// openFiles opens where the recordings are. Where no other process works on them, what a kill left half
// written is cleared away.
func (f *studioFlags) openFiles(ctx context.Context, alone bool, now time.Time) (studio.Blobs, error) {
	if f.Files == "" {
		folder := filepath.Join(f.Data, filesFolder)
		blobs, err := disk.Open(folder)
		if err != nil {
			return nil, fmt.Errorf("the recordings in %s cannot be opened (%w): check that the folder can be written", folder, cause(err))
		}
		if !alone {
			return blobs, nil
		}
		if err := blobs.ClearHalf(); err != nil {
			return nil, fmt.Errorf("the recordings in %s cannot be tidied (%w): check that the folder can be written", folder, cause(err))
		}
		return blobs, nil
	}
	o, err := bucket(f.Files)
	if err != nil {
		return nil, err
	}
	blobs, err := s3.Open(ctx, o)
	if err != nil {
		return nil, fmt.Errorf("the bucket %s at %s cannot be opened (%w): check --files, that the bucket was made, and the key in AWS_ACCESS_KEY_ID and AWS_SECRET_ACCESS_KEY", o.Bucket, o.Endpoint, err)
	}
	if err := blobs.ClearHalf(ctx, now); err != nil {
		return nil, fmt.Errorf("the bucket %s cannot be tidied (%w): the key must be allowed to end unfinished uploads", o.Bucket, err)
	}
	return blobs, nil
}

// bucket reads s3://BUCKET/PREFIX?endpoint=https://HOST&region=NAME. The key comes from the environment,
// where a list of processes does not show it.
func bucket(address string) (s3.Options, error) {
	bad := func(say string) (s3.Options, error) {
		return s3.Options{}, usage("--files %s: write it like s3://recordings?endpoint=https://storage.example.org&region=eu", say)
	}
	u, err := url.Parse(address)
	if err != nil || u.Scheme != "s3" || u.Host == "" {
		return bad("is no address of a bucket")
	}
	at, err := url.Parse(u.Query().Get("endpoint"))
	if err != nil || at.Host == "" || at.Scheme != "https" && at.Scheme != "http" {
		return bad("needs an endpoint")
	}
	if at.Scheme == "http" && !loopback(at.Host) && !loopback(at.Host+":80") {
		return bad("would send recordings over an open line: an endpoint on another machine needs https")
	}
	o := s3.Options{Endpoint: at.Host, Plain: at.Scheme == "http", Region: u.Query().Get("region"), Bucket: u.Host,
		Key: os.Getenv("AWS_ACCESS_KEY_ID"), Secret: os.Getenv("AWS_SECRET_ACCESS_KEY")}
	if p := strings.Trim(u.Path, "/"); p != "" {
		o.Prefix = p + "/"
	}
	if o.Key == "" || o.Secret == "" {
		return s3.Options{}, usage("--files needs the key of the bucket in the environment: set AWS_ACCESS_KEY_ID and AWS_SECRET_ACCESS_KEY")
	}
	return o, nil
}
