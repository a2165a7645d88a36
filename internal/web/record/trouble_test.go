package record_test

import (
	"testing"

	"antiphon/internal/studio"
	"antiphon/internal/web/record"
	"antiphon/internal/web/webtest/chromium"
)

// TestInterrupted: somebody calls, or another page is opened, in the middle of a recording. It ends, what there is
// stays, and that is said. A microphone that another program takes does the same.
func TestInterrupted(t *testing.T) {
	s := open(t, record.Options{})
	b := chromium.Open(t, s.URL, chromium.Hearing(guitar(t)))
	b.Cookie("antiphon", s.Lindqvist.Device)
	b.Look(390, "light")
	b.Go(s.address())
	s.record(t, b, 2)
	chromium.Eval[bool](b, `(Object.defineProperty(document, "hidden", { value: true, configurable: true }), document.dispatchEvent(new Event("visibilitychange")))`)
	b.Wait(`document.querySelectorAll(".kept-tries li").length === 1`)
	b.Wait(`document.querySelector("[data-cannot]").textContent.includes("broken off after 0:0")`)
	look(t, b, "interrupted")
	chromium.Eval[bool](b, `(Object.defineProperty(document, "hidden", { value: false, configurable: true }), document.dispatchEvent(new Event("visibilitychange")))`)

	chromium.Eval[bool](b, `(window.began = undefined, true)`)
	b.Click("[data-do=go]")
	b.Wait(`performance.now() - window.began > 2000`)
	chromium.Eval[bool](b, `(() => { const t = window.microphone.getAudioTracks()[0]; t.stop(); return t.dispatchEvent(new Event("ended")) })()`)
	b.Wait(`document.querySelectorAll(".kept-tries li").length === 2`)
	b.Wait(`!document.querySelector("[data-before]").hidden`) // the microphone has to be switched on again
	if n := chromium.Eval[int](b, `document.querySelectorAll("[data-unfinished] p").length`); n != 0 {
		t.Errorf("%d recordings are said to be not finished; they are kept, and were closed", n)
	}
}

// TestNoRoom: the phone is full. The recording stops with clear words, and what was kept before can be sent.
func TestNoRoom(t *testing.T) {
	s := open(t, record.Options{})
	b := chromium.Open(t, s.URL, chromium.Hearing(guitar(t)))
	b.Cookie("antiphon", s.Lindqvist.Device)
	b.Look(390, "light")
	b.Go(s.address())
	// Chromium tells every page of the same large room, whatever there is; other browsers tell the truth.
	chromium.Eval[bool](b, `(navigator.storage.estimate = async () => ({ quota: 6e6, usage: 1e6 }), true)`)
	b.Click("[data-do=open]")
	b.Wait(`document.querySelector("[data-cannot]").textContent.includes("About 4 minutes fit")`)
	look(t, b, "little-room")
	b.Click("[data-do=close]")
	s.record(t, b, 3)
	b.Room(1)
	b.Wait(`document.querySelector("[data-cannot]").textContent.includes("There is no more room on this phone. What was played is kept.")`)
	b.Wait(`document.querySelectorAll(".kept-tries li").length === 1`)
	shown := chromium.Eval[float64](b, `(([m, s]) => 60 * m + +s)(document.querySelector(".kept-tries .quiet").textContent.split(" ")[0].split(":"))`)
	look(t, b, "no-room")
	b.Room(0)
	played := chromium.Eval[float64](b, `performance.now() - window.began`) / 1000 // Chromium looks only now and then whether it is full
	b.Click("[data-tries] button.main")
	_, file := s.arrived(t, b)
	if d := decoded(t, file).Seconds(); d < 2.5 || d < shown-1 || d > played {
		t.Errorf("%.1f s arrived, %.1f s were kept, as the page says", d, shown)
	}
}

// TestNotTaken: what the studio does not take is not lost: it is among the tries again, with the reason.
func TestNotTaken(t *testing.T) {
	s := open(t, record.Options{})
	b := chromium.Open(t, s.URL, chromium.Hearing(guitar(t)))
	b.Cookie("antiphon", s.Lindqvist.Device)
	b.Look(390, "light")
	b.Go(record.Card{Student: s.runa.ID}.Address())
	s.record(t, b, 3)
	b.Click(".recorder [data-do=stop]")
	b.Wait(`document.querySelectorAll(".kept-tries li").length === 1`)
	// Meanwhile the family has changed its mind about pictures.
	now := s.runa
	now.Media = studio.SoundOnly
	if _, err := s.Desk.ChangeStudent(t.Context(), s.Lindqvist.Coach, now); err != nil {
		t.Fatal(err)
	}
	b.Click("[data-tries] button.main")
	b.Wait(`document.querySelector(".kept-tries li p.small")?.textContent.startsWith("It was not taken:")`)
	look(t, b, "not-taken")
	b.Expect("403")
	b.Expect("422")
	if got := takes(t, s); len(got) != 0 {
		t.Errorf("%+v", got)
	}
}

// TestInSpanish: a family that speaks Spanish records by keyboard alone.
func TestInSpanish(t *testing.T) {
	s := open(t, record.Options{})
	b := chromium.Open(t, s.URL, chromium.Hearing(guitar(t)))
	b.Cookie("antiphon", s.Lindqvist.Device)
	b.Cookie("language", "es")
	b.Look(390, "light")
	b.Go(s.address())
	if got := chromium.Eval[string](b, `document.documentElement.lang + " " + document.querySelector("h1").textContent`); got != "es Grabar: Frère Jacques" {
		t.Errorf("%q", got)
	}
	chromium.Eval[bool](b, watch)
	press := func(words string) { // tabs to the button with these words, and presses it
		t.Helper()
		for range 40 {
			if chromium.Eval[bool](b, `document.activeElement.textContent.trim().startsWith("`+words+`")`) {
				b.Key("\r")
				return
			}
			b.Key("\t")
		}
		t.Fatalf("the keyboard does not come to %q", words)
	}
	press("Encender el micrófono")
	b.Wait(`!document.querySelector("[data-live]").hidden`)
	look(t, b, "spanish")
	press("Grabar")
	b.Wait(`performance.now() - window.began > 2000`)
	press("Parar")
	b.Wait(`document.querySelectorAll(".kept-tries li").length === 1`)
	press("Escuchar")
	b.Wait(`document.querySelector(".kept-tries audio")?.currentTime > 0`)
	press("Enviar este")
	s.arrived(t, b)
}
