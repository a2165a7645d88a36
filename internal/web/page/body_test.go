package page_test

import (
	"io"
	"net/http"
	"net/http/httptest"
	"strings"
	"testing"

	"antiphon/internal/studio"
	"antiphon/internal/web/page"
)

// TestAFormHoldsNoMoreThanAForm: nobody sends 50 MB to a form, whether it says so or not; a route that takes files says
// how much.
func TestAFormHoldsNoMoreThanAForm(t *testing.T) {
	f := frame(t, page.Options{})
	read := 0
	count := func(w http.ResponseWriter, r *http.Request) error {
		b, err := io.ReadAll(r.Body)
		read = len(b)
		return err
	}
	mux := http.NewServeMux()
	mux.Handle("POST /form", f.Open(count))
	mux.Handle("POST /deaf", f.Open(func(w http.ResponseWriter, r *http.Request) error {
		if r.PostFormValue("say") == "" { // which drops the error
			return &studio.Problem{Kind: studio.Invalid, Say: "Nothing was said."}
		}
		return nil
	}))
	mux.Handle("POST /file", f.Open(func(w http.ResponseWriter, r *http.Request) error {
		page.Takes(w, r, 4<<20)
		return count(w, r)
	}))
	mux.Handle("POST /any", f.Open(func(w http.ResponseWriter, r *http.Request) error {
		page.Takes(w, r, 0)
		return count(w, r)
	}))
	const form, other = "application/x-www-form-urlencoded", "application/json"
	for _, c := range []struct {
		path, kind string
		bytes      int
		says       bool // how long it is
		status     int
	}{
		{"/form", form, 1 << 20, true, 200}, {"/form", form, 1<<20 + 1, true, 413}, {"/form", other, 50 << 20, true, 413}, {"/form", form, 50 << 20, false, 413},
		{"/deaf", form, 50 << 20, false, 413}, {"/deaf", form, 2 << 20, true, 413}, {"/deaf", form, 100, true, 422},
		{"/file", other, 4 << 20, true, 200}, {"/file", other, 5 << 20, true, 413}, {"/any", other, 9 << 20, false, 200},
	} {
		read = 0
		r := httptest.NewRequest(http.MethodPost, c.path, strings.NewReader(strings.Repeat("a", c.bytes)))
		r.Header.Set("Content-Type", c.kind)
		if !c.says {
			r.ContentLength = -1
		}
		a := ask(f.Guard(mux), r)
		if a.StatusCode != c.status || a.StatusCode == 200 && read != c.bytes || read > 9<<20 {
			t.Errorf("%s, %s, %d bytes: %d, %d were read", c.path, c.kind, c.bytes, a.StatusCode, read)
		}
	}
}
