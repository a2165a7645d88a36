package tongue

// spanishNotices are what messages, letters and papers to families say.
var spanishNotices = map[string]string{
	"letter.list":  "Cartas de tu profe",
	"letter.title": "Cómo le va a %s",
	"letter.foot":  "Esta carta dice lo que se oyó en las grabaciones y lo que se marcó en casa. No pone notas. Una semana vacía puede ser una semana que nadie marcó.",
	"letter.a4":    "Para imprimir (A4)", "letter.us": "Para imprimir (carta)",
}
