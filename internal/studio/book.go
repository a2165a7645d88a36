package studio

import (
	"context"
	"encoding/json"
	"strings"
)

const (
	longestRemedyID  = 60
	longestRemedyDoc = 50_000 // bytes
)

// isRemedy tells the id of an entry of the book, or none, from anything else.
func isRemedy(id string) bool {
	return len(id) <= longestRemedyID && strings.Trim(id, "abcdefghijklmnopqrstuvwxyz0123456789-") == ""
}

// OwnRemedies are the entries of the book that the teacher wrote anew, by their id.
func (d *Desk) OwnRemedies(ctx context.Context, v Viewer) (map[string]json.RawMessage, error) {
	if err := v.must("The book of remedies is the teacher's.", Teacher, Ear); err != nil {
		return nil, err
	}
	m, err := d.store.OwnRemedies(ctx, v.Studio)
	return m, problemOf(err)
}

// KeepRemedy keeps the teacher's own words for an entry; nil goes back to the printed ones.
func (d *Desk) KeepRemedy(ctx context.Context, v Viewer, id string, doc json.RawMessage) error {
	if err := v.must("The book of remedies is the teacher's.", Teacher); err != nil {
		return err
	}
	switch {
	case id == "" || !isRemedy(id):
		return invalid("%q is no name of an entry: small letters, digits and dashes.", id)
	case doc != nil && (!json.Valid(doc) || len(doc) > longestRemedyDoc):
		return invalid("The entry did not arrive whole, or is longer than the book takes. Write it again.")
	}
	return problemOf(d.store.PutOwnRemedy(ctx, v.Studio, id, doc))
}
