// Package tongue holds what the pages of families say, in every language that can be chosen.
//
// Pages name a phrase by its key and get the words; a key that is missing in one language fails a test,
// and fails the page rather than showing a key to a parent. What people wrote themselves is never
// translated.
package tongue

import (
	"fmt"
	"maps"
	"math"
	"slices"
	"strings"
	"time"
)

// Tongue is one language. Pages embed it in what their templates see, so a template says {{$.Say "week.title"}}.
type Tongue struct {
	Code string // of the language, as in the lang attribute: "en"
	Name string // as its speakers write it: "English"

	phrases map[string]string
	months  [12]string
	days    [7]string // Sunday first, as time.Weekday counts
	date    func(t *Tongue, d time.Time, year bool) string
	and     func(next string) string // the word before the last of several names
	told    map[string]string        // refusals of the studio, by what it says in English; see Retell
}

// English is what is spoken where nobody chose another language.
const English = "en"

// all joins catalogues; each belongs to one part of the families' pages. A test fails where two hold one key.
func all(catalogues ...map[string]string) map[string]string {
	joined := map[string]string{}
	for _, c := range catalogues {
		maps.Copy(joined, c)
	}
	return joined
}

// All languages, English first.
func All() []*Tongue { return []*Tongue{&english, &spanish} }

// Of gives the language with this code, or English.
func Of(code string) *Tongue {
	for _, t := range All() {
		if t.Code == code {
			return t
		}
	}
	return &english
}

// Say gives the phrase with this key, with its blanks filled.
func (t *Tongue) Say(key string, blanks ...any) (string, error) {
	p, ok := t.phrases[key]
	if !ok {
		return "", fmt.Errorf("tongue: no phrase %q in %s", key, t.Name)
	}
	if len(blanks) == 0 {
		return p, nil
	}
	return fmt.Sprintf(p, blanks...), nil
}

// Has says whether there is such a phrase.
func (t *Tongue) Has(key string) bool {
	_, ok := t.phrases[key]
	return ok
}

// Count says how many: "1 recording", "3 recordings". Its phrases are key.one and key.more.
func (t *Tongue) Count(key string, n int) (string, error) {
	if n == 1 {
		return t.Say(key+".one", n)
	}
	return t.Say(key+".more", n)
}

// And makes one list of several names: "Mira, Tom and Ida".
func (t *Tongue) And(names []string) string {
	if len(names) < 2 {
		return strings.Join(names, "")
	}
	last := len(names) - 1
	return strings.Join(names[:last], ", ") + " " + t.and(names[last]) + " " + names[last]
}

// Day is a date as it is said: today, yesterday, Tuesday, 3 November, 3 November 2025.
func (t *Tongue) Day(d, now time.Time) (string, error) {
	d = d.In(now.Location())
	switch days := daysBetween(d, now); {
	case days == 0:
		return t.Say("today")
	case days == 1:
		return t.Say("yesterday")
	case days == -1:
		return t.Say("tomorrow")
	case days > -7 && days < 7:
		return t.days[d.Weekday()], nil
	}
	return t.Date(d, now), nil
}

// Date is a date that lasts: 3 November, 3 November 2025.
func (t *Tongue) Date(d, now time.Time) string {
	d = d.In(now.Location())
	return t.date(t, d, d.Year() != now.Year())
}

func daysBetween(a, b time.Time) int {
	midnight := func(t time.Time) time.Time {
		y, m, d := t.Date()
		return time.Date(y, m, d, 0, 0, 0, 0, time.UTC)
	}
	return int(midnight(b).Sub(midnight(a)).Hours() / 24)
}

// Pace says a tempo in beats a minute as somebody without a metronome would: "about one beat a second".
// It is "" where there is no tempo.
func (t *Tongue) Pace(bpm float64) (string, error) {
	if math.IsNaN(bpm) || bpm <= 0 {
		return "", nil
	}
	i := slices.IndexFunc(paces, func(p pace) bool { return bpm < p.below })
	if i < 0 {
		return t.Say("pace.faster")
	}
	return t.Say("pace." + paces[i].key)
}

// pace is a stretch of tempos that is said alike.
type pace struct {
	below float64 // beats a minute
	key   string
}

// Around 30, 40, 60, 90 and 120 a simple count fits within a tenth: a beat in two seconds, two in
// three, one in one, three in two, two in one. Between them the nearest one is named.
var paces = []pace{
	{27, "slower"}, {33, "one-in-two"}, {37, "below-two-in-three"}, {44, "two-in-three"}, {54, "below-one"}, {66, "one"}, {81, "above-one"},
	{99, "three-in-two"}, {108, "below-two"}, {132, "two"}, {168, "above-two"}, {math.Inf(1), "faster"},
}

// All is every language, for a template that offers them.
func (t *Tongue) All() []*Tongue { return All() }
