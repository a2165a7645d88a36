package practice_test

import (
	"encoding/json"
	"fmt"
	"html"
	"io"
	"math"
	"net/http"
	"regexp"
	"slices"
	"strings"
	"testing"
	"time"

	"antiphon/internal/studio"
	"antiphon/internal/web/practice"
	"antiphon/internal/web/tongue"
)

// plan is what the page's script reads.
type plan struct {
	Rungs []struct {
		Bpm                 float64
		Pace, Sound, Second string
	}
	Begin, Clean, Minutes int
	Second                string
	ByTool                bool
	Reached               *struct {
		Bpm float64
		At  time.Time
	}
	Line struct {
		Bpm, LengthS, EntryS float64
		Bars                 []struct {
			I  int
			N  string
			At float64
		}
		CountIn, Clicks [][2]float64
	}
}

func (k *kit) plan(t *testing.T, a studio.Assignment) (plan, string) {
	t.Helper()
	status, body := k.Get(t, k.Okafor.Device, k.page(a))
	m := regexp.MustCompile(`data-plan="([^"]*)"`).FindStringSubmatch(body)
	if status != 200 || m == nil {
		t.Fatalf("%d %s", status, body)
	}
	var p plan
	if err := json.Unmarshal([]byte(html.UnescapeString(m[1])), &p); err != nil {
		t.Fatal(err)
	}
	return p, body
}

func (k *kit) fetch(t *testing.T, device, path string, header ...string) (*http.Response, []byte) {
	t.Helper()
	r, err := http.NewRequestWithContext(t.Context(), http.MethodGet, k.URL+path, nil)
	if err != nil {
		t.Fatal(err)
	}
	for i := 0; i+1 < len(header); i += 2 {
		r.Header.Set(header[i], header[i+1])
	}
	a, err := k.Client(t, device).Do(r)
	if err != nil {
		t.Fatal(err)
	}
	defer a.Body.Close()
	b, err := io.ReadAll(a.Body)
	if err != nil {
		t.Fatal(err)
	}
	return a, b
}

// TestPageOfSteps: the ladder's tempos with their sounds, the bars and beats of the passage, and where the log left off.
func TestPageOfSteps(t *testing.T) {
	k := open(t)
	p, body := k.plan(t, k.steps)
	var bpms []float64
	for _, r := range p.Rungs {
		bpms = append(bpms, r.Bpm)
	}
	if !slices.Equal(bpms, []float64{120, 136, 152, 160}) || p.Begin != 0 || p.Clean != 2 || p.Minutes != 5 || p.Reached != nil {
		t.Errorf("%v, %+v", bpms, p)
	}
	// Two bars of four at the line's own tempo of 60.
	if l := p.Line; l.Bpm != 60 || math.Abs(l.LengthS-8) > 1e-9 || len(l.Bars) != 2 || l.Bars[1].N != "2" || l.Bars[1].At != 4 || len(l.Clicks) != 8 || len(l.CountIn) != 4 || l.CountIn[0][0] != -4 {
		t.Errorf("%+v", l)
	}
	keep := regexp.MustCompile(`data-keep="(/week/sound[^"]*)"`).FindStringSubmatch(body)
	if keep == nil {
		t.Fatal("nothing is kept for a kitchen without a network")
	}
	if got := strings.Fields(html.UnescapeString(keep[1])); len(got) != 4 || got[0] != p.Rungs[0].Sound {
		t.Errorf("kept: %v", got)
	}
	for i, tap := range []studio.Tap{{Kind: studio.TapTry, Clean: true, Bpm: 120}, {Kind: studio.TapRung, Bpm: 136}} {
		tap.ID, tap.Student, tap.Assignment, tap.At = fmt.Sprint("tap-number-", i), k.ada.ID, k.steps.ID, k.Now().Add(time.Duration(i)*time.Minute)
		k.Wait(2 * time.Minute)
		if err := k.Desk.Tap(t.Context(), k.Okafor.Coach, []studio.Tap{tap}); err != nil {
			t.Fatal(err)
		}
	}
	if p, _ = k.plan(t, k.steps); p.Reached == nil || p.Reached.Bpm != 136 {
		t.Errorf("the log left off at %+v", p.Reached)
	}
}

// TestPagesOfOtherKinds: a round, a second part, and what has no score.
func TestPagesOfOtherKinds(t *testing.T) {
	k := open(t)
	p, _ := k.plan(t, k.round)
	// The pickup is one beat; after one bar of four the tool enters: at 60, four seconds later.
	if p.Second != "round" || !p.ByTool || math.Abs(p.Line.EntryS-4) > 1e-9 || len(p.Rungs) != 3 || p.Begin != 2 || p.Rungs[2].Bpm != 72 || p.Rungs[0].Bpm != 43 {
		t.Errorf("a round: %+v", p)
	}
	all := practice.Sounds(practice.Card{Student: k.ada.ID, Assignment: k.part.ID, Work: k.part.Work, Bpm: 80, Second: k.part.Second})
	if len(all) != 6 || strings.Contains(all[5], "second") || !strings.Contains(all[5], "bpm=80") {
		t.Errorf("the sounds of a part: %v", all)
	}
	p, _ = k.plan(t, k.part)
	if p.Second != "part" || p.Rungs[p.Begin].Bpm != 80 || !strings.Contains(p.Rungs[0].Second, "second=yes") {
		t.Errorf("a part: %+v", p)
	}
	p, body := k.plan(t, k.click)
	if p.Rungs[p.Begin].Bpm != 97 || p.Rungs[0].Sound != "" || len(p.Line.Bars) != 0 || len(p.Line.Clicks) != 4 || strings.Contains(body, `data-do="hear"`) {
		t.Errorf("the click alone: %+v", p)
	}
	status, tune := k.Get(t, k.Okafor.Device, "/week/tune?child="+string(k.ada.ID)+"&of="+string(k.steps.ID))
	if status != 200 || !strings.Contains(tune, `data-island="tune"`) || !strings.Contains(html.UnescapeString(tune), `{"midi":40,"name":"E"}`) {
		t.Errorf("the tuner: %d", status)
	}
	if status, es := k.Get(t, k.Okafor.Device, "/week/tune"); status != 200 || strings.Contains(es, `value="4"`) {
		t.Errorf("the tuner by itself: %d", status)
	}
}

// TestWhoHears: a family its own and nothing else, in AAC, from the cache the second time; nonsense is refused.
func TestWhoHears(t *testing.T) {
	needs(t, "ffmpeg")
	k := open(t)
	p, _ := k.plan(t, k.steps)
	a, sound := k.fetch(t, k.Okafor.Device, p.Rungs[0].Sound)
	if a.StatusCode != 200 || a.Header.Get("Content-Type") != "audio/mp4" || len(sound) < 20_000 {
		t.Fatal(a.Status, a.Header, len(sound))
	}
	if a, _ := k.fetch(t, k.Okafor.Device, p.Rungs[0].Sound, "If-None-Match", a.Header.Get("ETag")); a.StatusCode != http.StatusNotModified {
		t.Error("asked again:", a.Status)
	}
	if a, b := k.fetch(t, k.Okafor.Device, p.Rungs[0].Sound, "Range", "bytes=4-7"); a.StatusCode != http.StatusPartialContent || string(b) != "ftyp" {
		t.Error("a part of it:", a.Status, b)
	}
	for path, want := range map[string]int{
		strings.Replace(p.Rungs[0].Sound, "bpm=120", "bpm=7", 1):                        422,
		strings.Replace(p.Rungs[0].Sound, "bpm=120", "bpm=NaN", 1):                      422,
		p.Rungs[0].Sound + "&from=9":                                                    422,
		p.Rungs[0].Sound + "&second=yes":                                                404,
		"/week/sound/" + string(k.click.ID) + "?child=" + string(k.ada.ID):              404,
		"/week/sound/nothing?child=" + string(k.ada.ID):                                 404,
		"/week/sound/" + string(k.round.ID) + "?bpm=72&second=yes":                      200,
		"/week/sound/" + string(k.part.ID) + "?bpm=80&second=yes&plain=yes&click=yes":   200,
		"/week/practice?child=" + string(k.ada.ID) + "&of=":                             404,
		"/week/practice?child=" + string(k.Lindqvist.Students[0].ID) + "&of=" + "other": 404,
	} {
		if a, b := k.fetch(t, k.Okafor.Device, path, "Accept", "application/json"); a.StatusCode != want {
			t.Errorf("%s: %s %.200s", path, a.Status, b)
		}
	}
	for _, path := range []string{p.Rungs[0].Sound, k.page(k.steps), "/week/tune?of=" + string(k.steps.ID)} {
		if a, _ := k.fetch(t, k.Lindqvist.Device, path); a.StatusCode != 404 {
			t.Errorf("another family: %s %s", path, a.Status)
		}
		if a, _ := k.fetch(t, "", path); a.StatusCode != 403 {
			t.Errorf("a stranger: %s %s", path, a.Status)
		}
	}
}

// TestSecond: where the recorder finds the part to play with.
func TestSecond(t *testing.T) {
	for _, c := range []struct {
		a    studio.Assignment
		want bool
	}{
		{studio.Assignment{ID: "a", Work: "w", Second: studio.Second{Kind: studio.Round, AfterBars: 2, Who: studio.ByTool}}, true},
		{studio.Assignment{ID: "a", Work: "w", Second: studio.Second{Kind: studio.Round, AfterBars: 2, Who: studio.ByParent}}, false},
		{studio.Assignment{ID: "a", Work: "w"}, false},
	} {
		if address := practice.Second("s", c.a, 72); (address != "") != c.want {
			t.Errorf("%+v: %q", c.a.Second, address)
		}
	}
}

// TestPlace: the button leads to the page and has it kept, in both languages.
func TestPlace(t *testing.T) {
	for _, in := range tongue.All() {
		got, err := practice.Place(practice.Card{Student: "s1", Assignment: "a1", Title: "A <tune>", In: in})
		if err != nil || strings.Count(string(got), `"/week/practice?child=s1&amp;of=a1"`) != 2 || !strings.Contains(string(got), "A &lt;tune&gt;") {
			t.Errorf("%s: %s, %v", in.Name, got, err)
		}
		if el, err := practice.Tuner(in); err != nil || !strings.Contains(string(el), `data-island="tune"`) {
			t.Errorf("%s: %.80s, %v", in.Name, el, err)
		}
	}
}
