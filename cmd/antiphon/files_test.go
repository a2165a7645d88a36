package main

import (
	"strings"
	"testing"

	"antiphon/internal/store/s3"
)

func TestBucket(t *testing.T) {
	t.Setenv("AWS_ACCESS_KEY_ID", "k")
	t.Setenv("AWS_SECRET_ACCESS_KEY", "s")
	for _, c := range []struct {
		address string
		want    s3.Options
		refused string
	}{
		{"s3://takes?endpoint=https://store.example&region=eu", s3.Options{Endpoint: "store.example", Region: "eu", Bucket: "takes", Key: "k", Secret: "s"}, ""},
		{"s3://takes/antiphon/?endpoint=http://127.0.0.1:9000", s3.Options{Endpoint: "127.0.0.1:9000", Plain: true, Bucket: "takes", Prefix: "antiphon/", Key: "k", Secret: "s"}, ""},
		{"s3://takes?endpoint=http://store.example", s3.Options{}, "open line"},
		{"s3://takes", s3.Options{}, "endpoint"},
		{"https://takes", s3.Options{}, "no address of a bucket"},
	} {
		got, err := bucket(c.address)
		if got != c.want || (err == nil) != (c.refused == "") || err != nil && !strings.Contains(err.Error(), c.refused) {
			t.Errorf("%s: %+v, %v", c.address, got, err)
		}
	}
	t.Setenv("AWS_SECRET_ACCESS_KEY", "")
	if _, err := bucket("s3://takes?endpoint=https://store.example"); err == nil {
		t.Error("a bucket without its key")
	}
}
