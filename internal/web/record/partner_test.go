package record_test

import (
	"bytes"
	"context"
	"math"
	"net/http"
	"os"
	"os/exec"
	"path/filepath"
	"strconv"
	"testing"

	"antiphon/internal/notation"
	"antiphon/internal/sound"
	"antiphon/internal/studio"
	"antiphon/internal/web/record"
	"antiphon/internal/web/webtest/chromium"
)

// overheard leads what the loudspeaker gets of a part into the recording too, without a way through the air.
const overheard = `(() => {
	const make = AudioContext.prototype.createMediaStreamDestination, connect = AudioNode.prototype.connect
	AudioContext.prototype.createMediaStreamDestination = function () { return (window.into = make.call(this)) }
	AudioNode.prototype.connect = function (to, ...a) {
		if (window.into && to === this.context.destination && this instanceof AudioBufferSourceNode) connect.call(this, window.into)
		return connect.call(this, to, ...a)
	}
	return true })()`

// TestBesideTheSecondPart: a child records beside the tool's voice of a round. Where the page says that the
// tool begins, there it lies in the recording that arrives, within a millisecond.
func TestBesideTheSecondPart(t *testing.T) {
	part, entry := second(t)
	var sent bytes.Buffer
	if err := part.Write(t.Context(), &sent, sound.AAC); err != nil {
		t.Fatal(err)
	}
	s := open(t, record.Options{Second: func(studio.StudentID, studio.Assignment, float64) string { return "/second.m4a" }}, func(mux *http.ServeMux) {
		mux.HandleFunc("GET /second.m4a", func(w http.ResponseWriter, r *http.Request) {
			w.Header().Set("Content-Type", "audio/mp4")
			_, _ = w.Write(sent.Bytes())
		})
	})
	b := chromium.Open(t, s.URL, chromium.Hearing(silence(t)))
	b.Cookie("antiphon", s.Lindqvist.Device)
	b.Look(390, "light")
	b.Go(s.address())
	chromium.Eval[bool](b, overheard)
	chromium.Eval[bool](b, watch)
	b.Click("[data-do=open]")
	b.Wait(`!document.querySelector("[data-live]").hidden`)
	b.Click("[name=with][value=ears]")
	b.Wait(`!document.querySelector("[data-ears]").hidden`)
	look(t, b, "partner")
	b.Click("[data-do=go]")
	b.Wait(`performance.now() - window.began > 14000`)
	b.Click(".recorder [data-do=stop]")
	b.Wait(`document.querySelectorAll(".kept-tries li").length === 1`)
	said := chromium.Eval[map[string]string](b, `new Promise((done) => { indexedDB.open("antiphon-vault").onsuccess = (e) => { const db = e.target.result
		db.transaction("takes").objectStore("takes").getAll().onsuccess = (e) => { db.close(); done(e.target.result[0].of) } } })`)
	latencyS, err := strconv.ParseFloat(said["latencyS"], 64)
	if err != nil || said["exact"] != "yes" {
		t.Errorf("%v, %v", said, err)
	}
	b.Click("[data-tries] button.main")
	take, file := s.arrived(t, b)
	if w := take.With; w.Kind != studio.Round || w.AfterBars != 2 || w.Who != studio.ByTool || w.Bpm != 72 || w.Speaker || w.HandsOnly {
		t.Errorf("%+v", w)
	}
	heard := pcm48(t, file)
	at := place(heard, part.Left[part.Rungs[0].Start:][:sound.RateHz])
	tool := take.With.StartS - latencyS
	t.Logf("the tool enters at %.5f s of the recording; said was %.5f s, and %.1f ms for the way of the sound; entry after %.2f s", at, tool, 1000*latencyS, entry)
	if d := math.Abs(at - tool); d > 0.001 {
		t.Errorf("the tool enters at %.4f s, said was %.4f s", at, tool)
	}
}

// second is the tool's voice of the round as package practice makes it: the mark, and silence until it enters.
func second(t testing.TB) (*sound.Audio, float64) {
	t.Helper()
	sc, _, err := notation.Read(bytes.NewReader(score(t)), "", notation.Limits{})
	if err != nil {
		t.Fatal(err)
	}
	o := sound.Options{Bpm: 72, Bars: &sound.Loop{From: "1", To: "4"}, Mark: true, Guitar: sound.Strings, Mute: []string{"2"}}
	lay := o
	lay.EnterAfter = 2
	line, err := sound.Lay(sc, lay)
	if err != nil {
		t.Fatal(err)
	}
	a, err := sound.Render(t.Context(), sc, o)
	if err != nil {
		t.Fatal(err)
	}
	a.Wait(line.EntryS)
	return a, line.EntryS
}

func silence(t testing.TB) string {
	t.Helper()
	file := filepath.Join(t.TempDir(), "silence.wav")
	run(t, "ffmpeg", "-v", "error", "-f", "lavfi", "-i", "anullsrc=r=48000:cl=mono", "-t", "60", file)
	return file
}

func run(t testing.TB, name string, args ...string) []byte {
	t.Helper()
	out, err := exec.CommandContext(context.WithoutCancel(t.Context()), name, args...).Output()
	if err != nil {
		t.Fatal(name, err)
	}
	return out
}

// pcm48 is the sound of a file at 48 kHz, as ffmpeg decodes it.
func pcm48(t testing.TB, file string) []float32 {
	t.Helper()
	raw := filepath.Join(t.TempDir(), "raw")
	run(t, "ffmpeg", "-v", "error", "-i", file, "-ac", "1", "-ar", "48000", "-f", "f32le", raw)
	b, err := os.ReadFile(raw)
	if err != nil {
		t.Fatal(err)
	}
	out := make([]float32, len(b)/4)
	for i := range out {
		out[i] = math.Float32frombits(uint32(b[4*i]) | uint32(b[4*i+1])<<8 | uint32(b[4*i+2])<<16 | uint32(b[4*i+3])<<24)
	}
	return out
}

// place is where a second of sound lies in another sound, in seconds: the largest correlation, first in steps
// of a millisecond at a part of the samples, then at each.
func place(in, of []float32) float64 {
	match := func(at, step int) float64 {
		sum := 0.0
		for i := 0; i < len(of) && at+i < len(in); i += step {
			sum += float64(of[i]) * float64(in[at+i])
		}
		return sum
	}
	best, most := 0, 0.0
	for at := 0; at+len(of) < len(in); at += 2 {
		if m := match(at, 16); m > most {
			best, most = at, m
		}
	}
	fine, most := best, 0.0
	for at := max(0, best-96); at < best+96; at++ {
		if m := match(at, 1); m > most {
			fine, most = at, m
		}
	}
	return float64(fine) / 48000
}
