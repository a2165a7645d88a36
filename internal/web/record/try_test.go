package record_test

import (
	"math"
	"strings"
	"testing"

	"antiphon/internal/media"
	"antiphon/internal/studio"
	"antiphon/internal/web/practice"
	"antiphon/internal/web/record"
	"antiphon/internal/web/webtest/chromium"
)

// TestTries: a family checks, records twice, listens, throws one try away and sends the other. Nothing is
// sent before, and what arrives is what the microphone heard, as it was.
func TestTries(t *testing.T) {
	s := open(t, record.Options{Tuner: practice.Tuner})
	wav := guitar(t)
	b := chromium.Open(t, s.URL, chromium.Hearing(wav))
	b.Cookie("antiphon", s.Lindqvist.Device)
	b.Look(390, "light")
	b.Go("/week/record")
	look(t, b, "who")
	b.Go(s.address())
	look(t, b, "before")
	chromium.Eval[bool](b, watch)
	b.Click("[data-do=open]")
	b.Wait(`document.querySelector("[data-say-level]").textContent === "Good."`)
	if got := chromium.Eval[string](b, `(() => { const s = window.microphone.getAudioTracks()[0].getSettings(); return [s.echoCancellation, s.noiseSuppression, s.autoGainControl].join(" ") })()`); got != "false false false" {
		t.Errorf("the microphone cancels, cleans, levels: %s", got)
	}
	look(t, b, "ready")

	b.Click("#strings summary")
	look(t, b, "tuning")
	b.Click("#strings summary")

	// First try: four seconds, with a count-in.
	b.Click("[name=count]")
	b.Click("[data-do=go]")
	b.Wait(`["1", "2", "3", "4"].includes(document.querySelector("[data-state]").textContent)`)
	if chromium.Eval[bool](b, `window.began > 0`) {
		t.Error("the recorder runs before it is counted in")
	}
	b.Wait(`performance.now() - window.began > 2000`)
	look(t, b, "running")
	b.Wait(`performance.now() - window.began > 4000`)
	b.Click(".recorder [data-do=stop]")
	b.Wait(`document.querySelectorAll(".kept-tries li").length === 1`)

	// Second try, without.
	b.Click("[name=count]")
	chromium.Eval[bool](b, `(window.began = undefined, true)`)
	b.Click("[data-do=go]")
	b.Wait(`performance.now() - window.began > 5000`)
	b.Click(".recorder [data-do=stop]")
	b.Wait(`document.querySelectorAll(".kept-tries li").length === 2`)
	if got := chromium.Eval[string](b, `document.querySelector("[name=try]:checked").closest("li").querySelector("b").textContent`); got != "Try 2" {
		t.Errorf("%q is chosen", got)
	}
	if got := chromium.Eval[string](b, `document.activeElement.id`); got != "h-tries" {
		t.Errorf("the keyboard is at %q", got)
	}
	b.Click(".kept-tries li:nth-child(1) button")
	b.Wait(`document.querySelector(".kept-tries audio")?.currentTime > 0.2 && document.querySelector(".kept-tries audio").duration < 10`)
	long := chromium.Eval[float64](b, `document.querySelector(".kept-tries audio").duration`)
	if long < 3.5 || long > 6 {
		t.Errorf("the first try lasts %.1f s", long)
	}
	look(t, b, "tries")

	// Away with the first, by keyboard: not without a second word.
	b.Click(".kept-tries li:nth-child(1) button.text")
	look(t, b, "sure")
	if got := chromium.Eval[string](b, `document.activeElement.textContent`); got != "No, keep it" {
		t.Errorf("the keyboard is at %q", got)
	}
	b.Click(".kept-tries li:nth-child(1) button.text")
	b.Wait(`document.querySelectorAll(".kept-tries li").length === 1`)
	if all, err := s.Desk.TakesBy(t.Context(), s.Teacher, studio.TakeQuery{}); err != nil || len(all) != 0 {
		t.Errorf("%d takes came before anybody sent one, %v", len(all), err)
	}

	b.Write("#note", "The echo was fun.")
	b.Click("[name=hurt]")
	b.Wait(`!document.querySelector("[data-pain]").hidden`)
	look(t, b, "hurt")
	b.Click("[data-tries] button.main")
	take, file := s.arrived(t, b)
	if take.Note != "The echo was fun." || !take.Hurt || take.Assignment != s.round || !strings.HasPrefix(take.FileName, "Frère Jacques 20") || take.State != studio.Waiting {
		t.Errorf("%+v", take)
	}
	got, played := decoded(t, file), decoded(t, wav)
	if s := got.Seconds(); s < 4.8 || s > 6.5 {
		t.Errorf("%.1f s arrived", s)
	}
	if r := alike(got, played); r < 0.9 {
		t.Errorf("what arrived is like what was played to %.2f only", r)
	}
	b.Go("/week?child=" + string(s.nils.ID))
	b.Wait(`document.querySelector(".pending").hidden`)
	if chromium.Eval[int](b, `indexedDB.databases().then((l) => l.length)`) == 0 {
		t.Error("there was no vault")
	}
}

// alike is the largest correlation of a second from the middle of a with any place of b.
func alike(a, b media.PCM) float64 {
	n := a.RateHz
	x := a.Samples[len(a.Samples)/2:][:n]
	best := 0.0
	for at := 0; at+n < len(b.Samples); at++ {
		var xy, yy, xx float64
		for i := 0; i < n; i += 7 {
			u, v := float64(x[i]), float64(b.Samples[at+i])
			xy, xx, yy = xy+u*v, xx+u*u, yy+v*v
		}
		if xx > 0 && yy > 0 {
			best = max(best, xy/math.Sqrt(xx*yy))
		}
	}
	return best
}
