package practice_test

import (
	"encoding/json"
	"fmt"
	"math"
	"net/http"
	"strings"
	"testing"

	"github.com/evanw/esbuild/pkg/api"

	"antiphon/internal/notation"
	"antiphon/internal/sound"
	"antiphon/internal/web/webtest"
	"antiphon/internal/web/webtest/chromium"
)

// hearing renders what the page lays out, by the same script, and finds the onsets in the samples: where a channel
// rises above a twelfth of its peak after 20 ms below it. Guitar left, click right.
const hearing = `(async () => {
	const rate = 48000, seconds = %v, ctx = new OfflineAudioContext(2, seconds * rate, rate)
	const merge = ctx.createChannelMerger(2), nowhere = ctx.createGain()
	merge.connect(ctx.destination)
	const tune = await band.decoded(ctx, await (await fetch(%q)).arrayBuffer())
	const one = new band.Band(ctx, nowhere, { line: %s, bpm: %v, from: %d, to: %d, countIn: true, again: true, tune, entryS: 0 }, 0.25)
	one.guitar.disconnect(); one.guitar.connect(merge, 0, 0)
	one.click.disconnect(); one.click.connect(merge, 0, 1)
	one.tend(seconds)
	const out = await ctx.startRendering()
	const onsets = [0, 1].map((c) => {
		const pcm = out.getChannelData(c)
		let peak = 0
		for (const v of pcm) peak = Math.max(peak, Math.abs(v))
		const found = []
		let quiet = rate
		for (let i = 0; i < pcm.length; i++) {
			if (Math.abs(pcm[i]) <= peak / 12) { quiet++; continue }
			if (quiet > rate / 50) found.push(i)
			quiet = 0
		}
		return found
	})
	// How much the guitar bends where passes join, and elsewhere; and how soft it is there at most, in 4 ms.
	const pcm = out.getChannelData(0), joins = []
	for (let k = 1; one.firstS + k * one.passS < seconds - 1; k++) joins.push(Math.round((one.firstS + k * one.passS) * rate))
	const bend = (i) => Math.abs(pcm[i - 2] - 3 * pcm[i - 1] + 3 * pcm[i] - pcm[i + 1])
	const level = (i) => { let e = 0; for (let j = i; j < i + 192; j++) e += pcm[j] * pcm[j]; return Math.sqrt(e / 192) }
	let atJoin = 0, elsewhere = 0, softest = 1
	const near = new Set(joins.flatMap((j) => [-2, -1, 0, 1].map((d) => Math.floor(j / 480) + d)))
	for (let i = Math.round(one.firstS * rate) + 480; i < pcm.length - 2; i++) {
		if (near.has(Math.floor(i / 480))) atJoin = Math.max(atJoin, bend(i))
		else elsewhere = Math.max(elsewhere, bend(i))
	}
	for (const j of joins) for (let d = -960; d <= 480; d += 96) softest = Math.min(softest, level(j + d))
	return { guitar: onsets[0], click: onsets[1], firstS: one.firstS, joins: joins.length, atJoin, elsewhere, softest }
})()`

type heard struct {
	Guitar, Click              []int
	FirstS                     float64
	Joins                      int
	AtJoin, Elsewhere, Softest float64
}

// tone is the tempo at which a tone sounds in the place of music.
const tone = 98

// toneWithMark is a tone of half the height that a file holds, with the mark that sounds have (see package sound).
func toneWithMark() []float32 {
	pcm := make([]float32, 15*48000)
	for i := range pcm {
		s := float64(i)/48000 - 0.1
		if s > 0.05 {
			pcm[i] = float32(0.5 * math.Sin(2*math.Pi*221.3*s))
		} else {
			pcm[i] = float32(0.25 * math.Exp(-s*s/(2*0.0007*0.0007)) * math.Cos(2*math.Pi*2000*s))
		}
	}
	return pcm
}

// stage is a page with the script of the band, and the sounds of a score at some tempos.
func stage(t *testing.T, abc string, bpms ...float64) (*chromium.Browser, sound.Timeline) {
	t.Helper()
	needs(t, "ffmpeg")
	s, _, err := notation.Read(strings.NewReader(abc), "own.abc", notation.Limits{})
	if err != nil {
		t.Fatal(err)
	}
	site := webtest.Open(t).Serve(t, func(mux *http.ServeMux) {
		mux.HandleFunc(fmt.Sprintf("GET /sounds/%v", tone), func(w http.ResponseWriter, _ *http.Request) {
			w.Header().Set("Content-Type", "audio/wav")
			if _, err := w.Write(wav(toneWithMark())); err != nil {
				t.Error(err)
			}
		})
		for _, bpm := range bpms {
			a, err := sound.Render(t.Context(), s, sound.Options{Bpm: bpm, Guitar: sound.Strings, Mark: true})
			if err != nil {
				t.Fatal(err)
			}
			mux.HandleFunc(fmt.Sprintf("GET /sounds/%v", bpm), func(w http.ResponseWriter, r *http.Request) {
				w.Header().Set("Content-Type", "audio/mp4")
				if err := a.Write(r.Context(), w, sound.AAC); err != nil {
					t.Error(err)
				}
			})
		}
	})
	line, err := sound.Lay(s, sound.Options{Bpm: 60, CountIn: 1})
	if err != nil {
		t.Fatal(err)
	}
	b := chromium.Open(t, site.URL)
	b.Go("/week")
	b.Expect("403")
	b.Expect("404")
	chromium.Eval[bool](b, script(t, "_band.ts", "band", api.FormatIIFE)+"; globalThis.band = band; true")
	return b, line
}

func (h heard) String() string {
	return fmt.Sprintf("%d notes, %d clicks, %d joins", len(h.Guitar), len(h.Click), h.Joins)
}

func listen(t *testing.T, b *chromium.Browser, line sound.Timeline, bpm, seconds float64, from, to int) heard {
	t.Helper()
	l := map[string]any{"bpm": line.Bpm, "lengthS": line.LengthS, "entryS": 0}
	var bars []map[string]any
	for _, x := range line.Bars {
		bars = append(bars, map[string]any{"i": x.Index, "n": fmt.Sprint(x.Index + 1), "at": x.AtS})
	}
	l["bars"] = bars
	for name, list := range map[string][]sound.ClickAt{"countIn": line.CountIn, "clicks": line.Clicks} {
		var all [][2]float64
		for _, c := range list {
			all = append(all, [2]float64{c.AtS, float64(c.Accent)})
		}
		l[name] = all
	}
	text, err := json.Marshal(l)
	if err != nil {
		t.Fatal(err)
	}
	return chromium.Eval[heard](b, fmt.Sprintf(hearing, seconds, fmt.Sprintf("/sounds/%v", bpm), text, bpm, from, to))
}

// apart are short notes on every beat, with silence between them.
var apart = "X:1\nT:Apart\nM:4/4\nL:1/16\nQ:1/4=60\nK:C\n" + strings.Repeat(".e z3 .B z3 .e z3 .B z3 |", 4) + "\n"

// TestTogetherForFiveMinutes: what the page plays, round and round for five minutes at 40, 97 and 208 beats a minute,
// rendered by Chromium from coded sounds: notes and clicks stay within 1 ms of each other and of the clock.
func TestTogetherForFiveMinutes(t *testing.T) {
	b, line := stage(t, apart, 40, 97, 208)
	for _, bpm := range []float64{40, 97, 208} {
		h := listen(t, b, line, bpm, 312, 0, len(line.Bars)-1)
		n := min(len(h.Guitar), len(h.Click)-4)
		if n < int(5*bpm) || len(h.Click)-4-n > 1 {
			t.Fatalf("%v: %s", bpm, h)
		}
		apart, off := 0.0, 0.0
		for i := range n {
			apart = max(apart, math.Abs(float64(h.Guitar[i]-h.Click[i+4])))
			off = max(off, math.Abs(float64(h.Click[i+4])-(h.FirstS+float64(i)*60/bpm)*48000))
		}
		span := float64(h.Guitar[n-1]-h.Guitar[0]) / 48000
		tempo := 60 * float64(n-1) / span
		t.Logf("%v: %s in %.0f s: at most %.3f ms apart, %.3f ms from the clock; the notes go at %.4f", bpm, h, span, apart/48, off/48, tempo)
		if span < 300 || apart > 48 || off > 48 || math.Abs(tempo/bpm-1) > 0.001 {
			t.Errorf("%v: %.3f ms apart, %.3f ms from the clock, %.4f beats a minute over %.1f s", bpm, apart/48, off/48, tempo, span)
		}
	}
}

// TestJoins: where one pass follows another nothing cracks and nothing is missing. Of a piece, whose last notes ring into
// the next pass, the sound bends at the joins no more than where notes are struck. Of bars out of its middle this is
// measured on a tone that never ends: cut off, it would jump by as much as it is high.
func TestJoins(t *testing.T) {
	b, line := stage(t, "X:1\nT:Ringing\nM:3/4\nL:1/4\nQ:1/4=60\nK:C\nE,Be|A,ce|D,Ad|G,Bd|\n", 97)
	for name, bars := range map[string][2]int{"all of it": {0, 3}, "two bars": {1, 2}, "one bar": {2, 2}} {
		h := listen(t, b, line, 97, 20, bars[0], bars[1])
		t.Logf("%s: %d joins, bend %.5f, elsewhere %.5f, softest 4 ms %.1f dB", name, h.Joins, h.AtJoin, h.Elsewhere, 20*math.Log10(h.Softest))
		if h.Joins < 2 || h.AtJoin > h.Elsewhere {
			t.Errorf("%s: %d joins, which bend by %.5f; elsewhere %.5f", name, h.Joins, h.AtJoin, h.Elsewhere)
		}
		if 20*math.Log10(h.Softest) < -50 {
			t.Errorf("%s: %.1f dB at a join", name, 20*math.Log10(h.Softest))
		}
	}
	const high = 0.5
	for name, bars := range map[string][2]int{"two bars of a tone": {1, 2}, "one bar of a tone": {2, 2}} {
		h := listen(t, b, line, tone, 20, bars[0], bars[1])
		down := 20 * math.Log10(h.Softest/(high/math.Sqrt2))
		t.Logf("%s: %d joins, bend %.5f of its height, softest 4 ms %.1f dB against the tone", name, h.Joins, h.AtJoin/high, down)
		if h.Joins < 4 || h.AtJoin > 0.01*high || down < -15 { // the two ends of a tone may be out of step
			t.Errorf("%s: %d joins, bend %.5f of its height, %.1f dB", name, h.Joins, h.AtJoin/high, down)
		}
	}
}
