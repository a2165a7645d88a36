package desk_test

import (
	"testing"

	"antiphon/internal/web/webtest/chromium"
)

// TestABrowserIsAskedForLeave: when the button is pressed, and not before. Where it is refused the page says so and the
// button can be pressed again; where it is given the address is kept.
func TestABrowserIsAskedForLeave(t *testing.T) {
	var failing bool
	s, _ := telling(t, &failing)
	b := chromium.Open(t, s.URL)
	b.Cookie("antiphon", s.TeacherDevice)
	b.Look(390, "light")
	b.Go("/studio/told")
	b.Awake()
	chromium.Eval[bool](b, `(window.asked = 0, Notification.requestPermission = async () => { window.asked++; return "denied" }, true)`)
	b.Click("[data-subscribe]")
	b.Wait(`document.querySelector("[data-said]").textContent.includes("does not allow it") && !document.querySelector("[data-subscribe]").disabled`)
	if n := chromium.Eval[int](b, `window.asked`); n != 1 {
		t.Errorf("it was asked %d times", n)
	}
	chromium.Eval[bool](b, `(Notification.requestPermission = async () => "granted", PushManager.prototype.subscribe = async (o) => ({ endpoint: "https://push.example.org/" + o.applicationServerKey, keys: { p256dh: "BNcRdreALRFXTkOOUHK1EtK2wtaz5Ry4YfYCA_0QTpQtUbVlUls0VJXg7A8u-Ts1XbjhazAkj7I99e8QcYP7DkM", auth: "tBHItJI5svbpez7KI4CCXg" } }), true)`)
	b.Click("[data-subscribe]")
	b.Wait(`document.body.textContent.includes("This browser tells you")`)
}
