package page

import (
	"net/http"
	"strings"
)

// ahead is the header with which a phone says that it only puts something away for later.
const ahead = "Antiphon-Ahead"

// Ahead tells whether nobody looks at the answer yet: a phone keeps it for later, or a browser fetches what might be
// opened next. Nothing counts as seen by it, and who waits for something comes first.
func Ahead(r *http.Request) bool {
	return r.Header.Get(ahead) != "" || strings.HasPrefix(r.Header.Get("Sec-Purpose"), "prefetch")
}
