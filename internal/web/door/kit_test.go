package door_test

import (
	"net/http"
	"net/url"
	"strings"
	"testing"

	"antiphon/internal/web/webtest"
)

// site is the studio behind HTTP, with what the tests of the door ask of it.
type site struct{ *webtest.Site }

// do sends a request as the owner of device, from a page of the site.
func (s site) do(t *testing.T, method, device, path string, form url.Values) *http.Response {
	t.Helper()
	r, err := http.NewRequestWithContext(t.Context(), method, s.URL+path, strings.NewReader(form.Encode()))
	if err != nil {
		t.Fatal(err)
	}
	r.Header.Set("Content-Type", "application/x-www-form-urlencoded")
	r.Header.Set("Sec-Fetch-Site", "same-origin")
	a, err := s.Client(t, device).Do(r)
	if err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() { a.Body.Close() })
	return a
}

// Get3 fetches a page and says also where it leads.
func (s site) Get3(t *testing.T, device, path string) (status int, body, to string) {
	t.Helper()
	a := s.do(t, http.MethodGet, device, path, nil)
	return a.StatusCode, text(t, a), a.Header.Get("Location")
}

// enter sends a form that opens the door, and gives the secret of the new device.
func (s site) enter(t *testing.T, path string, form url.Values) (device, to string) {
	t.Helper()
	a := s.do(t, http.MethodPost, "", path, form)
	for _, c := range a.Cookies() {
		if c.Name == "antiphon" && c.Value != "" {
			return c.Value, a.Header.Get("Location")
		}
	}
	t.Fatalf("%s opened nothing: %d %s", path, a.StatusCode, text(t, a))
	return "", ""
}
