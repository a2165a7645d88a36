package arrive

import (
	"io"
	"net/http"
	"net/http/httptest"
	"strings"
	"testing"

	"antiphon/internal/studio"
)

func asItIs(p *studio.Problem) string { return p.Say }

// What the protocol's library says of a full disk names folders of the server: that is for the log.
func TestAFaultOfOursNamesNoFolder(t *testing.T) {
	w := httptest.NewRecorder()
	h := &here{ResponseWriter: w}
	h.Header().Set("Content-Type", "text/plain; charset=utf-8")
	h.Header().Set("Content-Length", "70")
	h.WriteHeader(http.StatusInternalServerError)
	if _, err := io.WriteString(h, "write /var/lib/studio/arriving/x: no space left on device"); err != nil {
		t.Fatal(err)
	}
	h.own(asItIs)
	if w.Code != http.StatusInsufficientStorage || strings.Contains(w.Body.String(), "/var/lib") || !strings.Contains(w.Body.String(), fullSays) {
		t.Errorf("%d %s", w.Code, w.Body)
	}
	if w.Header().Get("Content-Length") != "" || w.Header().Get("Content-Type") != "application/json" {
		t.Errorf("head %v", w.Header())
	}
	if !strings.Contains(string(h.fault), "no space left") {
		t.Errorf("for the log there is %q", h.fault)
	}

	w = httptest.NewRecorder()
	h = &here{ResponseWriter: w}
	h.WriteHeader(http.StatusInternalServerError)
	if _, err := io.WriteString(h, "open /var/lib/studio/arriving/x: permission denied"); err != nil {
		t.Fatal(err)
	}
	h.own(asItIs)
	if w.Code != http.StatusInternalServerError || !strings.Contains(w.Body.String(), ourFaultSays) {
		t.Errorf("another fault: %d %s", w.Code, w.Body)
	}

	w = httptest.NewRecorder()
	h = &here{ResponseWriter: w}
	h.WriteHeader(http.StatusConflict)
	if _, err := io.WriteString(h, "mismatched offset"); err != nil || w.Body.String() != "mismatched offset" {
		t.Errorf("a refusal was changed: %q, %v", w.Body, err)
	}
}
