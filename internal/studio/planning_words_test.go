package studio

import (
	"testing"

	"antiphon/internal/plan"
	"antiphon/internal/plan/calendar"
)

// TestLinesAreSaid: a line of a plan in the family's language, with one day, some and all.
func TestLinesAreSaid(t *testing.T) {
	monday, err := calendar.Read("2026-11-30")
	if err != nil {
		t.Fatal(err)
	}
	week := make([]calendar.Day, 7)
	for i := range week {
		week[i] = monday + calendar.Day(i)
	}
	some := []calendar.Day{week[0], week[2], week[4]}
	for _, c := range []struct {
		language string
		line     plan.Line
		want     string
	}{
		{"en", plan.Line{Role: plan.Keep, Days: some}, "Once through on Monday, Wednesday and Friday."},
		{"es", plan.Line{Role: plan.Keep, Days: some}, "Una vez entera, el lunes, el miércoles y el viernes."},
		{"en", plan.Line{Role: plan.Keep, Joy: true, Days: week}, "For joy, every day."},
		{"es", plan.Line{Role: plan.Serve, Joy: true, Days: week}, "Por gusto, todos los días."},
		{"en", plan.Line{Role: plan.Mend, Days: week[1:3]}, "Only these bars, slowly at first, on Tuesday and Wednesday."},
		{"es", plan.Line{Role: plan.Mend, Days: week[1:3]}, "Solo estos compases, al principio despacio, el martes y el miércoles."},
		{"en", plan.Line{Role: plan.Introduce, Days: week[6:]}, "New: the first line only, slowly, on Sunday."},
		{"es", plan.Line{Role: plan.Introduce, Days: week[6:]}, "Nueva: solo la primera línea, despacio, el domingo."},
		{"en", plan.Line{Role: plan.BringBack, Days: week[:2]}, "Bring it back: slowly at first, on Monday and Tuesday."},
		{"es", plan.Line{Role: plan.BringBack, Days: week[:2]}, "Volver a ella: al principio despacio, el lunes y el martes."},
		{"en", plan.Line{Role: plan.Listen, Days: week}, "Only listen, every day."},
		{"es", plan.Line{Role: plan.Listen, Days: week}, "Solo escuchar, todos los días."},
		{"en", plan.Line{Days: week}, "Every day."},
		{"es", plan.Line{Days: some}, "El lunes, el miércoles y el viernes."},
		{"fr", plan.Line{Days: some}, "On Monday, Wednesday and Friday."},
	} {
		if got := linesIn(c.language).say(c.line); got != c.want {
			t.Errorf("%s: %q, want %q", c.language, got, c.want)
		}
	}
}
