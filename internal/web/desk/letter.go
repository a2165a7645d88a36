package desk

import "antiphon/internal/web/tongue"

// letterBlanks are what is filled into the words that could go out with a link.
type letterBlanks struct {
	link, family, children, until, teacher string
	many                                   bool // children
}

// letterIn gives what could be written with a link in a language, or in English. The teacher changes it as
// she likes: it goes out from her own mail or messages, never from here.
func letterIn(in *tongue.Tongue) func(letterBlanks) string {
	if in.Code == "es" {
		return letterInSpanish
	}
	return letterInEnglish
}

func letterInEnglish(b letterBlanks) string {
	return "Dear family " + b.family + ",\n\n" +
		"This link connects the phone that you practise with to my studio. " + b.children + " will find there what to play this week, and you send me your recordings from there.\n\n" +
		b.link + "\n\n" +
		"Open it on that phone, read what it says and press the button. It works once, until " + b.until + ". Please do not pass it on.\n\n" +
		b.teacher
}

func letterInSpanish(b letterBlanks) string {
	finds := " encontrará"
	if b.many {
		finds = " encontrarán"
	}
	return "Querida familia " + b.family + ":\n\n" +
		"Este enlace conecta con mi estudio el teléfono que usáis para practicar. Allí " + b.children + finds + " qué tocar esta semana, y desde allí me enviáis las grabaciones.\n\n" +
		b.link + "\n\n" +
		"Abridlo en ese teléfono, leed lo que dice y pulsad el botón. Funciona una sola vez, hasta el " + b.until + ". Por favor, no se lo paséis a nadie.\n\n" +
		b.teacher
}
