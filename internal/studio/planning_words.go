package studio

import (
	"fmt"
	"strings"
	"unicode"
	"unicode/utf8"

	"antiphon/internal/plan"
	"antiphon/internal/plan/calendar"
)

// lineWords are what a line of a plan asks a family for; %s is the days. The teacher writes over them.
type lineWords struct {
	keep, joy, back, fresh, listen, other string
	bars                                  string // of a passage by itself, which names its bars beside it
	mend                                  string // the same with its days

	days  [7]string // Sunday first; "on Sunday"
	and   string    // between the last two days
	again string    // what a list of days says once, at its first: "on "; "" nothing
	daily string
}

var spokenLines = map[string]lineWords{
	"en": {keep: "Once through %s.", joy: "For joy, %s.", back: "Bring it back: slowly at first, %s.", fresh: "New: the first line only, slowly, %s.",
		listen: "Only listen, %s.", other: "%s.", bars: "Only these bars, slowly at first.", mend: "Only these bars, slowly at first, %s.",
		days: [7]string{"on Sunday", "on Monday", "on Tuesday", "on Wednesday", "on Thursday", "on Friday", "on Saturday"}, and: " and ", again: "on ", daily: "every day"},
	"es": {keep: "Una vez entera, %s.", joy: "Por gusto, %s.", back: "Volver a ella: al principio despacio, %s.", fresh: "Nueva: solo la primera línea, despacio, %s.",
		listen: "Solo escuchar, %s.", other: "%s.", bars: "Solo estos compases, al principio despacio.", mend: "Solo estos compases, al principio despacio, %s.",
		days: [7]string{"el domingo", "el lunes", "el martes", "el miércoles", "el jueves", "el viernes", "el sábado"}, and: " y ", daily: "todos los días"},
}

// linesIn a language; English in others.
func linesIn(language string) lineWords {
	if w, ok := spokenLines[language]; ok {
		return w
	}
	return spokenLines[DefaultLanguage]
}

// say is a line in words: "Once through on Monday and Friday."
func (w lineWords) say(l plan.Line) string {
	text := w.other
	switch l.Role {
	case plan.Keep, plan.Serve:
		if text = w.keep; l.Joy {
			text = w.joy
		}
	case plan.BringBack:
		text = w.back
	case plan.Mend:
		text = w.mend
	case plan.Introduce:
		text = w.fresh
	case plan.Listen:
		text = w.listen
	}
	said := fmt.Sprintf(text, w.when(l.Days))
	first, n := utf8.DecodeRuneInString(said)
	return string(unicode.ToUpper(first)) + said[n:]
}

// when are "on Monday, Wednesday and Friday".
func (w lineWords) when(days []calendar.Day) string {
	if len(days) == 7 {
		return w.daily
	}
	var out strings.Builder
	for i, x := range days {
		name := w.days[x.Weekday()]
		switch {
		case i == 0:
		case i == len(days)-1:
			out.WriteString(w.and)
		default:
			out.WriteString(", ")
		}
		if i > 0 {
			name = strings.TrimPrefix(name, w.again)
		}
		out.WriteString(name)
	}
	return out.String()
}
