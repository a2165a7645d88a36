package record_test

import (
	"encoding/base64"
	"fmt"
	"os"
	"path/filepath"
	"testing"

	"antiphon/internal/media"
	"antiphon/internal/web/record"
	"antiphon/internal/web/webtest/chromium"
)

// recorded is a JavaScript expression that records for five seconds in half-second pieces, and gives the file as
// base64; "" where the browser does not record this type.
const recorded = `(async (type, film) => {
	if (!MediaRecorder.isTypeSupported(type)) return ""
	const s = await navigator.mediaDevices.getUserMedia({ audio: true, video: film })
	const r = new MediaRecorder(s, { mimeType: type }), parts = []
	r.ondataavailable = (e) => parts.push(e.data)
	const over = new Promise((done) => (r.onstop = done))
	r.start(500)
	await new Promise((done) => setTimeout(done, 5000))
	r.stop()
	await over
	s.getTracks().forEach((t) => t.stop())
	const url = await new Promise((done) => { const f = new FileReader(); f.onload = () => done(f.result); f.readAsDataURL(new Blob(parts)) })
	return url.slice(url.indexOf(",") + 1)
})`

// TestCutFilesAreHeard: files that Chromium itself recorded, cut somewhere in the middle of a piece as a kill or
// a full disk leaves them, are cleaned, decoded and made playable like whole ones.
func TestCutFilesAreHeard(t *testing.T) {
	s := open(t, record.Options{})
	b := chromium.Open(t, s.URL, chromium.Hearing(guitar(t)))
	b.Cookie("antiphon", s.Lindqvist.Device)
	b.Go(s.address())
	tried := 0
	for _, c := range []struct {
		kind string
		film bool
	}{{"audio/webm;codecs=opus", false}, {"audio/mp4", false}, {"video/webm;codecs=vp8,opus", true}, {"video/mp4", true}} {
		whole, err := base64.StdEncoding.DecodeString(chromium.Eval[string](b, fmt.Sprintf("%s(%q, %v)", recorded, c.kind, c.film)))
		if err != nil {
			t.Fatal(err)
		}
		if len(whole) == 0 {
			t.Logf("%s is not recorded here", c.kind)
			continue
		}
		tried++
		for _, share := range []float64{1, 0.61, 0.37} {
			t.Run(fmt.Sprintf("%s, %.0f %%", c.kind, 100*share), func(t *testing.T) {
				dir := t.TempDir()
				file := filepath.Join(dir, "sent")
				if err := os.WriteFile(file, whole[:int(share*float64(len(whole)))], 0o600); err != nil {
					t.Fatal(err)
				}
				clean, err := media.Strip(t.Context(), file, dir, false, media.Options{})
				if err != nil {
					t.Fatal(err)
				}
				pcm, info, err := media.Decode(t.Context(), clean.Path, media.Options{})
				if err != nil {
					t.Fatal(err)
				}
				tracks, err := media.Examine(t.Context(), clean.Path, media.Options{})
				if err != nil {
					t.Fatal(err)
				}
				r, err := media.Rendition(t.Context(), clean.Path, dir, tracks, media.Options{})
				if err != nil {
					t.Fatal(err)
				}
				t.Logf("%.2f s heard, damaged %v; rendition %+v", pcm.Seconds(), info, r)
				if want := 5*share - 1.3; pcm.Seconds() < want {
					t.Errorf("only %.2f s are heard, where about %.1f s are in the file", pcm.Seconds(), 5*share)
				}
			})
		}
	}
	if tried < 2 {
		t.Errorf("only %d types were recorded", tried)
	}
}
