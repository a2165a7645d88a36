package week_test

import (
	"bytes"
	"compress/gzip"
	"io"
	"net/http"
	"regexp"
	"strings"
	"testing"
)

// mostWeight is what the first open of a week may weigh before its sounds and films, gzipped: 150 KB.
const mostWeight = 150 * 1000

// TestFirstOpen adds up what a phone fetches on the first open of a week with ten tasks: the page, its style, its scripts
// with what they import, the worker, and the music. Sounds, films and pages that are kept behind it are not in it.
func TestFirstOpen(t *testing.T) {
	s, nils, _ := whole(t)
	everything(t, s, nils)
	client := s.Client(t, s.Lindqvist.Device)
	total := 0
	get := func(path, accept string) string {
		r, err := http.NewRequestWithContext(t.Context(), http.MethodGet, s.URL+path, nil)
		if err != nil {
			t.Fatal(err)
		}
		r.Header.Set("Accept-Encoding", "gzip")
		r.Header.Set("Accept", accept)
		a, err := client.Do(r)
		if err != nil {
			t.Fatal(err)
		}
		defer a.Body.Close()
		b, err := io.ReadAll(a.Body)
		if err != nil || a.StatusCode != http.StatusOK {
			t.Fatal(path, a.StatusCode, err)
		}
		total += len(b)
		t.Logf("%6d %s", len(b), path)
		if a.Header.Get("Content-Encoding") != "gzip" {
			return string(b)
		}
		z, err := gzip.NewReader(bytes.NewReader(b))
		if err != nil {
			t.Fatal(err)
		}
		if b, err = io.ReadAll(z); err != nil {
			t.Fatal(err)
		}
		return string(b)
	}
	seen := map[string]bool{}
	var script func(path string)
	imported := regexp.MustCompile(`["']\./(chunk-[\w-]+\.js)["']`)
	script = func(path string) {
		if seen[path] {
			return
		}
		seen[path] = true
		for _, m := range imported.FindAllStringSubmatch(get(path, "*/*"), -1) {
			script("/assets/" + m[1])
		}
	}

	page := get("/week?child="+string(nils.ID), "text/html")
	version := ""
	for _, m := range regexp.MustCompile(`(?:href|src)="(/assets/[^"]+)"`).FindAllStringSubmatch(page, -1) {
		script(m[1])
		_, version, _ = strings.Cut(m[1], "?")
	}
	for _, m := range regexp.MustCompile(`data-island="([^"]+)"`).FindAllStringSubmatch(page, -1) {
		for _, name := range strings.Fields(m[1]) {
			script("/assets/" + name + ".js?" + version)
		}
	}
	get("/week/sw.js", "*/*")
	get("/week/manifest.json", "*/*")
	// Folded music is fetched when somebody opens it.
	open := regexp.MustCompile(`(?s)<details.*?</details>`).ReplaceAllString(page, "")
	sheets := 0
	for _, m := range regexp.MustCompile(`data-source="([^"]+)"`).FindAllStringSubmatch(open, -1) {
		address := strings.ReplaceAll(m[1], "&amp;", "&") + "&width=360"
		if !seen[address] {
			seen[address] = true
			get(address, "application/json")
		}
		sheets++
	}
	if len(seen) < 8 || sheets < 5 {
		t.Fatalf("only %d files and %d sheets were found", len(seen), sheets)
	}
	if total > mostWeight {
		t.Errorf("the first open weighs %d bytes, at most %d", total, mostWeight)
	}
	t.Logf("%d bytes", total)
}
