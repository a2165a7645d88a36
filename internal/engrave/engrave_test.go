package engrave

import (
	"bytes"
	"compress/gzip"
	"context"
	"fmt"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"testing"

	"antiphon/internal/music"
	"antiphon/internal/notation"
)

// shared is where the tests of one run keep what they compiled, so that only the first one waits.
func engraver(t testing.TB) *Engraver {
	t.Helper()
	if !Available() {
		t.Skip("built without the engraving library: run make assets")
	}
	e, err := New(Settings{CacheDir: compiled(t)})
	if err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() {
		if err := e.Close(); err != nil {
			t.Error(err)
		}
	})
	return e
}

// compiled is a folder for what the tests compile; it outlives a test, as the compiler takes seconds.
func compiled(t testing.TB) string {
	t.Helper()
	dir := filepath.Join(os.TempDir(), fmt.Sprintf("antiphon-engrave-test-%d", os.Getuid()))
	if err := os.MkdirAll(dir, 0o700); err != nil {
		t.Fatal(err)
	}
	return dir
}

func samples(t testing.TB) map[string]*music.Score {
	t.Helper()
	files, err := filepath.Glob("testdata/*.musicxml")
	if err != nil || len(files) < 6 {
		t.Fatalf("%d samples, want 6 or more (%v)", len(files), err)
	}
	out := map[string]*music.Score{}
	for _, f := range files {
		s, _, err := notation.ReadFile(f, notation.Limits{})
		if err != nil {
			t.Fatal(err)
		}
		out[strings.TrimSuffix(filepath.Base(f), ".musicxml")] = s
	}
	return out
}

// looks are the ways in which each sample is engraved.
func looks() map[string]Options {
	return map[string]Options{
		"320": {WidthPx: 320}, "390": {WidthPx: 390, Tab: TabHidden}, "560": {WidthPx: 560}, "900": {WidthPx: 900, Tab: TabHidden}, "1200": {WidthPx: 1200},
		"390 tab": {WidthPx: 390, Tab: TabShown, Strings: StringsAll}, "900 tab": {WidthPx: 900, Tab: TabShown, Strings: StringsAll},
		"390 names": {WidthPx: 390, Tab: TabHidden, Names: DoReMi}, "900 names, tab": {WidthPx: 900, Tab: TabShown, Names: Letters},
		"600 large": {WidthPx: 600, Scale: 1.6},
	}
}

func TestNothingTouches(t *testing.T) {
	e := engraver(t)
	for name, s := range samples(t) {
		for look, o := range looks() {
			svg, err := e.SVG(context.Background(), s, o)
			if err != nil {
				t.Errorf("%s at %s: %v", name, look, err)
				continue
			}
			p := readPicture(t, svg, e.fonts)
			if p.marks < 10 {
				t.Errorf("%s at %s: only %d marks were found in the picture", name, look, p.marks)
			}
			for _, c := range p.collisions() {
				t.Errorf("%s at %s: %s", name, look, c)
			}
		}
	}
}

// TestPagesTouchNothing looks at the pages of paper in the same way.
func TestPagesTouchNothing(t *testing.T) {
	e := engraver(t)
	for name, s := range samples(t) {
		for _, paper := range []Paper{A4(), Letter()} {
			k := paperSpaceMm / space
			units := (paper.WidthMm - 2*sideMm) / k
			l, err := e.drawn(context.Background(), s, Options{}.filled(), units)
			if err != nil {
				t.Fatal(err)
			}
			for i, f := range l.pages(units, (paper.HeightMm-topMm-bottomMm)/k, (paper.HeightMm-topMm-footMm)/k) {
				p := readPicture(t, l.svg(f, 800), e.fonts)
				for _, c := range p.collisions() {
					t.Errorf("%s, page %d of %s: %s", name, i+1, paper.Name, c)
				}
			}
		}
	}
}

// TestCollisionsAreSeen moves a finger onto its head and expects the check to say so.
func TestCollisionsAreSeen(t *testing.T) {
	e := engraver(t)
	svg, err := e.SVG(context.Background(), samples(t)["study"], Options{Tab: TabHidden})
	if err != nil {
		t.Fatal(err)
	}
	for _, kind := range []string{"lh", "pima", "string"} {
		p := readPicture(t, svg, e.fonts)
		var mark, head *printed
		for i := range p.things {
			if m := &p.things[i]; m.kind == kind && mark == nil {
				mark = m
			}
		}
		if mark == nil {
			t.Fatalf("no %s in the picture", kind)
		}
		for i := range p.things {
			if h := &p.things[i]; h.kind == "head" && h.note == mark.note {
				head = h
			}
		}
		mark.boxes[0] = head.boxes[0]
		if len(p.collisions()) == 0 {
			t.Errorf("a %s upon a head was not noticed", kind)
		}
	}
}

// TestEveryMarkIsThere counts the marks in the picture against those in the score.
func TestEveryMarkIsThere(t *testing.T) {
	e := engraver(t)
	for name, s := range samples(t) {
		svg, err := e.SVG(context.Background(), s, Options{Strings: StringsAll, Tab: TabShown, Names: Letters})
		if err != nil {
			t.Fatal(err)
		}
		p := readPicture(t, svg, e.fonts)
		got := map[string]string{} // "kind note" to text
		for _, m := range p.things {
			if m.group >= 0 && m.note != "" {
				got[m.kind+" "+m.note] += strings.TrimSpace(m.text)
			}
		}
		unison := map[string]bool{}
		plucked := map[string]int{} // by what sounds: two voices share a stroke
		for _, n := range s.Sounding() {
			plucked[fmt.Sprint(n.Part, n.Onset, n.Midi, n.Grace)] += p.ids[notation.TabID(n.ID)]
		}
		for _, n := range s.Sounding() {
			key := fmt.Sprint(n.Part, n.Onset, n.Midi, n.Finger, n.Grace)
			if n.Finger != "" && !unison[key] && got["lh "+n.ID] != n.Finger {
				t.Errorf("%s, bar %s: finger %s of %s is printed as %q", name, n.Bar, n.Finger, n.ID, got["lh "+n.ID])
			}
			unison[key] = true
			if got["pima "+n.ID] != n.Pluck {
				t.Errorf("%s, bar %s: pluck %q of %s is printed as %q", name, n.Bar, n.Pluck, n.ID, got["pima "+n.ID])
			}
			if n.String > 0 && got["string "+n.ID] != fmt.Sprint(n.String) {
				t.Errorf("%s, bar %s: string %d of %s is printed as %q", name, n.Bar, n.String, n.ID, got["string "+n.ID])
			}
			if !n.Grace && got["name "+n.ID] == "" {
				t.Errorf("%s, bar %s: %s has no name", name, n.Bar, n.ID)
			}
			if p.ids[n.ID] != 1 {
				t.Errorf("%s: id %s stands %d times in the picture", name, n.ID, p.ids[n.ID])
			}
			if got := plucked[fmt.Sprint(n.Part, n.Onset, n.Midi, n.Grace)]; got != 1 {
				t.Errorf("%s: %s stands %d times in the tablature", name, n.ID, got)
			}
		}
		for i := range s.Bars {
			if p.ids[notation.BarID(i)] != 1 {
				t.Errorf("%s: bar %d stands %d times in the picture", name, i, p.ids[notation.BarID(i)])
			}
		}
	}
}

// TestSignsInWords looks for what each sample has of the signs that stand at a time.
func TestSignsInWords(t *testing.T) {
	e := engraver(t)
	for name, wants := range map[string][]string{
		"study":        {"barre C.I", "position V", "words rit.", "words apoyando (rest stroke)", "tempo =", "tempo 72", "dynam", "hairpin"},
		"chords":       {"barre CII", "barre ½CIII", "barre CI", "tempo Lento", "tempo 56", "hairpin", "dynam"},
		"arpeggios":    {"position V", "tempo Allegretto", "free-stroke"},
		"scale":        {"position II", "position IV", "position IX", "rest-stroke", "words dolce"},
		"greensleeves": {"tempo Andantino", "words rit."},
		"round":        {"rest-stroke", "free-stroke", "tempo Moderato"},
	} {
		svg, err := e.SVG(context.Background(), samples(t)[name], Options{})
		if err != nil {
			t.Fatal(err)
		}
		got := map[string]bool{}
		for _, m := range readPicture(t, svg, e.fonts).things {
			got[strings.TrimSpace(m.kind+" "+m.text)] = true
		}
		for _, w := range wants {
			if !got[w] {
				t.Errorf("%s has no %q in its picture", name, w)
			}
		}
	}
	svg, err := e.SVG(context.Background(), samples(t)["study"], Options{})
	if err != nil {
		t.Fatal(err)
	}
	for _, class := range []string{`class="ending`, `class="arpeg"`, `class="fermata"`, `class="slur"`, `class="artic"`, `class="tuplet`} {
		if !strings.Contains(svg, class) {
			t.Errorf("the study has no %s", class)
		}
	}
}

// TestSetUp: a string tuned anew and a capo are said above the first bar. That the sixth string is tuned
// to D is common practice, no source.
func TestSetUp(t *testing.T) {
	e := engraver(t)
	s := *samples(t)["arpeggios"]
	part := s.Parts[0]
	part.Attributes = append(slices.Clone(part.Attributes), music.Attributes{Capo: 2, Tuning: []music.Pitch{
		{Step: 'D', Octave: 2}, {Step: 'A', Octave: 2}, {Step: 'D', Octave: 3}, {Step: 'G', Octave: 3}, {Step: 'B', Octave: 3}, {Step: 'E', Octave: 4}}})
	s.Parts = []music.Part{part}
	svg, err := e.SVG(context.Background(), &s, Options{})
	if err != nil {
		t.Fatal(err)
	}
	p := readPicture(t, svg, e.fonts)
	got := ""
	for _, m := range p.things {
		if m.kind == "tuning" {
			got += m.text + "|"
		}
	}
	if want := "|6|= D|Capo II|"; got != want {
		t.Errorf("got %q, want %q", got, want)
	}
	for _, c := range p.collisions() {
		t.Error(c)
	}
}

// TestBarreAcrossSystems: on a phone the barre of bars 4 and 5 continues on the next system, in parentheses.
func TestBarreAcrossSystems(t *testing.T) {
	e := engraver(t)
	svg, err := e.SVG(context.Background(), samples(t)["chords"], Options{WidthPx: 320, Scale: 1.4})
	if err != nil {
		t.Fatal(err)
	}
	study, err := e.SVG(context.Background(), samples(t)["study"], Options{WidthPx: 560}) // a first ending begins a system
	if err != nil {
		t.Fatal(err)
	}
	if strings.Contains(study, "(1.)") {
		t.Error("an ending that begins with its system is drawn as one that goes on")
	}
	if !strings.Contains(svg, ">(CI)<") {
		t.Error("the barre does not go on after the line break")
	}
}

// TestSameBytes: the same score and options give the same bytes, from the library and from the cache.
func TestSameBytes(t *testing.T) {
	e := engraver(t)
	s := samples(t)["chords"]
	first, err := e.SVG(context.Background(), s, Options{WidthPx: 777})
	if err != nil {
		t.Fatal(err)
	}
	fresh, err := New(Settings{})
	if err != nil {
		t.Fatal(err)
	}
	fresh.lib.cache = e.lib.cache // only the drawing is to be new
	second, err := fresh.SVG(context.Background(), s, Options{WidthPx: 777})
	if err != nil {
		t.Fatal(err)
	}
	third, err := e.SVG(context.Background(), s, Options{WidthPx: 777})
	if err != nil {
		t.Fatal(err)
	}
	if first != second || first != third {
		t.Error("the same score was engraved differently")
	}
	for _, in := range fresh.lib.idle {
		if err := in.runtime.Close(context.Background()); err != nil {
			t.Error(err)
		}
	}
}

func zipped(t testing.TB, s string) int {
	t.Helper()
	var b bytes.Buffer
	z := gzip.NewWriter(&b)
	if _, err := z.Write([]byte(s)); err != nil {
		t.Fatal(err)
	}
	if err := z.Close(); err != nil {
		t.Fatal(err)
	}
	return b.Len()
}

// bars repeats a score's bars until it has so many.
func bars(s *music.Score, count int) *music.Score {
	out := *s
	out.Bars, out.Parts, out.Tempos = nil, nil, s.Tempos
	for _, p := range s.Parts {
		p.Notes, p.Directions = nil, nil
		out.Parts = append(out.Parts, p)
	}
	at := music.Beats{}
	for len(out.Bars) < count {
		for i := range s.Bars {
			b := s.Bars[i]
			shift := at.Sub(b.Start)
			index := len(out.Bars)
			for k := range s.Parts {
				for _, n := range s.Parts[k].Notes {
					if n.Bar == i {
						n.Bar, n.Start = index, n.Start.Add(shift)
						out.Parts[k].Notes = append(out.Parts[k].Notes, n)
					}
				}
				for _, d := range s.Parts[k].Directions {
					if d.Bar == i {
						d.Bar, d.At = index, d.At.Add(shift)
						out.Parts[k].Directions = append(out.Parts[k].Directions, d)
					}
				}
			}
			b.Start, b.Number = at, fmt.Sprint(index+1)
			out.Bars = append(out.Bars, b)
			at = b.End()
			if len(out.Bars) == count {
				break
			}
		}
	}
	return &out
}

// TestPageWeight: a page is at most 25 KB when zipped, with its tablature, as the design promises.
func TestPageWeight(t *testing.T) {
	e := engraver(t)
	k := paperSpaceMm / space
	units := (A4().WidthMm - 2*sideMm) / k
	l, err := e.drawn(context.Background(), bars(samples(t)["study"], 100), Options{Tab: TabShown}.filled(), units)
	if err != nil {
		t.Fatal(err)
	}
	for i, f := range l.pages(units, (A4().HeightMm-topMm-bottomMm)/k, (A4().HeightMm-topMm-footMm)/k) {
		if n := zipped(t, l.svg(f, 800)); n > 25<<10 {
			t.Errorf("page %d has %d bytes zipped, want at most %d", i+1, n, 25<<10)
		} else {
			t.Logf("page %d: %d bytes zipped", i+1, n)
		}
	}
}
