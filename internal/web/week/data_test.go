package week_test

import (
	"fmt"
	"strings"
	"testing"
	"time"
)

// TestManyRecordings: of many recordings the newest stand open and the rest is folded away, so that "take it with you" and
// "delete" are not a long way down. Each is still there.
func TestManyRecordings(t *testing.T) {
	k := open(t)
	var ids []string
	send := func() {
		status, _, to := k.upload(t, k.Okafor.Device, map[string]string{"child": string(k.ada.ID)}, "a.m4a", "audio/mp4", fmt.Appendf(nil, "sound %d", len(ids)))
		if status != 303 {
			t.Fatal(status)
		}
		ids = append(ids, strings.TrimSuffix(strings.TrimPrefix(to, "/week/takes/"), "?sent"))
		k.Wait(time.Hour)
	}
	for range 5 {
		send()
	}
	_, body := k.Get(t, k.Okafor.Device, "/week/data")
	hasNot(t, "five recordings", body, "older one")
	send()
	send()
	_, body = k.Get(t, k.Okafor.Device, "/week/data")
	shown, folded, ok := strings.Cut(body, "<details><summary>2 older ones</summary>")
	if !ok {
		t.Fatal("nothing is folded away")
	}
	folded, _, _ = strings.Cut(folded, "</details>")
	for i, id := range ids {
		where := shown
		if i < 2 {
			where = folded
		}
		if n := strings.Count(where, "/week/takes/"+id+`"`); n != 1 || strings.Count(body, "/week/takes/"+id+`"`) != 1 {
			t.Errorf("recording %d stands %d times where it belongs", i+1, n)
		}
	}
}
