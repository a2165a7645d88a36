package calendar

import (
	"encoding/json"
	"testing"
	"time"
)

func day(t *testing.T, s string) Day {
	t.Helper()
	d, err := Read(s)
	if err != nil {
		t.Fatal(err)
	}
	return d
}

func TestDates(t *testing.T) {
	d := day(t, "2026-11-28")
	if d.Weekday() != time.Saturday || d.String() != "2026-11-28" || d.Words() != "Saturday 28 November 2026" {
		t.Errorf("%s is a %s, %s", d, d.Weekday(), d.Words()) // a calendar on the wall
	}
	if got := Of(time.Date(2026, 11, 28, 23, 59, 0, 0, time.FixedZone("", -8*3600))); got != d {
		t.Errorf("late in the evening far west it is %s", got)
	}
	for _, bad := range []string{"2026-02-30", "28.11.2026", "1066-10-14", "x"} {
		if _, err := Read(bad); err == nil {
			t.Errorf("%q is read as a date", bad)
		}
	}
	var back struct{ D, E Day }
	b, err := json.Marshal(struct{ D, E Day }{D: d})
	if err == nil {
		err = json.Unmarshal(b, &back)
	}
	if err != nil || back.D != d || back.E != 0 {
		t.Errorf("%s comes back as %v, %v", b, back, err)
	}
}

// TestHolidays: domain reference 3.5, "5 holiday weeks before week 16 → 21 calendar weeks".
func TestHolidays(t *testing.T) {
	from := day(t, "2026-01-05")
	f := Free{{From: from + 14, To: from + 14 + 3*7 - 1, Name: "winter"}, {From: from + 70, To: from + 70 + 13}}
	got, ok := f.After(from, 16)
	if !ok || got != from+21*7 {
		t.Errorf("16 teaching weeks past 5 holiday weeks end after %d calendar weeks", (got-from)/7)
	}
	if n := f.TeachingWeeks(from, got); n != 16 {
		t.Errorf("and back: %d", n)
	}
	if f.Teaching(from+14) || !f.Teaching(from+7) {
		t.Error("a holiday week is a teaching week, or the other way round")
	}
	if _, ok := (Free{{From: 1, To: 200000}}).After(from, 1); ok {
		t.Error("a teaching week is found where there is none")
	}
}
