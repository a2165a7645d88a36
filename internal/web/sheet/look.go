package sheet

import (
	"net/url"
	"slices"
	"strconv"

	"antiphon/internal/engrave"
	"antiphon/internal/music"
	"antiphon/internal/studio"
	"antiphon/internal/web/tongue"
)

// Widths are the width classes in pixels: music is set for one of them and scaled a little to fit.
var widths = []int{360, 560, 900, 1200}

// Look is how music is to be drawn. The zero value is the whole work, 900 pixels wide, with its title.
// As a query: width, from, until, names (letters, do-re-mi), tab (shown, hidden), strings (all, none),
// under, title=no, prefix, in (a language).
type Look struct {
	Width       int    // one of 360, 560, 900 and 1200; 0 means 900
	From, Until string // first and last bar of a passage, by the number that is printed; "" none
	Names       engrave.Names
	Tab         engrave.Tab
	Strings     engrave.Strings
	Under       int // room under each system, in staff spaces, at most 20
	NoTitle     bool
	Prefix      string // of ids, where several sheets stand in one page: small letters, digits and hyphens
	In          string // the language of the legend; "" English
	Overlay     []engrave.Overlay
}

// LookOf reads a query.
func LookOf(q url.Values) (Look, error) {
	l := Look{From: q.Get("from"), Until: q.Get("until"), NoTitle: q.Get("title") == "no", Prefix: q.Get("prefix"), In: q.Get("in")}
	var err error
	for _, n := range []struct {
		name string
		into *int
		most int
	}{{"width", &l.Width, 1200}, {"under", &l.Under, 20}} {
		v := q.Get(n.name)
		if v == "" {
			continue
		}
		if *n.into, err = strconv.Atoi(v); err != nil || *n.into < 0 || *n.into > n.most {
			return l, nonsense(n.name)
		}
	}
	if l.Width != 0 && !slices.Contains(widths, l.Width) {
		return l, nonsense("width")
	}
	var ok [3]bool
	l.Names, ok[0] = oneOf(q.Get("names"), map[string]engrave.Names{"": engrave.NoNames, "letters": engrave.Letters, "do-re-mi": engrave.DoReMi})
	l.Tab, ok[1] = oneOf(q.Get("tab"), map[string]engrave.Tab{"": engrave.TabAsWritten, "shown": engrave.TabShown, "hidden": engrave.TabHidden})
	l.Strings, ok[2] = oneOf(q.Get("strings"), map[string]engrave.Strings{"": engrave.StringsAuto, "all": engrave.StringsAll, "none": engrave.StringsNone})
	for i, name := range []string{"names", "tab", "strings"} {
		if !ok[i] {
			return l, nonsense(name)
		}
	}
	if l.In != "" && tongue.Of(l.In).Code != l.In {
		return l, nonsense("in")
	}
	for _, r := range l.Prefix {
		if len(l.Prefix) > 12 || !(r == '-' || r >= '0' && r <= '9' || r >= 'a' && r <= 'z') {
			return l, nonsense("prefix")
		}
	}
	return l, nil
}

func oneOf[T any](v string, of map[string]T) (T, bool) {
	t, ok := of[v]
	return t, ok
}

func nonsense(name string) error {
	return &studio.Problem{Kind: studio.Invalid, Say: "The music cannot be drawn as the page asked (" + name + "). Load the page again."}
}

// options are the engraver's, with the passage looked up in the score.
func (l Look) options(s *music.Score) (engrave.Options, error) {
	o := engrave.Options{WidthPx: float64(l.Width), Names: l.Names, Tab: l.Tab, Strings: l.Strings, Under: float64(l.Under),
		NoTitle: l.NoTitle, Prefix: l.Prefix, Overlay: l.Overlay}
	if l.Width == 0 {
		o.WidthPx = 900
	}
	var err error
	if in := tongue.Of(l.In); in.Code != tongue.English {
		o.Legend = map[music.Stroke]string{}
		for stroke, key := range map[music.Stroke]string{music.RestStroke: "sheet.rest-stroke", music.FreeStroke: "sheet.free-stroke"} {
			if o.Legend[stroke], err = in.Say(key); err != nil {
				return o, err
			}
		}
	}
	o.From, o.Until, err = Passage(s, l.From, l.Until)
	return o, err
}

// Passage finds a passage by the numbers of its first and last bar: from bar from, by index, up to and
// without bar until. "" is the beginning or the end. The same number may stand at several bars, as at
// the second half of a divided one: the passage takes them all.
func Passage(s *music.Score, first, last string) (from, until int, err error) {
	until = len(s.Bars)
	if first != "" {
		if from = slices.IndexFunc(s.Bars, func(b music.Bar) bool { return b.Number == first }); from < 0 {
			return 0, 0, &studio.Problem{Kind: studio.Invalid, Say: "The score has no bar " + first + "."}
		}
	}
	if last != "" {
		i := len(s.Bars) - 1
		for i >= 0 && s.Bars[i].Number != last {
			i--
		}
		if i < 0 {
			return 0, 0, &studio.Problem{Kind: studio.Invalid, Say: "The score has no bar " + last + "."}
		}
		until = i + 1
	}
	if from >= until {
		return 0, 0, &studio.Problem{Kind: studio.Invalid, Say: "The passage ends before it begins: bars " + first + " to " + last + "."}
	}
	return from, until, nil
}
