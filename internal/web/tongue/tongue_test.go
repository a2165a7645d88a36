package tongue

import (
	"io/fs"
	"maps"
	"math"
	"os"
	"regexp"
	"slices"
	"strings"
	"testing"
	"time"
)

var blank = regexp.MustCompile(`%(\[\d+\])?[a-z]|\{[a-z]+\}`)

// TestEveryPhraseInEveryLanguage: no key is missing, none is empty, and the same blanks are filled.
func TestEveryPhraseInEveryLanguage(t *testing.T) {
	blanks := func(s string) []string {
		b := blank.FindAllString(s, -1)
		slices.Sort(b)
		return slices.Compact(b)
	}
	for _, l := range All() {
		for key, p := range english.phrases {
			q, ok := l.phrases[key]
			if !ok || strings.TrimSpace(q) != q || q == "" {
				t.Errorf("%s: no phrase %q", l.Name, key)
				continue
			}
			if a, b := blanks(p), blanks(q); !slices.Equal(a, b) {
				t.Errorf("%s: %q fills %v, in English %v", l.Name, key, b, a)
			}
			if l.Code != English && p == q && len(strings.Fields(p)) > 2 {
				t.Errorf("%s: %q is still English: %s", l.Name, key, q)
			}
		}
		for key := range l.phrases {
			if !english.Has(key) {
				t.Errorf("%s: %q is said in no other language", l.Name, key)
			}
		}
	}
}

// TestKeysOfThePages: every key that a page names is there, and none is there for nothing.
func TestKeysOfThePages(t *testing.T) {
	named, written := map[string]bool{}, map[string]bool{}
	key := regexp.MustCompile(`(?:Say|say)\(? ?\(?(?:\w+(?:\.\w+)*, )?"([a-z][a-z0-9.-]*)"`)
	counted := regexp.MustCompile(`Count\(? ?"([a-z][a-z0-9.-]*)"`)
	literal := regexp.MustCompile(`"([a-z][a-z0-9.-]*)"`)
	err := fs.WalkDir(os.DirFS(".."), ".", func(file string, d fs.DirEntry, err error) error {
		if err != nil || d.IsDir() || !regexp.MustCompile(`^(tongue/tongue|door/.*|week/.*|practice/.*|letter/.*|record/.*|page/.*|sheet/.*)\.(go|html)$`).MatchString(file) || strings.HasSuffix(file, "_test.go") {
			return err
		}
		b, err := os.ReadFile("../" + file)
		if err != nil {
			return err
		}
		for _, m := range key.FindAllStringSubmatch(string(b), -1) {
			named[m[1]] = true
		}
		for _, m := range literal.FindAllStringSubmatch(string(b), -1) {
			written[m[1]] = true
		}
		for _, m := range counted.FindAllStringSubmatch(string(b), -1) {
			named[m[1]+".one"], named[m[1]+".more"] = true, true
			written[m[1]+".one"], written[m[1]+".more"] = true, true
		}
		return nil
	})
	if err != nil {
		t.Fatal(err)
	}
	if len(named) < 50 {
		t.Fatalf("only %d keys were found in the pages", len(named))
	}
	for k := range named {
		if !english.Has(k) && !strings.HasSuffix(k, ".") {
			t.Errorf("a page says %q, which is in no language", k)
		}
	}
	for _, k := range slices.Sorted(maps.Keys(english.phrases)) {
		// A key may be pieced together: "sent." and the state.
		pieced := slices.ContainsFunc(slices.Collect(maps.Keys(written)), func(p string) bool {
			return strings.HasSuffix(p, ".") && strings.HasPrefix(k, p)
		})
		if !written[k] && !pieced {
			t.Errorf("no page says %q", k)
		}
	}
}

func TestDays(t *testing.T) {
	now := time.Date(2026, 11, 4, 9, 0, 0, 0, time.UTC) // a Wednesday
	for _, c := range []struct {
		code string
		at   time.Time
		want string
	}{
		{"en", now, "today"}, {"es", now, "hoy"},
		{"en", now.Add(-10 * time.Hour), "yesterday"}, {"es", now.Add(-10 * time.Hour), "ayer"},
		{"en", now.AddDate(0, 0, -2), "Monday"}, {"es", now.AddDate(0, 0, -2), "lunes"},
		{"en", now.AddDate(0, -1, 0), "4 October"}, {"es", now.AddDate(0, -1, 0), "4 de octubre"},
		{"en", now.AddDate(-1, 0, 0), "4 November 2025"}, {"es", now.AddDate(-1, 0, 0), "4 de noviembre de 2025"},
		{"xx", now.AddDate(0, 0, 1), "tomorrow"},
	} {
		if got, err := Of(c.code).Day(c.at, now); err != nil || got != c.want {
			t.Errorf("%s: %q, %v, want %q", c.code, got, err, c.want)
		}
	}
}

// TestPaces: a simple count is named only within a tenth of it (worked by hand: 60 s × beats ÷ seconds).
func TestPaces(t *testing.T) {
	exact := map[string]float64{"one-in-two": 30, "two-in-three": 40, "one": 60, "three-in-two": 90, "two": 120}
	for bpm := 20.0; bpm < 220; bpm++ {
		got, err := english.Pace(bpm)
		if err != nil || got == "" {
			t.Fatalf("%v: %q, %v", bpm, got, err)
		}
		for key, want := range exact {
			if got == english.phrases["pace."+key] && math.Abs(bpm/want-1) > 0.101 {
				t.Errorf("%v beats a minute are called %q", bpm, got)
			}
		}
	}
	for _, bpm := range []float64{0, -3, math.NaN()} {
		if got, err := english.Pace(bpm); got != "" || err != nil {
			t.Errorf("%v: %q, %v", bpm, got, err)
		}
	}
}

func TestAnd(t *testing.T) {
	for _, c := range []struct {
		code  string
		names []string
		want  string
	}{
		{"en", nil, ""}, {"en", []string{"Mira"}, "Mira"}, {"en", []string{"Mira", "Tom"}, "Mira and Tom"},
		{"en", []string{"Mira", "Tom", "Ida"}, "Mira, Tom and Ida"}, {"es", []string{"Mira", "Tom"}, "Mira y Tom"},
		{"es", []string{"Mira", "Ida"}, "Mira e Ida"},
	} {
		if got := Of(c.code).And(c.names); got != c.want {
			t.Errorf("%s: %q, want %q", c.code, got, c.want)
		}
	}
}
