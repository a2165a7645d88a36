package engrave

import (
	"bytes"
	"context"
	"errors"
	"fmt"
	"strings"
	"sync"
	"testing"
	"time"

	"antiphon/internal/music"
	"antiphon/internal/notation"
)

// small is a well-behaved score to see that an Engraver still works after something bad.
func small(t testing.TB) *music.Score { return samples(t)["round"] }

// TestTimeLimit: a score that takes longer than allowed is given up, and the next one is engraved.
func TestTimeLimit(t *testing.T) {
	if !Available() {
		t.Skip("built without the engraving library: run make assets")
	}
	e, err := New(Settings{CacheDir: compiled(t), Patience: time.Millisecond})
	if err != nil {
		t.Fatal(err)
	}
	defer e.Close()
	big := bars(samples(t)["study"], 400)
	if _, err := e.SVG(context.Background(), big, Options{WidthPx: 801}); !errors.Is(err, ErrTooLong) {
		t.Errorf("got %v, want ErrTooLong", err)
	}
	if len(e.lib.idle) != 0 {
		t.Error("an instance that was stopped was kept")
	}
	e.lib.patience = time.Minute
	if _, err := e.SVG(context.Background(), small(t), Options{WidthPx: 801}); err != nil {
		t.Errorf("afterwards: %v", err)
	}
}

// TestManyAtOnce: several callers share two instances and get what one alone would get.
func TestManyAtOnce(t *testing.T) {
	one := engraver(t)
	two, err := New(Settings{CacheDir: compiled(t), Instances: 2})
	if err != nil {
		t.Fatal(err)
	}
	defer two.Close()
	two.kept = newShelf("")
	all := samples(t)
	var wg sync.WaitGroup
	for name, s := range all {
		want, err := one.SVG(context.Background(), s, Options{WidthPx: 640})
		if err != nil {
			t.Fatal(err)
		}
		wg.Go(func() {
			got, err := two.SVG(context.Background(), s, Options{WidthPx: 640})
			if err != nil || got != want {
				t.Errorf("%s: other picture, or %v", name, err)
			}
		})
	}
	wg.Wait()
	if n := len(two.lib.idle); n < 1 || n > 2 {
		t.Errorf("%d instances are left, want 1 or 2", n)
	}
}

// TestCallerStops: the caller's own end counts as such.
func TestCallerStops(t *testing.T) {
	e := engraver(t)
	ctx, cancel := context.WithCancel(context.Background())
	cancel()
	if _, err := e.SVG(ctx, bars(samples(t)["study"], 50), Options{WidthPx: 802}); !errors.Is(err, context.Canceled) {
		t.Errorf("got %v, want context.Canceled", err)
	}
}

// TestMemoryLimit: work that needs more memory than allowed is given up, and the next score is engraved.
func TestMemoryLimit(t *testing.T) {
	if !Available() {
		t.Skip("built without the engraving library: run make assets")
	}
	e, err := New(Settings{CacheDir: compiled(t), MemoryMB: 160})
	if err != nil {
		t.Fatal(err)
	}
	defer e.Close()
	err = e.lib.use(context.Background(), func(in *instance) error {
		_, err := in.withText("loadData", strings.Repeat("<a>", 60<<20))
		return err
	})
	if !errors.Is(err, ErrTrapped) {
		t.Errorf("got %v, want ErrTrapped", err)
	}
	if len(e.lib.idle) != 0 {
		t.Error("an instance without memory was kept")
	}
	if _, err := e.SVG(context.Background(), small(t), Options{WidthPx: 803}); err != nil {
		t.Errorf("afterwards: %v", err)
	}
}

// TestTooLarge: what is larger than the limits is refused before the library sees it.
func TestTooLarge(t *testing.T) {
	e := engraver(t)
	if _, err := e.SVG(context.Background(), bars(small(t), mostBars+1), Options{}); !errors.Is(err, ErrTooLarge) {
		t.Errorf("got %v, want ErrTooLarge", err)
	}
	if _, err := e.SVG(context.Background(), &music.Score{}, Options{}); !errors.Is(err, notation.ErrUnwritable) {
		t.Errorf("an empty score: got %v, want ErrUnwritable", err)
	}
}

// wrongMEI is what no score of ours becomes, given to the library as it stands.
var wrongMEI = []string{
	"", "hello {", "<mei", "<score-partwise><part-list>", strings.Repeat("<a>", 100_000),
	`<mei xmlns="http://www.music-encoding.org/ns/mei"><music><body><mdiv><score><section><measure n="a"><staff n="99999999999999999999"/></measure></section></score></mdiv></body></music></mei>`,
	`<mei xmlns="http://www.music-encoding.org/ns/mei"><music><body><mdiv><score><scoreDef><staffGrp><staffDef n="1" lines="5" clef.shape="G" clef.line="2"/></staffGrp></scoreDef><section><measure><staff n="1"><layer><note dur="4" pname="c" oct="4"/></layer></staff><slur startid="#nobody" endid="#nobody"/><hairpin tstamp="9e99" tstamp2="999999m+1" form="cres"/></measure></section></score></mdiv></body></music></mei>`,
}

// TestWrongInputToTheLibrary: whatever is given to it, the process lives and the next score is engraved.
func TestWrongInputToTheLibrary(t *testing.T) {
	e := engraver(t)
	for i, mei := range wrongMEI {
		err := e.lib.use(context.Background(), func(in *instance) error {
			_, err := in.render(mei, libraryOptions(small(t), 1000))
			return err
		})
		if err != nil && !errors.Is(err, errRefused) && !errors.Is(err, ErrTrapped) {
			t.Errorf("input %d: %v", i, err)
		}
		if _, err := e.SVG(context.Background(), small(t), Options{WidthPx: 810 + float64(i)}); err != nil {
			t.Errorf("after input %d: %v", i, err)
		}
	}
}

// TestAnotherLibrary: a build given by the user is used in place of the embedded one; what is no such
// build is refused with a sentence that says what to give.
func TestAnotherLibrary(t *testing.T) {
	e := engraver(t)
	want, err := e.SVG(context.Background(), small(t), Options{WidthPx: 820})
	if err != nil {
		t.Fatal(err)
	}
	own, err := asset("engine.wasm")
	if err != nil {
		t.Fatal(err)
	}
	for _, c := range []struct {
		name string
		wasm []byte
		ok   bool
	}{
		{"the same", own, true},
		{"no wasm", []byte("no wasm at all"), false},
		{"cut off", own[:len(own)/2], false},
		{"an empty module", []byte("\x00asm\x01\x00\x00\x00"), false},
	} {
		other, err := New(Settings{CacheDir: compiled(t), Library: c.wasm})
		if err != nil {
			t.Fatal(err)
		}
		other.kept = newShelf("")
		got, err := other.SVG(context.Background(), small(t), Options{WidthPx: 820})
		switch {
		case c.ok && (err != nil || got != want):
			t.Errorf("%s: other picture, or %v", c.name, err)
		case !c.ok && (err == nil || !strings.Contains(err.Error(), "scripts/engraver")):
			t.Errorf("%s: got %v, want a refusal that names scripts/engraver", c.name, err)
		}
		if err := other.Close(); err != nil {
			t.Error(err)
		}
	}
}

// FuzzEngrave: whatever score can be read can be engraved or is refused; every note has its place or
// the picture says nothing false about it; and nothing of the text gets out of its element.
func FuzzEngrave(f *testing.F) {
	f.Add([]byte("X:1\nT:<script>&\"'\nM:4/4\nL:1/8\nK:A\n\"Am\"[CEA]2 (3BcB !f!c4|{g}a8|]\n"))
	f.Add([]byte("X:1\nM:none\nK:C clef=bass\nC D E| [V:2] z4 |1 C :|2 D8 |\n"))
	f.Add([]byte("X:1\nM:6/8\nL:1/16\nK:Ebmin\n!1!C!2!D!3!E!4!F .G ~A T B HC|\n"))
	e := engraver(f)
	e.kept = newShelf("") // nothing of it is to stay on disk
	f.Fuzz(func(t *testing.T, in []byte) {
		s, _, err := notation.Read(bytes.NewReader(in), "fuzz.abc", notation.Limits{Notes: 300, Bars: 60, Bytes: 20_000})
		if err != nil {
			return
		}
		svg, err := e.SVG(context.Background(), s, Options{WidthPx: 500, Tab: TabShown, Names: Letters})
		if err != nil {
			if !errors.Is(err, ErrTooLarge) && !errors.Is(err, ErrTrapped) && !errors.Is(err, ErrTooLong) && !errors.Is(err, notation.ErrUnwritable) && !errors.Is(err, errRefused) {
				t.Errorf("an error without a kind: %v", err)
			}
			return
		}
		p := readPicture(t, svg, e.fonts)
		for id, n := range p.ids {
			if n != 1 && strings.HasPrefix(id, "n") {
				t.Errorf("id %s stands %d times", id, n)
			}
		}
		if strings.Contains(svg, "<script") || strings.Contains(svg, "NaN") || strings.Contains(svg, "Inf") {
			t.Error("the picture holds what it may not")
		}
	})
}

func BenchmarkHundredBars(b *testing.B) {
	e := engraver(b)
	s := bars(samples(b)["study"], 100)
	if _, err := e.SVG(context.Background(), s, Options{Tab: TabShown}); err != nil {
		b.Fatal(err) // the library is ready now
	}
	n := 0
	for b.Loop() {
		e.kept = newShelf("")
		if _, err := e.SVG(context.Background(), s, Options{Tab: TabShown, WidthPx: 900 + float64(n)}); err != nil {
			b.Fatal(err)
		}
		n++
	}
	b.ReportMetric(b.Elapsed().Seconds()*1000/float64(b.N), "ms/100-bars")
}

func BenchmarkHundredBarsCached(b *testing.B) {
	e := engraver(b)
	s := bars(samples(b)["study"], 100)
	for _, tab := range []Tab{TabHidden, TabShown} {
		b.Run(fmt.Sprint("tab=", tab == TabShown), func(b *testing.B) {
			if _, err := e.SVG(context.Background(), s, Options{Tab: tab}); err != nil {
				b.Fatal(err)
			}
			for b.Loop() {
				if _, err := e.SVG(context.Background(), s, Options{Tab: tab}); err != nil {
					b.Fatal(err)
				}
			}
			b.ReportMetric(b.Elapsed().Seconds()*1000/float64(b.N), "ms/100-bars")
		})
	}
}

// BenchmarkFreshProcess is what a command waits for: load the compiled library, start it, engrave.
func BenchmarkFreshProcess(b *testing.B) {
	s := bars(samples(b)["study"], 100)
	engraver(b)
	for b.Loop() {
		e, err := New(Settings{CacheDir: compiled(b)})
		if err != nil {
			b.Fatal(err)
		}
		e.kept = newShelf("")
		if _, err := e.SVG(context.Background(), s, Options{Tab: TabShown}); err != nil {
			b.Fatal(err)
		}
		if err := e.Close(); err != nil {
			b.Fatal(err)
		}
	}
	b.ReportMetric(b.Elapsed().Seconds()*1000/float64(b.N), "ms/100-bars")
}

// TestWithoutTheLibrary: a program built without assets says what to run.
func TestWithoutTheLibrary(t *testing.T) {
	if Available() {
		t.Skip("built with the engraving library")
	}
	if _, err := New(Settings{}); !errors.Is(err, ErrNoLibrary) {
		t.Errorf("got %v, want ErrNoLibrary", err)
	}
}
