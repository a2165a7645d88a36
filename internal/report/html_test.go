package report

import (
	"bytes"
	"crypto/sha256"
	"encoding/base64"
	"encoding/xml"
	"html"
	"io"
	"regexp"
	"strings"
	"testing"

	"antiphon/internal/ear"
	"antiphon/internal/evidence"
	"antiphon/internal/findings"
	"antiphon/internal/media"
	"antiphon/internal/music"
)

func pageOf(t *testing.T, r Report, p Page) string {
	t.Helper()
	var b bytes.Buffer
	if err := r.HTML(&b, p); err != nil {
		t.Fatal(err)
	}
	return b.String()
}

func soundPage() Page {
	s := swell(24)
	return Page{Sound: s, Audio: wav(s), AudioType: "audio/wav"}
}

// TestPageAsksForNothing: no address of any kind but data, no style attribute and no handler, which
// its own policy would refuse.
func TestPageAsksForNothing(t *testing.T) {
	page := pageOf(t, fixture(), soundPage())
	page = regexp.MustCompile(`(?s)<script>.*</script>|;base64,[^"]*`).ReplaceAllString(page, "")
	for what, pattern := range map[string]string{
		"an address":           `(?i)(src|href|action|poster|data)="[^"#d]`,
		"an import":            `(?i)@import|url\(`,
		"a style attribute":    `(?i)<[^>]*\sstyle=`,
		"an event handler":     `(?i)<[^>]*\son[a-z]+=`,
		"a template's failure": `ZgotmplZ|<no value>|%!`,
		"not a number":         `NaN|Inf\b`,
	} {
		if m := regexp.MustCompile(pattern).FindString(page); m != "" {
			t.Errorf("the page has %s: %q", what, m)
		}
	}
	ids := map[string]bool{}
	for _, m := range regexp.MustCompile(` id="([^"]*)"`).FindAllStringSubmatch(page, -1) {
		if ids[m[1]] {
			t.Errorf("id %s twice", m[1])
		}
		ids[m[1]] = true
	}
	for _, m := range regexp.MustCompile(`href="#([^"]*)"`).FindAllStringSubmatch(page, -1) {
		if !ids[m[1]] {
			t.Errorf("a link to #%s, which is not there", m[1])
		}
	}
}

// TestPolicyNamesTheRealHashes: Content Security Policy Level 3, hash sources over the text between the tags.
func TestPolicyNamesTheRealHashes(t *testing.T) {
	page := pageOf(t, fixture(), soundPage())
	policy := html.UnescapeString(regexp.MustCompile(`Content-Security-Policy" content="([^"]*)"`).FindStringSubmatch(page)[1])
	if !strings.HasPrefix(policy, "default-src 'none';") {
		t.Errorf("policy %s", policy)
	}
	for _, tag := range []string{"style", "script"} {
		for _, m := range regexp.MustCompile(`(?s)<`+tag+`>(.*?)</`+tag+`>`).FindAllStringSubmatch(page, -1) {
			sum := sha256.Sum256([]byte(m[1]))
			if want := tag + "-src 'sha256-" + base64.StdEncoding.EncodeToString(sum[:]) + "'"; !strings.Contains(policy, want) {
				t.Errorf("policy %s lacks %s", policy, want)
			}
		}
	}
}

// TestPageEscapes: what comes from outside stays text.
func TestPageEscapes(t *testing.T) {
	r := fixture()
	const evil = `"><script>alert(1)</script><img src=x onerror=alert(2)>'`
	r.Score.Title, r.Score.Composer, r.Meta.TakeFile, r.Meta.Notes = evil, evil, evil+".m4a", []string{evil}
	r.Score.Bars[2].Number, r.Score.Parts[0].Name = evil, evil
	for i := range r.Hearing.Score {
		r.Hearing.Score[i].Name = "F" + evil
		r.Hearing.Score[i].Bar = evil
	}
	r.Hearing.Passes[0].FromBar = evil
	r.Hearing.Dynamics.ByMark = []ear.MarkLevel{{Mark: evil}}
	r.Findings = append(findings.Of(r.Hearing, r.Score, findings.Options{}), findings.Finding{Text: evil, FromBar: evil, ToBar: evil})
	page := pageOf(t, r, Page{})
	if strings.Contains(page, "<script>alert") || strings.Contains(page, "<img") {
		t.Error("foreign text became markup")
	}
	wellFormedDrawings(t, page)
}

// wellFormedDrawings parses every drawing of a page as XML.
func wellFormedDrawings(t *testing.T, page string) {
	t.Helper()
	from := strings.Index(page, "<svg")
	for from >= 0 {
		d := xml.NewDecoder(strings.NewReader(strings.ReplaceAll(page[from:], "data-take", `data-take=""`)))
		d.Strict, d.Entity = true, xml.HTMLEntity
		depth := 0
		for {
			tok, err := d.Token()
			if err == io.EOF {
				break
			}
			if err != nil {
				if strings.Contains(err.Error(), "attribute") { // valueless data-… of HTML
					break
				}
				t.Fatalf("a drawing is not well-formed: %v", err)
			}
			switch tok.(type) {
			case xml.StartElement:
				depth++
			case xml.EndElement:
				depth--
			}
			if depth == 0 {
				break
			}
		}
		next := strings.Index(page[from+4:], "<svg")
		if next < 0 {
			return
		}
		from += 4 + next
	}
}

// TestPageOfNothing: a take of something else gives a page that says so and still plays.
func TestPageOfNothing(t *testing.T) {
	h := &ear.Hearing{DurationS: 9, SNRDb: 30, A4Hz: 440}
	s := &music.Score{Title: "Over the Hedge"}
	page := pageOf(t, Report{Hearing: h, Score: s, Findings: findings.Of(h, s, findings.Options{})}, soundPage())
	for _, want := range []string{"not this score", "<audio", `data-s="0.000"`} {
		if !strings.Contains(page, want) {
			t.Errorf("the page lacks %q", want)
		}
	}
	if strings.Contains(page, "Note by note") {
		t.Error("the page draws notes where there are none")
	}
}

// TestPageWithoutSound says why, and offers to open the recording.
func TestPageWithoutSound(t *testing.T) {
	page := pageOf(t, fixture(), Page{NoAudio: "The recording is longer than 20 minutes."})
	if strings.Contains(page, "base64,") || !strings.Contains(page, "longer than 20 minutes") || !strings.Contains(page, `type="file"`) {
		t.Error("no word about the missing sound")
	}
}

// TestBarsSayWhatDiffers: the words for who cannot see the drawing.
func TestBarsSayWhatDiffers(t *testing.T) {
	page := pageOf(t, fixture(), Page{})
	for _, want := range []string{`aria-label="Bar 2: four of five notes, the E was heard as F natural, 96 a minute."`, `aria-label="Bar 1: all five notes, 96 a minute."`,
		"the A was not heard", "an added B flat", "as far as it was played"} {
		if !strings.Contains(page, want) {
			t.Errorf("the page lacks %s", want)
		}
	}
}

// TestEveryNoteIsDrawn counts dots, diamonds, squares and rings.
func TestEveryNoteIsDrawn(t *testing.T) {
	r := fixture()
	f := r.frame()
	dots, strays, rings := 0, 0, 0
	for _, v := range r.passes() {
		var b strings.Builder
		r.thread(&b, f, v)
		s := b.String()
		for _, m := range regexp.MustCompile(`<path class="(?:dot|doubt)" d="([^"]*a[^"]*)"`).FindAllStringSubmatch(s, -1) {
			dots += strings.Count(m[1], "M")
		}
		strays += strings.Count(s, `<g class="other`)
		rings += strings.Count(s, `class="ring"`)
	}
	right, stray := 0, 0
	for _, n := range r.Hearing.Played {
		if n.Verdict == ear.Right {
			right++
		} else {
			stray++
		}
	}
	if dots != right || strays != stray || rings != len(r.Hearing.Missed) {
		t.Errorf("%d dots for %d right notes, %d strays for %d, %d rings for %d missed", dots, right, strays, stray, rings, len(r.Hearing.Missed))
	}
}

// TestLateIsRight: a late note is drawn right of its place and an early one left of it, never so far
// that it seems to belong elsewhere.
func TestLateIsRight(t *testing.T) {
	f := frame{pxQ: 30}
	for _, c := range []struct{ lateQ, want float64 }{{0.05, 4.5}, {-0.05, -4.5}, {2, latestPx}, {-2, -latestPx}, {0, 0}} {
		n := evidence.Placed{PlaceQ: 2, AtQ: 2 + c.lateQ}
		if got := f.heardX(n, false) - f.place(2); got < c.want-0.01 || got > c.want+0.01 {
			t.Errorf("%v quarters late is drawn %v px off, want %v", c.lateQ, got, c.want)
		}
	}
}

func TestPeaks(t *testing.T) {
	low, high := peaks(media.PCM{RateHz: 4, Samples: []float32{0.1, -0.5, 0.2, 0.9, -2, 0}}, 3)
	for i, want := range [][2]float64{{-0.5, 0.1}, {0, 0.9}, {-1, 0}} {
		if d := low[i] - want[0]; d > 1e-6 || d < -1e-6 {
			t.Errorf("slice %d: low %v, want %v", i, low[i], want[0])
		}
		if d := high[i] - want[1]; d > 1e-6 || d < -1e-6 {
			t.Errorf("slice %d: high %v, want %v", i, high[i], want[1])
		}
	}
	if wavePath(media.PCM{}) != "" {
		t.Error("no sound has a picture")
	}
}

// TestTwoGuitarsHaveALaneEach: the same pitch of the second part is drawn lower.
func TestTwoGuitarsHaveALaneEach(t *testing.T) {
	r := fixture()
	second := r.Score.Parts[0]
	second.ID, second.Name = "P2", "Guitar 2"
	r.Score.Parts = append(r.Score.Parts, second)
	one := r.frame()
	r.Hearing.Score[3].Part = "P2"
	two := r.frame()
	if one.height >= two.height || one.y(60, "P1") != two.y(60, "P1") || two.y(60, "P2") < two.y(two.low, "P1") {
		t.Errorf("%+v and %+v", one, two)
	}
	if page := pageOf(t, r, Page{}); !strings.Contains(page, "From the top: Guitar, Guitar 2.") {
		t.Error("the lanes are not named")
	}
}
