package plan_test

import (
	"fmt"
	"testing"

	"antiphon/internal/plan/calendar"
	"antiphon/internal/studio"
	"antiphon/internal/web/webtest/chromium"
)

// TestLooks shows every page on a phone and on a desk, in light and dark, and asks axe-core; then something is dragged to
// another day, and put on days without a mouse.
func TestLooks(t *testing.T) {
	h := open(t)
	h.term(t)
	h.heard(t, h.Lindqvist.Coach, studio.Announcement{Student: h.nils.ID, Work: h.mice.ID}, studio.Summary{Bpm: 60, SteadinessPct: 8, Notes: 40, RightShare: .9, FromBar: "1", ToBar: "12"}, "Well begun.")
	b := chromium.Open(t, h.URL)
	b.Cookie("antiphon", h.TeacherDevice)
	ada := "/students/" + string(h.ada.ID)
	for name, path := range map[string]string{
		"plan": ada + "/plan", "new-student": "/students/" + string(h.nils.ID) + "/plan", "memory": ada + "/memory?words=wrist",
		"studio": "/plan", "work": "/plan/works/" + string(h.round.ID),
	} {
		for _, width := range []int64{390, 1440} {
			for _, scheme := range []string{"light", "dark"} {
				b.Look(width, scheme)
				b.Go(path)
				for _, f := range b.Faults() {
					t.Errorf("%s at %d, %s: %s", name, width, scheme, f)
				}
				b.Shoot(fmt.Sprintf("%s-%d-%s", name, width, scheme))
				chromium.Eval[bool](b, `(document.querySelectorAll("details").forEach((d) => { d.open = true }), true)`)
				for _, f := range b.Faults() {
					t.Errorf("%s at %d, %s, with all opened: %s", name, width, scheme, f)
				}
				b.Shoot(fmt.Sprintf("%s-%d-%s-open", name, width, scheme))
			}
		}
	}

	b.Look(1440, "light")
	b.Go(ada + "/plan")
	to := (calendar.Of(h.Now()) + 3).String()
	from := chromium.Eval[string](b, fmt.Sprintf(`(() => {
		const s = [...document.querySelectorAll(".sitting")].find((x) => x.dataset.work === %q && x.closest("li[data-day]").dataset.day !== %q
			&& !document.querySelector('li[data-day="%s"] .sitting[data-work="' + x.dataset.work + '"]'))
		return s ? s.closest("li[data-day]").dataset.day : ""
	})()`, h.canon.ID, to, to))
	if from == "" {
		t.Fatal("the canon is on no other day")
	}
	chromium.Eval[bool](b, fmt.Sprintf(`(() => {
		const s = document.querySelector('li[data-day="%s"] .sitting[data-work="%s"]'), d = document.querySelector('li[data-day="%s"]')
		const data = new DataTransfer(), fire = (e, name) => e.dispatchEvent(new DragEvent(name, { bubbles: true, cancelable: true, dataTransfer: data }))
		if (!s.draggable) return false
		fire(s, "dragstart"); fire(d, "dragover"); fire(d, "drop"); fire(s, "dragend")
		return true
	})()`, from, h.canon.ID, to))
	b.Wait(fmt.Sprintf(`document.querySelector('li[data-day="%s"] .sitting.pinned[data-work="%s"]')`, to, h.canon.ID))
	b.Wait(`document.querySelector("#said").textContent.includes("planned around it")`)
	if !chromium.Eval[bool](b, `[...document.querySelectorAll(".sitting")].every((s) => s.draggable)`) {
		t.Error("after a move nothing can be dragged any more")
	}

	// By keyboard: a form for each line.
	b.Go(ada + "/plan")
	line := fmt.Sprintf(`document.querySelector("#take-%s").closest("li")`, h.canon.ID)
	chromium.Eval[bool](b, line+`.querySelector("summary").focus() === undefined`)
	b.Press(" ")
	b.Wait(line + `.querySelector("details").open`)
	chromium.Eval[bool](b, line+`.querySelector('button[value="free"]').focus() === undefined`)
	b.Press("\r")
	b.Wait(`location.search === "?done=free"`)
	b.Awake()
	if n := chromium.Eval[int](b, `document.querySelectorAll(".sitting.pinned").length`); n != 0 {
		t.Errorf("%d things are still pinned", n)
	}
	b.Write(`#minutes0`, "")
	chromium.Eval[bool](b, `(document.querySelector("#minutes0").value = "many", true)`)
	chromium.Eval[bool](b, `(document.querySelector('form[action$="/settings"]').requestSubmit(), true)`)
	b.Wait(`document.body.textContent.includes("whole number such as 15")`)
	b.Expect("422")
}
