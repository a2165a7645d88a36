package plan_test

import (
	"fmt"
	"testing"
	"time"

	"antiphon/internal/studio"
	"antiphon/internal/web/webtest/chromium"
)

// TestMemoryLooks shows the page about a student with a weak passage and a silent skill, on a phone and on a desk, in light and
// dark, asks axe-core, and goes by keyboard from what stands out to where it stands.
func TestMemoryLooks(t *testing.T) {
	h := open(t)
	h.passages(t)
	for range 3 {
		h.lesson(t, studio.Assignment{Work: h.mice.ID, Do: "Slowly."})
		h.Wait(16 * 24 * time.Hour)
	}
	b := chromium.Open(t, h.URL)
	b.Cookie("antiphon", h.TeacherDevice)
	at := "/students/" + string(h.ada.ID) + "/memory"
	for _, width := range []int64{390, 1440} {
		for _, scheme := range []string{"light", "dark"} {
			b.Look(width, scheme)
			b.Go(at)
			for _, open := range []string{"", "-open"} {
				for _, f := range b.Faults() {
					t.Errorf("%d, %s%s: %s", width, scheme, open, f)
				}
				b.Shoot(fmt.Sprintf("all-about-%d-%s%s", width, scheme, open))
				chromium.Eval[bool](b, `(document.querySelectorAll("details").forEach((d) => { d.open = true }), true)`)
			}
		}
	}
	b.Look(390, "light")
	b.Go(at)
	chromium.Eval[bool](b, `(document.querySelector('.look a[href^="#p-"]').focus(), true)`)
	b.Press("\r")
	b.Wait(`document.querySelector(":target h4")?.textContent.includes("Bars 5–8")`)
	b.Wait(`document.querySelector(":target").getBoundingClientRect().top < innerHeight`)
}
