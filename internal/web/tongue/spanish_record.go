package tongue

// spanishRecord are what the recorder says.
var spanishRecord = map[string]string{
	"record.place": "Grabar", "record.title": "Grabar", "record.of": "Grabar: %s", "record.for": "Grabar a %s",
	"record.file":  "Enviar una grabación de este teléfono",
	"record.asked": "Lo que se pidió", "record.watch": "En qué fijarse", "record.coach": "Lo que se puede ver",

	"record.how":       "¿Cómo quieres grabar?",
	"record.sort.film": "Imagen y sonido", "record.sort.hands": "Manos y sonido, sin la cara", "record.sort.sound": "Solo sonido",
	"record.open": "Encender el micrófono", "record.open.film": "Encender cámara y micrófono",
	"record.safe": "No se envía nada hasta que tú lo digas. Mientras se toca, cada segundo se guarda en este teléfono.",

	"record.live": "¿Listos?", "record.picture": "Lo que ve la cámara",
	"record.guide":       "Inclina el teléfono hasta que la barbilla quede justo por encima. Dentro van las dos manos y la guitarra.",
	"record.guide.drawn": "Un dibujo sobre la imagen: la barbilla en el borde de arriba, un aro para cada mano y la guitarra.",
	"record.check.sound": "Sonido", "record.check.picture": "Imagen",
	"record.tune":         "Afinar antes",
	"record.level.silent": "Toca unas notas.", "record.level.quiet": "Muy bajo. Acerca el teléfono.",
	"record.level.good": "Bien.", "record.level.loud": "Muy alto. Aleja el teléfono.",
	"record.light.dark": "Muy oscuro. Pon una lámpara delante.", "record.light.good": "Hay luz.",

	"record.with":         "¿Con la segunda voz?",
	"record.with.ears":    "Sí, con auriculares (lo mejor)",
	"record.with.speaker": "Sí, por el altavoz",
	"record.with.none":    "No, sin ella",
	"record.with.care":    "Primero, pon los auriculares bajos. Hay que poder oír a quien te habla. Quítalos entre un intento y otro.",
	"record.with.away":    "La segunda voz aún no está en este teléfono. Este intento se graba sin ella.",
	"record.together":     "Alguien toca la segunda voz a la vez",
	"record.count":        "Contar un compás antes de empezar",

	"record.go": "Grabar", "record.stop": "Parar", "record.close": "Apagar",
	"record.longest": "A los diez minutos se para sola. Lo que se tocó se guarda.",
	"record.running": "Grabando",

	"record.tries": "Tus intentos", "record.try": "Intento {n}", "record.facts": "dura {length}, a las {time}", "record.listen": "Escuchar", "record.away": "Tirar",
	"record.away.sure": "¿Tirarlo para siempre?", "record.away.yes": "Sí, tirar", "record.away.no": "No, guardar",
	"record.send":    "Enviar este",
	"record.choose":  "Primero elige uno de los intentos.",
	"record.lost":    "Este intento ya no está aquí.",
	"record.refused": "No se ha aceptado: {why}",
	"record.way":     "Puedes cerrar esto. Se envía solo, ahora o más tarde.",

	"record.over":         "Grabado: {length}. Escucha, prueba otra vez o envíalo.",
	"record.over.longest": "Grabado: {length}. Más largo no puede ser.",
	"record.interrupted":  "La grabación se cortó a los {length}. Lo que se tocó se guarda.",
	"record.full":         "Ya no hay sitio en este teléfono. Lo que se tocó se guarda. Envíalo o haz sitio, y luego sigue.",
	"record.little":       "Queda poco sitio en este teléfono. Caben unos {minutes} minutos.",
	"record.cannot":       "Este navegador no puede grabar aquí. Graba con el teléfono y envía la grabación aquí abajo.",
	"record.denied":       "El micrófono no tiene permiso. Dáselo a esta página en el navegador y prueba otra vez.",
	"record.none":         "Aquí no hay micrófono, o no hay cámara. Elige solo sonido, o envía una grabación aquí abajo.",
	"record.busy":         "Otra cosa usa el micrófono o la cámara. Ciérrala y prueba otra vez.",
	"record.broken":       "No ha salido. Lo que se tocó se guarda. Prueba otra vez.",

	"record.cut":           "Una grabación del {day} quedó sin acabar. Lo que se tocó está guardado.",
	"record.cut.today":     "Una grabación de hoy quedó sin acabar. Lo que se tocó está guardado.",
	"record.cut.yesterday": "Una grabación de ayer quedó sin acabar. Lo que se tocó está guardado.",
	"record.cut.short":     "Quedó sin acabar.",
	"record.cut.what":      "Escuchar, enviar o tirar",
	"record.unsent.one":    "Un intento no se ha enviado: {title}.", "record.unsent.more": "{n} intentos no se han enviado: {title}.",
	"record.unsent.what": "Escuchar, enviar o tirar",
}
