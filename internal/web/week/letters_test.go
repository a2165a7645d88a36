package week_test

import (
	"fmt"
	"net/http"
	"net/url"
	"testing"
	"time"
)

// TestNobodysMailboxIsFilled: a family that types address after address sends a few letters a day and no more, keeps the
// address that it had, and mistyping costs nothing. What no person sees in an address is not sent to either.
func TestNobodysMailboxIsFilled(t *testing.T) {
	s, mails := posted(t)
	ask := func(device, address string) int {
		t.Helper()
		s.Wait(10 * time.Second) // it is paced beside
		status, _, _ := s.Post(t, device, "/week/email", url.Values{"email": {address}})
		return status
	}
	for _, bad := range []string{"a@b@c", "a@example.org\r\nBcc: b@example.org", "a@example.org,b@example.org", "Ada <a@example.org>", "", "x\x00y@example.org", `"a b"@example.org`} {
		if status := ask(s.Okafor.Device, bad); status != http.StatusUnprocessableEntity {
			t.Errorf("%q: %d", bad, status)
		}
	}
	if status := ask(s.Okafor.Device, " ngo\u200bzi@example.org "); status != http.StatusSeeOther || len(*mails) != 3 || (*mails)[0] != "ngozi@example.org" {
		t.Fatal(status, *mails)
	}
	refusals := 0
	for i := range 30 {
		switch status := ask(s.Okafor.Device, fmt.Sprintf("stranger%d@example.net", i)); status {
		case http.StatusSeeOther:
		case http.StatusTooManyRequests:
			refusals++
		default:
			t.Fatal(status)
		}
	}
	if refusals != 26 || len(*mails) != 3*5 {
		t.Errorf("%d letters are refused and %d sent", refusals, len(*mails)/3)
	}
	if p, err := s.Desk.Self(t.Context(), s.Okafor.Coach); err != nil || p.Email != "stranger3@example.net" {
		t.Errorf("kept: %q, %v", p.Email, err)
	}
	if status := ask(s.Lindqvist.Device, "per@example.org"); status != http.StatusSeeOther {
		t.Errorf("another family: %d", status)
	}
	s.Wait(24 * time.Hour)
	if status := ask(s.Okafor.Device, "ngozi@example.org"); status != http.StatusSeeOther {
		t.Errorf("tomorrow: %d", status)
	}
}
