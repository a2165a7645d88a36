package report

// sheetWords are the sheet's own words in one language; a test holds that none is missing and that a
// parent can read the longer ones.
type sheetWords struct {
	code     string
	title    string
	day      string // a day's minutes, %d
	minutes  string // %d
	days     [7]string
	grid     string
	later    string
	held     string
	watch    string
	like     string
	unlike   string
	coach    string
	rest     string
	free     string
	restSign string // beside the sign of the stroke
	freeSign string
	ladder   string
	rung     string // %d
	rungOne  string
	question string
	done     string
	cautions string
	page     string // %d of %d
}

func allSheetWords() []sheetWords {
	return []sheetWords{{
		code: "en", title: "this week", day: "about %d minutes a day", minutes: "%d min",
		days:  [7]string{"Sun", "Mon", "Tue", "Wed", "Thu", "Fri", "Sat"},
		grid:  "Tick a box when it was played. A dot is enough. A day with no tick is just a day off.",
		later: "not yet", held: "How it opens:", watch: "Watch for:", like: "Like this:", unlike: "Not like this:", coach: "The grown-up looks:",
		rest: "After the note the finger rests on the next string.", free: "After the note the finger stays free and touches no other string.",
		restSign: "rest stroke: the finger lands on the next string", freeSign: "free stroke: the finger swings free",
		ladder: "Beats a minute:", rung: "When %d times in a row went well, tick the box and go on to the next. When two in a row did not, go back one.",
		rungOne:  "When it went well, tick the box and go on to the next. When two in a row did not, go back one.",
		question: "A question:", done: "Done when:",
		cautions: "Stop at once when something hurts, and tell your teacher. Take a short break now and then. Shake out your hands. Keep the sound low, most of all with headphones. This sheet is not medical advice. If pain stays or comes back, ask a doctor.",
		page:     "%d of %d",
	}, {
		code: "es", title: "esta semana", day: "unos %d minutos al día", minutes: "%d min",
		days:  [7]string{"dom", "lun", "mar", "mié", "jue", "vie", "sáb"},
		grid:  "Marca la casilla cuando lo hayas tocado. Basta un punto. Un día sin marca es un día libre, y no pasa nada.",
		later: "todavía no", held: "Cómo se abre:", watch: "Fíjate en:", like: "Así:", unlike: "Así no:", coach: "La persona adulta mira:",
		rest: "Después de la nota, el dedo descansa en la cuerda de al lado.", free: "Después de la nota, el dedo queda libre y no toca otra cuerda.",
		restSign: "apoyando: el dedo descansa en la cuerda de al lado", freeSign: "tirando: el dedo pasa libre",
		ladder: "Pulsos por minuto:", rung: "Cuando salga bien %d veces seguidas, marca la casilla y pasa a la siguiente. Si dos veces seguidas no sale, baja una.",
		rungOne:  "Cuando salga bien, marca la casilla y pasa a la siguiente. Si dos veces seguidas no sale, baja una.",
		question: "Una pregunta:", done: "Está listo cuando:",
		cautions: "Si algo duele, para y dilo en clase. De vez en cuando, haz una pausa corta. Suelta las manos. El sonido, bajo. Más aún con auriculares. Esta hoja no da consejo médico. Si el dolor sigue o vuelve, pide cita con un médico.",
		page:     "%d de %d",
	}}
}

// sheetWordsOf gives the words of a language, or English.
func sheetWordsOf(code string) sheetWords {
	all := allSheetWords()
	for _, w := range all {
		if w.code == code {
			return w
		}
	}
	return all[0]
}
