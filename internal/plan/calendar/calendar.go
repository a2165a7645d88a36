// Package calendar counts days and teaching weeks. It knows no clock and no time of day: a day is a
// date as a teacher writes it, 2026-11-28.
package calendar

import (
	"fmt"
	"slices"
	"time"
)

// Day counts days from 1 January 1970; the zero Day means that none is known.
type Day int

const layout = "2006-01-02"

// Read reads a date such as 2026-11-28, from 1971 to 2199.
func Read(s string) (Day, error) {
	t, err := time.Parse(layout, s)
	if err != nil {
		return 0, fmt.Errorf("%q is no date; write it as 2026-11-28", s)
	}
	if y := t.Year(); y < 1971 || y > 2199 {
		return 0, fmt.Errorf("%s lies outside the years 1971 to 2199", s)
	}
	return Day(t.Unix() / 86400), nil
}

// Of is the day of a moment, in that moment's own zone; the zero time is the zero Day.
func Of(t time.Time) Day {
	if t.IsZero() {
		return 0
	}
	y, m, d := t.Date()
	return Day(time.Date(y, m, d, 0, 0, 0, 0, time.UTC).Unix() / 86400)
}

func (d Day) time() time.Time { return time.Unix(int64(d)*86400, 0).UTC() }

// String is 2026-11-28, "" for the zero Day.
func (d Day) String() string {
	if d == 0 {
		return ""
	}
	return d.time().Format(layout)
}

// Words is "Saturday 28 November 2026".
func (d Day) Words() string { return d.time().Format("Monday 2 January 2006") }

// Short is "28 Nov 2026".
func (d Day) Short() string { return d.time().Format("2 Jan 2006") }

// Weekday counts from Sunday, 0.
func (d Day) Weekday() time.Weekday { return d.time().Weekday() }

func (d Day) MarshalText() ([]byte, error) { return []byte(d.String()), nil }

func (d *Day) UnmarshalText(b []byte) error {
	if len(b) == 0 {
		*d = 0
		return nil
	}
	got, err := Read(string(b))
	if err == nil {
		*d = got
	}
	return err
}

// Span is a stretch of days, both ends included.
type Span struct {
	From Day    `json:"from"`
	To   Day    `json:"to"`
	Name string `json:"name,omitempty"`
}

// Holds says that a day lies in the span.
func (s Span) Holds(d Day) bool { return s.From <= d && d <= s.To }

// Free are holidays.
type Free []Span

// On names the holiday of a day; false on a day like any other.
func (f Free) On(d Day) (Span, bool) {
	i := slices.IndexFunc(f, func(s Span) bool { return s.Holds(d) })
	if i < 0 {
		return Span{}, false
	}
	return f[i], true
}

// Teaching says that the week of seven days that begins on a day is one in which lessons go on: more
// than half of it is no holiday.
func (f Free) Teaching(from Day) bool {
	free := 0
	for d := from; d < from+7; d++ {
		if _, is := f.On(d); is {
			free++
		}
	}
	return free < 4
}

// TeachingWeeks counts the teaching weeks of the whole weeks from one day to before another.
func (f Free) TeachingWeeks(from, to Day) int {
	n := 0
	for d := from; d+7 <= to; d += 7 {
		if f.Teaching(d) {
			n++
		}
	}
	return n
}

// After is the day on which so many teaching weeks from a day are over; holidays between do not count.
// It gives up after a hundred years without enough of them and says false.
func (f Free) After(from Day, weeks int) (Day, bool) {
	d := from
	for range 5200 {
		if weeks <= 0 {
			return d, true
		}
		if f.Teaching(d) {
			weeks--
		}
		d += 7
	}
	return d, weeks <= 0
}
