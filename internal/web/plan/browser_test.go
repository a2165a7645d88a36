package plan_test

import (
	"fmt"
	"testing"

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
	for range 2 { // the second time on the page that came since
		from, to := fromTo(t, b, h)
		x, y := middle(b, sittingOn(from, h))
		toX, toY := middle(b, dayOn(to))
		b.Drag(x, y, toX, toY)
		b.Wait(sittingOn(to, h) + `?.classList.contains("pinned") && document.querySelector("#said").textContent.includes("planned around it")`)
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

// TestDragsByTouch: on a phone a finger that rests on something takes it to another day, and the page stays; one that moves at once
// scrolls the page and takes nothing; a second finger, and letting go where it was, change nothing.
func TestDragsByTouch(t *testing.T) {
	h := open(t)
	h.term(t)
	b := chromium.Open(t, h.URL)
	b.Cookie("antiphon", h.TeacherDevice)
	b.Look(390, "light")
	b.Touch(true)
	b.Go("/students/" + string(h.ada.ID) + "/plan")
	from, to := fromTo(t, b, h)
	sitting := sittingOn(from, h)
	show := func() { // anew, so that nothing rolls on from what was done before
		b.Go("/students/" + string(h.ada.ID) + "/plan")
		chromium.Eval[bool](b, sitting+`.scrollIntoView({ block: "center" }) === undefined`)
	}
	moved := func() bool { return chromium.Eval[bool](b, `document.querySelectorAll(".sitting.pinned").length > 0`) }
	scrolled := func() float64 { return chromium.Eval[float64](b, `scrollY`) }

	show()
	x, y := middle(b, sitting)
	before := scrolled()
	b.FingerAt(x, y, false)
	for n := range 10 {
		b.FingerAt(x, y-float64(20*min(n+1, 8)), true) // it stops before it leaves, so that the page does not roll on
	}
	b.FingerOff()
	b.Wait(fmt.Sprintf(`Math.abs(scrollY - %g) > 50`, before))
	if said := chromium.Eval[string](b, `[...document.querySelectorAll(".lifted, .over, .pinned")].map((e) => e.className).join() + document.querySelector("#said").textContent`); said != "" {
		t.Errorf("a finger that scrolled took something along: %s", said)
	}

	rest := func() (x, y float64) {
		show()
		x, y = middle(b, sitting)
		b.FingerAt(x, y, false)
		b.Wait(`document.querySelector(".sitting.lifted")`)
		return x, y
	}
	x, y = rest()
	b.FingerAt(x+3, y, true)
	b.FingerOff()
	b.Wait(`document.querySelector("#said").textContent.includes("stays where it was") && !document.querySelector(".lifted")`)
	if moved() {
		t.Error("what was put down where it lay has moved")
	}

	x, y = rest()
	before = scrolled()
	toX, toY := x, chromium.Eval[float64](b, fmt.Sprintf(`(() => { // the nearest end of that day, far from those of the window, where the page goes along
		const r = %s.getBoundingClientRect()
		return r.top > %g ? r.top + 8 : r.bottom - 8
	})()`, dayOn(to), y))
	for n := range 5 {
		part := float64(n+1) / 5
		b.FingerAt(x+part*(toX-x), y+part*(toY-y), true)
	}
	b.Wait(dayOn(to) + `.classList.contains("over")`)
	b.Shoot("plan-lifted-390")
	if now := scrolled(); now != before {
		t.Errorf("the page moved from %g to %g under what was taken along", before, now)
	}
	b.FingerOff()
	b.Wait(sittingOn(to, h) + `?.classList.contains("pinned") && document.querySelector("#said").textContent.includes("planned around it")`)
	if chromium.Eval[bool](b, sittingOn(from, h)+` !== null`) {
		t.Error("it lies on the old day as well")
	}
}

// fromTo are a day on which the canon lies and another, near it, on which it may.
func fromTo(t *testing.T, b *chromium.Browser, h *hall) (from, to string) {
	t.Helper()
	days := chromium.Eval[[]string](b, fmt.Sprintf(`(() => {
		const all = [...document.querySelectorAll("ol.days > li:not(.free)")], has = (d) => d.querySelector('.sitting[data-work="%s"]')
		const from = all.findIndex(has), near = [from - 1, from + 1, from - 2, from + 2, from + 3].map((n) => all[n])
		return [all[from], near.find((d) => d && !has(d) && d.querySelector(".sitting"))].map((d) => d?.dataset.day ?? "")
	})()`, h.canon.ID))
	if days[0] == "" || days[1] == "" {
		t.Fatalf("the canon cannot be moved: %q", days)
	}
	return days[0], days[1]
}

// middle of an element in the window.
func middle(b *chromium.Browser, element string) (x, y float64) {
	at := chromium.Eval[[]float64](b, fmt.Sprintf(`(() => { const r = %s.getBoundingClientRect(); return [r.x + r.width / 2, r.y + r.height / 2] })()`, element))
	return at[0], at[1]
}

func dayOn(day string) string { return fmt.Sprintf(`document.querySelector('li[data-day="%s"]')`, day) }

func sittingOn(day string, h *hall) string {
	return fmt.Sprintf(`document.querySelector('li[data-day="%s"] .sitting[data-work="%s"]')`, day, h.canon.ID)
}
