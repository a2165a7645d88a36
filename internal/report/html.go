package report

import (
	"crypto/sha256"
	"embed"
	"encoding/base64"
	"fmt"
	"html/template"
	"io"
	"slices"
	"strings"

	"antiphon/internal/evidence"
	"antiphon/internal/findings"
	"antiphon/internal/media"
)

//go:generate go run ./bundle

//go:embed page.html page.css
var pageFiles embed.FS

//go:embed all:assets
var assets embed.FS

// HasPlayer reports whether the script of the page was built into this program; `make assets` does.
// Without it the page is complete to read, and plays with the browser's own controls.
func HasPlayer() bool { return script() != "" }

func script() string {
	js, err := assets.ReadFile("assets/page.js")
	if err != nil {
		return ""
	}
	return string(js)
}

// Page is what HTML needs besides the report. The zero value is a page without sound.
type Page struct {
	Sound     media.PCM // for the picture of the sound
	Audio     []byte    // the take as a browser plays it; empty for none
	AudioType string    // its media type, "audio/mpeg"
	NoAudio   string    // why there is none, one sentence
}

// pageView is what the template shows, already in words.
type pageView struct {
	Policy, Title, Take, Length string
	Composer, Pitch, Tempo      string
	Tone                        string
	Lanes                       string // names of the parts from the top, where there are several
	DurationS                   string
	CSS                         template.CSS
	Script                      template.JS
	Passes                      []passText
	Troubles, Well              []findingText
	Overview                    template.HTML
	HasCurve                    bool
	Keys                        keys
	Strings                     *stringsText
	Loudness                    []levelText
	Fingers                     []fingerText
	Remarks                     []string
	AudioURL                    template.URL
	NoAudio                     string
	Speeds                      []speed
}

type (
	passText struct {
		N                       int
		Bars, Times, Pace, Jump string
		Thread                  template.HTML
	}
	findingText struct {
		At, Text, Bars, Anchor, FromS, ToS string
		Also                               []string
	}
	levelText   struct{ Where, Level, Notes string }
	fingerText  struct{ Finger, Time, Level, Notes string }
	stringsText struct {
		Dial template.HTML
		A4   string
	}
	speed struct {
		Pct  int
		Rate string
	}
)

// HTML writes one page that needs nothing but itself: no other file, no network.
func (r Report) HTML(w io.Writer, p Page) error {
	t, err := template.New("page.html").Funcs(template.FuncMap{"dict": dict}).ParseFS(pageFiles, "page.html")
	if err != nil {
		return err
	}
	css, err := pageFiles.ReadFile("page.css")
	if err != nil {
		return err
	}
	return t.Execute(w, r.page(p, string(css)))
}

// policy lets the page use its own style and script, known by their hashes, and its own sound.
func policy(css, js string) string {
	hash := func(s string) string {
		sum := sha256.Sum256([]byte(s))
		return "'sha256-" + base64.StdEncoding.EncodeToString(sum[:]) + "'"
	}
	p := "default-src 'none'; base-uri 'none'; form-action 'none'; img-src data:; media-src data: blob:; style-src " + hash(css)
	if js != "" {
		p += "; script-src " + hash(js)
	}
	return p
}

func (r Report) page(p Page, css string) pageView {
	h := r.Hearing
	js := script()
	views := r.passes()
	v := pageView{
		Policy: policy(css, js), Title: plain(r.title()), Take: plain(r.Meta.TakeFile), Length: clockTime(h.DurationS),
		Composer: plain(r.Score.Composer), DurationS: fmt.Sprintf("%.3f", max(0, finite(h.DurationS))),
		CSS: template.CSS(css), Script: template.JS(js),
		Overview: template.HTML(r.overview(views, p.Sound)), HasCurve: len(h.Tempo.Curve) > 1, Keys: newKeys(),
		Speeds: []speed{{50, "0.5"}, {70, "0.7"}, {85, "0.85"}, {100, "1"}},
	}
	if len(views) > 0 {
		v.Pitch = fmt.Sprintf("tuned to A = %.0f Hz", finite(h.A4Hz))
		v.Tempo, v.Tone = tempoText(h.Tempo), r.Tone.Say(r.Score)
	}
	f := r.frame()
	if lanes := r.lanes(); len(lanes) > 1 {
		var names []string
		for _, id := range lanes {
			names = append(names, r.partName(id))
		}
		v.Lanes = strings.Join(names, ", ")
	}
	for _, view := range views {
		v.Passes = append(v.Passes, r.passText(f, view))
	}
	for _, x := range r.Findings {
		t := findingInWords(x, views)
		if x.Kind.Well() {
			v.Well = append(v.Well, t)
		} else {
			v.Troubles = append(v.Troubles, t)
		}
	}
	r.sideTables(&v)
	for _, n := range r.Meta.Notes {
		v.Remarks = append(v.Remarks, plain(n))
	}
	v.NoAudio = p.NoAudio
	if len(p.Audio) > 0 {
		v.AudioURL = template.URL("data:" + p.AudioType + ";base64," + base64.StdEncoding.EncodeToString(p.Audio))
	} else if v.NoAudio == "" {
		v.NoAudio = "The recording is not part of this page."
	}
	return v
}

func (r Report) passText(f frame, view evidence.Line) passText {
	p := view.Pass
	t := passText{N: p.N, Bars: plain(barRange(p.FromBar, p.ToBar)), Times: clockTime(p.StartS) + "–" + clockTime(p.EndS), Pace: paceText(p)}
	if view.Jump != nil {
		t.Jump = plain(jumpText(*view.Jump))
	}
	var b strings.Builder
	r.thread(&b, f, view)
	t.Thread = template.HTML(b.String())
	return t
}

// findingInWords gives a finding its places in the page: the bar that it links to is the one that
// sounds when it begins.
func findingInWords(x findings.Finding, views []evidence.Line) findingText {
	t := findingText{At: clockTime(x.FromS), Text: plain(x.Text), Bars: plain(barRange(x.FromBar, x.ToBar)),
		FromS: fmt.Sprintf("%.3f", max(0, finite(x.FromS))), ToS: fmt.Sprintf("%.3f", max(0, finite(x.ToS)))}
	for _, v := range views {
		for _, b := range v.Bars {
			if x.FromS >= b.FromS-0.05 && (x.FromS < b.ToS || t.Anchor == "") && x.FromS <= v.Pass.EndS+2 {
				t.Anchor = fmt.Sprintf("p%db%d", v.Pass.N, b.Index)
			}
		}
	}
	for i, s := range x.AtS {
		if at := clockTime(s); i > 0 && !slices.Contains(t.Also, at) && len(t.Also) < 12 {
			t.Also = append(t.Also, at)
		}
	}
	return t
}

// dict hands several values to a partial.
func dict(pairs ...any) (map[string]any, error) {
	m := map[string]any{}
	for i := 0; i+1 < len(pairs); i += 2 {
		k, ok := pairs[i].(string)
		if !ok {
			return nil, fmt.Errorf("dict: key %v is no string", pairs[i])
		}
		m[k] = pairs[i+1]
	}
	return m, nil
}
