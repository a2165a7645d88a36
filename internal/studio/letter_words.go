package studio

import (
	"fmt"
	"strings"
	"time"
)

// letterWords is what a drafted letter says in one language; %[n]s are blanks. They are read by parents, so
// the sentences are short.
type letterWords struct {
	months []string
	of     string // between day, month and year

	hello, helloText   string // child, from, to
	worked, workedText string // child, lessons
	askedFact          string // work, lessons
	heard, heardText   string
	tempoFact          string // work, from tempo, to tempo
	oneTempoFact       string // work, tempo
	tempoChart         string // work
	home, homeText     string // days, weeks
	homeFact           string // days
	homeChart          string
	said, saidText     string
	next, nextText     string
	heldFact           string // what, what opens it
	quiet, quietText   string // child, from, to
	one, many          map[string]string
}

var spokenLetters = map[string]letterWords{
	"en": {
		of: " ", months: strings.Fields("January February March April May June July August September October November December"),
		hello: "Dear family", helloText: "This letter is about %[1]s and the guitar. It is about the time from %[2]s to %[3]s. All of it comes from what we wrote down then.",
		worked: "What %[1]s worked on", workedText: "In this time we had %[1]s. This is what we worked on.",
		askedFact: "%[1]s: part of %[2]s",
		heard:     "What could be heard", heardText: "The numbers are beats in a minute: how fast it was played. Faster is not always better. A slow and calm piece can be just right.",
		tempoFact: "%[1]s: %[2]s beats a minute at first, %[3]s at the end", oneTempoFact: "%[1]s: %[2]s beats a minute", tempoChart: "%[1]s, beats a minute",
		home: "Practice at home", homeText: "On %[1]s you tapped that the guitar was out. Thank you for that.",
		homeFact: "The week from this day: %[1]s", homeChart: "Days of practice in each week",
		said: "What I wrote", saidText: "Some of the words that went with the recordings:",
		next: "What comes next", nextText: "These things stand in the newest lesson:", heldFact: "%[1]s Not yet: %[2]s",
		quiet: "A quiet time", quietText: "From %[2]s to %[3]s nothing was sent and nothing was written down for %[1]s. That happens. Five minutes with the guitar are a good way to begin again, and I am glad to help.",
		one: map[string]string{"lesson": "1 lesson", "day": "1 day"}, many: map[string]string{"lesson": "%d lessons", "day": "%d days"},
	},
	"es": {
		of: " de ", months: strings.Fields("enero febrero marzo abril mayo junio julio agosto septiembre octubre noviembre diciembre"),
		hello: "Querida familia", helloText: "Esta carta trata de las clases de guitarra de %[1]s, del %[2]s al %[3]s. Todo sale de lo que se anotó en ese tiempo.",
		worked: "Lo que ha trabajado %[1]s", workedText: "En este tiempo hubo %[1]s. Esto es lo que hicimos.",
		askedFact: "%[1]s: en %[2]s",
		heard:     "Lo que se ha oído", heardText: "Los números son pulsos por minuto: dicen lo rápido que se tocó. Más rápido no siempre es mejor. Una pieza lenta y tranquila puede estar muy bien.",
		tempoFact: "%[1]s: %[2]s pulsos por minuto al principio, %[3]s al final", oneTempoFact: "%[1]s: %[2]s pulsos por minuto", tempoChart: "%[1]s, pulsos por minuto",
		home: "La práctica en casa", homeText: "En %[1]s tocasteis en la página que la guitarra salió de su funda. Gracias por eso.",
		homeFact: "La semana desde este día: %[1]s", homeChart: "Días de práctica de cada semana",
		said: "Lo que escribí", saidText: "Algunas palabras que fueron con las grabaciones:",
		next: "Lo que viene ahora", nextText: "Esto está en la última clase:", heldFact: "%[1]s Todavía no: %[2]s",
		quiet: "Un tiempo tranquilo", quietText: "Del %[2]s al %[3]s no se envió ni se anotó nada de %[1]s. A veces pasa. Cinco minutos con la guitarra son un buen comienzo, y yo ayudo con gusto.",
		one: map[string]string{"lesson": "1 clase", "day": "1 día"}, many: map[string]string{"lesson": "%d clases", "day": "%d días"},
	},
}

// lettersIn a language; English in others.
func lettersIn(language string) letterWords {
	if w, ok := spokenLetters[language]; ok {
		return w
	}
	return spokenLetters[DefaultLanguage]
}

// say fills blanks.
func say(text string, blanks ...string) string {
	for i, b := range blanks {
		text = strings.ReplaceAll(text, fmt.Sprintf("%%[%d]s", i+1), b)
	}
	return text
}

// count is "1 lesson", "2 lessons".
func (w letterWords) count(n int, what string) string {
	if n == 1 {
		return w.one[what]
	}
	return fmt.Sprintf(w.many[what], n)
}

// day of a date such as 2026-11-25, in words.
func (w letterWords) day(date string) string {
	t, err := time.Parse(time.DateOnly, date)
	if err != nil {
		return date
	}
	return fmt.Sprintf("%d%s%s%s%d", t.Day(), w.of, w.months[t.Month()-1], w.of, t.Year())
}
