package tongue

import (
	"fmt"
	"strings"
	"time"
)

var spanish = Tongue{
	Code: "es", Name: "Español", told: spanishTold,
	days: [7]string{"domingo", "lunes", "martes", "miércoles", "jueves", "viernes", "sábado"},
	months: [12]string{"enero", "febrero", "marzo", "abril", "mayo", "junio", "julio", "agosto", "septiembre", "octubre",
		"noviembre", "diciembre"},
	date: func(t *Tongue, d time.Time, year bool) string {
		s := fmt.Sprintf("%d de %s", d.Day(), t.months[d.Month()-1])
		if year {
			s += fmt.Sprintf(" de %d", d.Year())
		}
		return s
	},
	and: func(next string) string {
		next = strings.ToLower(next)
		if strings.HasPrefix(next, "i") || strings.HasPrefix(next, "hi") && !strings.HasPrefix(next, "hie") {
			return "e" // before the sound of i
		}
		return "y"
	},
	phrases: all(spanishWeek, spanishPractice, spanishRecord, spanishNotices, map[string]string{
		"today": "hoy", "yesterday": "ayer", "tomorrow": "mañana",

		"nav.label": "Páginas de la familia", "nav.week": "Esta semana", "nav.send": "Enviar una grabación", "nav.devices": "Nuestros teléfonos", "nav.data": "Nuestros datos",
		"back.week": "Volver a esta semana",

		"pace.slower":             "más lento que un pulso cada dos segundos",
		"pace.one-in-two":         "más o menos un pulso cada dos segundos",
		"pace.below-two-in-three": "un poco más lento que dos pulsos cada tres segundos",
		"pace.two-in-three":       "más o menos dos pulsos cada tres segundos",
		"pace.below-one":          "un poco más lento que un pulso por segundo",
		"pace.one":                "más o menos un pulso por segundo",
		"pace.above-one":          "un poco más rápido que un pulso por segundo",
		"pace.three-in-two":       "más o menos tres pulsos cada dos segundos",
		"pace.below-two":          "un poco más lento que dos pulsos por segundo",
		"pace.two":                "más o menos dos pulsos por segundo",
		"pace.above-two":          "un poco más rápido que dos pulsos por segundo",
		"pace.faster":             "unos tres pulsos por segundo o más",

		"join.title.short": "Bienvenidos", "join.title": "Os damos la bienvenida a %s",
		"join.lead":  "%[1]s da clase a %[2]s con grabaciones. Desde casa enviáis una grabación corta. Quien enseña la escucha y responde con lo que toca después.",
		"join.asked": "Lo que os pedimos",
		"join.what":  "Qué se guarda", "join.days": "Cuánto tiempo", "join.who": "Quién lo ve",
		"join.days.say":     "%d días después de llegar. Luego se borra solo.",
		"join.rights":       "Podéis ver todo lo que se guarda, llevároslo o borrarlo. En cualquier momento, con este teléfono.",
		"join.local":        "Las normas sobre grabaciones de niños no son iguales en todas partes. Seguid las del lugar donde vivís. Si tenéis dudas, preguntad allí.",
		"join.modes":        "Qué enviaréis de %s",
		"join.modes.later":  "Se puede cambiar más tarde. Para una clase siempre basta el sonido.",
		"mode.sound":        "Solo sonido.",
		"mode.hands":        "Sonido y manos.",
		"mode.video":        "Vídeo.",
		"mode.say.sound":    "La cámara queda apagada. Si llega una imagen, no se acepta.",
		"mode.say.hands":    "Grabáis las manos y la guitarra, nunca la cara.",
		"mode.say.video":    "Grabáis a la niña o al niño tocando. Así se ve cómo se sienta y cómo coge la guitarra.",
		"join.name":         "Tu nombre",
		"join.name.hint":    "La persona adulta que ayuda en casa.",
		"join.name.missing": "Por favor, escribe tu nombre.",
		"join.device":       "Cómo llamar a este teléfono", "join.device.hint": "Para encontrarlo en la lista si un día se pierde.",
		"join.agree":         "Soy responsable de la niña o del niño y estoy de acuerdo con lo que está escrito aquí.",
		"join.agree.missing": "Sin tu sí no se guarda nada. Marca la casilla si estás de acuerdo. Hasta entonces el enlace sigue abierto.",
		"join.button":        "Conectar este teléfono",
		"join.once":          "El enlace sirve una sola vez, hasta el %s. Otro teléfono necesita su propio enlace: pedidlo en el estudio.",
		"join.browser":       "¿Ves esta página dentro de un chat? Ábrela antes en el navegador del teléfono. Búscalo en el menú del chat.",
		"join.inside":        "Este teléfono ya está conectado a una familia. Si sigues, cambia a esta.",
		"join.over.title":    "Este enlace ya no sirve",
		"join.over.say":      "Se usó antes o se acabó su tiempo. No se ha perdido nada.",
		"join.over.again":    "¿Lo usaste en este teléfono? Entonces ya estás dentro. Ve a:",
		"join.over.new":      "Si no, escribe a quien da las clases y pide otro enlace. Es cosa de un minuto.",
		"device.phone":       "Teléfono", "device.tablet": "Tableta", "device.computer": "Ordenador", "device.none": "Sin nombre",

		"devices.title": "Nuestros teléfonos", "devices.lead": "Estos pueden abrir vuestras páginas. Si uno se pierde, ciérralo aquí. Queda fuera al momento.",
		"devices.this": "(este)", "devices.bound": "%s, desde: %s.", "devices.seen": "Último uso: %s.",
		"devices.out": "Cerrar", "devices.out.this": "Cerrar este",
		"devices.rename": "Cambiar nombre", "devices.name": "Nombre nuevo", "devices.keep": "Guardar el nombre",
		"devices.more": "Para añadir un teléfono, pedid un enlace en el estudio.",
		"left.title":   "Este teléfono está fuera", "left.say": "Ya no abre vuestras páginas. No se ha borrado nada.",
		"left.back": "Para volver, pide un enlace nuevo en el estudio.",

		"week.title": "Esta semana", "week.children": "Niñas y niños", "week.from": "De tu clase: %s",
		"week.new":    "Este teléfono está conectado. Aquí encontraréis vuestra semana. Guarda esta página en la pantalla de inicio.",
		"week.none":   "Todavía no ha llegado ninguna lección. Cuando llegue, estará aquí.",
		"week.nobody": "Todavía no hay nadie en la lista. Por favor, dilo en el estudio.",
		"week.volume": "Mantened el sonido bajo, sobre todo con auriculares. Si podéis hablar por encima sin esfuerzo, está bien.",

		"item.untitled": "Algo para tocar",
		"item.all":      "Entera.", "item.bar": "Solo el compás %s.",
		"item.bars":  "Del compás %s al %s.",
		"item.from":  "Desde el compás %s hasta el final.",
		"item.up-to": "Desde el principio hasta el compás %s.",
		"week.bars":  "Un compás es una caja entre dos líneas verticales. La partitura muestra solo los compases que hacen falta.",
		"item.hear":  "Suena así:", "item.send": "Enviar una grabación", "item.hurt": "Me ha dolido",
		"goal.tempo": "A qué velocidad", "goal.bpm": "(%s pulsos por minuto)", "goal.dynamics": "Fuerte y suave", "goal.tone": "El sonido",
		"goal.stroke": "La mano que pulsa", "goal.fingering": "Qué dedos", "goal.done": "Está listo cuando",
		"stroke.rest": "El dedo descansa en la cuerda de al lado.", "stroke.free": "El dedo pasa libre y no toca otra cuerda.",

		"sent.title": "Lo que habéis enviado", "sent.none": "Todavía nada.", "sent.untitled": "Una grabación",
		"sent.hurt":        "Escribisteis que algo dolía",
		"sent.arriving":    "Está en camino",
		"sent.waiting":     "Ha llegado y está a salvo",
		"sent.being-heard": "Ha llegado y está a salvo",
		"sent.ready":       "La escucharán en el estudio",
		"sent.needs-look":  "La mirarán en el estudio",
		"sent.answered":    "Hay respuesta",
		"sent.promise":     "Respuesta prometida: %s.",
		"hint.too-quiet":   "Se oye muy bajo. La próxima vez, poned el teléfono un poco más cerca.",
		"hint.clipped":     "Suena demasiado fuerte para el teléfono. La próxima vez, ponedlo un poco más lejos.",
		"hint.cut-off":     "Se corta a la mitad. La próxima vez, dejad que termine la última nota.",
		"hint.noisy":       "Hay mucho ruido alrededor. Ayuda un cuarto tranquilo.",

		"send.title": "Enviar una grabación", "send.for": "Una grabación de %s", "send.who": "¿Quién toca?",
		"send.what": "¿Qué es?", "send.other": "Otra cosa", "send.how": "Grabar",
		"send.mode.sound":   "Para %s elegisteis solo sonido. La cámara queda apagada.",
		"send.mode.hands":   "Para %s elegisteis sonido y manos. La cara queda fuera de la imagen.",
		"send.mode.video":   "Para %s elegisteis vídeo. Solo el sonido también vale.",
		"tip.hands":         "Poned el teléfono bajo y cerca. La imagen va del hombro a la rodilla: las dos manos y la guitarra. Primero mirad, luego grabad.",
		"tip.hands.picture": "Un dibujo: el marco de la imagen empieza bajo la barbilla. La cabeza queda fuera, las dos manos y la guitarra quedan dentro.",
		"tip.video":         "Poned el teléfono de modo que se vean las dos manos y toda la guitarra.",
		"tip.place":         "Dejad el teléfono apoyado, más o menos a un brazo de la guitarra. No lo tengáis en la mano.",
		"tip.start":         "Esperad dos segundos antes de la primera nota y después de la última. Parar y volver a empezar está bien: basta con un intento.",
		"send.film":         "Grabar vídeo ahora", "send.record": "Grabar sonido ahora", "send.choose": "O elegir una grabación de este teléfono",
		"send.record.hint": "¿No se abre ninguna grabadora? Graba con la del teléfono, guarda la grabación y elígela aquí abajo.",
		"send.note":        "Unas palabras, si queréis", "send.note.hint": "¿Cómo ha ido? ¿Qué queréis preguntar?",
		"send.hurt": "Algo ha dolido", "send.go": "Enviar",

		"send.keep-open": "Deja esta página abierta hasta que esté todo.", "send.picked": "Elegida: %s",
		"send.nothing": "No hay ninguna grabación. Primero graba o elige una.",
		"send.broken":  "La grabación no llegó entera. Por favor, envíala otra vez.",
		"send.done":    "Ha llegado y está a salvo. La escucharán en el estudio.", "send.before": "Esta grabación ya estaba aquí. Se guarda una sola vez.",

		"pain.stop": "Si duele, hay que parar. Hoy no se toca más.",
		"pain.then": "Dejad la guitarra y que la mano descanse. Tocar con dolor puede empeorarlo.",
		"pain.ask":  "Si no se pasa, o si vuelve, preguntad a un médico o a otra persona cualificada. Desde aquí nadie puede ver qué es.",

		"hurt.title": "Me ha dolido", "hurt.where": "¿Qué ha dolido, y cuándo? Con las palabras de %s.", "hurt.where.hint": "Por ejemplo: la muñeca, a los pocos minutos.",
		"hurt.tell": "Avisar en el estudio", "hurt.none": "Hoy no hace falta enviar ninguna grabación.", "hurt.told": "Ya está avisado, y se verá lo primero.",

		"take.title": "Una grabación", "take.player": "La grabación", "take.hurt": "Dijisteis que algo dolía. Descansad, y seguid solo cuando se haya pasado.",
		"take.note": "Escribisteis:", "take.remarks": "Lo que os dicen", "take.at": "Escuchar en %s", "take.said": "El comentario, hablado",
		"take.coming": "Lo que os han grabado aquí se está preparando. Cargad otra vez esta página en un momento.",
		"take.drawn":  "Dibujado sobre la imagen: %s.", "drawn.line": "una línea", "drawn.arrow": "una flecha", "drawn.angle": "un ángulo de %d°",
		"take.answered": "Ya la han escuchado. La respuesta está en vuestra semana.",
		"take.delete":   "Borrar esta grabación", "take.delete.say": "Se guarda hasta el %s y luego se borra sola. Podéis borrarla ahora. También se borra lo que se dijo de ella.",
		"take.delete.yes": "Sí, borrar. No se puede recuperar.", "take.delete.sure": "No se ha borrado nada. Marca antes la casilla si es lo que quieres.",

		"gone.title": "Borrado", "gone.take": "La grabación y todo lo suyo está borrado.", "gone.all": "Todo lo que se guardaba de vuestra familia está borrado.",
		"gone.receipt": "Recibo", "gone.on": "Fecha", "gone.what": "Qué",
		"gone.takes.one": "%d grabación", "gone.takes.more": "%d grabaciones", "gone.files.one": "%d archivo", "gone.files.more": "%d archivos",
		"gone.students.one": "%d niña o niño", "gone.students.more": "%d niñas o niños",
		"gone.keep": "Apunta el recibo si quieres preguntar por él más tarde. No nombra a nadie.",
		"gone.bye":  "Este teléfono está fuera. Gracias por haber estado aquí.",

		"data.title": "Nuestros datos", "data.lead": "Esto es lo que se guarda de vosotros. Solo lo veis vosotros y quien da las clases.",
		"data.modes.keep": "Guardar esta elección", "data.takes": "Grabaciones", "data.sent": "Enviada", "data.what": "Qué", "data.until": "Se guarda hasta", "data.more": "Las más antiguas están en el archivo que puedes descargar abajo.",
		"data.log": "Quién miró qué de %s", "data.log.none": "Todavía nadie.",
		"log.teacher": "Quien da las clases", "log.you": "Tú", "log.family": "Alguien de la familia",
		"log.what.looked": "– grabación abierta", "log.what.played": "– grabación escuchada", "log.what.exported": "– copia de todo",
		"log.times.one": "(%d vez)", "log.times.more": "(%d veces)",
		"data.agreed": "Lo que aceptasteis", "data.agreed.on": "Fecha",
		"data.export": "Llevárselo", "data.export.say": "Recibís un archivo con todas las grabaciones, todos los comentarios y todo lo que hay escrito de vosotros.", "data.export.go": "Descargar el archivo",
		"data.erase":      "Borrarlo todo",
		"data.erase.say":  "Se va todo lo que se guarda de vuestra familia: grabaciones, comentarios, lecciones y nombres. Nadie lo puede recuperar. Este teléfono queda fuera.",
		"data.erase.open": "Quiero borrarlo todo", "data.erase.type": "Para estar seguros, escribe el nombre de tu familia: %s", "data.erase.go": "Borrarlo todo",
		"data.erase.typed": "No se ha borrado nada. El nombre que escribiste no es «%s».",

		"frame.skip": "Ir al contenido", "sheet.setting": "Preparando la música…", "sheet.words": "La música en palabras",
		"sheet.unset": "No se ha podido mostrar la música.", "sheet.unfetched": "No se ha podido traer la música. Cargad la página otra vez.",
		"sheet.rest-stroke": "apoyando", "sheet.free-stroke": "tirando",
		"sheet.music": "Música", "sheet.bar": "%s, compás %s", "sheet.bars": "%s, compases %s a %s", "sheet.from": "%s, desde el compás %s", "sheet.until": "%s, hasta el compás %s",

		"refused.start":      "Al principio",
		"refused.title.gone": "Este enlace ya no vale", "refused.title.internal": "Ha fallado algo nuestro", "refused.title.broke-off": "Se ha cortado", "refused.title.full": "El disco está lleno",
		"refused.gone":          "Este enlace ya no vale. Pedid uno nuevo.",
		"refused.internal":      "Algo ha fallado por nuestra parte. No se ha perdido nada. Probad otra vez en un momento.",
		"refused.broke-off":     "Esto se ha cortado por el camino. Mirad si se ha hecho, y si no, hacedlo otra vez.",
		"refused.full":          "El disco del estudio está lleno, así que esto no se ha guardado. Guardadlo, y enviadlo otra vez cuando haya sitio.",
		"refused.title.invalid": "Algo no encaja", "refused.title.not-found": "No está aquí", "refused.title.not-allowed": "Aquí no se puede",
		"refused.title.conflict": "Ha cambiado", "refused.title.too-large": "Demasiado grande", "refused.title.too-many": "Un momento, por favor",
		"refused.invalid":     "Algo no encaja. Míralo otra vez y prueba de nuevo.",
		"refused.not-found":   "Esto no está aquí, o no es para vosotros.",
		"refused.not-allowed": "Esto no os toca hacerlo aquí.",
		"refused.conflict":    "Esto ha cambiado mientras tanto. Ábrelo otra vez.",
		"refused.too-large":   "Es más de lo que cabe. Enviad una grabación más corta, o solo el sonido.",
		"refused.too-many":    "Han sido demasiadas cosas a la vez. Espera un poco y prueba otra vez.",

		"upload.sending":   "En camino: {sent} de {all} MB.",
		"upload.waits":     "Ahora no hay red. La grabación está a salvo en este teléfono y seguirá sola cuando vuelva la red.",
		"upload.full":      "El disco del estudio está lleno. La grabación está a salvo en este teléfono y seguirá sola cuando haya sitio. Avisad en el estudio.",
		"upload.here":      "Ha llegado y está a salvo.",
		"upload.before":    "Esta grabación ya estaba aquí. Se guarda una sola vez.",
		"upload.refused":   "No se ha aceptado: {why}",
		"upload.again":     "«{name}» se paró en el camino. Elige otra vez la misma grabación y seguirá desde ahí.",
		"upload.elsewhere": "Se está enviando desde otra página abierta.",
		"upload.stop":      "No enviarla", "upload.hurry": "Probar ahora",
		"upload.stopped": "No se ha enviado.",

		"stranger.title":   "Este teléfono no está conectado",
		"stranger.say":     "Abre en este teléfono el enlace que te enviaron del estudio. Cada enlace sirve una sola vez, para un teléfono.",
		"stranger.chat":    "¿Abriste el enlace dentro de un chat? Entonces estás dentro allí. Pide otro enlace para este navegador.",
		"stranger.new":     "¿El enlace ya se usó o se perdió? Pide uno nuevo en el estudio. No se ha perdido nada.",
		"stranger.teacher": "¿Das clase aquí?", "stranger.sign-in": "Entrar",
	}),
}
