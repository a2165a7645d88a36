package scenario

import (
	"bufio"
	"compress/gzip"
	_ "embed"
	"encoding/json"
	"fmt"
	"io"

	"antiphon/internal/studio"
)

// heardFile is what the ear heard in the takes of earlier weeks, one JSON object a line with the key of
// the take, made by `make demo-data`.
//
//go:embed heard.jsonl.gz
var heardFile []byte

// heard is one line of the file.
type heard struct {
	Key string
	studio.Heard
	Doc json.RawMessage // instead of Heard's, which would be written as base64
}

// ReadPast reads what was heard, by the keys of the takes.
func ReadPast(r io.Reader) (map[string]studio.Heard, error) {
	z, err := gzip.NewReader(r)
	if err != nil {
		return nil, fmt.Errorf("scenario: what was heard: %w", err)
	}
	out := map[string]studio.Heard{}
	for d := json.NewDecoder(bufio.NewReader(z)); ; {
		var h heard
		if err := d.Decode(&h); err == io.EOF {
			return out, nil
		} else if err != nil {
			return nil, fmt.Errorf("scenario: what was heard, after %d takes: %w", len(out), err)
		}
		h.Heard.Doc = h.Doc
		out[h.Key] = h.Heard
	}
}

// WritePast writes what was heard in the order of keys.
func WritePast(w io.Writer, keys []string, past map[string]studio.Heard) error {
	z, err := gzip.NewWriterLevel(w, gzip.BestCompression)
	if err != nil {
		return err
	}
	e := json.NewEncoder(z)
	for _, key := range keys {
		one, ok := past[key]
		if !ok {
			return fmt.Errorf("scenario: %s was not heard", key)
		}
		doc := one.Doc
		one.Doc = nil
		if err := e.Encode(heard{key, one, doc}); err != nil {
			return err
		}
	}
	return z.Close()
}
